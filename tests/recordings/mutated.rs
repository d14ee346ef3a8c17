//! Inputs changed at random: no panic, no hang, little memory.
//!
//! A few hundred of each kind here; `scripts/mutate COUNT` runs as many as it is told and prints what
//! it ran. Seeds are fixed, so what fails once fails again.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use reedcrow::batch::{Ending, Form, for_each_row};
use reedcrow::log::{Card, Log, read_export};
use reedcrow::profile;
use reedcrow::take::decode::{Program, decode_in_child};
use reedcrow::take::wav::{self, SampleFormat};
use reedcrow::take::{self, Channel};

/// How many of each kind, without being told.
const USUAL: usize = 150;

/// The longest that one input may take.
const LONGEST: Duration = Duration::from_secs(5);

/// What one process may use at its peak.
const MOST_MEMORY_KB: u64 = 300 << 10;

/// `bytes` with one to four changes of the kinds that damage and malice make.
fn mutated(bytes: &[u8], random: &mut ChaCha8Rng) -> Vec<u8> {
    const TELLING: [u32; 10] =
        [0, 1, 2, 0x7f, 0xff, 0x7fff, 0xffff, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff];
    let mut bytes = bytes.to_vec();
    for _ in 0..random.random_range(1..=4) {
        if bytes.is_empty() {
            break;
        }
        // Headers decide more than what follows.
        let end = if random.random_bool(0.6) { bytes.len().min(600) } else { bytes.len() };
        let at = random.random_range(0..end);
        let span = random.random_range(1..=64).min(bytes.len() - at);
        match random.random_range(0..7) {
            0 => bytes[at] ^= 1 << random.random_range(0..8),
            1 => bytes[at] = random.random_range(0..=255),
            2 => {
                let number = TELLING[random.random_range(0..TELLING.len())];
                let four = if random.random_bool(0.5) {
                    number.to_le_bytes()
                } else {
                    number.to_be_bytes()
                };
                let room = 4.min(bytes.len() - at);
                bytes[at..at + room].copy_from_slice(&four[..room]);
            }
            3 => drop(bytes.drain(at..at + span)),
            4 => {
                let again = bytes[at..at + span].to_vec();
                bytes.splice(at..at, again);
            }
            5 => bytes.truncate(at),
            _ => {
                let from = random.random_range(0..bytes.len() - span + 1);
                bytes.copy_within(from..from + span, at);
            }
        }
    }
    bytes
}

/// The peak of this process's memory, by Linux (proc(5), VmHWM).
fn peak_kb() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Feeds `count` changed forms of `corpus` to `read`, which panics where it should not.
fn feed(name: &str, corpus: &[Vec<u8>], mut read: impl FnMut(&[u8]) -> bool) {
    let count = std::env::var("REEDCROW_MUTATIONS").ok();
    let count = count.and_then(|count| count.parse().ok()).unwrap_or(USUAL);
    let mut random = ChaCha8Rng::seed_from_u64(18);
    let (mut longest, mut understood) = (Duration::ZERO, 0);
    for number in 0..count {
        let bytes = mutated(&corpus[number % corpus.len()], &mut random);
        let start = Instant::now();
        understood += usize::from(read(&bytes));
        let took = start.elapsed();
        assert!(took < LONGEST, "{name}, input {number}: took {took:?}");
        longest = longest.max(took);
    }
    let peak = peak_kb().unwrap_or(0);
    assert!(peak < MOST_MEMORY_KB, "{name}: {peak} kB");
    let line = format!(
        "*** {name}: {count} inputs, {understood} understood, the longest {longest:.1?}, peak {} MB\n",
        peak >> 10
    );
    std::io::stderr().write_all(line.as_bytes()).unwrap();
}

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
    for name in ["a.flac", "a.mp3", "a.m4a", "alac.caf", "a.ogg", "a.aiff", "a.caf", "adpcm.wav"] {
        let options: &[&str] = match name {
            "alac.caf" => &["-c:a", "alac"],
            "a.ogg" => &["-c:a", "libvorbis"],
            "adpcm.wav" => &["-c:a", "adpcm_ms"],
            _ => &[],
        };
        let made = std::process::Command::new("ffmpeg")
            .args(["-loglevel", "error", "-nostdin", "-y", "-i"])
            .arg(folder.join("i16.wav"))
            .args(options)
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
    let program = env!("CARGO_BIN_EXE_reedcrow").into();
    decode_in_child(Some(Program { path: program, arguments: vec!["decode".into()] }));
    feed("recordings", &corpus, |bytes| {
        fs::write(&path, bytes).unwrap();
        take::read(&path, Channel::default()).is_ok_and(|take| {
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
    feed("profiles", &corpus, |bytes| {
        fs::write(&path, bytes).unwrap();
        profile::load(path.to_str().unwrap()).is_ok()
    });
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
        feed(&format!("tables ({name})"), &corpus, |bytes| {
            fs::write(&table, bytes).unwrap();
            for_each_row(&table, form, Ending::MayBeCut, |_, _, _| Ok(())).is_ok()
        });
    }
}

#[test]
fn changed_exports() {
    let folder = tempfile::tempdir().unwrap();
    let mut log = Log::open(&folder.path().join("reeds.db")).unwrap();
    log.add(&Card { owner: Some("Ilse".into()), ..Card::new("A") }).unwrap();
    log.undo("A").unwrap();
    log.redo("A").unwrap();
    let export = folder.path().join("export");
    log.export(&log.exported(&[]).unwrap(), &[], &export).unwrap();
    let corpus = [fs::read(export.join("log.json")).unwrap()];
    let mut number = 0;
    feed("exports", &corpus, |bytes| {
        fs::write(export.join("log.json"), bytes).unwrap();
        if read_export(&export).is_err() {
            return false;
        }
        // Into a log of its own: whatever goes in must leave it whole.
        number += 1;
        let path = folder.path().join(format!("other-{number}.db"));
        let mut other = Log::open(&path).unwrap();
        let imported = other.import(&export).is_ok();
        assert_eq!(other.check().unwrap().faults, [], "import {number}");
        imported
    });
}
