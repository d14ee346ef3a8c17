//! Logs of every earlier form open in this program, with a copy kept; newer ones are refused.

use std::fs;
use std::path::{Path, PathBuf};

use reedcrow::log::{Ending, Grade, HeardAs, Log, LogError, Rating, Wetness};
use reedcrow::reed::Cut;
use rusqlite::Connection;

use super::{Workshop, contents};

/// The forms of which fixtures/log holds a log each.
const FORMS: [i64; 6] = [1, 2, 3, 4, 5, 6];

/// The form that this program writes: the last of those.
const PRESENT: i64 = 6;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/log").join(name)
}

/// A copy of the log of that form, with its recordings.
fn copied(workshop: &Workshop, form: i64) -> PathBuf {
    let name = format!("form-{form}");
    let log = workshop.path("old.db");
    fs::copy(fixture(&format!("{name}.db")), &log).unwrap();
    fs::create_dir(workshop.path("old.audio")).unwrap();
    for (file, bytes) in contents(&fixture(&format!("{name}.audio"))) {
        fs::write(workshop.path("old.audio").join(file), bytes).unwrap();
    }
    log
}

fn form_of(path: &Path) -> i64 {
    let database = Connection::open(path).unwrap();
    database.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
}

#[test]
fn every_form_keeps_all_that_was_entered() {
    for form in FORMS {
        let workshop = Workshop::new();
        let path = copied(&workshop, form);
        assert_eq!(form_of(&path), form);
        let mut log = Log::open_existing(&path).unwrap();

        let history = log.history("Anouk 9").unwrap();
        let card = &history.reed.card;
        assert_eq!(card.owner.as_deref(), Some("Anouk"));
        assert_eq!(card.cane.as_deref(), Some("Brook, batch 4"));
        assert_eq!((card.gouge_mm, card.gouge_state), (Some(0.59), Some(Wetness::Dry)));
        assert_eq!(card.made_on.as_deref(), Some("2024-03-17"));
        assert_eq!(card.ending, Some(Ending::SentBack));
        assert_eq!(history.measurements[0].measurements.tip_start_mm, Some(67.5));
        assert_eq!(history.measurements[0].state, Some(Wetness::Wet));
        assert_eq!(history.inspections.len(), 1);
        let cuts: Vec<Option<Cut>> = history.steps.iter().map(|step| step.step.cut).collect();
        assert_eq!(cuts, [Some(Cut::TipSides), Some(Cut::Clip), None]);
        assert_eq!(history.steps[1].step.amount_mm, Some(0.4));
        assert_eq!(history.takes.len(), 2);
        let said = history.takes[0].take.conditions.as_ref();
        assert_eq!(said.and_then(|said| said.soaked_min), (form >= 2).then_some(5.0));
        assert_eq!(log.history("Bram 2").unwrap().takes.len(), 0);
        assert_eq!(log.check().unwrap().faults, [], "form {form}");

        // Changes of the earlier program can still be taken back, down to the first.
        if form >= 5 {
            assert_eq!(log.undo("Anouk 9").unwrap().what, "rate tone good");
            log.undo("Anouk 9").unwrap();
        }
        assert_eq!(log.undo("Anouk 9").unwrap().what, "close: sent back");
        while log.undo("Anouk 9").is_ok() {}
        assert!(matches!(log.reed("Anouk 9"), Err(LogError::NoReed(_))));
        assert_eq!(log.check().unwrap().faults, [], "form {form}");
    }
}

#[test]
fn the_log_as_it_was_is_kept_before_it_is_brought_to_the_present_form() {
    for form in FORMS.into_iter().filter(|form| *form < PRESENT) {
        let workshop = Workshop::new();
        let path = copied(&workshop, form);
        let log = Log::open_existing(&path).unwrap();
        let upgrade = log.upgraded().unwrap();
        assert_eq!(upgrade.from, form);
        assert_eq!(form_of(&upgrade.backup), form);
        drop(log);
        assert_eq!(form_of(&path), PRESENT);
        assert_eq!(Log::open_existing(&path).unwrap().upgraded(), None);
    }
}

/// What the third form adds, as the program wrote it when the form was new.
#[test]
fn the_third_form_is_read_as_it_was_first_written() {
    let workshop = Workshop::new();
    let path = copied(&workshop, 3);
    let log = Log::open_existing(&path).unwrap();
    let ilse = log.history("Ilse 1").unwrap();
    assert_eq!(ilse.reed.card.due_on.as_deref(), Some("2024-05-01"));
    assert_eq!(ilse.steps[0].step.amount_mm, Some(0.2));
    assert_eq!(log.corrections("Ilse 1").unwrap().len(), 1);
    let heard = log.all_heard().unwrap();
    assert_eq!(heard[0].said.heard, HeardAs::Octaves);
    let sender: Option<serde_json::Value> = log.setting("sender").unwrap();
    assert_eq!(sender.unwrap()["name"], "Linden Lane Reeds");
    assert_eq!(log.facts(|_| true).unwrap().whole.len(), 3);
}

/// What the fifth form adds; a log of an earlier one has room for it once it is opened.
#[test]
fn the_fifth_form_is_read_as_it_was_first_written_and_earlier_ones_take_ratings() {
    let workshop = Workshop::new();
    let log = Log::open_existing(&copied(&workshop, 5)).unwrap();
    let said = log.history("Anouk 9").unwrap().rated();
    let said: Vec<_> = said.iter().map(|one| (one.by.as_deref(), one.rating)).collect();
    let own = Rating {
        pitch: Some(Grade::Good),
        low: Some(Grade::Fair),
        stability: Some(Grade::Fine),
        lived_hours: Some(14.0),
        ..Rating::default()
    };
    let hers = Rating { tone: Some(Grade::Good), ..Rating::default() };
    assert_eq!(said, [(None, own), (Some("Anouk"), hers)]);
    for form in FORMS.into_iter().filter(|form| *form < 5) {
        let workshop = Workshop::new();
        let mut log = Log::open_existing(&copied(&workshop, form)).unwrap();
        let rating = Rating { tone: Some(Grade::Good), ..Rating::default() };
        log.rate("Anouk 9", &rating, None).unwrap();
        assert_eq!(log.history("Anouk 9").unwrap().last_rating(None), rating, "form {form}");
        assert_eq!(log.check().unwrap().faults, [], "form {form}");
    }
}

/// What the sixth form adds: what was advised when a cut was made. Of cuts of earlier forms nothing is said.
#[test]
fn the_sixth_form_is_read_as_it_was_first_written() {
    for form in FORMS.into_iter().filter(|form| *form >= 3) {
        let workshop = Workshop::new();
        let log = Log::open_existing(&copied(&workshop, form)).unwrap();
        let advised = log.history("Ilse 1").unwrap().steps[0].advised;
        assert_eq!(advised.is_some(), form >= 6, "form {form}: {advised:?}");
    }
}

#[test]
fn a_newer_form_is_refused_in_one_line_and_left_as_it_is() {
    let workshop = Workshop::with_a_reed();
    let path = workshop.path("reeds.db");
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let refused = Log::open(&path).unwrap_err();
    assert!(matches!(refused, LogError::Newer { found: 99, .. }), "{refused}");
    assert!(!refused.to_string().contains('\n'));
    assert_eq!(form_of(&path), 99);
}

#[test]
fn what_is_no_log_is_refused_and_left_as_it_is() {
    let workshop = Workshop::new();
    let text = workshop.path("notes.txt");
    fs::write(&text, "Buy thread. ".repeat(100)).unwrap();
    assert!(matches!(Log::open(&text), Err(LogError::NotALog(_))));
    assert_eq!(fs::read_to_string(&text).unwrap(), "Buy thread. ".repeat(100));

    let other = workshop.path("other.db");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE birds (name TEXT)").unwrap();
    assert!(matches!(Log::open(&other), Err(LogError::NotALog(_))));
    assert!(matches!(Log::open(workshop.folder.path()), Err(LogError::NotALog(_))));
}
