//! What is no crow gives a reading without one, a warning, and no pitch.

use reedcrow::pitch::A4;
use reedcrow::profile::{Profile, load};
use reedcrow::reading::{Kind, WarningCode, Why, read};
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
