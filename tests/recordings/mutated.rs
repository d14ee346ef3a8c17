//! Inputs changed at random: no panic, no hang, little memory.
//!
//! Some hundreds of each kind here; `scripts/mutate COUNT` runs as many as it is told and prints what
//! it ran. Seeds are fixed, so what fails once fails again.

use std::fs;
use std::io::Cursor;
use std::path::Path;

use jiff::tz::TimeZone;
use reedcrow::batch::{Ending, Form, for_each_row, paths_in};
use reedcrow::bench::grammar;
use reedcrow::log::{Card, Log, Step, check_export};
use reedcrow::profile::{self, Profile};
use reedcrow::reed::Cut;
use reedcrow::report::account::{Letter, Manner, Told, html, letter, text};
use reedcrow::take::decode::{Program, decode_in_child};
use reedcrow::take::wav::{self, SampleFormat};
use reedcrow::take::{self, Channel};
use reedcrow::words::account::Words;
use reedcrow::words::format::LengthUnit;

use super::mutation::{feed, feed_changed, mutated};
use super::mutation_of_json::mutated_json;

/// A short tone in every format that can be made here.
fn sounds(folder: &Path) -> Vec<Vec<u8>> {
    let samples: Vec<f32> = (0..8_000).map(|n| 0.3 * (n as f32 * 0.2).sin()).collect();
    let mut sounds = Vec::new();
    for (name, channels, format) in
        [("i16.wav", 1, SampleFormat::I16), ("f32.wav", 2, SampleFormat::F32)]
    {
        let path = folder.join(name);
        wav::write(&path, &samples, 16_000, channels, format).unwrap();
        sounds.push(fs::read(&path).unwrap());
    }
    for (name, codec) in [
        ("a.flac", "flac"),
        ("a.mp3", "libmp3lame"),
        ("a.m4a", "aac"),
        ("alac.caf", "alac"),
        ("a.ogg", "libvorbis"),
        ("a.aiff", "pcm_s16be"),
        ("a.caf", "pcm_s16be"),
        ("adpcm.wav", "adpcm_ms"),
        ("a.w64", "pcm_s16le"),
        ("rf64.wav", "pcm_s24le"),
        ("a.opus", "libopus"),
        ("a.webm", "libopus"),
        ("opus.mp4", "libopus"),
        ("a.mka", "libvorbis"),
    ] {
        let made = std::process::Command::new("ffmpeg")
            .args(["-loglevel", "error", "-nostdin", "-y", "-i"])
            .arg(folder.join("i16.wav"))
            .args(["-c:a", codec])
            .args(if name.starts_with("rf64") { &["-rf64", "always"][..] } else { &[] })
            .arg(folder.join(name))
            .output();
        if made.is_ok_and(|made| made.status.success()) {
            sounds.push(fs::read(folder.join(name)).unwrap());
        }
    }
    sounds
}

#[test]
fn changed_recordings() {
    let folder = tempfile::tempdir().unwrap();
    let corpus = sounds(folder.path());
    let path = folder.path().join("changed");
    // A child may write no files, hence not what it ran through either.
    if std::env::var_os("LLVM_PROFILE_FILE").is_none() {
        let program = env!("CARGO_BIN_EXE_reedcrow").into();
        decode_in_child(Some(Program { path: program, arguments: vec!["decode".into()] }));
    }
    let mut is_piped = false;
    feed("recordings", 26, "self", &corpus, |bytes| {
        is_piped = !is_piped;
        let take = if is_piped {
            let pipe = Cursor::new(bytes.to_vec());
            take::open_pipe(pipe, Channel::default()).and_then(|open| open.into_take("-"))
        } else {
            fs::write(&path, bytes).unwrap();
            take::read(&path, Channel::default())
        };
        take.is_ok_and(|take| {
            assert!(take.samples.iter().all(|sample| sample.is_finite()));
            true
        })
    });
    decode_in_child(None);
}

#[test]
fn changed_profiles() {
    let folder = tempfile::tempdir().unwrap();
    let corpus: Vec<_> =
        // Under a name of its own: those of the built-in ones are taken.
        profile::BUILT_IN
            .iter()
            .map(|profile| {
                let name = |name: &str| format!("name = \"{name}\"");
                profile.toml.replacen(&name(profile.name), &name("mine"), 1).into_bytes()
            })
            .collect();
    let path = folder.path().join("changed.toml");
    feed("profiles", 20, "self", &corpus, |bytes| {
        fs::write(&path, bytes).unwrap();
        profile::load(path.to_str().unwrap()).is_ok()
    });
}

/// A language that somebody translated, and a draft that somebody edited; an account is written with both.
#[test]
fn changed_languages_and_drafts() {
    let folder = tempfile::tempdir().unwrap();
    let mut log = Log::open(&folder.path().join("reeds.db")).unwrap();
    log.add(&Card { complaint: Some("flat".into()), ..Card::new("A") }).unwrap();
    log.step("A", &Step::new(Cut::Clip, Some(0.3))).unwrap();
    let told = [Told::of(log.history("A").unwrap(), Profile::default())];
    let written = |words: &Words| {
        let (unit, zone) = (LengthUnit::default(), &TimeZone::UTC);
        letter(
            &told,
            Manner { words, sender: None, with_notes: true, today: "2026-11-29", unit, zone },
        )
    };
    let is_whole = |letter: &Letter| {
        text(letter, None).len() > 100 && html(letter, Default::default()).ends_with("</html>")
    };
    let corpus = [include_bytes!("../../src/words/account.en.toml").to_vec()];
    feed("languages", 2, "self", &corpus, |bytes| {
        let words = Words::from_toml(&String::from_utf8_lossy(bytes));
        words.is_ok_and(|words| {
            assert!(is_whole(&written(&words)));
            true
        })
    });
    let plain = written(&Words::english());
    feed("drafts", 3, "self", &[plain.draft().into_bytes()], |bytes| {
        let mut letter = plain.clone();
        let edited = letter.edited(&String::from_utf8_lossy(bytes)).is_ok();
        assert!(is_whole(&letter));
        edited
    });
}

#[test]
fn changed_lists() {
    let utf_16 = "a.wav\ntakes/Zoë 9.wav\n".encode_utf16().flat_map(u16::to_le_bytes);
    let utf_16 = [0xff, 0xfe].into_iter().chain(utf_16).collect();
    let corpus = [b"a.wav\r\n# b\n\ntakes/c.flac\n".to_vec(), b"a.wav\0b\n.wav\0".to_vec(), utf_16];
    feed("lists", 3, "self", &corpus, |bytes| paths_in(bytes).is_ok());
}

#[test]
fn changed_tables() {
    let folder = tempfile::tempdir().unwrap();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");
    for (form, name) in [(Form::Csv, "t.csv"), (Form::JsonLines, "t.jsonl")] {
        let table = folder.path().join(name);
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        command.args(["batch", &format!("{demo}/mirek-12-before.wav"), "Cargo.toml", "--out"]);
        command.current_dir(env!("CARGO_MANIFEST_DIR")).arg(&table).output().unwrap();
        let corpus = [fs::read(&table).unwrap()];
        let change = if form == Form::Csv { mutated } else { mutated_json };
        feed_changed(change, &format!("tables ({name})"), 9, "self", &corpus, |bytes| {
            fs::write(&table, bytes).unwrap();
            for_each_row(&table, form, Ending::MayBeCut, |_, _, _| Ok(())).is_ok()
        });
    }
}

/// Into an empty log, and into one where the same reed went another way.
#[test]
fn changed_exports() {
    let folder = tempfile::tempdir().unwrap();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-before.wav");
    let done = |log: &Path, arguments: &str| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        let arguments = arguments.split(' ').map(|word| word.replace("DEMO", demo));
        let ran = command.args(arguments).arg("--log").arg(log).output().unwrap();
        assert!(ran.status.success(), "{ran:?}");
    };
    let (here, there) = (folder.path().join("here.db"), folder.path().join("there.db"));
    done(&here, "reed new A --owner Ilse --cane Fen");
    fs::copy(&here, &there).unwrap();
    for (log, work) in [
        (&here, &["reed step A tip-sides", "reed measure A --tip-mm 66"][..]),
        (
            &there,
            &[
                "reed measure A --length-mm 71",
                "reed inspect A --leak low",
                "reed take A DEMO --temperature 24",
                "reed heard A octaves",
                "reed step A clip 0.3",
                "reed undo A",
                "reed redo A",
                "reed close A done",
            ],
        ),
    ] {
        work.iter().for_each(|line| done(log, line));
    }
    let export = folder.path().join("export");
    let log = Log::open(&there).unwrap();
    log.export(&[], &export).unwrap().finish().unwrap();
    let corpus = [fs::read(export.join("log.jsonl")).unwrap()];
    let place = folder.path().join("into");
    let mut number = 0;
    feed_changed(mutated_json, "exports", 3, "self", &corpus, |bytes| {
        number += 1;
        fs::write(export.join("log.jsonl"), bytes).unwrap();
        if check_export(&export).is_err() {
            return false;
        }
        fs::create_dir(&place).unwrap();
        let path = place.join("reeds.db");
        if number % 2 == 0 {
            fs::copy(&here, &path).unwrap();
        }
        // Whatever goes in must leave it whole.
        let mut log = Log::open(&path).unwrap();
        let imported = log.import(&export).is_ok();
        // A reading may be another version's, in whatever form: it is made again from the recording.
        let mut faults = log.check().unwrap().faults;
        faults.retain(|fault| !fault.mend.contains("log reread"));
        assert_eq!(faults, [], "import {number}");
        drop(log);
        fs::remove_dir_all(&place).unwrap();
        imported
    });
}

/// What is typed at the bench, at its prompt and on its page.
#[test]
fn changed_lines() {
    let typed = [
        "clip 0.3",
        "tip sides: left more",
        "length 2.62in",
        "crows 3",
        "play 2 1",
        "new a b",
        "reed Anouk 9",
    ];
    let phrases = grammar::phrases();
    let corpus: Vec<Vec<u8>> = typed
        .into_iter()
        .map(Into::into)
        .chain(phrases.into_iter().map(String::into_bytes))
        .collect();
    feed("typed lines", 22, "self", &corpus, |bytes| {
        grammar::parse(&String::from_utf8_lossy(bytes)).is_ok_and(|entry| entry.is_some())
    });
}
