//! The same crows sounded and read by the whole program, instead of made up figure by figure.

use crate::reed::{Draws, Sound};
use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::{Reading, read};
use reedcrow_synth::{
    Air, Background, Colour, CrowSound, Disturbance, Motion, Noise, NoiseLevel, RungSound, Scene,
    Sound as Sounded, Source, Unlocked,
};

/// C5 at A = 440 (ISO 16).
const C5_HZ: f64 = 523.251;

/// So long after the breath a reed that is slow to speak begins, and any other.
const SLOW_S: f64 = 0.35;
const QUICK_S: f64 = 0.06;

/// A take of such crows in a quiet room, read as from a file.
pub fn reading(crows: &[(Sound, f64)], stuffy: &[bool], draws: &mut Draws) -> Reading {
    let seed = (draws.uniform() * 1e9) as u64;
    let mut scene = Scene::new(0.0, seed);
    scene.background = Background {
        noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-62.0) }),
        hum: None,
    };
    let mut start_s = 1.0;
    for ((sound, cents), is_stuffy) in crows.iter().zip(stuffy) {
        let level_dbfs = -19.0 + 1.5 * draws.normal();
        let lead_s = if *is_stuffy { SLOW_S } else { QUICK_S };
        let (source, lasts_s) = match crow(*sound, *cents) {
            Some(made) => {
                let air = Some(Air { level_db: -26.0, lead_s, tail_s: 0.05, ..Air::default() });
                start_s += lead_s;
                let crow = CrowSound { level_dbfs, air, ..made };
                let lasts_s = crow.duration_s;
                (Source::Crow(crow), lasts_s)
            }
            None => {
                let colour = Colour::Air { low_hz: 700.0, high_hz: 4500.0 };
                let puff =
                    Disturbance::Breath { level_dbfs: level_dbfs - 14.0, duration_s: 0.8, colour };
                (Source::Other(puff), 0.8)
            }
        };
        scene.sounds.push(Sounded { start_s, source });
        start_s += lasts_s + 0.7;
    }
    scene.duration_s = start_s;
    read(&scene.render().take("sounded"), &Profile::default(), A4::default()).reading
}

/// What sounds so; `None` of air without a tone.
fn crow(sound: Sound, cents: f64) -> Option<CrowSound> {
    let mut crow = CrowSound::octaves(C5_HZ * f64::exp2(cents / 1200.0), 0.9, -13.0);
    crow.ragged_db = 1.5;
    (crow.attack_s, crow.decay_s) = (0.05, 0.08);
    crow.motion = Motion { spread_cents: 3.0, spread_time_s: 0.06, ..Motion::default() };
    match sound {
        Sound::Octaves => {}
        Sound::OctavesLowLate => {
            let late = RungSound { entry_s: 0.35, ramp_s: 0.04, ..RungSound::at(-9.0) };
            crow.rungs = vec![Some(late), Some(RungSound::at(0.0))];
        }
        Sound::Low => crow.rungs = vec![Some(RungSound::at(0.0))],
        Sound::Peep => crow.rungs = vec![None, Some(RungSound::at(0.0))],
        Sound::Split => {
            crow.unlocked = Some(Unlocked {
                deviation_cents: 30.0,
                all_lower_multiples: false,
                combination_db: Some(-22.0),
                own: Motion::default(),
            });
        }
        Sound::Wild => {
            crow.motion = Motion { spread_cents: 130.0, spread_time_s: 0.03, ..Motion::default() };
        }
        Sound::Air => return None,
    }
    Some(crow)
}
