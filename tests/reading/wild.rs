//! Reeds whose vibration is chaos are crows, and how wild they are is told.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use reedcrow::dsp::statistics::median;
use reedcrow::reading::{Crow, Kind};
use reedcrow::take::Take;
use reedcrow_synth::Chaos;

use super::reading_of;

/// A chaotic reed between half a second of quiet room on both sides.
fn take(gain: f64, cutoff_hz: f64, seed: u64) -> Take {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let hz = 440.0 + 17.0 * (seed % 8) as f64;
    let sound =
        Chaos { hz, gain, cutoff_hz, duration_s: 0.9, level_dbfs: -20.0 }.render(48_000, &mut rng);
    in_a_quiet_room(&sound, &mut rng)
}

/// With half a second of the room on both sides.
fn in_a_quiet_room(sound: &[f64], rng: &mut ChaCha8Rng) -> Take {
    let quiet = vec![0.0; 24_000];
    let room = |rng: &mut ChaCha8Rng| 3e-4 * Distribution::<f64>::sample(&StandardNormal, rng);
    let all = quiet.iter().chain(sound).chain(&quiet);
    let samples = all.map(|s| (s + room(rng)) as f32).collect();
    Take { sample_rate_hz: 48_000, channels: 1, channel: 1, samples, ..Take::default() }
}

fn crow(gain: f64, cutoff_hz: f64, seed: u64) -> Crow {
    let reading = reading_of(&take(gain, cutoff_hz, seed));
    assert_eq!(reading.crows.len(), 1, "{gain} {cutoff_hz} {seed}: {:?}", reading.crows);
    reading.crows[0].clone()
}

/// Model: see [`Chaos`].
#[test]
fn a_chaotic_reed_is_a_crow_and_no_breath() {
    for gain in [3.8, 3.9, 3.97] {
        for cutoff_hz in [1500.0, 3000.0, 6000.0] {
            for seed in 0..4 {
                let crow = crow(gain, cutoff_hz, seed);
                assert_ne!(crow.kind, Kind::Breath, "{gain} {cutoff_hz} {seed}: {crow:?}");
                let hz = crow.figures.fundamental.hz;
                assert!(hz.is_none_or(|hz| hz < 2060.0), "{gain} {cutoff_hz} {seed}: {hz:?}");
            }
        }
    }
}

#[test]
fn the_wilder_a_reed_the_less_of_it_repeats() {
    let harmonicity_db = |gain: f64| {
        let one = |seed| crow(gain, 3000.0, seed).figures.steadiness.harmonicity_db;
        median((0..5).filter_map(one)).unwrap()
    };
    let clear = harmonicity_db(3.3);
    let wild = harmonicity_db(3.8);
    let wilder = harmonicity_db(3.97);
    assert!(clear > 15.0 && wild < clear - 6.0 && wilder < wild - 2.0, "{clear} {wild} {wilder}");
}

/// A reed that leaps every 30 to 90 ms from one tone to another, or hisses, between half a second of
/// quiet room on both sides.
fn leaping(seed: u64) -> Take {
    const RATIOS: [f64; 8] = [1.0, 1.0, 2.0, 0.5, 1.33, 1.5, 0.8, 2.46];
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let target_hz = 500.0 + 9.0 * (seed % 6) as f64;
    let mut sound = Vec::new();
    while sound.len() < 48_000 {
        let count = rng.random_range(1_440..4_320);
        let hz =
            target_hz * RATIOS[rng.random_range(0..RATIOS.len())] * rng.random_range(0.95..1.05);
        let hisses = rng.random_bool(0.2);
        let phases: [f64; 12] = std::array::from_fn(|_| rng.random_range(0.0..TAU));
        for n in 0..count {
            let edge = (n.min(count - 1 - n) as f64 / 240.0).min(1.0);
            let turns = TAU * hz * n as f64 / 48_000.0;
            let partial = |(m, phase): (f64, &f64)| (m * turns + phase).cos() / m;
            let noise: f64 = StandardNormal.sample(&mut rng);
            let tone: f64 = (1..).map(f64::from).zip(&phases).map(partial).sum();
            sound.push(0.1 * edge * if hisses { 0.6 * noise } else { tone + 0.05 * noise });
        }
    }
    in_a_quiet_room(&sound, &mut rng)
}

/// Nothing of it lasts, and yet nobody takes it for air.
#[test]
fn a_reed_that_leaps_from_tone_to_tone_is_wild_and_no_breath() {
    let crows: Vec<Crow> =
        (0..12).flat_map(|seed| reading_of(&leaping(seed)).crows.into_iter().take(1)).collect();
    let of = |kind: Kind| crows.iter().filter(|crow| crow.kind == kind).count();
    let kinds: Vec<Kind> = crows.iter().map(|crow| crow.kind).collect();
    // Some glide from one to the next as a voice does.
    assert!(of(Kind::Unsettled) >= 8 && of(Kind::Breath) == 0, "{kinds:?}");
}

/// A reed that beats so irregularly that nothing repeats from one moment to the next: every pulse comes a
/// fifth of a period early or late and is of another height, and rings at 1 and 2.5 kHz. Breath as loud is
/// breath.
#[test]
fn irregular_pulses_are_a_wild_crow_and_breath_is_breath() {
    for seed in 0..6 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut sound = vec![0.0; 43_200];
        let mut at = 0.0_f64;
        while at < 42_000.0 {
            let chance: f64 = StandardNormal.sample(&mut rng);
            let height: f64 = StandardNormal.sample(&mut rng);
            for n in 0..400_usize {
                let t = n as f64 / 48_000.0;
                let rings = (-t / 8e-4).exp() * (TAU * 1000.0 * t).sin()
                    + 0.7 * (-t / 5e-4).exp() * (TAU * 2500.0 * t).sin();
                sound[at as usize + n] += 0.2 * (1.0 + 0.3 * height) * rings;
            }
            at += 48_000.0 / (480.0 + 20.0 * seed as f64) * (1.0 + 0.2 * chance).max(0.3);
        }
        let reading = reading_of(&in_a_quiet_room(&sound, &mut rng));
        let kinds: Vec<Kind> = reading.crows.iter().map(|crow| crow.kind).collect();
        assert_eq!(kinds, [Kind::Unsettled], "{seed}: {:?}", reading.others);
        let noise = |_| 0.05 * Distribution::<f64>::sample(&StandardNormal, &mut rng);
        let air: Vec<f64> = (0..43_200).map(noise).collect();
        let reading = reading_of(&in_a_quiet_room(&air, &mut rng));
        assert!(reading.crows.iter().all(|crow| crow.kind == Kind::Breath), "{seed}");
    }
}
