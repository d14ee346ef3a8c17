//! Readings against the truth of the takes they read.

use reedcrow::reading::{Crow, Kind};
use reedcrow_synth::harmonic;
use reedcrow_synth::{Air, Colour, CrowSound, Motion, Rattle, Room, RungSound, Scene, Unlocked};

use super::{cents, only_crow, reading_of, take_of};

fn low_rung_hz(crow: &Crow) -> f64 {
    crow.figures.rungs.first().map_or(f64::NAN, |rung| rung.hz)
}

/// A low octave down to 40 dB under the upper one is found; a pure upper octave is not given one.
#[test]
fn the_lowest_tone_is_found_by_evidence() {
    for (seed, low_db) in [-12.0, -20.0, -30.0, -40.0].into_iter().enumerate() {
        let take = take_of(CrowSound::octaves(511.0, 0.3, low_db), 30.0, seed as u64);
        let reading = reading_of(&take);
        let crow = only_crow(&reading);
        assert!(
            cents(low_rung_hz(crow), 511.0).abs() < 1.0,
            "{low_db} dB: {:?}",
            crow.figures.rungs
        );
        assert_eq!(crow.kind, Kind::Octaves);
    }
    for seed in 0..5 {
        let reading = reading_of(&take_of(CrowSound::single(1022.0, 0.5), 30.0, seed));
        let crow = only_crow(&reading);
        assert!(cents(low_rung_hz(crow), 1022.0).abs() < 1.0, "{:?}", crow.figures.rungs);
        assert_eq!(crow.kind, Kind::Single);
        assert_ne!(crow.figures.alignment.locked, Some(false));
    }
}

#[test]
fn two_tones_off_the_octave_are_both_found() {
    for (deviation, duration_s, error) in [
        (15.0, 0.25, 0.3),
        (-40.0, 0.4, 0.3),
        (6.0, 1.0, 0.05),
        (84.5, 1.0, 0.05),
        (150.0, 1.0, 0.05),
        (190.0, 0.35, 0.3),
        (-190.0, 0.35, 0.3),
        (-80.0, 0.6, 0.05),
        (-135.0, 0.6, 0.1),
        (-140.0, 1.0, 0.05),
    ] {
        let take = take_of(CrowSound::split(533.0, duration_s, deviation), 30.0, 9);
        let reading = reading_of(&take);
        let crow = only_crow(&reading);
        let found = crow.figures.alignment.cents.unwrap();
        assert_eq!(crow.kind, Kind::Split, "{deviation}");
        assert!((found - deviation).abs() < error, "{deviation}: {found}");
        let low = cents(low_rung_hz(crow), 533.0);
        assert!(low.abs() < error, "{deviation}: {low} {:?}", crow.figures);
        assert!(cents(crow.figures.rungs[1].hz, 1066.0) - deviation < error);
    }
}

/// Two tones nearly 200 cents off the octave, the lower one 20 dB weaker, or 12 dB louder and without even
/// partials of its own: its third partial is then the strongest of all, and no tone to begin from.
#[test]
fn tones_far_off_the_octave_are_found_at_any_level() {
    for (low_hz, low_db, evens) in [(528.9, -20.0, true), (535.0, 12.0, false)] {
        let up_hz = 2.0 * low_hz * (193.13_f64 / 1200.0).exp2();
        let mut take = take_of(CrowSound::split(533.0, 1.0, 40.0), 60.0, 9);
        let first = take.samples.len() / 2 - 24_000;
        take.samples.iter_mut().for_each(|sample| *sample *= 1e-3);
        for n in 0..48_000 {
            let t = f64::from(n) / 48_000.0;
            let edge = (f64::from(n.min(47_999 - n)) / 1440.0).min(1.0);
            // The third partial is the strongest, as one in a formant.
            let tone = |hz: f64, step: usize| -> f64 {
                let levels = [0.5, 0.4, 1.0, 0.4, 0.3, 0.2, 0.15, 0.1, 0.08];
                let each = levels.iter().enumerate().step_by(step);
                each.map(|(i, level)| {
                    let m = i as f64 + 1.0;
                    level * (std::f64::consts::TAU * hz * m * t + 0.7 * m * m).sin()
                })
                .sum()
            };
            let low = 10_f64.powf(low_db / 20.0) * tone(low_hz, if evens { 1 } else { 2 });
            take.samples[first + n as usize] += (0.02 * edge * (low + tone(up_hz, 1))) as f32;
        }
        let reading = reading_of(&take);
        let crow = only_crow(&reading);
        assert_eq!(crow.kind, Kind::Split, "{low_hz}: {:?}", crow.figures);
        let off = cents(crow.figures.fundamental.hz.unwrap_or_default(), low_hz);
        let found = crow.figures.alignment.cents.unwrap();
        assert!(off.abs() < 0.5 && (found - 193.13).abs() < 0.5, "{low_hz}: {off} {found}");
        // What is listed is what was found.
        let apart = cents(crow.figures.rungs[1].hz, 2.0 * crow.figures.rungs[0].hz);
        assert!((apart - found).abs() < 0.1, "{low_hz}: {apart} {found}");
    }
}

/// A line high above the base that the upper tone brings between its multiples once passed for a
/// tone of its own.
#[test]
fn strong_high_partials_of_an_unlocked_crow_do_not_mislead() {
    for (seed, take) in reedcrow_synth::workshop(3).into_iter().enumerate() {
        let rendered = take.scene.render();
        let reading = reading_of(&rendered.take("workshop"));
        for (truth, crow) in rendered.truth.crows.iter().zip(&reading.crows) {
            if truth.kind == Kind::Split {
                assert_eq!(crow.kind, Kind::Split, "{seed}");
                let found = crow.figures.alignment.cents.unwrap();
                let deviation = truth.alignment_cents.unwrap();
                assert!((found - deviation).abs() < 0.3, "{seed}: {found} {deviation}");
            }
        }
    }
}

#[test]
fn drift_spread_and_rattle_do_not_split_locked_octaves() {
    let plain = CrowSound::octaves(523.0, 1.0, -13.0);
    let mut drifting = plain.clone();
    drifting.motion.drift_cents_per_s = 60.0;
    let mut wavering = plain.clone();
    wavering.motion.spread_cents = 10.0;
    wavering.motion.spread_time_s = 0.05;
    let mut rattling = plain.clone();
    rattling.rattle = Some(Rattle { hz: 30.0, depth: 0.5 });
    for crow in [plain, drifting.clone(), wavering, rattling.clone()] {
        let reading = reading_of(&take_of(crow, 30.0, 11));
        let figures = &only_crow(&reading).figures;
        assert_eq!(only_crow(&reading).kind, Kind::Octaves);
        assert!(figures.alignment.cents.unwrap().abs() < 0.05, "{:?}", figures.alignment);
    }
    let reading = reading_of(&take_of(drifting, 30.0, 12));
    let drift = only_crow(&reading).figures.steadiness.drift_cents_per_s.unwrap();
    assert!((drift - 60.0).abs() < 0.5, "{drift}");
    let reading = reading_of(&take_of(rattling, 30.0, 13));
    let steadiness = &only_crow(&reading).figures.steadiness;
    assert!((steadiness.rattle_hz.unwrap() - 30.0).abs() < 0.2, "{steadiness:?}");
    assert!((steadiness.rattle_depth.unwrap() - 0.5).abs() < 0.03, "{steadiness:?}");
}

/// The slow judge: exact least squares over one frame, with an interval of its own.
#[test]
fn the_reading_agrees_with_least_squares_over_a_frame() {
    let take = take_of(CrowSound::octaves(523.25, 1.0, -6.0), 30.0, 21);
    let frame: Vec<f64> = take.samples[48_000..50_880].iter().map(|s| f64::from(*s)).collect();
    let judge = harmonic::estimate(&frame, 48_000.0).unwrap();
    let reading = reading_of(&take);
    let found = only_crow(&reading).figures.fundamental.hz.unwrap();
    assert!(cents(found, judge.hz).abs() < 2.0 * judge.ci95_cents, "{found} {judge:?}");
}

/// Combination tones and the partials of a tone that stands off are no breath, nor are the sidebands
/// of a rattle.
#[test]
fn breath_is_what_sounds_beside_all_lines() {
    let rattling = {
        let mut crow = CrowSound::octaves(533.0, 1.0, -6.0);
        crow.rattle = Some(Rattle { hz: 40.0, depth: 0.6 });
        crow
    };
    for mut crow in
        [CrowSound::split(533.0, 1.0, 60.0), CrowSound::split(533.0, 1.0, -85.0), rattling]
    {
        crow.air = Some(Air { level_db: -32.0, ..Air::default() });
        let rendered = Scene::of_crow(crow, 0.5, 4).in_noise(Colour::White, 50.0).render();
        let made = rendered.truth.crows[0].breath_db.unwrap();
        let reading = reading_of(&rendered.take("breath"));
        let found = only_crow(&reading).figures.breath.noise_db.unwrap();
        assert!((found - made).abs() < 2.0, "{found} for {made}");
    }
}

/// In a room a tone that wanders is held against its own reflections: the interval of alignment knows.
#[test]
fn the_interval_of_alignment_is_wider_where_reflections_wander() {
    let half_width = |room: Option<Room>| {
        let mut crow = CrowSound::octaves(533.0, 1.0, -6.0);
        crow.motion = Motion { spread_cents: 5.0, spread_time_s: 0.1, ..Motion::default() };
        crow.room = room;
        let reading = reading_of(&take_of(crow, 40.0, 2));
        only_crow(&reading).figures.alignment.ci95_cents.unwrap()
    };
    let (dry, wet) = (half_width(None), half_width(Some(Room { decay_s: 0.2, level_db: -10.0 })));
    assert!(wet > 5.0 * dry, "{dry} {wet}");
}

/// A tail in a room falls as fast as something struck, but the tone was held before it.
#[test]
fn a_short_crow_in_a_room_is_heard() {
    let mut crow = CrowSound::octaves(533.0, 0.4, -14.0);
    crow.room = Some(Room { decay_s: 0.35, level_db: -12.0 });
    assert_eq!(only_crow(&reading_of(&take_of(crow, 40.0, 3))).kind, Kind::Octaves);
}

/// The lower of two tones has even partials of its own; the upper that is off the octave stands beside
/// them and beats with them, weaker than they are.
#[test]
fn an_upper_tone_is_found_beside_the_lowers_own_overtones() {
    let own = Motion { spread_cents: 1.0, spread_time_s: 0.1, ..Motion::default() };
    let (mut held, mut all) = (0, 0);
    for (seed, deviation_cents) in (0..).zip([-150.0, -60.0, -15.0, 15.0, 40.0, 90.0, 150.0]) {
        for low_db in [3.0, 9.0, 14.0] {
            let mut crow = CrowSound::split(523.0, 0.8, deviation_cents);
            crow.rungs[0] = Some(RungSound::at(low_db));
            crow.motion = own;
            crow.unlocked = crow.unlocked.map(|unlocked| Unlocked {
                all_lower_multiples: true,
                combination_db: None,
                own,
                ..unlocked
            });
            let rendered = Scene::of_crow(crow, 0.5, seed).in_noise(Colour::White, 35.0).render();
            let made = rendered.truth.crows[0].alignment_cents.unwrap();
            let reading = reading_of(&rendered.take("two tones"));
            let found = only_crow(&reading);
            let what = format!(
                "{deviation_cents} cents, lower {low_db} dB: {:?}",
                found.figures.alignment
            );
            assert_eq!(found.kind, Kind::Split, "{what}");
            let alignment = &found.figures.alignment;
            let (cents, ci95) = (alignment.cents.unwrap(), alignment.ci95_cents.unwrap());
            assert!((cents - made).abs() < 3.0, "{made}: {what}");
            held += usize::from((cents - made).abs() <= ci95);
            all += 1;
        }
    }
    assert!(held * 10 >= 8 * all, "{held} of {all}");
}

/// What makes a tone swell and fade, or move, is no second tone.
#[test]
fn a_rattle_or_a_vibrato_is_no_tone_beside() {
    for seed in 0..4 {
        for low_db in [0.0, 6.0, 12.0] {
            for (hz, depth, vibrato_cents) in [(12.0, 0.8, 0.0), (31.0, 0.5, 0.0), (0.0, 0.0, 25.0)]
            {
                let mut crow = CrowSound::octaves(533.0, 0.8, low_db);
                crow.rattle = (depth > 0.0).then_some(Rattle { hz, depth });
                crow.motion = Motion { vibrato_cents, vibrato_hz: 6.0, ..Motion::default() };
                crow.room = Some(Room { decay_s: 0.3, level_db: -15.0 });
                let found = only_crow(&reading_of(&take_of(crow, 35.0, seed))).kind;
                assert_ne!(found, Kind::Split, "{seed} {low_db} dB, rattle {hz}, {vibrato_cents}");
            }
        }
    }
}

/// Two seconds that swell and die away by `swell_db` about their mean, three quarters of a time a second, while
/// the pitch goes with the level by `bend` cents a decibel and drifts besides by 10 cents/s.
#[test]
fn how_the_pitch_goes_with_the_level_is_told_apart_from_drift_and_only_of_a_crow_that_swells() {
    for (bend, swell_db) in [(2.0, 3.0), (-1.0, 3.0), (0.0, 3.0), (2.0, 0.5)] {
        let mut take = take_of(CrowSound::single(520.0, 2.0), 60.0, 7);
        let first = take.samples.len() / 2 - 48_000;
        take.samples.iter_mut().for_each(|sample| *sample *= 1e-3);
        let mut cycles = 0.0;
        for n in 0..96_000 {
            let t = f64::from(n) / 48_000.0;
            let edge = (f64::from(n.min(95_999 - n)) / 1440.0).min(1.0);
            let level_db = swell_db * (0.75 * std::f64::consts::TAU * t).sin();
            cycles += 520.0 * ((bend * level_db + 10.0 * t) / 1200.0).exp2() / 48_000.0;
            let partial =
                |m: i32| (f64::from(m) * std::f64::consts::TAU * cycles).sin() / f64::from(m);
            let tone: f64 = (1..=10).map(partial).sum();
            let amplitude = 0.1 * 10_f64.powf(level_db / 20.0) * edge;
            take.samples[first + n as usize] += (amplitude * tone) as f32;
        }
        let reading = reading_of(&take);
        let told = only_crow(&reading).figures.steadiness.bend_cents_per_db;
        match swell_db > 1.0 {
            // A tenth of the smallest change that counts.
            true => {
                assert!(told.is_some_and(|told| (told - bend).abs() < 0.05), "{bend}: {told:?}")
            }
            false => assert_eq!(told, None),
        }
    }
}
