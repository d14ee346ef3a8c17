//! `devices` on a real sound system.

use serde_json::Value;

use crate::bench::{Bench, Running, golden, let_it_open, text};

/// Quiet, three tones of 0.8 s with 1.2 s between them, and quiet: a sine of 523.25 Hz at −20 dBFS, so of
/// amplitude 0.1 (AES17), in a hiss of a thousandth of that.
fn crows(change: impl Fn(f64, f32) -> f32) -> Vec<f32> {
    let mut noise = 7_u32;
    let sample = |n: i32| {
        let t = f64::from(n) / 48_000.0;
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let hiss = 1e-4 * (f64::from(noise) / f64::from(u32::MAX) - 0.5);
        let sounds = (3.5..9.5).contains(&t) && (t - 3.5) % 2.0 < 0.8;
        let tone = 0.1 * (std::f64::consts::TAU * 523.25 * t).sin();
        change(t, (hiss + if sounds { tone } else { 0.0 }) as f32)
    };
    (0..16 * 48_000).map(sample).collect()
}

/// What a check says while this is played.
fn checked(bench: &Bench, samples: &[f32]) -> (Value, Option<i32>) {
    let wav = bench.path("crows.wav");
    reedcrow::take::wav::write(&wav, samples, 48_000, 1, reedcrow::take::wav::SampleFormat::F32)
        .unwrap();
    let log = bench.path("reeds.db");
    let log = log.to_str().unwrap();
    let check =
        Running::start(bench.reedcrow().args(["devices", "--check", "--json", "--log", log]));
    let_it_open();
    bench.play(&wav);
    let output = check.ended(60);
    let told = serde_json::from_slice(&output.stdout);
    (told.unwrap_or_else(|error| panic!("{error}: {}", text(&output.stderr))), output.status.code())
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
fn three_crows_are_a_pass_at_their_level_and_the_verdict_is_kept() {
    let Some(bench) = Bench::start() else { return };
    let (fitness, code) = checked(&bench, &crows(|_, sample| sample));
    let loudest = fitness["loudest_dbfs"].as_f64().unwrap();
    assert!((loudest + 20.0).abs() < 0.2, "{fitness}");
    assert_eq!((&fitness["crows"], code), (&Value::from(3), Some(0)), "{fitness}");
    let log = reedcrow::log::Log::open_existing(&bench.path("reeds.db")).unwrap();
    let kept = log.microphone("default").unwrap().unwrap();
    assert!(kept.fit && kept.found.is_empty(), "{kept:?}");
}

/// Faint, and shut off between the crows.
#[test]
fn faint_crows_and_a_gate_are_no_pass() {
    let Some(bench) = Bench::start() else { return };
    let gated = |t: f64, sample: f32| {
        let open = (3.45..9.5).contains(&t) && (t - 3.45) % 2.0 < 0.9;
        if open { 0.01 * sample } else { 0.0 }
    };
    let (fitness, code) = checked(&bench, &crows(gated));
    assert_eq!(code, Some(2), "{fitness}");
    let found = fitness["findings"].as_array().unwrap();
    assert!(found.contains(&"quiet".into()) && found.contains(&"gated".into()), "{fitness}");
}

#[test]
fn a_muted_microphone_is_not_fit() {
    let Some(bench) = Bench::start() else { return };
    let output = bench.reedcrow().args(["devices", "--check"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    // How late sound comes is the machine's affair.
    let said = text(&output.stdout);
    let said: Vec<&str> = said.lines().filter(|line| !line.starts_with("Delay")).collect();
    golden("muted", &said.join("\n"));
    golden("muted-in-short", text(&output.stderr).lines().last().unwrap());
}
