//! A full disk gives a clear line, and nothing acknowledged is lost.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output};

use reedcrow::log::{Log, LogError};
use rusqlite::ffi;

use super::{Workshop, reedcrow_on, write_recording};

/// A file system of 1 MiB, unmounted at the end.
struct SmallDisk<'a> {
    folder: &'a Path,
}

impl<'a> SmallDisk<'a> {
    /// `None` where this user may not mount one.
    fn mount(folder: &'a Path) -> Option<Self> {
        fs::create_dir(folder).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=1m", "tmpfs"])
            .arg(folder)
            .output()
            .is_ok_and(|output| output.status.success());
        mounted.then_some(Self { folder })
    }
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.folder).status();
    }
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// One line that says that the disk is full, whichever file did not fit.
fn is_of_a_full_disk(refusal: &str) -> bool {
    let of_the_log = LogError::Full(None).to_string();
    let (_, is_full) = of_the_log.split_once(": ").unwrap();
    refusal.lines().count() == 1 && refusal.trim_end().ends_with(is_full)
}

/// Adds recordings until one is refused; returns how many went in, and the refusal.
fn fill(workshop: &Workshop, mut add: impl FnMut(&Path) -> Output) -> (usize, String) {
    for number in 0..1000 {
        let path = workshop.path(&format!("large-{number}.wav"));
        write_recording(&path, number);
        // A WAV may be followed by other chunks: 20 kB of one that no reader knows.
        let mut bytes = fs::read(&path).unwrap();
        bytes.extend_from_slice(b"fill");
        bytes.extend_from_slice(&20_000u32.to_le_bytes());
        bytes.resize(bytes.len() + 20_000, 0);
        fs::write(&path, bytes).unwrap();
        let output = add(&path);
        if !output.status.success() {
            return (number, said(&output));
        }
    }
    panic!("the disk never became full");
}

#[test]
fn a_full_disk_is_said_in_one_line_and_loses_nothing_acknowledged() {
    let workshop = Workshop::new();
    let folder = workshop.path("small");
    let Some(disk) = SmallDisk::mount(&folder) else {
        // Written past the test harness, which shows nothing of tests that pass.
        let text = b"\n*** SKIPPED a full disk: this user may not mount a tmpfs; run as root\n";
        std::io::stderr().write_all(text).unwrap();
        return;
    };
    let path = disk.folder.join("reeds.db");
    assert!(reedcrow_on(&path, &["reed", "new", "A"]).output().unwrap().status.success());
    // Room that is given back later: even to open a log, SQLite wants 32 KiB.
    let reserves = [disk.folder.join("reserve-1"), disk.folder.join("reserve-2")];
    for reserve in &reserves {
        fs::write(reserve, vec![0; 100 << 10]).unwrap();
    }
    let take = |file: &Path| {
        reedcrow_on(&path, &["reed", "take", "A", file.to_str().unwrap()]).output().unwrap()
    };
    let (taken, refusal) = fill(&workshop, take);
    assert!(taken > 5, "{taken}: {refusal}");
    assert!(is_of_a_full_disk(&refusal), "{refusal}");

    // Now until the database itself cannot grow.
    fs::remove_file(&reserves[0]).unwrap();
    let mut steps = 0;
    let refusal = loop {
        let output = reedcrow_on(
            &path,
            &["reed", "step", "A", "heart", "surface", "--note", &"x".repeat(400)],
        )
        .output()
        .unwrap();
        if !output.status.success() {
            break said(&output);
        }
        steps += 1;
        assert!(steps < 5000, "the disk never became full");
    };
    assert!(is_of_a_full_disk(&refusal), "{refusal}");

    fs::remove_file(&reserves[1]).unwrap();
    let mut log = Log::open(&path).unwrap();
    let history = log.history("A").unwrap();
    assert_eq!((history.takes.len(), history.stage() as usize), (taken, steps));
    assert_eq!(log.check().unwrap().faults, []);
    log.undo("A").unwrap();
}

/// The limit on file sizes stands for a quota; any user may set it.
#[cfg(unix)]
#[test]
fn a_file_size_limit_is_said_in_one_line_and_loses_nothing_acknowledged() {
    let workshop = Workshop::with_a_reed();
    let log = workshop.path("reeds.db");
    // Of 512 bytes each in POSIX; some shells count 1024.
    let limited = |file: &Path| {
        Command::new("sh")
            .args(["-c", "trap '' XFSZ; ulimit -f 300; exec \"$0\" reed take A \"$1\""])
            .arg(env!("CARGO_BIN_EXE_reedcrow"))
            .arg(file)
            .env("REEDCROW_LOG", &log)
            .output()
            .unwrap()
    };
    let (taken, refusal) = fill(&workshop, limited);
    // The database says only that its file cannot be written.
    let failed = ffi::Error::new(ffi::SQLITE_IOERR_WRITE);
    let failed = rusqlite::Error::SqliteFailure(failed, Some("disk I/O error".into()));
    let cannot_write = super::refusal(&LogError::Disk(failed));
    assert!(is_of_a_full_disk(&refusal) || refusal == cannot_write, "{refusal}");
    assert_eq!(workshop.log().history("A").unwrap().takes.len(), taken);
    assert_eq!(workshop.log().check().unwrap().faults, []);
}
