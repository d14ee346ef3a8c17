//! The program run as a user runs it, in an empty folder: what it prints, how it ends, and what
//! it leaves on disk.

mod analyse;
#[cfg(unix)]
mod arrows;
mod bad_input;
mod compare;
mod golden;
#[cfg(target_os = "linux")]
mod goldens;
// What lies beside the program is not there as Windows has it under wine.
#[cfg(unix)]
mod house;
mod json_line;
mod manuals;
#[cfg(target_os = "linux")]
mod markup;
mod output;
mod pictures;
mod plain_words;
mod profile;
#[cfg(unix)]
mod scripts;
mod start;
// Asks cargo, which is not there as Windows has it under wine.
#[cfg(unix)]
mod supply;

use std::f64::consts::TAU;
use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use reedcrow::take::wav::{self, SampleFormat};
use tempfile::TempDir;

/// An empty folder, and the program run in it.
struct Bench {
    folder: TempDir,
}

impl Bench {
    fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    /// The program, with the surroundings a test must not depend on taken away.
    fn reedcrow(&self, arguments: &[&str]) -> Command {
        let mut command = Command::cargo_bin("reedcrow").unwrap();
        command.current_dir(self.folder.path()).args(arguments);
        for name in ["LC_ALL", "LC_CTYPE", "LANG", "NO_COLOR", "TERM"] {
            command.env_remove(name);
        }
        command.env("HOME", self.folder.path());
        command
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a take of this many seconds: half a second of room noise, then a steady tone with
    /// twelve partials at 512 Hz (38 cents under C5, 440·2^(3/12) Hz), then room noise again.
    fn crow(&self, name: &str, seconds: f64) {
        let rate_hz = 48_000;
        let mut noise = 1u32;
        let samples: Vec<f32> = (0..(seconds * f64::from(rate_hz)) as usize)
            .map(|index| {
                // A linear congruential generator (Numerical Recipes' constants, from memory).
                noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                let room = (f64::from(noise >> 8) / f64::from(1 << 23) - 1.0) * 1e-4;
                let time_s = index as f64 / f64::from(rate_hz);
                let inside = time_s > 0.5 && time_s < seconds - 0.5;
                let tone: f64 = (1..=12)
                    .map(|n| (TAU * 511.89 * f64::from(n) * time_s).sin() * 0.1 / f64::from(n))
                    .sum();
                (room + if inside { tone } else { 0.0 }) as f32
            })
            .collect();
        wav::write(&self.path(name), &samples, rate_hz, 1, SampleFormat::I24).unwrap();
    }

    fn bytes(&self, name: &str, bytes: &[u8]) {
        fs::write(self.path(name), bytes).unwrap();
    }

    /// Names in the folder, sorted.
    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

/// Text with paths written as on every other system, also on Windows (in JSON its slashes are doubled).
fn slashes(text: String) -> String {
    if cfg!(windows) { text.replace("\\\\", "/").replace('\\', "/") } else { text }
}

/// How the program ended: exit code, standard output, standard error.
#[derive(Debug)]
struct Ending {
    code: Option<i32>,
    output: String,
    errors: String,
}

fn ending(command: &mut Command) -> Ending {
    let output = command.output().unwrap();
    Ending {
        code: output.status.code(),
        output: slashes(String::from_utf8(output.stdout).unwrap()),
        errors: slashes(String::from_utf8(output.stderr).unwrap()),
    }
}
