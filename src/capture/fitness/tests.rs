//! The check on rooms and crows that are made by number.

use super::judging::heard;
use super::*;
use crate::capture::SoundFormat;
use crate::reading::WarningCode;
use rand::{RngExt, SeedableRng};
use std::f64::consts::TAU;

const RATE_HZ: u32 = 48_000;
const MONO: SoundFormat = SoundFormat { sample_rate_hz: RATE_HZ, channels: 1 };

/// Two seconds of white noise with `dbfs` in the whole band up to 24 kHz.
fn noise(dbfs: f64) -> Vec<f32> {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
    // A uniform sample in ±a has the mean square a²/3; a full-scale sine has ½.
    let a = (1.5 * 10_f64.powf(dbfs / 10.0)).sqrt() as f32;
    (0..2 * RATE_HZ).map(|_| random.random_range(-a..a)).collect()
}

fn add(samples: &mut [f32], hz: f64, dbfs: f64, from_s: f64, to_s: f64) {
    let a = 10_f64.powf(dbfs / 20.0);
    for (n, sample) in samples.iter_mut().enumerate() {
        let t = n as f64 / f64::from(RATE_HZ);
        if (from_s..to_s).contains(&t) {
            *sample += (a * (TAU * hz * t).sin()) as f32;
        }
    }
}

/// `quiet` with a crow of `dbfs` in it.
fn crow_in(quiet: &[f32], dbfs: f64, from_s: f64, to_s: f64) -> Vec<f32> {
    let mut samples = quiet.to_vec();
    add(&mut samples, 523.0, dbfs, from_s, to_s);
    samples.iter_mut().for_each(|x| *x = x.clamp(-1.0, 1.0));
    samples
}

#[test]
fn a_quiet_room_with_a_good_trial_crow_is_fit() {
    let quiet = noise(-70.0);
    let fitness =
        room_fitness(&quiet, &crow_in(&quiet, -20.0, 0.8, 1.3), MONO, Delivery::default());
    assert_eq!(fitness.findings, [], "{fitness:?}");
    assert_eq!(fitness.crows, 1);
    // 100 Hz to 10 kHz is 9.9 of 24 kHz: 3.85 dB under the whole.
    let floor = fitness.floor_dbfs.unwrap();
    assert!((floor + 73.85).abs() < 0.5, "{floor}");
    assert!((fitness.loudest_dbfs.unwrap() + 20.0).abs() < 0.1, "{fitness:?}");
}

/// A maker may crow through all of the trial, or too soon: the crow is never the room.
#[test]
fn a_long_or_early_crow_is_no_room_noise() {
    let quiet = noise(-70.0);
    let long = crow_in(&quiet, -20.0, 0.0, 2.0);
    for (first, second) in [(&quiet, &long), (&long, &quiet)] {
        let fitness = room_fitness(first, second, MONO, Delivery::default());
        assert_eq!(fitness.findings, [], "{fitness:?}");
        assert!(fitness.crows == 1 && (fitness.floor_dbfs.unwrap() + 73.85).abs() < 0.5);
    }
    assert_eq!(room_fitness(&quiet, &quiet, MONO, Delivery::default()).crows, 0);
}

#[test]
fn each_trouble_is_named() {
    let quiet = noise(-80.0);
    let mut hum = quiet.clone();
    [(60.0, -55.0), (120.0, -50.0), (180.0, -60.0)]
        .iter()
        .for_each(|&(hz, dbfs)| add(&mut hum, hz, dbfs, 0.0, 2.0));
    let crow = |dbfs: f64| crow_in(&quiet, dbfs, 0.8, 1.3);
    // Rounding of a converter that hears nothing: 20·log10(1e-9) is −180 dBFS.
    let rounding: Vec<f32> = (0..96_000).map(|n| [1e-9, -1e-9][n % 2]).collect();
    for (quiet, trial, expected) in [
        (&vec![0.0; 96_000], vec![0.0; 96_000], vec![Matter::Muted]),
        (&vec![0.1; 96_000], vec![0.1; 96_000], vec![Matter::Muted]),
        (&rounding, rounding.clone(), vec![Matter::Muted]),
        (&noise(-40.0), noise(-40.0), vec![Matter::NoisyRoom]),
        (&hum, hum.clone(), vec![Matter::Hum]),
        (&quiet, crow(-3.0), vec![Matter::Hot]),
        (&quiet, crow(6.0), vec![Matter::Overload]),
        (&quiet, crow(-55.0), vec![Matter::Quiet]),
    ] {
        let fitness = room_fitness(quiet, &trial, MONO, Delivery::default());
        assert_eq!(fitness.findings, expected, "{fitness:?}");
    }
}

/// Parseval: the level found is the level put in. Three tones, powers added by hand.
#[test]
fn hum_is_measured_as_the_sum_of_its_harmonics() {
    let mut samples = noise(-90.0);
    for (hz, dbfs) in [(50.0, -50.0), (100.0, -50.0), (150.0, -50.0)] {
        add(&mut samples, hz, dbfs, 0.0, 2.0);
    }
    let hum = room_fitness(&samples, &samples, MONO, Delivery::default()).hum_dbfs.unwrap();
    let expected = -50.0 + 10.0 * 3_f64.log10();
    assert!((hum - expected).abs() < 0.1, "{hum} for {expected}");
}

#[test]
fn the_mains_frequency_alone_is_hum_and_another_tone_alone_is_not() {
    for (hz, dbfs, found) in [(50.0, -43.0, true), (60.0, -43.0, true), (150.0, -43.0, false)] {
        let mut samples = noise(-90.0);
        add(&mut samples, hz, dbfs, 0.0, 2.0);
        let fitness = room_fitness(&samples, &samples, MONO, Delivery::default());
        let hum = fitness.hum_dbfs.filter(|_| found);
        assert_eq!(hum.is_some(), found, "{hz}: {fitness:?}");
        assert!(hum.is_none_or(|hum| (hum - dbfs).abs() < 0.2), "{fitness:?}");
        assert_eq!(fitness.findings.contains(&Matter::Hum), found, "{hz}");
    }
}

/// What a reading warns of, the check finds as well, and the other way round.
#[test]
fn the_check_and_a_reading_agree_about_hum_and_overload() {
    let quiet = noise(-90.0);
    let humming = |hz: &[f64], dbfs: f64| {
        let mut samples = quiet.clone();
        hz.iter().for_each(|&hz| add(&mut samples, hz, dbfs, 0.0, 2.0));
        samples
    };
    // Cut flat well under full scale, as a recorder's own limiter does.
    let mut cut = crow_in(&quiet, -3.0, 0.2, 1.8);
    cut.iter_mut().for_each(|x| *x = x.clamp(-0.5, 0.5));
    for (room, hums, overloads) in [
        (humming(&[50.0, 100.0], -68.0), true, false),
        (humming(&[60.0], -55.0), true, false),
        (humming(&[50.0, 100.0], -85.0), false, false),
        (cut, false, true),
    ] {
        let reading = heard(&room, &[], RATE_HZ);
        let warns = |code| reading.warnings.iter().any(|warning| warning.code == code);
        let findings = room_fitness(&room, &room, MONO, Delivery::default()).findings;
        assert_eq!(findings.contains(&Matter::Hum), hums, "{findings:?}");
        assert_eq!(warns(WarningCode::Hum), hums, "{:?}", reading.warnings);
        assert_eq!(findings.contains(&Matter::Overload), overloads, "{findings:?}");
        assert_eq!(warns(WarningCode::Overload), overloads, "{:?}", reading.warnings);
    }
}

/// Air blown through the reed is loud, and tells nothing of a crow's level.
#[test]
fn air_alone_is_no_trial_crow() {
    let quiet = noise(-75.0);
    let mut air = quiet.clone();
    let blown = noise(-30.0);
    air[30_000..60_000].copy_from_slice(&blown[30_000..60_000]);
    let fitness = room_fitness(&quiet, &air, MONO, Delivery::default());
    assert!(fitness.crows == 0 && fitness.air_heard, "{fitness:?}");
    let mut crow = air;
    add(&mut crow, 130.0, -20.0, 0.7, 1.2);
    let fitness = room_fitness(&quiet, &crow, MONO, Delivery::default());
    assert!(fitness.crows == 1 && !fitness.air_heard, "{fitness:?}");
}

/// Mains of 50 Hz with its harmonics, at −30 dBFS each.
fn hum_from(quiet: &[f32], from_s: f64) -> Vec<f32> {
    let mut samples = quiet.to_vec();
    for hz in [50.0, 100.0, 150.0, 250.0] {
        add(&mut samples, hz, -30.0, from_s, 2.0);
    }
    samples
}

#[test]
fn hum_that_begins_while_a_crow_is_waited_for_is_hum_and_no_crow() {
    let quiet = noise(-75.0);
    let fitness = room_fitness(&quiet, &hum_from(&quiet, 0.5), MONO, Delivery::default());
    assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
    assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
}

#[test]
fn a_crow_over_hum_is_heard() {
    let hum = hum_from(&noise(-75.0), 0.0);
    let fitness = room_fitness(&hum, &crow_in(&hum, -10.0, 0.8, 1.4), MONO, Delivery::default());
    assert!(fitness.crows == 1, "{fitness:?}");
    assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
    let fitness = room_fitness(&hum, &hum, MONO, Delivery::default());
    assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
}

/// Rumble is loud under the band of readings, and no breath.
#[test]
fn a_room_that_rumbles_is_no_air() {
    let mut room = noise(-75.0);
    for hz in [13.0, 17.0, 29.0] {
        add(&mut room, hz, -35.0, 0.0, 2.0);
    }
    let fitness = room_fitness(&room, &room, MONO, Delivery::default());
    assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
}

#[test]
fn the_stronger_channel_is_judged() {
    let frames: Vec<f32> = noise(-80.0).iter().flat_map(|&x| [0.0, x]).collect();
    let stereo = SoundFormat { channels: 2, ..MONO };
    assert_eq!(room_fitness(&frames, &frames, stereo, Delivery::default()).channel, 2);
    let empty = room_fitness(&[], &[], MONO, Delivery::default());
    assert_eq!(empty.findings, [Matter::Muted]);
}
