//! How good reeds are said to be: kept, taken back, carried along, and asked what good ones have in common.

use reedcrow::log::questions::{Liked, Told, likes};
use reedcrow::log::{Card, Ending, Grade, Log, NewTake, Rating};
use reedcrow::reading::{Crow, Figures, Kind, Reading};
use reedcrow::reed::{Measurements, Sizes};

use super::{Workshop, reading};

#[test]
fn a_rating_is_kept_of_a_closed_reed_too_taken_back_by_undo_and_carried_along() {
    let workshop = Workshop::with_a_reed();
    let asked = workshop.says(&["reed", "close", "A", "done"]);
    workshop.says(&["reed", "rate", "A", "pitch", "good", "low", "2", "lived", "12.5"]);
    workshop.says(&["reed", "rate", "A", "tone", "fine", "--by", "Mirek"]);
    let again = workshop.says(&["reed", "close", "A", "--reopen"]);
    workshop.golden("asked-how-good", &(asked + &again));
    let history = workshop.log().history("A").unwrap();
    let (good, weak) = (Some(Grade::Good), Some(Grade::Weak));
    let own = Rating { pitch: good, low: weak, lived_hours: Some(12.5), ..Rating::default() };
    let his = Rating { tone: Some(Grade::Fine), ..Rating::default() };
    assert_eq!((history.last_rating(None), history.last_rating(Some("Mirek"))), (own, his));

    let folder = workshop.path("away");
    workshop.says(&["log", "export", folder.to_str().unwrap()]);
    let rows = std::fs::read_to_string(folder.join("ratings.csv")).unwrap();
    assert_eq!(rows.lines().count(), 3, "{rows}");
    let other = Workshop::new();
    drop(other.log());
    other.says(&["log", "import", folder.to_str().unwrap()]);
    let rated = |log: &Log| log.history("A").unwrap().rated();
    assert_eq!(rated(&other.log()), rated(&workshop.log()));

    let mut log = workshop.log();
    assert_eq!(log.undo("A").unwrap().what, "open again");
    assert_eq!(log.undo("A").unwrap().what, "rate tone fine");
    assert_eq!(rated(&log).len(), 1);
    log.redo("A").unwrap();
    assert_eq!(rated(&log).len(), 2);
    assert_eq!(log.check().unwrap().faults, []);
}

#[test]
fn what_is_no_rating_is_refused_in_one_line_and_nothing_is_written() {
    let workshop = Workshop::with_a_reed();
    for words in [
        &["pitch"][..],
        &["pitch", "superb"],
        &["colour", "good"],
        &["pitch", "good", "pitch", "poor"],
        &["lived", "long"],
        &["lived", "-3"],
        &["by", "Mirek"],
    ] {
        let output = workshop.reedcrow(&[&["reed", "rate", "A"], words].concat()).output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!output.status.success() && !told.trim().is_empty(), "{words:?}: {told}");
    }
    assert!(workshop.log().history("A").unwrap().rated().is_empty());
}

/// A take with three crows whose low octave is so late.
fn crowed(low_delay_s: f64, onset_s: f64) -> Reading {
    let mut figures = Figures::default();
    figures.fundamental.hz = Some(523.0);
    figures.fundamental.target_cents = Some(-1.0);
    figures.response.low_delay_s = Some(low_delay_s);
    figures.response.onset_s = Some(onset_s);
    let crow = Crow { start_s: 0.0, end_s: 1.0, kind: Kind::Octaves, figures };
    Reading::of_crows("american-oboe".into(), 440.0, vec![crow.clone(), crow.clone(), crow])
}

/// So many reeds whose low octave comes the sooner the better they are rated, and whose onset and
/// length have nothing to do with it.
fn season(workshop: &Workshop, reeds: usize) -> Log {
    let mut log = workshop.log();
    for number in 0..reeds {
        let label = format!("reed {number}");
        log.add(&Card::new(&label)).unwrap();
        let grade = Grade::ALL[(number * 7 + number / 3) % 5];
        let shaken = 0.01 * ((number * 13) % 7) as f64;
        let onset = 0.05 + 0.01 * ((number * 11 + 5) % 17) as f64;
        let mut of_it = reading("made");
        let made = crowed(0.3 - 0.05 * f64::from(grade.number()) + shaken, onset);
        (of_it.crows, of_it.summary) = (made.crows, made.summary);
        let file = workshop.recording(number);
        let take = NewTake { file: &file, reading: &of_it, advice: None, conditions: None };
        log.take(&label, take).unwrap();
        let length_mm = Some(69.0 + 0.1 * ((number * 5) % 13) as f64);
        let sizes = Sizes { length_mm, ..Sizes::default() };
        log.measure(&label, &Measurements::new(sizes).unwrap(), None).unwrap();
        log.close(&label, Some(Ending::Done), None).unwrap();
        let rating = Rating { pitch: Some(grade), tone: Some(grade), ..Rating::default() };
        log.rate(&label, &rating, None).unwrap();
    }
    log
}

#[test]
fn what_good_reeds_have_in_common_is_told_and_what_they_have_not_is_not() {
    let workshop = Workshop::new();
    let log = season(&workshop, 30);
    let answer = likes(&log.rated(|_| true).unwrap().whole, Liked::All, None);
    let told =
        |figure: &str| answer.figures.iter().find(|like| like.figure == figure).unwrap().told;
    assert_eq!(told("response.low_delay_s"), Told::Less);
    assert_eq!(told("response.onset_s"), Told::CannotTell);
    assert_eq!(told("length_mm"), Told::CannotTell);
    let by_all = workshop.says(&["log", "likes"]);
    // Nobody of that name said anything.
    let by_nobody = workshop.says(&["log", "likes", "--by", "Mirek"]);
    workshop.golden("likes", &format!("{by_all}\n--by Mirek\n{by_nobody}"));
}

#[test]
fn a_few_rated_reeds_are_too_few_to_tell() {
    let workshop = Workshop::new();
    drop(season(&workshop, 5));
    assert_ne!(workshop.says(&["log", "likes"]), "");
    assert_eq!(workshop.says(&["log", "likes", "--json"]), "");
}
