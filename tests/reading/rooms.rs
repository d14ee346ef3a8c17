//! Rooms and recorders that change what is heard without changing the crows.

use reedcrow::reading::{Kind, Other, Reading, WarningCode, What};
use reedcrow::take::Take;
use reedcrow_synth::{
    Air, Background, Colour, CrowSound, Disturbance, Hum, Noise, NoiseLevel, Rattle, Room, Scene,
    Sound, Source,
};

use super::{cents, only_crow, reading_of};

const LOW_HZ: f64 = 523.0;

/// Crows of 0.8 s that begin at `starts_s`, in a quiet room.
fn crows_at(starts_s: &[f64], duration_s: f64, seed: u64) -> Scene {
    let mut scene = Scene::new(duration_s, seed);
    scene.background.noise = Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-75.0) });
    for start_s in starts_s {
        let crow = CrowSound::octaves(LOW_HZ, 0.8, -13.0);
        scene.sounds.push(Sound { start_s: *start_s, source: Source::Crow(crow) });
    }
    scene
}

fn assert_crows(reading: &Reading, starts_s: &[f64], what: &str) {
    let crows: Vec<_> = reading.crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
    assert_eq!(crows.len(), starts_s.len(), "{what}: {:?}", reading.crows);
    for (crow, start_s) in crows.into_iter().zip(starts_s) {
        assert!((crow.start_s - start_s).abs() < 0.05, "{what}: {start_s}: {crow:?}");
        // Where the room becomes louder within a crow, its end is that of its last periods.
        assert!((crow.end_s - start_s - 0.8).abs() < 0.1, "{what}: {start_s}: {crow:?}");
        assert_eq!(crow.kind, Kind::Octaves, "{what}");
        let hz = crow.figures.fundamental.hz.unwrap_or_default();
        assert!(cents(hz, LOW_HZ).abs() < 1.0, "{what}: {hz}");
    }
}

/// A fan comes on in the middle of a take: crows before, across and after it are still told apart.
#[test]
fn a_room_that_becomes_louder_does_not_merge_crows() {
    let starts_s = [1.0, 3.2, 4.6, 6.0, 12.0];
    for (fan_s, level_dbfs) in [(2.3, -50.0), (2.3, -42.0), (3.6, -45.0), (5.6, -45.0)] {
        for seed in 0..3 {
            let mut samples = crows_at(&starts_s, 14.0, seed).render().samples;
            let mut fan = Scene::new(14.0 - fan_s, seed + 50);
            fan.background = Background {
                noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(level_dbfs) }),
                ..Background::default()
            };
            let begins = (fan_s * 48_000.0) as usize;
            for (sample, fan) in samples[begins..].iter_mut().zip(fan.render().samples) {
                *sample += fan;
            }
            let take = Take { samples, ..crows_at(&[], 1.0, 0).render().take("fan") };
            let what = format!("{level_dbfs} dBFS from {fan_s} s, seed {seed}");
            assert_crows(&reading_of(&take), &starts_s, &what);
        }
    }
}

/// The scene with four whistled notes from each of these moments on.
fn whistled(scene: Scene, begin_s: &[f64]) -> Take {
    let mut take = scene.render().take("whistled");
    for begins_s in begin_s {
        for (note, hz) in [(0.0, 1002.0), (0.3, 1202.0), (0.6, 904.0), (0.9, 1105.0)] {
            for n in 0..12_480 {
                let edge = (f64::from(n.min(12_479 - n)) / 960.0).min(1.0);
                let turns = std::f64::consts::TAU * hz * f64::from(n) / 48_000.0;
                let at = ((begins_s + note) * 48_000.0) as usize + n as usize;
                let overtones: f64 = [2.0, 3.0, 4.0].iter().map(|m| 0.05 * (m * turns).sin()).sum();
                take.samples[at] += (0.15 * edge * (turns.sin() + overtones)) as f32;
            }
        }
    }
    take
}

/// Who whistles between one crow and the next leaves a pause that nobody leaves between two notes; the
/// first crow has shown what the reed's pitch is. The whistled notes stay what they are.
#[test]
fn a_whistled_tune_in_the_pauses_takes_no_crow_away() {
    let starts_s = [1.0, 4.0, 7.0];
    let take = whistled(crows_at(&starts_s, 9.0, 5), &[2.3, 5.3]);
    let reading = reading_of(&take);
    let near = |crow: &&reedcrow::reading::Crow| {
        crow.figures.fundamental.hz.is_some_and(|hz| cents(hz, LOW_HZ).abs() < 2.0)
    };
    assert_eq!(reading.crows.iter().filter(near).count(), 3, "{:?}", reading.crows);
    assert!(reading.others.iter().any(|other| other.what == What::Instrument));
}

/// What is whistled between crows may go on under one, and that is told; what ended long before is not.
#[test]
fn who_is_heard_beside_a_crow_is_told_of() {
    let codes = |starts_s: &[f64], begins_s: f64| -> Vec<WarningCode> {
        let take = whistled(crows_at(starts_s, 9.0, 5), &[begins_s]);
        reading_of(&take).warnings.iter().map(|warning| warning.code).collect()
    };
    for begins_s in [2.3, 2.6, 2.75] {
        assert!(codes(&[1.0, 4.0, 7.0], begins_s).contains(&WarningCode::OthersBeside));
    }
    assert!(!codes(&[6.0, 7.5], 1.0).contains(&WarningCode::OthersBeside));
}

/// A tuner's tone between crows has no breath in it, and is none of them; by itself nothing tells it.
#[test]
fn a_tone_of_a_device_between_crows_is_no_crow() {
    let with_a_tone = |starts_s: &[f64]| {
        let mut scene = crows_at(starts_s, 9.0, 7);
        for sound in &mut scene.sounds {
            if let Source::Crow(crow) = &mut sound.source {
                let (level_db, colour) = (-28.0, Colour::Pink);
                crow.air = Some(Air { level_db, colour, lead_s: 0.05, tail_s: 0.05, ramp_s: 0.02 });
            }
        }
        let mut take = scene.render().take("tuner");
        for n in 0..48_000_u32 {
            let edge = (f64::from(n.min(47_999 - n)) / 960.0).min(1.0);
            let turns = std::f64::consts::TAU * 440.0 * f64::from(n) / 48_000.0;
            let tone: f64 = (1..8).map(|m| (turns * f64::from(m)).sin() / f64::from(m)).sum();
            take.samples[139_200 + n as usize] += (0.15 * edge * tone) as f32;
        }
        reading_of(&take)
    };
    let reading = with_a_tone(&[1.0, 5.0, 7.0]);
    let sounding: Vec<_> = reading.crows.iter().filter(|c| c.kind != Kind::Breath).collect();
    assert_eq!(sounding.len(), 3, "{sounding:?}");
    assert!(reading.others.iter().any(|other| other.what == What::Machine), "{:?}", reading.others);
    assert_eq!(with_a_tone(&[]).crows.len(), 1);
}

/// Who crows into a microphone blows on it as well: rumble that sounds while the crow does, louder than
/// the crow, bends and hides neither of its octaves.
#[test]
fn breath_on_the_microphone_takes_no_octave_away() {
    let starts_s = [1.0, 3.0, 5.0];
    for over_db in [0.0, 6.0, 12.0] {
        for seed in 0..3 {
            let mut take = crows_at(&starts_s, 7.0, seed).render().take("blown on");
            // Two poles at 80 Hz leave of white noise of 1 a mean square of 0.0026.
            let gain = 10_f64.powf((over_db - 20.0 + 25.9 - 3.0) / 20.0);
            let air = Scene::new(7.0, seed + 90).in_noise(Colour::White, 0.0).render().samples;
            let sd = (air.iter().map(|s| f64::from(s * s)).sum::<f64>() / air.len() as f64).sqrt();
            let share = 1.0 - (-std::f64::consts::TAU * 80.0 / 48_000.0).exp();
            let mut poles = [0.0_f64; 2];
            for (n, (sample, air)) in take.samples.iter_mut().zip(&air).enumerate() {
                poles[0] += share * (f64::from(*air) / sd - poles[0]);
                poles[1] += share * (poles[0] - poles[1]);
                let at_s = n as f64 / 48_000.0;
                if starts_s.iter().any(|start| (*start..start + 0.8).contains(&at_s)) {
                    *sample += (gain * poles[1]) as f32;
                }
            }
            let reading = reading_of(&take);
            let what = format!("{over_db} dB, {seed}");
            assert_eq!(reading.crows.len(), 3, "{what}: {:?}", reading.crows);
            for crow in &reading.crows {
                assert_eq!(crow.kind, Kind::Octaves, "{what}: {crow:?}");
                let fundamental = &crow.figures.fundamental;
                let off = cents(fundamental.hz.unwrap_or_default(), LOW_HZ).abs();
                assert!(off < fundamental.ci95_cents.unwrap_or_default().max(2.0), "{what}: {off}");
            }
        }
    }
}

/// A recorder with a constant offset, of another sign or size, hears the same crows.
#[test]
fn a_constant_offset_changes_nothing() {
    let starts_s = [1.0, 2.2, 3.3];
    for offset in [0.2, -0.01] {
        let mut take = crows_at(&starts_s, 5.0, 4).render().take("offset");
        take.samples.iter_mut().for_each(|sample| *sample += offset);
        assert_crows(&reading_of(&take), &starts_s, &format!("{offset}"));
    }
}

/// Air that is louder before the tone than within it holds no rung.
#[test]
fn louder_air_before_the_tone_is_not_its_low_octave() {
    for seed in 0..6 {
        let crow = CrowSound::octaves(LOW_HZ, 0.8, -25.0);
        let mut scene = Scene::of_crow(crow, 1.0, seed).in_noise(Colour::White, 40.0);
        scene.sounds.push(Sound {
            start_s: 0.6,
            source: Source::Other(Disturbance::Breath {
                level_dbfs: -38.0,
                duration_s: 0.45,
                colour: Colour::Air { low_hz: 300.0, high_hz: 5000.0 },
            }),
        });
        let reading = reading_of(&scene.render().take("air"));
        let crow = only_crow(&reading);
        let (start_s, rungs) = (crow.start_s, &crow.figures.rungs);
        assert!((start_s - 0.6).abs() < 0.06, "seed {seed}: {start_s}");
        for rung in rungs {
            let entry_s = start_s + rung.entry_s.unwrap_or_default();
            assert!((entry_s - 1.0).abs() < 0.1, "seed {seed}: {rung:?} of {start_s}");
        }
    }
}

/// Air of several seconds through a reed that does not speak is listed as breath, no tone in it.
#[test]
fn long_air_is_no_tone() {
    for seed in 0..4 {
        let mut scene = crows_at(&[], 8.0, seed);
        scene.sounds.push(Sound {
            start_s: 1.0,
            source: Source::Other(Disturbance::Breath {
                level_dbfs: -35.0,
                duration_s: 2.5 + f64::from(seed as u32),
                colour: Colour::Air { low_hz: 300.0, high_hz: 5000.0 },
            }),
        });
        let reading = reading_of(&scene.render().take("air"));
        assert!(reading.crows.iter().all(|crow| crow.kind == Kind::Breath), "{:?}", reading.crows);
        assert!(!reading.crows.is_empty(), "seed {seed}");
        assert_eq!(reading.summary.crow_count, 0);
    }
}

/// Where reflections are nearly as strong as the sound itself, breath stands in the room's modes as
/// narrow peaks, and a pitch that wavers winds the phase of a partial by a notch: the octaves are
/// locked all the same.
#[test]
fn modes_and_notches_of_a_room_do_not_split_octaves() {
    for seed in 0..40 {
        let mut crow = CrowSound::octaves(505.0 + seed as f64, 1.2, -14.0);
        crow.ragged_db = 6.0;
        crow.air = Some(Air {
            level_db: -18.0,
            colour: Colour::Pink,
            lead_s: 0.05,
            tail_s: 0.05,
            ramp_s: 0.03,
        });
        crow.room = Some(Room { decay_s: 0.5, level_db: -4.0 });
        if seed % 2 == 0 {
            crow.motion.vibrato_cents = 15.0;
            crow.motion.vibrato_hz = 5.0;
        }
        let scene = Scene::of_crow(crow, 0.8, seed).in_noise(Colour::Pink, 45.0);
        let reading = reading_of(&scene.render().take("room"));
        let crow = only_crow(&reading);
        assert_ne!(crow.kind, Kind::Split, "seed {seed}: {crow:?}");
        // A peak of breath may still pass for an octave below all others, which moves no pitch.
        let off = crow.figures.fundamental.target_cents.unwrap_or(f64::NAN);
        let truth = cents(505.0 + seed as f64, 523.251);
        assert!((off - truth).abs() < 30.0, "seed {seed}: {off} {truth}");
    }
}

/// Mains hum that was there before the crow is not taken for a low tone of it.
#[test]
fn hum_in_the_room_is_no_tone_of_a_crow() {
    for mains_hz in [50.0, 60.0] {
        for (seed, level_dbfs) in [(1, -45.0), (2, -52.0), (3, -58.0)] {
            let mut scene = crows_at(&[1.0, 2.5], 4.0, seed);
            let hum = Hum { mains_hz, level_dbfs, harmonics: 15 };
            scene.background.hum = Some(hum);
            let reading = reading_of(&scene.render().take("hum"));
            assert_crows(&reading, &[1.0, 2.5], &format!("{hum:?}"));
        }
    }
}

/// A room that rumbles seems to have a period now and then; crows are found in it all the same, at
/// the sample rates of telephones too.
#[test]
fn rumble_hides_no_crow_at_any_rate() {
    for sample_rate_hz in [16_000, 22_050, 48_000] {
        for seed in 0..6 {
            let mut scene = crows_at(&[0.7, 2.0, 3.3], 4.5, seed);
            scene.sample_rate_hz = sample_rate_hz;
            let colour = Colour::Low { corner_hz: 60.0 };
            scene.background.noise = Some(Noise { colour, level: NoiseLevel::Dbfs(-45.0) });
            let reading = reading_of(&scene.render().take("rumble"));
            let sounding = reading.crows.iter().filter(|crow| crow.kind == Kind::Octaves).count();
            assert_eq!(sounding, 3, "{sample_rate_hz} Hz, seed {seed}: {:?}", reading.crows);
        }
    }
}

/// A moment's drop-out within a crow is no part of its steady part.
#[test]
fn a_moment_that_drops_out_does_not_count_as_unsteady() {
    let mut take = crows_at(&[1.0], 3.0, 5).render().take("drop-out");
    take.samples[66_000..70_000].fill(0.0);
    let reading = reading_of(&take);
    let figures = &only_crow(&reading).figures;
    assert!(figures.steadiness.level_sd_db.is_some_and(|sd| sd < 3.0), "{figures:?}");
    assert!(figures.rungs[..2].iter().all(|rung| rung.present > 0.98), "{figures:?}");
}

/// Somebody speaks, and somebody plays a note that is far away: each is listed as what it is.
#[test]
fn what_sounds_beside_crows_is_listed_as_what_it_is() {
    for seed in 0..3 {
        let mut scene = crows_at(&[1.0, 3.0, 5.0], 13.0, seed);
        let note = CrowSound { level_dbfs: -36.0, ..CrowSound::single(660.0, 0.9) };
        scene.sounds.push(Sound { start_s: 7.5, source: Source::Crow(note) });
        let talk = Disturbance::Speech { level_dbfs: -30.0, duration_s: 2.0, pitch_hz: 120.0 };
        scene.sounds.push(Sound { start_s: 10.0, source: Source::Other(talk) });
        let reading = reading_of(&scene.render().take("beside"));
        assert_crows(&reading, &[1.0, 3.0, 5.0], &format!("seed {seed}"));
        let listed = |what: What, from_s: f64, to_s: f64| {
            let within = |other: &&Other| other.from_s < to_s && other.to_s > from_s;
            reading.others.iter().filter(within).any(|other| other.what == what)
        };
        assert!(listed(What::Instrument, 7.6, 8.3), "seed {seed}: {:?}", reading.others);
        assert!(listed(What::Speech, 10.2, 11.8), "seed {seed}: {:?}", reading.others);
        // What is listed as another's is no crow, and no crow is listed.
        assert!(reading.others.iter().all(|other| other.from_s > 5.7), "{:?}", reading.others);
    }
}

/// What beats with a crow is no rattle of it: it moves some partials, a rattle moves all.
#[test]
fn a_note_beside_a_crow_is_no_rattle() {
    let rattle_of = |change: &dyn Fn(&mut Scene)| {
        let mut scene = crows_at(&[1.0], 3.0, 9);
        change(&mut scene);
        only_crow(&reading_of(&scene.render().take("rattle"))).figures.steadiness.rattle_hz
    };
    let beside = rattle_of(&|scene| {
        let mut note = CrowSound::single(LOW_HZ + 25.0, 0.8);
        note.level_dbfs = -34.0;
        note.rungs[0].as_mut().unwrap().tilt_db_per_octave = -40.0;
        scene.sounds.push(Sound { start_s: 1.0, source: Source::Crow(note) });
    });
    assert_eq!(beside, None);
    let own = rattle_of(&|scene| {
        let Source::Crow(crow) = &mut scene.sounds[0].source else { return };
        crow.rattle = Some(Rattle { hz: 25.0, depth: 0.3 });
    });
    assert!(own.is_some_and(|hz| (hz - 25.0).abs() < 0.5), "{own:?}");
}

/// As long as it goes on it is one crow, also at a telephone's rate, and no part of it is a pause.
#[test]
fn a_crow_of_twenty_two_seconds_is_one_and_its_pauses_are_not_its_own() {
    let mut crow = CrowSound::octaves(LOW_HZ, 22.0, -13.0);
    crow.motion.spread_cents = 4.0;
    crow.motion.spread_time_s = 0.1;
    crow.ragged_db = 3.0;
    crow.air = Some(Air { level_db: -25.0, ..Air::default() });
    for rate_hz in [8_000, 48_000] {
        let mut scene = Scene::of_crow(crow.clone(), 1.0, 3);
        scene.sample_rate_hz = rate_hz;
        let reading = reading_of(&scene.in_noise(Colour::Pink, 40.0).render().take("long"));
        let crow = only_crow(&reading);
        assert!((crow.end_s - 23.0).abs() < 0.3, "{rate_hz}: {crow:?}");
        assert!(reading.others.is_empty(), "{rate_hz}: {:?}", reading.others);
        let codes: Vec<WarningCode> = reading.warnings.iter().map(|w| w.code).collect();
        let low = (rate_hz == 8_000).then_some(WarningCode::LowRate);
        let expected: Vec<WarningCode> = low.into_iter().chain([WarningCode::LongCrow]).collect();
        assert_eq!(codes, expected, "{rate_hz}");
    }
}
