//! The demo: an invented workshop's bench on one afternoon, one take for each thing that can be
//! wrong with a crow. People, places and labels are made up; the crows are synthetic.

use super::crow::{Air, CrowSound, Motion, Rattle, Room, RungSound, Turns, Unlocked};
use super::disturbance::Disturbance;
use super::noise::Colour;
use super::scene::{Background, Noise, NoiseLevel, Scene, Sound, Source};

/// One take of the demo.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkshopTake {
    /// File name without its ending.
    pub name: &'static str,
    /// What it shows, in one sentence.
    pub shows: &'static str,
    /// How it sounds.
    pub scene: Scene,
}

/// C5 in equal temperament about A4 = 440 Hz.
const C5_HZ: f64 = 523.2511;
/// Small differences between the three crows of a take: cents, decibels, share of the length.
const CROWS: [(f64, f64, f64); 3] = [(0.0, 0.0, 1.0), (3.0, 1.5, 0.85), (-2.0, -1.0, 1.1)];

/// The takes of the demo.
pub fn workshop(seed: u64) -> Vec<WorkshopTake> {
    let takes: [(&str, &str, CrowSound); 14] = [
        ("anouk-7-good", "clean octaves on C, quick low octave", c_octaves(4.0)),
        ("anouk-9-flat", "clean octaves, about 40 cents flat", c_octaves(-40.0)),
        ("bram-2-sharp", "clean octaves, about 35 cents sharp", c_octaves(35.0)),
        ("bram-4-unlocked", "two tones that stand off the octave by 28 cents", unlocked()),
        ("bram-5-peep", "the upper octave alone", peep()),
        ("ilse-1-late-low", "the low octave comes 350 ms late", late_low()),
        ("ilse-3-rattle", "octaves that rattle 27 times a second", rattling()),
        ("ilse-6-turns", "octaves that take turns", turns()),
        ("ilse-8-one-tone", "one tone: the octave in it is its second partial", one_tone()),
        ("ilse-9-blended", "one tone or octaves: the octave stands out by 6 dB", blended()),
        ("bram-8-faint-low", "the upper octave, a faint low one under it", faint_low()),
        ("bram-9-wild", "wild: its pitch jumps about and no tone holds", wild()),
        ("mirek-12-before", "before a clip: flat, with a weak low octave", before_clip()),
        ("mirek-12-after", "the same reed after a clip of 0.3 mm", after_clip()),
    ];
    let mut all: Vec<WorkshopTake> = takes
        .into_iter()
        .zip(0u64..)
        .map(|((name, shows, crow), index)| WorkshopTake {
            name,
            shows,
            scene: three_crows(&crow, seed.wrapping_mul(100).wrapping_add(index)),
        })
        .collect();
    all.push(WorkshopTake {
        name: "mirek-13-choked",
        shows: "breath alone: the reed does not speak",
        scene: choked(seed.wrapping_mul(100).wrapping_add(99)),
    });
    all
}

/// Three crows, each a little different, in the room of the bench.
fn three_crows(crow: &CrowSound, seed: u64) -> Scene {
    let mut scene = Scene::new(0.0, seed);
    let mut start_s = 0.7;
    for (cents, db, share) in CROWS {
        let mut own = crow.clone();
        own.f_low_hz *= f64::exp2(cents / 1200.0);
        own.level_dbfs += db;
        own.duration_s *= share;
        let end_s = start_s + own.duration_s;
        scene.sounds.push(Sound { start_s, source: Source::Crow(own) });
        start_s = end_s + 0.6;
    }
    scene.duration_s = start_s;
    scene.background = bench_room();
    scene
}

/// A quiet room, as a laptop's microphone hears it.
fn bench_room() -> Background {
    let noise = Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-62.0) };
    Background { noise: Some(noise), hum: None }
}

/// Octaves `cents` above C5, as a finished reed gives them.
fn c_octaves(cents: f64) -> CrowSound {
    let mut crow = CrowSound::octaves(C5_HZ * f64::exp2(cents / 1200.0), 0.85, -13.0);
    crow.level_dbfs = -18.0;
    crow.rungs = vec![
        Some(RungSound { entry_s: 0.05, ramp_s: 0.04, ..RungSound::at(-13.0) }),
        Some(RungSound::at(0.0)),
    ];
    crow.ragged_db = 3.0;
    (crow.attack_s, crow.decay_s) = (0.06, 0.08);
    crow.motion = Motion {
        drift_cents_per_s: -4.0,
        spread_cents: 3.0,
        spread_time_s: 0.06,
        ..Motion::default()
    };
    crow.air = Some(Air { level_db: -24.0, lead_s: 0.15, tail_s: 0.06, ..Air::default() });
    crow.room = Some(Room { decay_s: 0.12, level_db: -14.0 });
    crow
}

fn unlocked() -> CrowSound {
    let mut crow = c_octaves(-12.0);
    crow.unlocked = Some(Unlocked {
        deviation_cents: 28.0,
        all_lower_multiples: false,
        combination_db: Some(-22.0),
        own: Motion::default(),
    });
    crow
}

fn peep() -> CrowSound {
    let mut crow = c_octaves(18.0);
    crow.rungs = vec![None, Some(RungSound::at(0.0))];
    crow.air = Some(Air { level_db: -18.0, lead_s: 0.2, tail_s: 0.08, ..Air::default() });
    crow
}

fn late_low() -> CrowSound {
    let mut crow = c_octaves(-6.0);
    crow.rungs = vec![
        Some(RungSound { entry_s: 0.35, ramp_s: 0.04, ..RungSound::at(-7.0) }),
        Some(RungSound::at(0.0)),
    ];
    crow
}

fn one_tone() -> CrowSound {
    let mut crow = c_octaves(8.0);
    crow.rungs = vec![Some(RungSound::at(0.0))];
    crow.ragged_db = 1.0;
    crow
}

/// Its octave stands out by what neither a single note nor two tones show.
fn blended() -> CrowSound {
    let mut crow = c_octaves(-9.0);
    crow.rungs = vec![Some(RungSound::at(-4.0)), Some(RungSound::at(0.0))];
    crow.ragged_db = 1.0;
    crow
}

fn faint_low() -> CrowSound {
    let mut crow = c_octaves(14.0);
    crow.rungs = vec![Some(RungSound::at(-30.0)), Some(RungSound::at(0.0))];
    crow.ragged_db = 1.0;
    crow
}

fn wild() -> CrowSound {
    let mut crow = c_octaves(0.0);
    crow.motion.spread_cents = 130.0;
    crow.motion.spread_time_s = 0.03;
    crow
}

fn rattling() -> CrowSound {
    let mut crow = c_octaves(-15.0);
    crow.rattle = Some(Rattle { hz: 27.0, depth: 0.45 });
    crow
}

fn turns() -> CrowSound {
    let mut crow = c_octaves(6.0);
    let low = Turns { period_s: 0.3, share: 0.55, offset: 0.0 };
    let high = Turns { period_s: 0.3, share: 0.55, offset: 0.5 };
    crow.rungs = vec![
        Some(RungSound { turns: Some(low), ramp_s: 0.02, ..RungSound::at(0.0) }),
        Some(RungSound { turns: Some(high), ramp_s: 0.02, ..RungSound::at(0.0) }),
    ];
    crow
}

fn before_clip() -> CrowSound {
    let mut crow = c_octaves(-58.0);
    crow.rungs = vec![
        Some(RungSound { entry_s: 0.2, ramp_s: 0.05, ..RungSound::at(-16.0) }),
        Some(RungSound::at(0.0)),
    ];
    crow
}

fn after_clip() -> CrowSound {
    let mut crow = c_octaves(-21.0);
    crow.rungs = vec![
        Some(RungSound { entry_s: 0.1, ramp_s: 0.04, ..RungSound::at(-12.0) }),
        Some(RungSound::at(0.0)),
    ];
    crow
}

/// Three puffs of air and a tool put down.
fn choked(seed: u64) -> Scene {
    let mut scene = Scene::new(5.0, seed);
    scene.background = bench_room();
    let colour = Colour::Air { low_hz: 700.0, high_hz: 4500.0 };
    for (start_s, duration_s, level_dbfs) in
        [(0.8, 0.8, -34.0), (2.2, 0.7, -32.0), (3.6, 0.8, -35.0)]
    {
        let puff = Disturbance::Breath { level_dbfs, duration_s, colour };
        scene.sounds.push(Sound { start_s, source: Source::Other(puff) });
    }
    let knock = Disturbance::Knock { level_dbfs: -22.0, decay_s: 0.12 };
    scene.sounds.push(Sound { start_s: 4.7, source: Source::Other(knock) });
    scene
}
