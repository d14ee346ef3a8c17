//! A log in a place that may only be read.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::Path;
use std::process::Command;

use reedcrow::log::{Card, LogError, Step};
use reedcrow::reed::Cut;

use super::{Workshop, add_take, refusal};

fn mode(path: &Path, bits: u32) {
    fs::set_permissions(path, Permissions::from_mode(bits)).unwrap();
}

/// It is read by every command that only reads, from a copy on a disk that takes no writing for
/// instance, and what would write says in one line that it cannot.
#[allow(clippy::print_stderr, reason = "a test tells what it skipped")]
#[test]
fn a_log_in_a_folder_that_may_not_be_written_is_read() {
    let workshop = Workshop::new();
    let place = workshop.path("kept %20? safe");
    fs::create_dir(&place).unwrap();
    let path = place.join("reeds.db");
    let mut log = reedcrow::log::Log::open(&path).unwrap();
    log.add(&Card::new("A")).unwrap();
    log.step("A", &Step::new(Cut::HeartSurface, None)).unwrap();
    add_take(&mut log, "A", &workshop.recording(1));
    drop(log);
    // Root may write anything, so another user runs it where root runs the tests.
    mode(workshop.folder.path(), 0o777);
    let program = workshop.path("program");
    fs::copy(env!("CARGO_BIN_EXE_reedcrow"), &program).unwrap();
    mode(&program, 0o755);
    for file in fs::read_dir(place.join("reeds.audio")).unwrap() {
        mode(&file.unwrap().path(), 0o444);
    }
    mode(&place.join("reeds.audio"), 0o555);
    mode(&path, 0o444);
    mode(&place, 0o555);
    let is_root = fs::metadata("/proc/self").is_ok_and(|about| about.uid() == 0);
    let run = |arguments: &[&str]| {
        let mut command = match is_root {
            true => Command::new("setpriv"),
            false => Command::new("env"),
        };
        if is_root {
            command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
        }
        command.arg(&program).args(arguments).env("REEDCROW_LOG", &path);
        command.current_dir(workshop.folder.path()).output()
    };
    if let Err(error) = run(&["--version"]) {
        eprintln!("not tried: {error}");
        return;
    }
    let names = || fs::read_dir(&place).unwrap().count();
    let before = names();
    for arguments in [
        &["reed", "list"][..],
        &["reed", "show", "A"],
        &["log", "check"],
        &["log", "effects"],
        &["log", "backup", "copy.db"],
        &["reed", "export", "out"],
        &["reed", "account", "A"],
    ] {
        let ran = run(arguments).unwrap();
        let told = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!((ran.status.code(), told.as_str()), (Some(0), ""), "{arguments:?}");
        assert!(!ran.stdout.is_empty(), "{arguments:?}");
    }
    let refused = refusal(&LogError::NotWritable(Some(path.clone())));
    for arguments in [&["reed", "new", "B"][..], &["reed", "step", "A", "clip", "0.3"]] {
        let ran = run(arguments).unwrap();
        let told = String::from_utf8_lossy(&ran.stderr).into_owned();
        assert_eq!((ran.status.code(), told), (Some(1), refused.clone()), "{arguments:?}");
    }
    assert_eq!(names(), before);
    mode(&place, 0o755);
    mode(&place.join("reeds.audio"), 0o755);
}
