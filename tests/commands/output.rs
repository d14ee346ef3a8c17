//! Colour, letters, width, and a reader that goes away.

use std::process::{Command, Stdio};

use crate::{Bench, ending};

#[test]
fn what_does_not_go_to_a_terminal_has_no_colour() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav"]));
    assert!(!end.output.contains('\x1b'), "{}", end.output);
}

#[test]
fn cards_keep_to_80_columns() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.5);
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav"]));
    for line in end.output.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn a_locale_that_is_not_utf_8_gets_ascii() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let end = ending(bench.reedcrow(&["analyse", "take.wav"]).env("LC_ALL", "C"));
    assert_eq!(end.code, Some(0));
    assert!(end.output.is_ascii(), "{}", end.output);
    // Every sign has a stand-in: there are no question marks but those of the text.
    let utf_8 = ending(&mut bench.reedcrow(&["analyse", "take.wav"])).output;
    assert_eq!(end.output.matches('?').count(), utf_8.matches('?').count(), "{}", end.output);
}

/// As with `reedcrow schema | head -1`: the pipe is closed before anything is read.
#[test]
fn a_reader_that_goes_away_is_no_error() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    for arguments in [
        &["schema"][..],
        &["man"],
        &["profile", "list"],
        &["completions", "zsh"],
        &["analyse", "take.wav"],
        &["--help"],
        &[],
    ] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_reedcrow"))
            .args(arguments)
            .current_dir(bench.folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{arguments:?}");
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    }
}

/// /dev/full, full(4): the disk for what is printed is full.
#[cfg(target_os = "linux")]
#[test]
fn what_cannot_be_printed_is_told_once_in_plain_words() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    for arguments in [
        &["analyse", "take.wav", "take.wav"][..],
        &["analyse", "take.wav", "--json"],
        &["batch", "take.wav"],
        &["profile", "list"],
        &["schema"],
    ] {
        let full = std::fs::File::options().write(true).open("/dev/full").unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_reedcrow"))
            .args(arguments)
            .current_dir(bench.folder.path())
            .stdout(full)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert_eq!(
            String::from_utf8_lossy(&output.stderr),
            "reedcrow: could not print: the disk is full; make room and do it again\n",
            "{arguments:?}"
        );
    }
}
