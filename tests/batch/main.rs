//! Folders of recordings, whatever made them and whatever happened to them since.

#![allow(
    clippy::print_stderr,
    clippy::print_stdout,
    reason = "tests tell what they measured and what they skipped"
)]

mod converter;
mod damaged;
mod decoders;
#[cfg(unix)]
mod folders;
mod formats;
#[path = "../commands/golden.rs"]
mod golden;
mod interrupted;
mod large;
#[cfg(unix)]
mod recipes;
mod safety;
mod spelled;
mod table;

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use reedcrow::take::wav::{self, SampleFormat};
use tempfile::TempDir;

/// An empty folder, and the program run in it.
struct Workshop {
    folder: TempDir,
}

impl Workshop {
    fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// `reedcrow batch` with these arguments, not yet started.
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_reedcrow"));
        command.current_dir(self.folder.path()).arg("batch").args(arguments);
        command.env("HOME", self.folder.path()).env_remove("NO_COLOR");
        command
    }

    /// `reedcrow batch` with these arguments. It must come to its end without a panic.
    fn batch(&self, arguments: &[&str]) -> Ran {
        Ran::new(self.command(arguments).output().unwrap())
    }

    /// Writes a take at 16 kHz, mono: room noise with one tone of `hz` in its middle.
    fn take(&self, name: &str, hz: f64, seconds: f64) -> PathBuf {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        wav::write(&path, &tone(hz, seconds), RATE_HZ, 1, SampleFormat::I16).unwrap();
        path
    }

    fn text(&self, name: &str) -> String {
        slashes(std::fs::read_to_string(self.path(name)).unwrap())
    }
}

const RATE_HZ: u32 = 16_000;

fn tone(hz: f64, seconds: f64) -> Vec<f32> {
    let mut noise = 1u32;
    let samples = (0..(seconds * f64::from(RATE_HZ)) as usize).map(|index| {
        // A linear congruential generator (Numerical Recipes' constants, from memory).
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let room = (f64::from(noise >> 8) / f64::from(1 << 23) - 1.0) * 1e-4;
        let t = index as f64 / f64::from(RATE_HZ);
        let inside = t > 0.25 * seconds && t < 0.75 * seconds;
        let tone: f64 = (1..=6).map(|n| (TAU * hz * f64::from(n) * t).sin() / f64::from(n)).sum();
        (room + if inside { 0.1 * tone } else { 0.0 }) as f32
    });
    samples.collect()
}

/// Text with paths written as on every other system, also on Windows (in JSON its slashes are doubled).
fn slashes(text: String) -> String {
    if cfg!(windows) { text.replace("\\\\", "/").replace('\\', "/") } else { text }
}

/// What a run came to.
#[derive(Debug)]
struct Ran {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Ran {
    fn new(output: Output) -> Self {
        let err = slashes(String::from_utf8_lossy(&output.stderr).into_owned());
        // How far it is is told every few seconds, and so oftener on a busy machine.
        let ran = Self {
            code: output.status.code(),
            out: slashes(String::from_utf8_lossy(&output.stdout).into_owned()),
            err: err
                .lines()
                .filter(|line| !is_progress(line))
                .map(|line| format!("{line}\n"))
                .collect(),
        };
        assert!(!ran.err.contains("panicked"), "{}", ran.err);
        ran
    }
}

impl Ran {
    /// How many takes it says were read by an earlier run.
    fn earlier(&self) -> usize {
        let told = self.out.split_once(" of them earlier");
        told.map_or(0, |(before, _)| before.rsplit([' ', '\n']).next().unwrap().parse().unwrap())
    }

    /// Holds what it printed and complained of against a file of that name in `goldens`.
    fn golden(&self, name: &str) {
        golden(name, &(self.out.clone() + &self.err));
    }
}

/// Whether a line tells how far the batch is.
fn is_progress(line: &str) -> bool {
    line.contains(" files, ") && line.ends_with(" left")
}

fn golden(name: &str, said: &str) {
    golden::held("../batch/goldens", name, &golden::timeless(said));
}

/// The rows of a table, each as (source, error).
fn rows(table: &Path) -> Vec<(String, String)> {
    let mut reader = csv::Reader::from_path(table).unwrap();
    let place = |name: &str, header: &csv::StringRecord| {
        header.iter().position(|column| column == name).unwrap()
    };
    let header = reader.headers().unwrap().clone();
    let (source, error) = (place("source", &header), place("error", &header));
    let rows = reader.records().map(|record| {
        let record = record.unwrap();
        (slashes(record[source].to_owned()), record[error].to_owned())
    });
    rows.collect()
}
