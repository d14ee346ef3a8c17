//! The program killed while it listens and writes to the log: what it said it had done is there.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::process::Stdio;
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
        let patience = Duration::from_secs_f64(random.random_range(1.0..5.5));
        let said = std::thread::scope(|scope| {
            scope.spawn(|| bench.play(Path::new(CROWS)));
            std::thread::sleep(patience / 2);
            typed.write_all(b"t left more\n").unwrap();
            std::thread::sleep(patience / 2);
            text(&listening.killed().stdout)
        });
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
            if let Some(step) = line.strip_prefix("step ").and_then(number) {
                assert!(self.steps.insert(step), "step {step} twice");
            }
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
