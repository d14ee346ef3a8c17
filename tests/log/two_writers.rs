//! Two programs on one log at once lose nothing.

use std::sync::atomic::AtomicBool;
use std::thread;

use reedcrow::log::{Log, Step};
use reedcrow::reed::Cut;

use super::{Workshop, add_take};

#[test]
fn two_writers_at_once_get_numbers_without_gaps_or_doubles() {
    let workshop = Workshop::with_a_reed();
    let (steps, takes) = (40, 10);
    let write = |who: usize| {
        let mut log = workshop.log();
        for n in 0..steps {
            log.step("A", &Step::new(Cut::TipSides, None)).unwrap();
            if n < takes {
                add_take(&mut log, "A", &workshop.recording(who * 100 + n));
            }
        }
    };
    thread::scope(|scope| {
        scope.spawn(|| write(1));
        scope.spawn(|| write(2));
    });
    let log = workshop.log();
    let history = log.history("A").unwrap();
    let numbers: Vec<u32> = history.steps.iter().filter_map(|step| step.number).collect();
    assert_eq!(numbers, (1..=2 * steps as u32).collect::<Vec<u32>>());
    let numbers: Vec<u32> = history.takes.iter().map(|take| take.take.number).collect();
    assert_eq!(numbers, (1..=2 * takes as u32).collect::<Vec<u32>>());
    assert_eq!(log.check().unwrap().faults, []);
}

#[test]
fn programs_that_make_the_log_at_the_same_moment_both_enter_their_reed() {
    // Once in five a look at a log that is just being made once took it for something else.
    for _ in 0..12 {
        let workshop = Workshop::new();
        let labels: Vec<String> = (0..6).map(|n| format!("R{n}")).collect();
        let children: Vec<_> = labels
            .iter()
            .map(|label| workshop.reedcrow(&["reed", "new", label]).spawn().unwrap())
            .collect();
        for mut child in children {
            assert!(child.wait().unwrap().success());
        }
        let mut found: Vec<String> =
            workshop.log().reeds().unwrap().into_iter().map(|reed| reed.card.label).collect();
        found.sort();
        assert_eq!(found, labels);
    }
}

#[test]
fn a_backup_made_while_another_program_writes_is_one_moment_of_the_log() {
    let workshop = Workshop::with_a_reed();
    let copy = workshop.path("copy.db");
    thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut log = workshop.log();
            for _ in 0..60 {
                log.step("A", &Step::new(Cut::HeartSurface, None)).unwrap();
            }
        });
        workshop.log().backup(&copy, &AtomicBool::new(false)).unwrap();
        writer.join().unwrap();
    });
    let copy = Log::open_existing(&copy).unwrap();
    let history = copy.history("A").unwrap();
    assert!(history.stage() <= 60);
    assert_eq!(history.steps.len(), history.stage() as usize);
    assert_eq!(copy.check().unwrap().faults, []);
}

/// What backs up or looks for viruses may keep a file to itself on Windows, wholly or for writing.
#[cfg(windows)]
#[test]
fn a_log_that_another_program_holds_is_told_as_that_and_is_whole_afterwards() {
    use std::os::windows::fs::OpenOptionsExt;

    use reedcrow::log::LogError;

    let workshop = Workshop::with_a_reed();
    // Sharing nothing, then reading alone (FILE_SHARE_READ).
    for share in [0, 1] {
        let mut options = std::fs::File::options();
        options.read(true).write(true).share_mode(share);
        let held = options.open(workshop.path("reeds.db")).unwrap();
        for arguments in [&["reed", "new", "B"][..], &["reed", "step", "A", "clip", "0.3"]] {
            let output = workshop.reedcrow(arguments).output().unwrap();
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            assert_eq!((output.status.code(), said.lines().count()), (Some(1), 1), "{said}");
            assert!(said.contains("close"), "{share} {arguments:?}: {said}");
            let not_writable = LogError::NotWritable(None).to_string();
            assert!(!said.contains(&not_writable), "{share} {arguments:?}: {said}");
        }
        drop(held);
    }
    let log = workshop.log();
    assert_eq!(log.reeds().unwrap().len(), 1);
    assert_eq!(log.check().unwrap().faults, []);
}
