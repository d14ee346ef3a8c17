//! Questions asked of a season whose rules are known: they find what was put into it.

use reedcrow::log::questions::{Condition, Field, Told, conditions, cuts, groups};
use reedcrow::log::{Ending, Facts, Log, Query, Step, advised_last};
use reedcrow::profile::Profile;
use reedcrow::reed::Cut;

use super::{Workshop, invented};

/// A log with a season of so many reeds imported into it.
fn imported(workshop: &Workshop, reeds: usize, takes: usize) -> Log {
    let export = workshop.path("export");
    std::fs::create_dir(&export).unwrap();
    let season: String = invented::lines(reeds, takes, 7).collect();
    std::fs::write(export.join("log.jsonl"), season).unwrap();
    let mut log = workshop.log();
    log.import(&export).unwrap();
    log
}

fn made(workshop: &Workshop) -> (Log, Vec<Facts>) {
    let log = imported(workshop, 60, 3);
    let facts = log.facts(|_| true).unwrap().whole;
    (log, facts)
}

/// The log is not told by what rule cane answers a clip; its interval holds the truth.
#[test]
fn a_season_tells_what_was_put_into_it() {
    let workshop = Workshop::new();
    let (log, facts) = made(&workshop);
    assert_eq!(facts.len(), 60);
    let all: usize = facts.iter().map(|facts| facts.cuts()).sum();
    assert!((150..=600).contains(&all), "{all} cuts");
    let answer = cuts(&facts, Some(Cut::Clip), Some(Field::Cane));
    for (cane, cents_per_mm) in invented::CENTS_PER_MM {
        let is_it = |value: &str| value.eq_ignore_ascii_case(cane);
        let mut found = answer.summaries.iter().filter(|s| s.value.as_deref().is_some_and(is_it));
        let summary = found.next().unwrap();
        assert!(found.next().is_none(), "one cane, however it is typed");
        let line = summary.per_mm.unwrap();
        let off = (line.cents_per_mm - cents_per_mm).abs();
        // Two half widths: one of three intervals misses by chance more often than the test may fail.
        assert!(off < 2.0 * line.ci95_cents_per_mm, "{cane}: {line:?}, put in {cents_per_mm}");
    }
    let weather = conditions(&facts, &[Condition::Temperature]);
    let found = &weather.influences[0];
    let off = (found.cents_per_unit.unwrap() - invented::CENTS_PER_DEGREE).abs();
    assert!(off < 2.0 * found.ci95.unwrap(), "{found:?}");
    assert_eq!(found.told, Told::More);
    let by_cane = groups(&facts, Field::Cane);
    assert_eq!(by_cane.groups.len(), 3, "{by_cane:?}");
    // An outline tells what the whole history tells.
    for short in &facts {
        let whole = Facts::of(&log.history(&short.card.label).unwrap());
        assert_eq!(short, &whole);
    }
}

/// What is kept of each reed's way holds only until anything of the reed is written, by whomever.
#[test]
fn what_is_kept_of_a_reed_is_what_its_history_tells_whatever_is_written_of_it() {
    let workshop = Workshop::new();
    let mut log = imported(&workshop, 70, 1);
    let agree = |log: &Log, when: &str| {
        let kept = log.facts(|_| true).unwrap();
        assert!(kept.passed_over.is_empty() && !kept.whole.is_empty());
        for facts in kept.whole {
            let whole = Facts::of(&log.history(&facts.card.label).unwrap());
            assert_eq!(facts, whole, "{when}");
        }
    };
    let database = rusqlite::Connection::open(log.path()).unwrap();
    let kept =
        || -> i64 { database.query_row("SELECT count(*) FROM way", [], |row| row.get(0)).unwrap() };
    agree(&log, "imported");
    assert_eq!(kept(), 70);
    agree(&log, "kept");
    let label = "reed 0070";
    log.step(label, &Step::new(Cut::Clip, Some(0.2))).unwrap();
    assert_eq!(kept(), 69);
    agree(&log, "a clip");
    log.undo(label).unwrap();
    agree(&log, "undone");
    log.redo(label).unwrap();
    log.close(label, Some(Ending::Done), None).unwrap();
    agree(&log, "closed");
    log.edit(label, |card| card.label = "seventy".into()).unwrap();
    agree(&log, "another label");
    database
        .execute_batch(
            "UPDATE take SET conditions = NULL WHERE reed_id = 3;
             UPDATE reading SET gone = 1 WHERE take_id = (SELECT max(id) FROM take WHERE reed_id = 4);
             UPDATE reading SET gone = 1 WHERE reed_id = 5;",
        )
        .unwrap();
    assert_eq!(kept(), 66);
    agree(&log, "by another program");
}

#[test]
fn every_question_has_its_command_in_every_form() {
    let workshop = Workshop::new();
    drop(made(&workshop));
    let picture = workshop.path("clips.svg");
    let weather = workshop.path("weather.png");
    let groups = workshop.path("groups.svg");
    let kinds = workshop.path("kinds.svg");
    let mut heads = String::new();
    for arguments in [
        &["log", "waiting"][..],
        &["log", "trust"],
        &["log", "groups", "--by", "cane"],
        &["log", "groups", "--by", "gouge", "--csv"],
        &["log", "groups", "--by", "cane", "--plot", groups.to_str().unwrap()],
        &["log", "effects", "--plot", kinds.to_str().unwrap()],
        &["log", "effects", "clip", "--plot", picture.to_str().unwrap()],
        &["log", "effects", "clip", "--single", "--csv"],
        &["log", "effects", "--by", "maker"],
        &["log", "conditions"],
        &["log", "conditions", "temperature", "--plot", weather.to_str().unwrap()],
        &["reed", "list", "--owner", "mirek nova\u{301}k"],
        &["reed", "list", "--owner", "MIREK", "--csv"],
        &["reed", "show", "reed 0001"],
    ] {
        let output = workshop.reedcrow(arguments).output().unwrap();
        let said = String::from_utf8(output.stdout).unwrap();
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments:?}: {complaint}");
        heads.push_str(&format!("{}\n  {}\n", arguments.join(" "), said.lines().next().unwrap()));
    }
    workshop.golden("heads-of-answers", &heads);
    assert!(picture.exists() && weather.exists() && groups.exists() && kinds.exists());
    // Any name has an i in it; no owner is called so.
    let none = workshop.reedcrow(&["reed", "list", "--owner", "i"]).output().unwrap();
    assert_eq!(String::from_utf8(none.stdout).unwrap(), "no reeds\n");
    let query = Query { owner: vec!["ilse".into()], ..Query::default() };
    assert!(!workshop.log().facts(|reed| query.matches(reed)).unwrap().whole.is_empty());
}

/// What was told with a take stands until something else is said of the reed.
#[test]
fn a_reed_waits_for_what_was_told_last_or_for_what_follows_from_what_was_seen_since() {
    let flat = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-before.wav");
    let workshop = Workshop::with_a_reed();
    let done = |arguments: &[&str]| {
        let output = workshop.reedcrow(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    done(&["reed", "measure", "A", "--length-mm", "70.5"]);
    done(&["reed", "take", "A", flat]);
    let history = workshop.log().history("A").unwrap();
    let profile = Profile::default();
    let told = advised_last(&history, &profile).unwrap();
    assert_eq!(Some(told), history.takes[0].reading.as_ref().unwrap().advice.as_ref());
    let other = Profile { name: "another".into(), ..Profile::default() };
    assert_eq!(advised_last(&history, &other), None);

    done(&["reed", "inspect", "A", "leak", "low"]);
    assert_eq!(advised_last(&workshop.log().history("A").unwrap(), &profile), None);
    assert_eq!(workshop.waits("A")["advice"]["move"], "seal");
    done(&["reed", "undo", "A"]);
    assert_eq!(advised_last(&workshop.log().history("A").unwrap(), &profile), Some(told));
    done(&["reed", "step", "A", "clip", "0.2"]);
    assert_eq!(advised_last(&workshop.log().history("A").unwrap(), &profile), None);
}
