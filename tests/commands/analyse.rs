//! `reedcrow analyse` on recordings that can be read.

use std::f64::consts::TAU;
use std::fs;

use reedcrow::reed::{Cut, Move};
use reedcrow::take::TakeError;
use reedcrow::take::wav::{self, SampleFormat};
use serde_json::Value;

use crate::golden::held;
use crate::{Bench, ending};

fn line(text: &str) -> Value {
    assert_eq!(text.lines().count(), 1, "{text}");
    serde_json::from_str(text).unwrap()
}

#[test]
fn every_sample_format_gives_one_line_and_leaves_nothing_behind() {
    let bench = Bench::new();
    for format in SampleFormat::ALL {
        wav::write(&bench.path("take.wav"), &[0.1; 24_000], 48_000, 2, format).unwrap();
        let end = ending(&mut bench.reedcrow(&["analyse", "--json", "take.wav"]));
        assert_eq!((end.code, end.errors.as_str()), (Some(0), ""), "{format:?}");
        let take = line(&end.output);
        assert_eq!(take["source"], "take.wav");
        assert_eq!(take["channels"], 2);
        assert_eq!(take["channel"], 1);
        assert_eq!(take["sample_rate_hz"], 48_000);
        assert_eq!(take["duration_s"], 0.25);
    }
    assert_eq!(bench.names(), ["take.wav"]);
}

#[test]
fn analyze_is_the_same_command() {
    let bench = Bench::new();
    bench.crow("take.wav", 1.5);
    let british = ending(&mut bench.reedcrow(&["analyse", "take.wav"]));
    let american = ending(&mut bench.reedcrow(&["analyze", "take.wav"]));
    assert_eq!(british.code, Some(0));
    assert_eq!(british.output, american.output);
}

#[test]
fn standard_input_reads_as_the_file_does() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let bytes = fs::read(bench.path("take.wav")).unwrap();
    let piped = ending(bench.reedcrow(&["analyse", "--json", "-"]).write_stdin(bytes));
    assert_eq!(piped.code, Some(0));
    let filed = ending(&mut bench.reedcrow(&["analyse", "--json", "take.wav"]));
    let mut piped = line(&piped.output);
    assert_eq!(piped["source"], "-");
    piped["source"] = "take.wav".into();
    assert_eq!(piped, line(&filed.output));
}

/// A pipe can be read once only; what has to be read twice or in jumps is read all the same.
#[allow(clippy::print_stderr, reason = "a skipped test must be seen")]
#[test]
fn standard_input_may_hold_any_format() {
    let bench = Bench::new();
    let frames: Vec<f32> = (0..96_000)
        .flat_map(|n| {
            let tone = (TAU * 511.89 * f64::from(n) / 48_000.0).sin();
            [0.02 * tone as f32, 0.2 * tone as f32]
        })
        .collect();
    wav::write(&bench.path("two.wav"), &frames, 48_000, 2, SampleFormat::I16).unwrap();
    let mut forms = vec!["two.wav"];
    let convert = |options: &[&str]| {
        let mut ffmpeg = std::process::Command::new("ffmpeg");
        ffmpeg.args(["-loglevel", "error", "-nostdin", "-i", "two.wav"]).args(options);
        ffmpeg.current_dir(bench.path("")).status().is_ok_and(|status| status.success())
    };
    for (name, codec) in [("a.flac", "flac"), ("a.m4a", "aac"), ("ima.wav", "adpcm_ima_wav")] {
        if convert(&["-c:a", codec, name]) {
            forms.push(name);
        } else {
            eprintln!("SKIPPED: {name} on standard input needs ffmpeg");
        }
    }
    for name in forms {
        let bytes = fs::read(bench.path(name)).unwrap();
        let piped = ending(bench.reedcrow(&["analyse", "--json", "-"]).write_stdin(bytes));
        assert_eq!(piped.code, Some(0), "{name}: {}", piped.errors);
        let mut piped = line(&piped.output);
        let filed = ending(&mut bench.reedcrow(&["analyse", "--json", name]));
        assert_eq!(piped["channel"], 2, "{name}");
        piped["source"] = name.into();
        assert_eq!(piped, line(&filed.output), "{name}");
    }
    for (bytes, name) in [(&b""[..], "empty"), (b"words, no recording", "not-a-recording")] {
        let end = ending(bench.reedcrow(&["analyse", "-"]).write_stdin(bytes));
        assert_eq!((end.code, end.errors.lines().count()), (Some(1), 1));
        held("goldens", &format!("piped-{name}"), &end.errors);
    }
}

#[test]
fn the_channel_asked_for_is_the_one_read() {
    let bench = Bench::new();
    let frames: Vec<f32> = [0.1f32, 0.2].repeat(12_000);
    wav::write(&bench.path("two.wav"), &frames, 48_000, 2, SampleFormat::F32).unwrap();
    let read = |extra: &[&str]| {
        let arguments = [&["analyse", "--json", "two.wav"], extra].concat();
        line(&ending(&mut bench.reedcrow(&arguments)).output)["channel"].clone()
    };
    assert_eq!(read(&[]), 2);
    assert_eq!(read(&["--channel", "1"]), 1);
    let end = ending(&mut bench.reedcrow(&["analyse", "two.wav", "--channel", "3"]));
    assert_eq!(end.code, Some(1));
    let why = TakeError::NoSuchChannel { asked: 3, channels: 2 };
    assert_eq!(end.errors, format!("reedcrow: two.wav: {why}\n"));
}

#[test]
fn the_other_files_are_read_when_one_fails_and_the_exit_code_tells() {
    let bench = Bench::new();
    bench.crow("first.wav", 1.5);
    bench.bytes("second.wav", b"not sound");
    bench.crow("third.wav", 1.5);
    let arguments = ["analyse", "--json", "first.wav", "second.wav", "third.wav", "fourth.wav"];
    let end = ending(&mut bench.reedcrow(&arguments));
    assert_eq!(end.code, Some(1));
    let sources: Vec<Value> = end
        .output
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).unwrap()["source"].clone())
        .collect();
    assert_eq!(sources, ["first.wav", "third.wav"]);
    assert_eq!(end.errors.lines().count(), 2);
}

/// The whole way from samples to words: 511.89 Hz is 38 cents under C5, 440·2^(3/12) Hz (equal
/// temperament about ISO 16's A4).
#[test]
fn a_flat_crow_is_said_in_words_before_anything_else() {
    let bench = Bench::new();
    bench.crow("take.wav", 3.0);
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav"]));
    assert_eq!((end.code, end.errors.as_str()), (Some(0), ""));
    let pitch = |card: &str| card.lines().nth(3).unwrap_or_default().to_owned();
    assert!(pitch(&end.output).starts_with("  C5 −38 "), "{}", end.output);
    held("goldens", "card-of-a-flat-crow", &end.output);
    // Against A4 = 430 Hz the same crow is sharp: 1200·log2(440/430) = 39.8 cents higher.
    let end = ending(&mut bench.reedcrow(&["analyse", "take.wav", "--a4", "430"]));
    assert!(pitch(&end.output).starts_with("  C5 +2 "), "{}", end.output);
}

#[test]
fn what_was_measured_is_checked() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.0);
    let read = |extra: &[&str]| {
        ending(&mut bench.reedcrow(&[&["analyse", "--json", "take.wav"], extra].concat()))
    };
    assert_eq!(read(&["--length-mm", "70", "--tip-mm", "66", "--heart-mm", "61"]).code, Some(0));
    let mut told = String::new();
    for wrong in [
        &["--length-mm", "700"][..],
        // Inches, as likely as not.
        &["--length-mm", "2.76"],
        &["--length-mm", "70", "--tip-mm", "71"],
    ] {
        let end = read(wrong);
        assert_eq!((end.code, end.output.as_str()), (Some(1), ""), "{}", end.errors);
        assert_eq!(end.errors.lines().count(), 1, "{}", end.errors);
        told += &end.errors;
    }
    held("goldens", "measured-wrongly", &told);
}

/// One recording has one next move, whichever command is asked for it.
#[test]
fn what_is_explained_of_a_recording_is_what_its_card_says() {
    let bench = Bench::new();
    let demo = format!("{}/demo-data/bram-8-faint-low.wav", env!("CARGO_MANIFEST_DIR"));
    let line = line(&ending(&mut bench.reedcrow(&["analyse", "--json", &demo])).output);
    assert_eq!(
        (&line["advice"]["move"], &line["advice"]["where"]),
        (&"tip".into(), &"corners".into())
    );
    let explained = ending(&mut bench.reedcrow(&["explain", &demo])).output;
    let told = format!("{}: {}", Move::Tip.code(), Cut::TipCorners.row().told);
    assert!(explained.starts_with(told.split(',').next().unwrap()), "{explained}");
}

#[test]
fn a_crow_that_the_recording_cuts_off_is_told() {
    let bench = Bench::new();
    let demo = format!("{}/demo-data/anouk-9-flat.wav", env!("CARGO_MANIFEST_DIR"));
    let whole = fs::read(&demo).unwrap();
    let behind = |name: &[u8]| whole.windows(4).position(|four| four == name).unwrap() + 8;
    let (data, form) = (behind(b"data"), behind(b"fmt "));
    let number = |at: usize| usize::from(u16::from_le_bytes([whole[at], whole[at + 1]]));
    // Both are small enough for two bytes.
    let (rate, frame) = (number(form + 4), number(form + 12));
    // Its crows sound from 0.56 to 1.52, 2.00 to 2.94 and 3.33 to 4.38 s.
    for (name, from_ms, to_ms, is_cut) in [
        ("whole.wav", 0, 4900, false),
        ("begins.wav", 900, 4900, true),
        ("ends.wav", 0, 4000, true),
    ] {
        let at = |ms: usize| data + ms * rate / 1000 * frame;
        let sound = &whole[at(from_ms)..at(to_ms)];
        let length = (sound.len() as u32).to_le_bytes();
        bench.bytes(name, &[&whole[..data - 4], &length, sound].concat());
        let told: Value = serde_json::from_slice(
            &bench.reedcrow(&["analyse", name, "--json"]).output().unwrap().stdout,
        )
        .unwrap();
        let warnings = told["warnings"].as_array().unwrap();
        assert_eq!(warnings.iter().any(|one| one["code"] == "crow-cut"), is_cut, "{name}");
    }
}
