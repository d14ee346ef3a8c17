//! The check finds what is damaged and says how to mend it.

use std::fs;

use reedcrow::log::{Card, Log, LogError, Mended, Step};
use reedcrow::reed::Cut;
use rusqlite::Connection;
use serde_json::{Value, json};

use super::{Workshop, add_take, contents};

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
    let told = check_up.leftovers.iter().map(|one| format!("{}\n  {}\n", one.what, one.mend));
    workshop.golden("left-over", &told.collect::<String>());
}

#[test]
fn damaged_and_missing_recordings_are_told_apart_and_an_import_mends_them() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    log.step("A", &Step::new(Cut::HeartSurface, None)).unwrap();
    add_take(&mut log, "A", &workshop.recording(2));
    let export = workshop.path("export");
    log.export(&[], &export).unwrap().finish().unwrap();

    let hashes: Vec<String> =
        log.history("A").unwrap().takes.iter().map(|take| take.take.sha256.clone()).collect();
    fs::write(log.audio_path(&hashes[0]), b"rotten").unwrap();
    fs::remove_file(log.audio_path(&hashes[1])).unwrap();
    let faults = log.check().unwrap().faults;
    assert_eq!(faults.len(), 2);
    workshop.golden("recordings-at-fault", &format!("{}\n{}", faults[0].what, faults[1].what));

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
    workshop.golden("changed-by-another-program", &faults[0].what);
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
    for arguments in [["log", "check"], ["log", "reread"]] {
        let ran = workshop.reedcrow(&arguments).output().unwrap();
        let told = String::from_utf8(ran.stderr).unwrap();
        assert_eq!((ran.status.code(), told.lines().count()), (Some(1), 1), "{told}");
        workshop.golden(&format!("failed-{}", arguments[1]), &told);
        assert!(!ran.stdout.is_empty());
    }
}

/// A log of two reeds with takes, cuts, looks and a note, checked whole and closed.
fn worked_on() -> Workshop {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    log.add(&Card::new("B")).unwrap();
    for (number, label) in ["A", "B", "A", "B", "A"].into_iter().enumerate() {
        add_take(&mut log, label, &workshop.recording(number));
        log.step(label, &Step::new(Cut::Clip, Some(0.1))).unwrap();
        log.step(label, &Step::note("long words ".repeat(40))).unwrap();
    }
    assert_eq!(log.check().unwrap().faults, []);
    workshop
}

fn told(workshop: &Workshop) -> serde_json::Value {
    let log = workshop.log();
    serde_json::json!([log.history("A").unwrap(), log.history("B").unwrap()])
}

#[test]
fn rows_altered_or_deleted_by_other_hands_are_put_back_and_what_they_held_is_told() {
    let workshop = worked_on();
    let before = told(&workshop);
    let database = Connection::open(workshop.path("reeds.db")).unwrap();
    database
        .execute_batch(
            "PRAGMA foreign_keys = off;
             UPDATE step SET amount_mm = 1.7 WHERE id = 3;
             UPDATE take SET number = 'one' WHERE id = 2;
             UPDATE reed SET conditions = '[' WHERE label = 'B';
             DELETE FROM step WHERE id = 5;
             DELETE FROM take WHERE id = 1;",
        )
        .unwrap();
    drop(database);
    let ran = workshop.reedcrow(&["log", "check", "--mend", "--json"]).output().unwrap();
    let said = String::from_utf8(ran.stdout).unwrap();
    assert!(ran.status.success(), "{said}");
    let lines: Vec<Value> = said.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let [mended, check_up] = &lines[..] else { panic!("{said}") };
    let all = mended["mended"].as_array().unwrap();
    for again in [
        json!({ "what": "row-again", "label": "A", "table": "take", "row": 1, "from": null }),
        json!({ "what": "row-again", "label": "A", "table": "step", "row": 5, "from": null }),
    ] {
        assert!(all.contains(&again), "{again} is not in {mended}");
    }
    for (field, held) in [("number", "one"), ("conditions", "["), ("amount_mm", "1.7")] {
        assert!(all.iter().any(|one| one["held"][field] == held), "{field}: {mended}");
    }
    assert_eq!((&mended["lost"], &check_up["faults"]), (&json!([]), &json!([])));
    assert_eq!(told(&workshop), before);
    // Undo goes on where it stopped.
    workshop.log().undo("A").unwrap();
}

/// Bytes of the file overwritten, page by page: either all is there again, or what is not is told.
#[test]
fn a_damaged_database_is_built_anew_and_what_is_lost_is_told() {
    let workshop = worked_on();
    let before = told(&workshop);
    let database = workshop.path("reeds.db");
    Connection::open(&database)
        .unwrap()
        .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    let whole = fs::read(&database).unwrap();
    let page = usize::from(u16::from_be_bytes([whole[16], whole[17]]));
    let (mut mended, mut told_lost, mut left_alone) = (0, 0, 0);
    for number in 1..whole.len() / page {
        let _ = fs::remove_file(workshop.path("reeds.db-wal"));
        let _ = fs::remove_file(workshop.path("reeds.db-shm"));
        let mut damaged = whole.clone();
        damaged[number * page..(number + 1) * page].fill(0x5a);
        fs::write(&database, &damaged).unwrap();
        let done = match Log::mend(&database, &[]) {
            Ok(done) => done,
            // Of what its tables are called nothing is left.
            Err(refused) => {
                assert!(matches!(refused, LogError::Invalid(_)), "page {number}: {refused}");
                assert_eq!(fs::read(&database).unwrap(), damaged, "page {number}");
                left_alone += 1;
                continue;
            }
        };
        let log = workshop.log();
        let faults = log.check().unwrap().faults;
        assert!(
            faults.iter().all(|fault| fault.mend.contains("log reread")),
            "{number}: {faults:?}"
        );
        if let Some(kept) = &done.damaged {
            assert_eq!(fs::read(kept).unwrap(), damaged, "page {number}");
            fs::remove_file(kept).unwrap();
        }
        let is_whole =
            log.history("A").is_ok() && log.history("B").is_ok() && told(&workshop) == before;
        let says_lost = !done.lost.is_empty();
        assert!(is_whole || says_lost, "page {number}: {done:?}");
        mended += usize::from(is_whole && done != Mended::default());
        told_lost += usize::from(says_lost);
    }
    assert!(mended >= 5 && told_lost >= 1, "{mended} mended, {told_lost} with something lost");
    assert!(left_alone <= 3, "{left_alone} pages");
}

#[test]
fn recordings_are_found_again_where_they_came_from_and_in_copies() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    for number in 1..=3 {
        add_take(&mut log, "A", &workshop.recording(number));
    }
    let export = workshop.path("export");
    log.export(&[], &export).unwrap().finish().unwrap();
    let hash = |n: usize| log.history("A").unwrap().takes[n].take.sha256.clone();
    // The first is where it came from, the second in the export, the third under another name.
    fs::write(log.audio_path(&hash(0)), b"rotten").unwrap();
    fs::remove_file(log.audio_path(&hash(1))).unwrap();
    fs::rename(log.audio_path(&hash(2)), log.audio_folder().join("renamed.wav")).unwrap();
    for number in 2..=3 {
        fs::remove_file(workshop.path(&format!("recording-{number}.wav"))).unwrap();
    }
    fs::write(log.audio_folder().join(".unfinished-abc"), b"RI").unwrap();
    let done = Log::mend(&workshop.path("reeds.db"), &[]).unwrap();
    // On Windows nobody can tell yet whether a file of today is still being written.
    let mended = if cfg!(windows) { 2 } else { 3 };
    assert_eq!((done.mended.len(), done.lost.len()), (mended, 1), "{done:?}");
    let arguments = ["log", "check", "--mend", "--from", export.to_str().unwrap()];
    let ran = workshop.reedcrow(&arguments).output().unwrap();
    let said = String::from_utf8(ran.stdout).unwrap();
    assert!(ran.status.success(), "{said}");
    assert_eq!(log.check().unwrap().faults, []);
}

/// A reading that is gone is made again from its recording.
#[test]
fn a_reading_that_is_lost_is_made_again() {
    let workshop = Workshop::with_a_reed();
    let mut log = workshop.log();
    add_take(&mut log, "A", &workshop.recording(1));
    let database = Connection::open(workshop.path("reeds.db")).unwrap();
    database
        .execute_batch(
            "DELETE FROM change_row WHERE in_table = 'reading';
             UPDATE reading SET reading = '{';",
        )
        .unwrap();
    drop(database);
    let ran = workshop.reedcrow(&["log", "check", "--mend"]).output().unwrap();
    assert!(!ran.stdout.is_empty(), "{ran:?}");
    assert!(workshop.log().history("A").unwrap().takes[0].reading.is_some());
}

#[test]
fn a_whole_log_is_left_as_it_is_and_what_is_no_log_is_not_touched() {
    let workshop = worked_on();
    let before = contents(workshop.folder.path());
    assert_eq!(Log::mend(&workshop.path("reeds.db"), &[]).unwrap(), Mended::default());
    let after = contents(workshop.folder.path());
    let names = |files: &[(String, Vec<u8>)]| -> Vec<String> {
        files.iter().map(|(name, _)| name.clone()).collect()
    };
    assert_eq!(names(&before), names(&after));
    let text = workshop.path("notes.db");
    fs::write(&text, "Buy thread. ".repeat(100)).unwrap();
    assert!(matches!(Log::mend(&text, &[]), Err(LogError::NotALog(_))));
    assert_eq!(fs::read_to_string(&text).unwrap(), "Buy thread. ".repeat(100));
}
