//! Logs that lie in one folder keep apart.

use std::fs;

use reedcrow::log::{Card, Log};

use super::{Workshop, add_take};

/// `reeds.db` and `reeds.sqlite` once shared the folder `reeds.audio`, and `reeds.audio` as a log had
/// its recordings in itself.
#[test]
fn logs_that_differ_in_their_ending_alone_share_no_recordings() {
    let workshop = Workshop::new();
    let names = ["reeds.db", "reeds.sqlite", "reeds.audio.log", "reeds"];
    let mut logs: Vec<Log> =
        names.iter().map(|name| Log::open(&workshop.path(name)).unwrap()).collect();
    for (number, log) in logs.iter_mut().enumerate() {
        log.add(&Card::new("A")).unwrap();
        add_take(log, "A", &workshop.recording(number));
    }
    let mut folders: Vec<_> = logs.iter().map(|log| log.audio_folder().to_owned()).collect();
    folders.sort();
    folders.dedup();
    assert_eq!(folders.len(), names.len());
    for log in &logs {
        let check_up = log.check().unwrap();
        assert_eq!((check_up.faults, check_up.leftovers), (vec![], vec![]));
    }
}

#[test]
fn a_log_may_be_called_as_a_folder_of_recordings_is() {
    let workshop = Workshop::new();
    let mut log = Log::open(&workshop.path("x.audio")).unwrap();
    log.add(&Card::new("A")).unwrap();
    add_take(&mut log, "A", &workshop.recording(1));
    assert_eq!(log.check().unwrap().faults, []);
}

/// What a log of an earlier version kept in the folder that it shared is found there.
#[test]
fn recordings_that_logs_once_shared_are_found_and_not_called_left_over() {
    let workshop = Workshop::new();
    let mut one = Log::open(&workshop.path("reeds.db")).unwrap();
    one.add(&Card::new("A")).unwrap();
    add_take(&mut one, "A", &workshop.recording(1));
    let mut other = Log::open(&workshop.path("reeds.sqlite")).unwrap();
    other.add(&Card::new("B")).unwrap();
    add_take(&mut other, "B", &workshop.recording(2));
    for recording in fs::read_dir(other.audio_folder()).unwrap() {
        let from = recording.unwrap().path();
        if from.is_file() {
            fs::rename(&from, one.audio_folder().join(from.file_name().unwrap())).unwrap();
        }
    }
    assert_eq!(other.check().unwrap().faults, []);
    let leftovers = one.check().unwrap().leftovers;
    assert_eq!(leftovers.len(), 1);
    assert!(leftovers[0].mend.contains("reeds.sqlite"), "{leftovers:?}");
    workshop.golden("left-over-or-anothers", &leftovers[0].mend);
}

/// `bench.log` keeps its recordings in `bench.log.audio`, and so would `bench.log.db`: each was once told
/// that the other's were left over, and might be deleted.
#[test]
fn no_log_is_made_that_would_share_anothers_recordings_and_those_that_do_are_told() {
    let workshop = Workshop::new();
    let mut one = Log::open(&workshop.path("bench.log")).unwrap();
    one.add(&Card::new("A")).unwrap();
    add_take(&mut one, "A", &workshop.recording(1));
    let refused = Log::open(&workshop.path("bench.log.db")).unwrap_err().to_string();
    assert!(refused.contains("bench.log.audio") && !refused.contains('\n'), "{refused}");
    assert!(!workshop.path("bench.log.db").exists());
    // As an earlier version made it.
    let mut other = Log::open(&workshop.path("other.db")).unwrap();
    other.add(&Card::new("B")).unwrap();
    drop(other);
    fs::rename(workshop.path("other.db"), workshop.path("bench.log.db")).unwrap();
    let mut other = Log::open(&workshop.path("bench.log.db")).unwrap();
    add_take(&mut other, "B", &workshop.recording(2));
    for (log, neighbour) in [(one, "bench.log.db"), (other, "bench.log")] {
        let leftovers = log.check().unwrap().leftovers;
        assert_eq!(leftovers.len(), 1, "{leftovers:?}");
        assert!(leftovers[0].mend.contains(neighbour), "{leftovers:?}");
        workshop.golden(&format!("left-over-or-of-{neighbour}"), &leftovers[0].mend);
    }
}
