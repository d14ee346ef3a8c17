//! What is called octaves, against how far the upper octave was made to stand out.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use reedcrow::reading::Kind;
use reedcrow_synth::{Colour, CrowSound, Room, RungSound, Scene};

use super::table::{Table, percent, show, show_percent};
use super::trial::{MARGIN_S, Trial, oboe_hz, realistic, trials};

/// Odd partials under the even ones, in decibels; `None`: one tone, all its partials on one slope.
const LOW_DB: [Option<f64>; 8] =
    [None, Some(-3.0), Some(-6.0), Some(-9.0), Some(-12.0), Some(-16.0), Some(-22.0), Some(-30.0)];
/// Every other pulse differs by this share of the mean, in per cent (Bergan & Titze, J. Voice 15:165,
/// 2001, tell how these are heard).
const ALTERNATION: [f64; 6] = [1.0, 5.0, 10.0, 20.0, 40.0, 80.0];

fn scene(rng: &mut ChaCha8Rng, seed: u64, low_db: Option<f64>) -> Scene {
    let tilt_db_per_octave = rng.random_range(-9.0..-2.0);
    let rung = |level_db| Some(RungSound { tilt_db_per_octave, ..RungSound::at(level_db) });
    let mut crow = realistic(CrowSound::octaves(oboe_hz(rng), 0.8, -12.0), rng);
    crow.rungs = match low_db {
        Some(low_db) => vec![rung(low_db), rung(0.0)],
        None => vec![rung(0.0)],
    };
    crow.ragged_db = 2.0;
    crow.rattle = None;
    let (decay_s, level_db) = (rng.random_range(0.1..0.5), rng.random_range(-14.0..-4.0));
    crow.room = Some(Room { decay_s, level_db });
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::Pink, 35.0)
}

fn alternating(rng: &mut ChaCha8Rng, seed: u64, share: f64) -> Scene {
    let mut crow = CrowSound::octaves(oboe_hz(rng), 0.8, 0.0);
    // Pulses of one height have even multiples alone; what differs is the odd ones' amplitude.
    crow.rungs = vec![
        Some(RungSound { tilt_db_per_octave: 0.0, ..RungSound::at(20.0 * share.log10()) }),
        Some(RungSound { tilt_db_per_octave: 0.0, ..RungSound::at(0.0) }),
    ];
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 40.0)
}

/// Shares of the kinds, and of stand-outs that hold the truth, by how the crow was made.
pub fn table(count: usize) -> Table {
    let columns = [
        "crow",
        "made to stand out by",
        "octaves",
        "not told",
        "one tone",
        "another kind",
        "truth inside",
        "RMS dB",
    ];
    let title = format!(
        "One tone or octaves, {count} each, each in a room of its own (goal: the stand-out's interval \
         holds 93 … 97 %)"
    );
    let mut table = Table::new(title, &columns);
    for low_db in LOW_DB {
        let name = match low_db {
            Some(low_db) => format!("odd partials {low_db} dB"),
            None => "one tone".to_owned(),
        };
        let all = trials(&format!("voices {name}"), count, |rng, seed| scene(rng, seed, low_db));
        row(&mut table, &name, &all);
        if low_db.is_none() {
            table.at_most(&format!("{name} called octaves"), share(&all, Kind::Octaves), 3.0);
        }
    }
    for alternation in ALTERNATION {
        let name = format!("pulses that alternate by {alternation} %");
        let all = trials(&format!("voices {name}"), count, |rng, seed| {
            alternating(rng, seed, alternation / 100.0)
        });
        row(&mut table, &name, &all);
        if (10.0..=20.0).contains(&alternation) {
            table.at_least(&name, share(&all, Kind::Octaves), 95.0, count);
        }
        if alternation > 40.0 {
            table.at_most(&format!("{name}, octaves"), share(&all, Kind::Octaves), 3.0);
        }
    }
    table
}

fn share(all: &[Trial], kind: Kind) -> f64 {
    let of_kind =
        all.iter().filter(|trial| trial.heard().is_some_and(|(crow, _)| crow.kind == kind));
    percent(of_kind.count(), all.len())
}

fn row(table: &mut Table, name: &str, all: &[Trial]) {
    let made: Vec<f64> = all.iter().filter_map(|trial| trial.made().stand_out_db).collect();
    let given: Vec<(f64, f64)> = all
        .iter()
        .filter_map(|trial| {
            let voices = &trial.heard()?.0.figures.voices;
            Some((voices.stand_out_db? - trial.made().stand_out_db?, voices.ci95_db?))
        })
        .collect();
    let inside = given.iter().filter(|(error, ci95)| error.abs() <= *ci95).count();
    let errors: Vec<f64> = given.iter().map(|(error, _)| *error).collect();
    let told = [Kind::Octaves, Kind::Blended, Kind::Single].map(|kind| share(all, kind));
    let mut cells = vec![
        name.to_owned(),
        format!("{:.1} dB", made.iter().sum::<f64>() / made.len().max(1) as f64),
    ];
    cells.extend(told.map(|share| format!("{share:.1} %")));
    cells.push(format!("{:.1} %", 100.0 - told.iter().sum::<f64>()));
    cells.push(show_percent(inside, given.len()));
    cells.push(show(super::table::rms(&errors)));
    table.row(cells);
}
