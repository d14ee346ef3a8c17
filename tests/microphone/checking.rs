//! `devices` on a real sound system.

use serde_json::Value;

use crate::bench::{Bench, Running, let_it_open, text};

/// 0.5 s of a sine of 523.25 Hz at −20 dBFS, so of amplitude 0.1 (AES17), in a quiet of 1 s.
fn tone() -> Vec<f32> {
    let sine =
        |n: i32| (0.1 * (std::f64::consts::TAU * 523.25 * f64::from(n) / 48_000.0).sin()) as f32;
    (0..24_000).map(sine).collect()
}

#[test]
fn the_default_microphone_is_listed_with_what_it_gives() {
    let Some(bench) = Bench::start() else { return };
    let output = bench.reedcrow().args(["devices", "--json"]).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    let list: Value = serde_json::from_slice(&output.stdout).unwrap();
    let device = &list["devices"][0];
    assert_eq!(device["name"], "default");
    assert_eq!(device["default"], true);
    assert_eq!(device["records"]["min_rate_hz"], 48_000);
    assert!(device["trouble"].is_null());
}

/// A digital path changes no level: the tolerance is the 50 ms window's share of a period.
#[test]
fn a_trial_crow_is_heard_at_its_level() {
    let Some(bench) = Bench::start() else { return };
    let wav = bench.path("tone.wav");
    reedcrow::take::wav::write(&wav, &tone(), 48_000, 1, reedcrow::take::wav::SampleFormat::F32)
        .unwrap();
    let check = Running::start(bench.reedcrow().args(["devices", "--check", "--json"]));
    let_it_open();
    bench.play(&wav);
    let output = check.ended(20);
    let fitness: Value = serde_json::from_slice(&output.stdout).unwrap();
    let loudest = fitness["loudest_dbfs"].as_f64().unwrap();
    assert!((loudest + 20.0).abs() < 0.2, "{fitness}");
    assert_eq!(fitness["trial_heard"], true, "{fitness}");
    assert!(output.status.success(), "{fitness} {}", text(&output.stderr));
}

#[test]
fn a_muted_microphone_is_not_fit() {
    let Some(bench) = Bench::start() else { return };
    let output = bench.reedcrow().args(["devices", "--check"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stdout).contains("Unmute it"), "{}", text(&output.stdout));
    let told = text(&output.stderr);
    let last = told.lines().last().unwrap();
    assert!(last.starts_with("reedcrow: default is not fit for crowing: it is silent (muted?)"));
}
