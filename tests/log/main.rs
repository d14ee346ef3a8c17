//! The log under hard use: programs killed, disks full, two writers at once, earlier forms, undo
//! and exports; through the library and through the program.

mod account;
mod altered;
mod check;
mod commands;
#[cfg(target_os = "linux")]
mod disk;
mod exchange;
#[cfg(target_os = "linux")]
mod faults;
mod full_disk;
#[path = "../commands/golden.rs"]
mod golden;
mod heard;
#[path = "../benches/season/invented.rs"]
mod invented;
mod killed;
mod large;
mod migration;
mod named;
mod operations;
#[cfg(target_os = "linux")]
mod power;
mod rated;
#[cfg(target_os = "linux")]
mod read_only;
mod retold;
mod season;
mod share;
mod trust;
mod two_logs;
mod two_writers;
mod undo;
#[cfg(target_os = "linux")]
mod unprinted;
mod work;

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use reedcrow::log::{Card, Log, LogError, NewTake};
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Reader, Reading};
use reedcrow::take::Faults;
use reedcrow::take::wav::{self, SampleFormat};
use serde_json::Value;
use sha2::{Digest, Sha256};
use tempfile::TempDir;

/// A folder with a log in it.
struct Workshop {
    folder: TempDir,
}

impl Workshop {
    fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    /// With one reed, "A".
    fn with_a_reed() -> Self {
        let workshop = Self::new();
        workshop.log().add(&Card::new("A")).unwrap();
        workshop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn log(&self) -> Log {
        Log::open(&self.path("reeds.db")).unwrap()
    }

    /// The program, on this log.
    fn reedcrow(&self, arguments: &[&str]) -> Command {
        reedcrow_on(&self.path("reeds.db"), arguments)
    }

    /// Holds what the program said in this folder against a file of that name in `goldens`.
    fn golden(&self, name: &str, said: &str) {
        let folder = self.folder.path().to_str().unwrap();
        let said = said.replace(folder, "FOLDER").replace(env!("CARGO_PKG_VERSION"), "VERSION");
        let said = golden::timeless(&said);
        golden::held("../log/goldens", name, &said);
    }

    /// A short recording that no other number gives.
    fn recording(&self, number: usize) -> PathBuf {
        let path = self.path(&format!("recording-{number}.wav"));
        write_recording(&path, number);
        path
    }
}

fn reedcrow_on(log: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
    command.args(arguments).env("REEDCROW_LOG", log);
    for name in ["LC_ALL", "LC_CTYPE", "LANG"] {
        command.env_remove(name);
    }
    command
}

/// The one line by which the program ends for that reason.
fn refusal(why: &LogError) -> String {
    format!("reedcrow: {why}\n")
}

/// 50 ms at 8 kHz, its loudness told by the number.
fn write_recording(path: &Path, number: usize) {
    let amplitude = 0.1 + number as f32 * 1e-4;
    let samples: Vec<f32> = (0..400).map(|n| amplitude * (n as f32 * 0.4).sin()).collect();
    wav::write(path, &samples, 8000, 1, SampleFormat::F32).unwrap();
}

/// What a program without crows in its takes would log.
fn reading(source: &str) -> Reading {
    Reader::new(8000, &Profile::default(), A4::default())
        .finish(source, 1, 1, Faults::default())
        .reading
}

/// The reeds of a busy bench's year, with some ten takes each.
const YEAR: usize = 4_000;

/// The reeds of the log that tests are asked to work on by `REEDCROW_YEAR`: `whole`, or how many.
fn year_asked() -> Option<usize> {
    match std::env::var("REEDCROW_YEAR").ok()?.as_str() {
        "whole" => Some(YEAR),
        asked => asked.parse().ok(),
    }
}

/// An invented year as an export, whose takes all have one recording.
fn year(reeds: usize) -> TempDir {
    let export = TempDir::new().unwrap();
    let recording = export.path().join("recording.wav");
    write_recording(&recording, 9_999);
    let recording = fs::read(recording).unwrap();
    let hash: String =
        Sha256::digest(&recording).iter().map(|byte| format!("{byte:02x}")).collect();
    let mut lines = fs::File::create(export.path().join("log.jsonl")).unwrap();
    for line in invented::lines(reeds, 6, 18) {
        let mut parts = line.split("\"sha256\":\"");
        let head = parts.next().unwrap().to_owned();
        let named = parts.fold(head, |text, part| text + "\"sha256\":\"" + &hash + &part[64..]);
        lines.write_all(named.as_bytes()).unwrap();
    }
    fs::create_dir(export.path().join("audio")).unwrap();
    fs::write(export.path().join("audio").join(format!("{hash}.wav")), recording).unwrap();
    export
}

/// How many takes stand on all cards.
fn count_takes(log: &Log) -> usize {
    let all = log.facts(|_| true).unwrap().whole;
    all.iter().flat_map(|facts| &facts.way).map(|at| at.stage.takes).sum()
}

/// Adds a recording without reading it.
fn add_take(log: &mut Log, label: &str, file: &Path) -> u32 {
    let reading = reading(&file.display().to_string());
    let take = NewTake { file, reading: &reading, advice: None, conditions: None };
    log.take(label, take).unwrap().number
}

/// The lines of an export as one value: the head, and all reeds in it.
fn read_lines(export: &Path) -> Value {
    let text = fs::read_to_string(export.join("log.jsonl")).unwrap();
    let mut lines = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
    let mut whole = lines.next().unwrap();
    whole["reeds"] = lines.collect();
    whole
}

/// The other way.
fn write_lines(export: &Path, whole: &Value) {
    let reeds = whole["reeds"].as_array().unwrap();
    let mut head = whole.clone();
    head["reeds"] = reeds.len().into();
    let lines: String =
        std::iter::once(&head).chain(reeds).map(|line| format!("{line}\n")).collect();
    fs::write(export.join("log.jsonl"), lines).unwrap();
}

/// Every file of a folder, by name, with what it holds; folders in it likewise.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            found.extend(
                contents(&path).into_iter().map(|(below, b)| (name.clone() + "/" + &below, b)),
            );
        } else {
            found.push((name, fs::read(&path).unwrap()));
        }
    }
    found.sort();
    found
}
