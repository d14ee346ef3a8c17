//! What is wrong is said in a maker's words, on one line, and no name of a file or reed commands the
//! terminal.

use std::fs;
#[cfg(unix)]
use std::time::Duration;

use reedcrow::take::wav::{self, SampleFormat};

use crate::golden::held;
use crate::{Bench, ending};

/// What libraries say, and makers need not hear.
const JARGON: [&str; 12] = [
    "os error",
    "isomp4",
    "atom",
    "malformed",
    "unsupported feature",
    "stream",
    "literal",
    "digit found",
    "struct",
    "recursion",
    ".unfinished",
    "entity",
];

/// Files and folders that are not what they are taken for.
fn lay_out_spoilt_files(bench: &Bench) {
    bench.bytes("junk.m4a", &[b"\0\0\0\x1cftypM4A \0\0\0\0M4A mp42isom", &[7; 500][..]].concat());
    bench.bytes(
        "moov.mov",
        &[b"\0\0\0\x14ftypqt  \0\0\0\0qt  \0\0\x01\x00moov", &[0; 600][..]].concat(),
    );
    bench.bytes("junk.flac", &[b"fLaC\0\0\0\x22", &[255; 300][..]].concat());
    bench.bytes("junk.caf", &[b"caff\0\x01\0\0desc\0\0\0\0\0\0\0\x20", &[9; 300][..]].concat());
    bench.bytes("junk.ogg", &[b"OggS\0\x02", &[1; 300][..]].concat());
    bench.bytes("junk.mp3", &[0xff; 4000]);
    bench.bytes("deep.toml", format!("a = {}", "[".repeat(500)).as_bytes());
    bench.bytes("odd.toml", b"name = \"x\ntitle = 3");
    bench.bytes("file", b"");
    fs::create_dir(bench.path("folder")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("loop.wav", bench.path("loop.wav")).unwrap();
}

#[test]
fn every_refusal_is_one_line_without_jargon_that_says_what_to_do() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    lay_out_spoilt_files(&bench);
    let log = bench.path("reeds.db").display().to_string();
    assert!(ending(&mut bench.reedcrow(&["reed", "new", "a", "--log", &log])).code == Some(0));
    let names = bench.names();
    let mut without_folder = String::new();
    for arguments in [
        &["analyse", "junk.m4a"][..],
        &["analyse", "moov.mov"],
        &["analyse", "junk.flac"],
        &["analyse", "junk.caf"],
        &["analyse", "junk.ogg"],
        &["analyse", "junk.mp3"],
        #[cfg(unix)]
        &["analyse", "loop.wav"],
        &["analyse", "take.wav/x.wav"],
        &["analyse", "take.wav", "--profile", "folder"],
        &["analyse", "take.wav", "--profile", "deep.toml"],
        &["analyse", "take.wav", "--profile", "odd.toml"],
        &["profile", "new", "no/a.toml"],
        &["batch", "take.wav", "--plots", "take.wav"],
        &["batch", "take.wav", "--out", "no/t.csv"],
        &["batch", "--files-from", "nope"],
        &["batch", "take.wav", "-j", "x"],
        &["reed", "conditions", "a", "--soaked", "x", "--log", &log],
        &["reed", "conditions", "a", "--soaked", "1e308", "--log", &log],
        &["reed", "measure", "a", "--length-mm", "1e308", "--log", &log],
        &["reed", "step", "a", "clip", "1e308", "--log", &log],
        &["reed", "take", "a", "-", "--log", &log],
        &["reed", "account", "a", "--out", "no/a.md", "--log", &log],
        &["log", "backup", "no/b.db", "--log", &log],
        &["reed", "export", "no/x", "--log", &log],
        &["reed", "import", "folder", "--log", &log],
        &["reed", "list", "--log", "file"],
        &["reed", "list", "--log", "no/drive/x.db"],
        &["reed", "new", "b", "--log", "no/drive/x.db"],
        &["reed", "new", "a\u{202e}b", "--log", &log],
        &["reed", "new", "a\u{1b}[31m", "--log", &log],
    ] {
        let end = ending(&mut bench.reedcrow(arguments));
        assert!(end.code == Some(1) || end.code == Some(2), "{arguments:?}: {end:?}");
        assert_eq!(end.errors.lines().count(), 1, "{arguments:?}: {}", end.errors);
        assert!(
            end.errors.contains(';') || end.errors.contains("; "),
            "{arguments:?}: {}",
            end.errors
        );
        assert!(end.errors.len() < 400, "{}", end.errors);
        // Where the folder of what is to be written is missing, that is what is said.
        if arguments.iter().any(|word| ["no/a.md", "no/b.db", "no/x", "no/a.toml"].contains(word)) {
            without_folder.push_str(&end.errors);
        }
        for word in JARGON {
            assert!(!end.errors.contains(word), "{arguments:?}: {}", end.errors);
        }
        assert_eq!(bench.names(), names, "{arguments:?}");
    }
    held("goldens", "without-its-folder", &without_folder);
    assert_eq!(fs::read(bench.path("file")).unwrap(), b"");
    ending(&mut bench.reedcrow(&["reed", "conditions", "a", "--soaked", "3,5", "--log", &log]));
    let end = ending(&mut bench.reedcrow(&["reed", "show", "a", "--json", "--log", &log]));
    let shown: serde_json::Value = serde_json::from_str(&end.output).unwrap();
    assert_eq!(shown["reed"]["conditions"]["soaked_min"], 3.5, "{shown}");
}

/// A pipe nobody writes to is never waited for.
#[cfg(unix)]
#[test]
fn a_named_pipe_is_refused_at_once() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    let made = std::process::Command::new("mkfifo").arg(bench.path("pipe.wav")).status();
    assert!(made.unwrap().success());
    let log = bench.path("reeds.db").display().to_string();
    ending(&mut bench.reedcrow(&["reed", "new", "a", "--log", &log]));
    let mut said = String::new();
    for arguments in [
        &["analyse", "pipe.wav"][..],
        &["analyse", "pipe.wav", "--plot", "p.svg"],
        &["compare", "pipe.wav", "take.wav"],
        &["reed", "take", "a", "pipe.wav", "--log", &log],
        &["batch", "pipe.wav"],
    ] {
        let mut command = bench.reedcrow(arguments);
        let end = ending(command.timeout(Duration::from_secs(20)));
        assert_eq!(end.code, Some(1), "{arguments:?}: {end:?}");
        said.push_str(&end.errors);
    }
    held("goldens", "named-pipes", &said);
}

/// Nor where it has the name of something the program looks for of itself.
#[cfg(unix)]
#[test]
fn a_pipe_in_the_place_of_a_file_of_the_programs_own_is_told_as_that() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    let log = bench.path("reeds.db").display().to_string();
    ending(&mut bench.reedcrow(&["reed", "new", "a", "--log", &log]));
    let mut said = String::new();
    for (pipe, arguments) in [
        ("practice.toml", &["analyse", "take.wav"][..]),
        ("reeds.db-journal", &["reed", "list", "--log", &log]),
        ("reeds.db-shm", &["reed", "list", "--log", &log]),
    ] {
        let _ = fs::remove_file(bench.path(pipe));
        let made = std::process::Command::new("mkfifo").arg(bench.path(pipe)).status();
        assert!(made.unwrap().success());
        let mut command = bench.reedcrow(arguments);
        if pipe == "practice.toml" {
            command.env("REEDCROW_PRACTICE", bench.path(pipe));
        }
        let end = ending(command.timeout(Duration::from_secs(20)));
        assert_eq!(end.code, Some(1), "{pipe}: {end:?}");
        said.push_str(&end.errors);
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
        fs::remove_file(bench.path(pipe)).unwrap();
    }
    let folder = bench.folder.path().to_str().unwrap();
    held("goldens", "pipes-for-own-files", &said.replace(folder, "FOLDER"));
    let end = ending(&mut bench.reedcrow(&["man", "take.wav"]));
    assert_eq!(end.code, Some(1), "{end:?}");
    for word in JARGON {
        assert!(!end.errors.contains(word), "{}", end.errors);
    }
}

#[cfg(unix)]
#[test]
fn names_hold_no_commands_to_the_terminal() {
    let bench = Bench::new();
    let name = "a\u{1b}[31m\u{7}\nb\u{202e}.wav";
    bench.crow(name, 1.5);
    fs::create_dir(bench.path("side")).unwrap();
    fs::copy(bench.path(name), bench.path("side").join(name)).unwrap();
    let log = bench.path("reeds.db").display().to_string();
    let evil = "\u{1b}]0;t\u{7}\u{1b}[31mred\u{202e}";
    let new = ["reed", "new", "o", "--owner", evil, "--complaint", evil, "--log", &log];
    let missing = format!("missing{name}");
    for arguments in [
        &["analyse", name][..],
        &["analyse", name, "--json"],
        &["analyse", &missing],
        &["compare", "side", name],
        &["batch", name, "--out", "t.csv"],
        &["batch", name, &missing, "--out", "t.jsonl"],
        &new,
        &["reed", "take", "o", name, "--log", &log],
        &["reed", "step", "o", "note", "--note", evil, "--log", &log],
        &["reed", "show", "o", "--log", &log],
        &["reed", "show", "o", "--json", "--log", &log],
        &["reed", "list", "--log", &log],
        &["reed", "account", "o", "--log", &log],
        &["log", "check", "--log", &log],
    ] {
        let end = ending(&mut bench.reedcrow(arguments));
        for text in [&end.output, &end.errors] {
            let hidden =
                |c: char| c != '\n' && (c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c));
            assert!(!text.contains(hidden), "{arguments:?}: {text:?}");
        }
        assert!(end.errors.lines().count() <= 1, "{arguments:?}: {}", end.errors);
        if arguments.contains(&"--json") {
            let line: serde_json::Value = serde_json::from_str(&end.output).unwrap();
            assert!(line.to_string().contains("\\u001b") || line.to_string().contains("u{1b}"));
        }
    }
}

/// What lies in a folder and cannot be read is no part of the answer, and that is no success.
#[test]
fn a_comparison_without_some_of_its_recordings_ends_in_failure() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    fs::create_dir(bench.path("side")).unwrap();
    fs::copy(bench.path("take.wav"), bench.path("side/a.wav")).unwrap();
    assert_eq!(ending(&mut bench.reedcrow(&["compare", "side", "take.wav"])).code, Some(0));
    fs::write(bench.path("side/b.wav"), b"RIFF\0\0\0\0WAVE").unwrap();
    let end = ending(&mut bench.reedcrow(&["compare", "side", "take.wav"]));
    assert_eq!(end.code, Some(1), "{end:?}");
    assert!(end.errors.contains("b.wav") && !end.output.is_empty(), "{end:?}");
}

/// One sample that no microphone gave hides no crow.
#[test]
fn a_sample_far_over_full_scale_is_counted_and_taken_out() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let take = reedcrow::take::read(&bench.path("take.wav"), Default::default()).unwrap();
    let mut samples = take.samples;
    samples[1000] = 1e38;
    wav::write(&bench.path("spike.wav"), &samples, 48_000, 1, SampleFormat::F32).unwrap();
    let end = ending(&mut bench.reedcrow(&["analyse", "--json", "spike.wav"]));
    let read: serde_json::Value = serde_json::from_str(&end.output).unwrap();
    let warnings = read["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|warning| warning["code"] == "not-finite"), "{warnings:?}");
    let pitch = &read["summary"]["fundamental"];
    assert_eq!(pitch["note"], "C5", "{pitch}");
    // 511.89 Hz lies 38.1 cents under C5; a card shows whole cents.
    assert!((pitch["note_cents"].as_f64().unwrap() + 38.1).abs() < 0.5, "{pitch}");
}
