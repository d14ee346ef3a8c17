//! The check finds what is damaged and says how to mend it.

use std::fs;

use reedcrow::log::Step;
use reedcrow::reed::Cut;
use rusqlite::Connection;

use super::{Workshop, add_take};

#[test]
fn a_whole_log_has_no_faults_and_a_recording_no_take_names_is_left_over() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    fs::write(log.audio_folder().join(".unfinished-abc"), b"RI").unwrap();
    fs::copy(workshop.recording(2), log.audio_folder().join("stray.wav")).unwrap();
    fs::create_dir(log.recording_folder()).unwrap();
    fs::copy(workshop.recording(3), log.recording_folder().join("take-001.wav")).unwrap();
    let check_up = log.check().unwrap();
    assert_eq!((check_up.reeds, check_up.recordings), (1, 1));
    assert_eq!(check_up.faults, []);
    assert_eq!(check_up.leftovers.len(), 3);
    assert!(check_up.leftovers[1].mend.contains("reed take"));
}

#[test]
fn damaged_and_missing_recordings_are_told_apart_and_an_import_mends_them() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    log.step("A", &Step::new(Cut::HeartSurface, None)).unwrap();
    add_take(&mut log, "A", &workshop.recording(2));
    let export = workshop.path("export");
    log.export(&log.exported(&[]).unwrap(), &[], &export).unwrap();

    let hashes: Vec<String> =
        log.history("A").unwrap().takes.iter().map(|take| take.take.sha256.clone()).collect();
    fs::write(log.audio_path(&hashes[0]), b"rotten").unwrap();
    fs::remove_file(log.audio_path(&hashes[1])).unwrap();
    let faults = log.check().unwrap().faults;
    assert_eq!(faults.len(), 2);
    assert!(faults[0].what.starts_with("A, take 1: its recording was changed"), "{faults:?}");
    assert!(faults[1].what.starts_with("A, take 2: its recording is missing"), "{faults:?}");

    log.import(&export).unwrap();
    assert_eq!(log.check().unwrap().faults, []);
}

#[test]
fn a_row_changed_by_another_program_is_found() {
    let workshop = Workshop::with_a_reed();
    workshop.log().step("A", &Step::new(Cut::Clip, Some(0.3))).unwrap();
    let database = Connection::open(workshop.path("reeds.db")).unwrap();
    database.execute("UPDATE step SET amount_mm = 3", []).unwrap();
    let mut log = workshop.log();
    let faults = log.check().unwrap().faults;
    assert_eq!(faults.len(), 1);
    assert!(faults[0].what.contains("something other than this program"), "{faults:?}");
    assert!(log.undo("A").is_err());
}

/// An exit code alone tells a maker nothing.
#[test]
fn what_ends_in_failure_says_so_on_standard_error() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    let hash = log.history("A").unwrap().takes[0].take.sha256.clone();
    fs::remove_file(log.audio_path(&hash)).unwrap();
    for (arguments, said) in
        [(["log", "check"], "1 fault; each is told"), (["log", "reread"], "1 take not read again")]
    {
        let ran = workshop.reedcrow(&arguments).output().unwrap();
        let told = String::from_utf8(ran.stderr).unwrap();
        assert_eq!((ran.status.code(), told.lines().count()), (Some(1), 1), "{told}");
        assert!(told.contains(said), "{told}");
        assert!(!ran.stdout.is_empty());
    }
}
