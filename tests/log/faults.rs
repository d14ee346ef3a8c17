//! Every operation of a working day on the disk fails once, and the power goes after every one:
//! nothing that was acknowledged is lost. With `REEDCROW_YEAR=whole` the day is one at the end of a year,
//! where some operations of each command are tried instead of all.
//!
//! The faults are made under the program, by a library that stands before the C library
//! (`faulty_disk/lib.rs`), so the database is under them too. It is Linux's way; the files themselves
//! are written alike everywhere (`src/files.rs`).

use std::io::Write;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use tempfile::TempDir;

use super::disk::{Disk, Known};
use super::power::{Operations, Synced};
use super::year_asked;

/// What a day brings, one command after the other; DISK is the folder that fails.
const DAY: [&[&str]; 17] = [
    &["reed", "new", "A", "--owner", "Ilse"],
    &["reed", "measure", "A", "--length-mm", "71"],
    &["reed", "inspect", "A", "--leak", "none"],
    &["reed", "conditions", "A", "--player", "Ilse"],
    &["reed", "take", "A", "DISK/1.wav"],
    &["reed", "take", "A", "DISK/2.wav"],
    &["reed", "step", "A", "clip", "0.3"],
    &["reed", "take", "A", "DISK/3.wav"],
    &["reed", "take", "A", "DISK/3.wav", "--temperature", "24"],
    &["reed", "undo", "A"],
    &["reed", "redo", "A"],
    &["reed", "edit", "A", "--owner", "Mirek"],
    &["log", "export", "DISK/export"],
    &["log", "backup", "DISK/backup.db"],
    &[
        "batch",
        "DISK/1.wav",
        "DISK/2.wav",
        "--out",
        "DISK/table.jsonl",
        "--crows",
        "DISK/crows.csv",
    ],
    &["reed", "close", "A", "done"],
    &["log", "import", "DISK/export"],
];

/// Past the test harness, which shows nothing of tests that pass.
pub fn say(line: &str) {
    std::io::stderr().write_all(format!("{line}\n").as_bytes()).unwrap();
}

/// Of so many operations of a command one in how many is tried.
fn one_in(operations: usize) -> usize {
    if year_asked().is_some() { operations.div_ceil(4) } else { 1 }
}

/// When the day begins, in seconds since 1970.
static DAWN: LazyLock<u64> =
    LazyLock::new(|| SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs());

/// The logs that were looked through: both tests have the same day, so they find the same.
static KNOWN: LazyLock<Known> = LazyLock::new(Known::default);

/// The day's commands, each a minute after the one before.
fn day() -> impl Iterator<Item = (&'static [&'static str], u64)> {
    DAY.into_iter().zip((*DAWN + 60..).step_by(60))
}

#[test]
fn every_operation_of_a_day_fails_once_and_nothing_acknowledged_is_lost() {
    let (before, whole) = (Disk::new(*DAWN), Disk::empty());
    let failing = [Disk::empty(), Disk::empty()];
    let failed = AtomicUsize::new(0);
    for (command, now) in day() {
        let (was, there) = (before.changes(&KNOWN, "before"), before.written());
        whole.becomes(&before);
        let trace = TempDir::new().unwrap();
        let trace = trace.path().join("trace");
        let output = whole.run(command, now, &[("FAULTY_TRACE", trace.to_str().unwrap())]);
        assert!(output.status.success(), "{command:?}: {output:?}");
        let (is, then) = (whole.changes(&KNOWN, "after"), whole.written());
        let count = Operations::of(&trace).filter(|done| done.what != b'a').count();
        assert!(count > 0, "{command:?}");
        let one = |disk: &Disk, number: usize| {
            let how = ["error", "full", "short"][number % 3];
            let whence = format!("{command:?}, operation {number} of {count}, {how}");
            disk.becomes(&before);
            let at = number.to_string();
            let output = disk.run(command, now, &[("FAULTY_AT", &at), ("FAULTY_HOW", how)]);
            let said = String::from_utf8_lossy(&output.stderr);
            let changes = disk.changes(&KNOWN, &whence);
            assert!((was..=is).contains(&changes), "{whence}: {changes}, {said}");
            let written = disk.written();
            for (name, content) in &written {
                let before = there.get(name);
                let is_whole = then.get(name) == Some(content) || before == Some(content);
                assert!(is_whole, "{whence}: {name} is torn");
            }
            if output.status.success() {
                assert_eq!(changes, is, "{whence}: acknowledged and lost");
                assert_eq!(written, then, "{whence}: acknowledged and lost");
            } else {
                // One line for each thing that is wrong; no panic, no number of the system's.
                assert!(!said.is_empty() && said.lines().count() <= 3, "{whence}: {said}");
                assert!(
                    !said.contains("panicked") && !said.contains("os error"),
                    "{whence}: {said}"
                );
            }
            failed.fetch_add(1, Ordering::Relaxed);
        };
        // Two at a time: most of it is waiting for programs to start and end.
        std::thread::scope(|scope| {
            let every = one_in(count);
            for (start, disk) in [1, 1 + every].into_iter().zip(&failing) {
                let one = &one;
                scope.spawn(move || {
                    (start..=count).step_by(2 * every).for_each(|number| one(disk, number));
                });
            }
        });
        before.becomes(&whole);
    }
    say(&format!("*** {} operations failed once, nothing lost", failed.into_inner()));
}

#[test]
fn the_power_goes_after_every_operation_of_a_day_and_nothing_acknowledged_is_lost() {
    let (before, start, left) = (Disk::new(*DAWN), Disk::empty(), Disk::empty());
    let (mut states, mut looked_at) = (0, 0);
    for (command, now) in day() {
        let was = before.changes(&KNOWN, "before");
        start.becomes(&before);
        let trace = TempDir::new().unwrap();
        let trace = trace.path().join("trace");
        let mut disk = Synced::of(before.root());
        let output = start.run(command, now, &[("FAULTY_TRACE", trace.to_str().unwrap())]);
        assert!(output.status.success(), "{command:?}: {output:?}");
        let is = start.changes(&KNOWN, "after");
        let mut is_acknowledged = false;
        let mut seen = None;
        let root = start.root().to_str().unwrap();
        let count = Operations::of(&trace).count();
        for (number, done) in Operations::of(&trace).enumerate() {
            let what = done.what;
            is_acknowledged |= what == b'a';
            disk.does(done, root);
            // After the last of all, too.
            if !(count - 1 - number).is_multiple_of(one_in(count)) {
                continue;
            }
            states += 1;
            // What is on the disk changes when something is synced: between two syncs the power leaves
            // the same.
            let kept = (disk.changed, is_acknowledged);
            if seen == Some(kept) {
                continue;
            }
            seen = Some(kept);
            looked_at += 1;
            let whence =
                format!("{command:?}, power gone after operation {number} ({})", what as char);
            disk.write_to(left.root());
            let changes = left.changes(&KNOWN, &whence);
            assert!((was..=is).contains(&changes), "{whence}: {changes}");
            assert!(!is_acknowledged || changes == is, "{whence}: acknowledged and lost");
            left.written();
        }
        before.becomes(&start);
    }
    say(&format!("*** the power went {states} times and left {looked_at} disks, nothing lost"));
}
