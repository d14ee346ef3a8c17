//! What is no crow gives a reading without one, a warning, and no pitch.

use std::f64::consts::TAU;

use reedcrow::pitch::A4;
use reedcrow::profile::{Profile, load};
use reedcrow::reading::{Kind, WarningCode, What, Why, read};
use reedcrow::take::Take;
use reedcrow_synth::{
    Background, Colour, CrowSound, Disturbance, Motion, Noise, NoiseLevel, Scene, Sound, Source,
};

use super::{cents, only_crow, reading_of, take_of};

fn room_with(disturbance: Disturbance, seed: u64) -> Take {
    let mut scene = Scene::new(3.0, seed);
    scene.background = Background {
        noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-60.0) }),
        ..Background::default()
    };
    scene.sounds.push(Sound { start_s: 0.8, source: Source::Other(disturbance) });
    scene.render().take("room")
}

fn assert_no_crow(take: &Take, what: &str) {
    let reading = reading_of(take);
    assert_eq!(reading.summary.crow_count, 0, "{what}: {:?}", reading.crows);
    assert!(
        reading.warnings.iter().any(|warning| warning.code == WarningCode::NoCrow),
        "{what}: {:?}",
        reading.warnings
    );
}

#[test]
fn silence_and_stubs_hold_no_crow() {
    for samples in [Vec::new(), vec![0.0], vec![0.0; 480_000], vec![0.5; 48_000]] {
        let take =
            Take { sample_rate_hz: 48_000, channels: 1, channel: 1, samples, ..Take::default() };
        assert_no_crow(&take, "silence");
    }
}

/// A muted input with an offset: what its transforms give is their own rounding, at some rates and
/// offsets a clean tone.
#[test]
fn an_offset_and_nothing_else_is_silence() {
    for sample_rate_hz in [8_000, 44_100, 48_000, 96_000] {
        for offset in [32_767.0 / 32_768.0, 1.0, -0.3, 1e-3, 1e-6, 1e-30] {
            for flicker in [0.0, f32::EPSILON * offset] {
                let sample = |n: u32| offset + if n.is_multiple_of(500) { flicker } else { 0.0 };
                let samples = (0..2 * sample_rate_hz).map(sample).collect();
                let take =
                    Take { sample_rate_hz, channels: 1, channel: 1, samples, ..Take::default() };
                let what = format!("{offset} at {sample_rate_hz} Hz");
                assert_no_crow(&take, &what);
                let reading = reading_of(&take);
                assert!(reading.crows.is_empty(), "{what}");
                let codes: Vec<_> = reading.warnings.iter().map(|warning| warning.code).collect();
                assert!(codes.contains(&WarningCode::Silent), "{what}: {codes:?}");
                assert!(!codes.contains(&WarningCode::Overload), "{what}: {codes:?}");
            }
        }
    }
}

#[test]
fn a_twentieth_of_a_second_of_tone_is_no_crow() {
    assert_no_crow(&take_of(CrowSound::octaves(523.0, 0.05, -6.0), 40.0, 1), "0.05 s");
}

#[test]
fn knocks_voices_handling_and_hum_are_no_crows() {
    for seed in 0..6 {
        let step = f64::from(seed as u32);
        let cases = [
            Disturbance::Knock { level_dbfs: -12.0 - step, decay_s: 0.05 + 0.05 * step },
            Disturbance::Speech {
                level_dbfs: -20.0,
                duration_s: 0.5 + 0.2 * step,
                pitch_hz: 90.0 + 35.0 * step,
            },
            Disturbance::Hum { level_dbfs: -25.0, duration_s: 1.2, mains_hz: 50.0 },
            Disturbance::Handling { level_dbfs: -15.0 - step, duration_s: 0.6 },
        ];
        for case in cases {
            assert_no_crow(&room_with(case, seed), &format!("{case:?}"));
        }
    }
}

#[test]
fn breath_is_listed_and_not_counted() {
    let puff = Disturbance::Breath {
        level_dbfs: -25.0,
        duration_s: 1.0,
        colour: Colour::Air { low_hz: 500.0, high_hz: 4000.0 },
    };
    let take = room_with(puff, 2);
    assert_no_crow(&take, "breath");
    let reading = reading_of(&take);
    assert_eq!(reading.crows.len(), 1);
    assert_eq!(reading.crows[0].kind, Kind::Breath);
    assert_eq!(reading.crows[0].figures.fundamental.hz, None);
}

/// A low reed that is meant to be rough is not taken for a voice by its own profile; a voice is
/// none by either.
#[test]
fn a_rough_low_crow_is_heard_with_the_profile_that_expects_it() {
    let bassoon = load("bassoon").unwrap();
    let read_as = |take: &Take, profile: &Profile| read(take, profile, A4::default()).reading;
    for seed in 0..6 {
        let mut crow = CrowSound::octaves(190.0, 0.8, -6.0);
        crow.motion = Motion { spread_cents: 11.0, spread_time_s: 0.1, ..Motion::default() };
        let reading = read_as(&take_of(crow, 30.0, seed), &bassoon);
        assert_eq!(reading.summary.crow_count, 1, "seed {seed}");
        let voice = Disturbance::Speech {
            level_dbfs: -20.0,
            duration_s: 0.6 + 0.2 * f64::from(seed as u32),
            pitch_hz: 90.0 + 35.0 * f64::from(seed as u32),
        };
        let reading = read_as(&room_with(voice, seed), &bassoon);
        assert_eq!(reading.summary.crow_count, 0, "seed {seed}: {:?}", reading.crows);
    }
}

/// Low reeds with vibrato and low reeds that happen to sound at a multiple of the mains are held
/// tones: no voice is held so long at one place, and no mains waver.
#[test]
fn held_low_tones_are_crows_though_they_waver() {
    for (hz, vibrato_cents) in [(262.0, 30.0), (131.0, 25.0), (120.1, 6.0), (300.0, 8.0)] {
        for seed in 0..4 {
            let mut crow = CrowSound::octaves(hz, 1.6, -3.0);
            crow.motion.vibrato_cents = vibrato_cents;
            crow.motion.vibrato_hz = 5.5;
            let scene = Scene::of_crow(crow, 0.8, seed).in_noise(Colour::Pink, 40.0);
            let reading = reading_of(&scene.render().take("low"));
            let found = only_crow(&reading).figures.fundamental.hz.unwrap_or_default();
            assert!(cents(found, hz).abs() < 6.0, "{hz} Hz, seed {seed}: {found}");
        }
    }
}

/// Somebody's held note between crows is much weaker than they are, and of another pitch; a crow blown as
/// softly has the reed's own.
#[test]
fn a_weak_note_of_another_pitch_is_no_crow_of_the_take() {
    for (hz, level_db, is_crow) in
        [(392.0, -16.0, false), (392.0, -6.0, true), (523.0, -16.0, true), (1046.0, -16.0, true)]
    {
        let mut scene = Scene::new(6.0, 4);
        scene.background = Background {
            noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-60.0) }),
            ..Background::default()
        };
        let mut held = CrowSound::octaves(hz, 0.7, -10.0);
        held.level_dbfs += level_db;
        for (start_s, crow) in [
            (0.8, CrowSound::octaves(522.0, 0.8, -10.0)),
            (2.4, held),
            (3.8, CrowSound::octaves(524.0, 0.8, -10.0)),
        ] {
            scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
        }
        let reading = reading_of(&scene.render().take("note"));
        let count = if is_crow { 3 } else { 2 };
        assert_eq!(reading.summary.crow_count, count, "{hz} Hz, {level_db} dB");
        let weaker = reading.others.iter().filter(|other| other.why == Why::Weaker).count();
        assert_eq!(weaker, 3 - count, "{hz} Hz, {level_db} dB: {:?}", reading.others);
    }
}

/// A take of 3 s at 48 kHz in soft noise, with the sum of `partials` from 0.8 s on.
///
/// * `partials`: frequency in hertz, amplitude, and seconds in which it dies away by 8.7 dB.
/// * `waver_cents`: how far its pitch wavers, six times a second.
fn toned(partials: &[(f64, f64, f64)], waver_cents: f64, attack_s: f64, duration_s: f64) -> Take {
    toned_at(partials, (waver_cents, 6.0), attack_s, duration_s)
}

/// The same, with a waver of so many cents so many times a second.
fn toned_at(
    partials: &[(f64, f64, f64)],
    (waver_cents, waver_hz): (f64, f64),
    attack_s: f64,
    duration_s: f64,
) -> Take {
    const RATE_HZ: f64 = 48_000.0;
    let mut take = room_with(Disturbance::Knock { level_dbfs: -120.0, decay_s: 0.05 }, 3);
    let end_s = 0.8 + duration_s;
    for (n, sample) in take.samples.iter_mut().enumerate() {
        let (at_s, since_s) = (n as f64 / RATE_HZ, n as f64 / RATE_HZ - 0.8);
        let gain = (since_s / attack_s).min((end_s - at_s) / 0.03).clamp(0.0, 1.0);
        let waved = since_s
            + waver_cents / 1731.2 * (1.0 - (TAU * waver_hz * since_s).cos()) / (TAU * waver_hz);
        let tone: f64 = partials
            .iter()
            .map(|(hz, amplitude, decay_s)| {
                amplitude * (-since_s.max(0.0) / decay_s).exp() * (TAU * hz * waved).sin()
            })
            .sum();
        *sample += (0.1 * gain * tone) as f32;
    }
    take
}

/// Modes of a free bar lie at 1 : 2.756 : 5.404 : 8.933, those of a tuned bell at 0.5 : 1 : 1.2 : 1.5 : 2
/// (N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, 2nd ed., sections 2.15 and 21.2;
/// from memory); higher ones die away sooner.
#[test]
fn metal_that_rings_is_struck() {
    let bar: [f64; 4] = [1.0, 2.756, 5.404, 8.933];
    let bell: [f64; 5] = [0.5, 1.0, 1.2, 1.5, 2.0];
    for (modes, lowest_hz, decay_s) in [
        (&bar[..], 620.0, 0.2),
        (&bar, 910.0, 0.35),
        (&bar, 1430.0, 0.15),
        (&bell, 540.0, 0.6),
        (&bell, 880.0, 0.4),
    ] {
        let partials: Vec<(f64, f64, f64)> =
            modes.iter().map(|mode| (mode * lowest_hz, 1.0, decay_s / mode.sqrt())).collect();
        assert_no_crow(&toned(&partials, 0.0, 0.001, 2.0), &format!("{lowest_hz} Hz"));
    }
    // A reed that fades as far is blown: it takes several periods to sound, or, tongued, has more partials.
    let fading: Vec<(f64, f64, f64)> =
        (1..20).map(|n| (523.0 * f64::from(n), 1.0 / f64::from(n), 0.6)).collect();
    for attack_s in [0.05, 0.003] {
        let reading = reading_of(&toned(&fading, 0.0, attack_s, 0.8));
        assert_eq!(reading.summary.crow_count, 1, "{attack_s} s: {:?}", reading.others);
    }
}

/// What is hummed or whistled has overtones that fall steeply, and wavers.
#[test]
fn humming_and_whistling_are_no_crows() {
    let steep = |hz: f64, db_per_octave: f64| -> Vec<(f64, f64, f64)> {
        let amplitude = |n: f64| 10.0_f64.powf(-db_per_octave * n.log2() / 20.0);
        (1..16).map(f64::from).map(|n| (n * hz, amplitude(n), f64::INFINITY)).collect()
    };
    let why = |take: &Take| {
        let reading = reading_of(take);
        let others = reading.others.iter().map(|other| (other.what, other.why)).collect::<Vec<_>>();
        (reading.summary.crow_count, others)
    };
    for hz in [135.0, 175.0, 240.0, 320.0] {
        let hummed = toned(&steep(hz, 12.0), 14.0, 0.06, 1.4);
        assert_eq!(why(&hummed), (0, vec![(What::Speech, Why::Dull)]), "{hz} Hz");
        // A double reed as low as this has its power in higher partials.
        let reedy = toned(&steep(hz, 2.0), 14.0, 0.06, 1.4);
        assert_eq!(why(&reedy).0, 1, "{hz} Hz");
        let held = toned(&steep(hz, 12.0), 0.0, 0.06, 1.4);
        assert_eq!(why(&held).0, 1, "{hz} Hz");
    }
    for hz in [820.0, 1060.0, 1400.0, 1800.0] {
        let whistled = toned(&steep(hz, 30.0), 14.0, 0.04, 0.9);
        assert_eq!(why(&whistled), (0, vec![(What::Unknown, Why::Dull)]), "{hz} Hz");
    }
    // A peep may be as dull, but keeps its pitch.
    let peep = toned(&steep(1060.0, 30.0), 1.0, 0.04, 0.9);
    assert_eq!(why(&peep).0, 1);
}

/// A clear tone that moves all the while: a chair, a whistle between two notes. A wild reed is rough.
#[test]
fn a_clear_tone_that_slides_is_no_crow() {
    let partials: Vec<(f64, f64, f64)> =
        (1..20).map(|n| (480.0 * f64::from(n), 1.0 / f64::from(n), f64::INFINITY)).collect();
    for (waver_cents, why) in [(0.0, None), (90.0, Some(Why::Glides)), (160.0, Some(Why::Glides))] {
        let take = toned_at(&partials, (waver_cents, 0.7), 0.05, 1.6);
        let reading = reading_of(&take);
        assert_eq!(reading.summary.crow_count == 0, why.is_some(), "{waver_cents}");
        assert!(reading.others.iter().all(|other| Some(other.why) == why), "{:?}", reading.others);
    }
}

/// Notes of a scale, alike and as bright as a reed, are a tune; a reed blown as often is none.
#[test]
fn a_tune_is_an_instrument_s() {
    for (steps, count) in [([0.0, 2.0, 4.0, 7.0, 5.0], 0), ([0.0, 0.2, -0.1, 0.1, 12.0], 5)] {
        let mut scene = Scene::new(9.0, 5);
        scene.background = Background {
            noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-60.0) }),
            ..Background::default()
        };
        for (number, step) in (0_u32..).zip(steps) {
            let hz = 470.0 * f64::exp2(step / 12.0);
            let note = CrowSound::octaves(hz, 0.7, -10.0);
            let start_s = 0.8 + 1.5 * f64::from(number);
            scene.sounds.push(Sound { start_s, source: Source::Crow(note) });
        }
        let reading = reading_of(&scene.render().take("tune"));
        assert_eq!(reading.summary.crow_count, count, "{:?}", reading.others);
        let played = reading.others.iter().filter(|other| other.what == What::Instrument).count();
        assert_eq!(played > 0, count == 0, "{:?}", reading.others);
    }
}

/// Where nothing but a fan or a tap was heard, that is said, and not only that no crow was.
#[test]
fn steady_noise_is_said_to_drown_a_crow() {
    for (dbfs, is_loud) in [(-35.0, true), (-65.0, false)] {
        let mut scene = Scene::new(5.0, 7);
        scene.background = Background {
            noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(dbfs) }),
            ..Background::default()
        };
        let take = scene.render().take("fan");
        assert_no_crow(&take, "noise");
        let warned = reading_of(&take).warnings;
        let noisy = warned.iter().find(|warning| warning.code == WarningCode::NoisyRoom);
        assert_eq!(noisy.is_some(), is_loud, "{dbfs} dBFS: {warned:?}");
        assert!(noisy.is_none_or(|noisy| noisy.text.contains("steady noise")), "{noisy:?}");
    }
}
