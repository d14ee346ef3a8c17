//! The program killed while it listens and writes to the log: what it said it had done is there.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{ChildStdout, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use crate::bench::{Bench, Running, let_it_open, text};

const CROWS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data/mirek-12-before.wav");

/// Each takes as long as the sound that is played; the log's own path is killed hundreds of times
/// in `tests/log`.
const ROUNDS: usize = 6;

#[test]
fn killed_while_it_records_and_logs_it_keeps_every_acknowledged_step_and_take() {
    let Some(bench) = Bench::start() else { return };
    let log = bench.path("reeds.db");
    let reed = |arguments: &[&str]| {
        let output = bench.reedcrow().env("REEDCROW_LOG", &log).args(arguments).output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        text(&output.stdout)
    };
    reed(&["reed", "new", "A"]);
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut acknowledged = Acknowledged::default();
    for _ in 0..ROUNDS {
        let mut listening = bench.reedcrow();
        // A pause so short that each crow is a take, so that takes are logged while others sound.
        listening.env("REEDCROW_LOG", &log).args(["listen", "--reed", "A", "--pause", "0.2"]);
        let mut listening = Running::start(listening.stdin(Stdio::piped()));
        let mut typed = listening.stdin();
        let_it_open();
        let (heard, hearing) = Heard::begin(listening.stdout());
        // Some are killed at any moment, some shortly after they said that something is done: how
        // long that takes depends on the machine.
        let wanted = random.random_range(0..=3);
        let moment = Duration::from_secs_f64(random.random_range(0.0..2.5));
        std::thread::scope(|scope| {
            scope.spawn(|| bench.play(Path::new(CROWS)));
            typed.write_all(b"t: left more\n").unwrap();
            heard.wait_for(wanted);
            std::thread::sleep(moment);
            listening.kill();
        });
        let said = hearing.join().unwrap();
        acknowledged.hear(&said);
        let history: Value = serde_json::from_str(&reed(&["reed", "show", "A", "--json"])).unwrap();
        acknowledged.check(&history);
        assert!(reed(&["log", "check"]).lines().next().unwrap().ends_with("all whole"));
    }
    assert!(acknowledged.steps.len() > 1, "{acknowledged:?}");
    assert!(acknowledged.takes.len() > 1, "{acknowledged:?}");
    // And it listens on.
    let last = bench
        .reedcrow()
        .env("REEDCROW_LOG", &log)
        .args(["listen", "--reed", "A"])
        .args(["--seconds", "0.5"])
        .output();
    assert!(last.unwrap().status.success());
}

/// How much the running program has said it had done.
struct Heard(Receiver<()>);

impl Heard {
    /// Reads what it prints to its end.
    fn begin(stdout: ChildStdout) -> (Self, JoinHandle<String>) {
        let (sender, receiver) = channel();
        let reading = std::thread::spawn(move || {
            let mut said = String::new();
            for line in BufReader::new(stdout).lines().map_while(Result::ok) {
                if line.starts_with("Written down: cut ") || line.starts_with("A: take ") {
                    let _ = sender.send(());
                }
                said += &(line + "\n");
            }
            said
        });
        (Self(receiver), reading)
    }

    /// Until it has said so this many times, or for so long that it will not.
    fn wait_for(&self, times: usize) {
        for _ in 0..times {
            if self.0.recv_timeout(Duration::from_secs(30)).is_err() {
                return;
            }
        }
    }
}

/// What the program said it had done.
#[derive(Debug, Default)]
struct Acknowledged {
    steps: BTreeSet<u64>,
    takes: BTreeSet<u64>,
}

impl Acknowledged {
    fn hear(&mut self, said: &str) {
        let number = |rest: &str| rest.split(',').next().and_then(|number| number.parse().ok());
        for line in said.lines() {
            if let Some(step) = line.strip_prefix("Written down: cut ").and_then(number) {
                assert!(self.steps.insert(step), "step {step} twice");
            }
            // What is played again may be the same to the last bit; it is one take, and said so.
            if let Some(take) = line.strip_prefix("A: take ").and_then(number) {
                assert!(self.takes.insert(take), "take {take} twice");
            }
        }
    }

    fn check(&self, history: &Value) {
        let numbers = |list: &str| -> BTreeSet<u64> {
            history[list]
                .as_array()
                .unwrap()
                .iter()
                .filter_map(|one| one["number"].as_u64())
                .collect()
        };
        let (steps, takes) = (numbers("steps"), numbers("takes"));
        assert!(steps.is_superset(&self.steps), "lost {:?}", &self.steps - &steps);
        assert!(takes.is_superset(&self.takes), "lost {:?}", &self.takes - &takes);
        for take in history["takes"].as_array().unwrap() {
            assert!(take["reading"]["reading"].is_object(), "a take without its reading: {take}");
        }
    }
}
