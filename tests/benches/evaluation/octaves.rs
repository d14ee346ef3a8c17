//! Is the low octave found when its partials are weak, and never when it is not there?

use rand_chacha::ChaCha8Rng;
use reedcrow_synth::{Colour, CrowSound, Scene};

use super::table::{Table, percent, rms, show, show_percent};
use super::trial::{MARGIN_S, Trial, any_hz, cents, oboe_hz, trials};

/// Noises: name, colour, signal to noise in decibels.
const NOISES: [(&str, Colour, f64); 2] =
    [("white 30 dB", Colour::White, 30.0), ("pink 15 dB", Colour::Pink, 15.0)];
/// Levels of the odd partials, and the share to be found in white and pink noise.
const LEVELS: [(f64, Option<f64>, Option<f64>); 6] = [
    (-6.0, Some(99.0), Some(99.0)),
    (-10.0, Some(99.0), Some(99.0)),
    (-20.0, Some(99.0), Some(99.0)),
    (-25.0, Some(99.0), None),
    (-30.0, Some(99.0), Some(90.0)),
    (-40.0, Some(99.0), None),
];
/// A tone this near counts as found.
const NEAR_CENTS: f64 = 50.0;

/// A 300 ms crow whose odd partials stand `low_db` under the even ones.
pub fn period_doubled(
    rng: &mut ChaCha8Rng,
    seed: u64,
    low_db: f64,
    colour: Colour,
    snr_db: f64,
) -> Scene {
    let hz = any_hz(rng, 230.0, 1000.0);
    Scene::of_crow(CrowSound::octaves(hz, 0.3, low_db), MARGIN_S, seed).in_noise(colour, snr_db)
}

/// Where the low octave of a trial was heard.
struct Heard {
    fundamental: bool,
    rung: bool,
    upper: bool,
    error_cents: Option<f64>,
}

fn heard(trial: &Trial) -> Option<Heard> {
    let (crow, _) = trial.heard()?;
    // The lowest tone that was made, though by its level it may not count as sounding.
    let rungs = &trial.made().rungs;
    let low_hz = rungs.first().map(|rung| rung.hz / f64::from(1u32 << rung.rung))?;
    let near = |hz: f64, to: f64| cents(hz, to).abs() <= NEAR_CENTS;
    let hz = crow.figures.fundamental.hz;
    Some(Heard {
        fundamental: hz.is_some_and(|hz| near(hz, low_hz)),
        rung: crow.figures.rungs.iter().any(|rung| near(rung.hz, low_hz)),
        upper: hz.is_some_and(|hz| near(hz, 2.0 * low_hz)),
        error_cents: hz.filter(|&hz| near(hz, low_hz)).map(|hz| cents(hz, low_hz)),
    })
}

/// Period-doubled crows at falling levels of the odd partials.
pub fn low_octave(count: usize) -> Table {
    let columns = [
        "noise",
        "odd partials",
        "goal",
        "fundamental",
        "as a rung",
        "upper octave instead",
        "another tone",
        "no pitch",
        "RMS cents",
    ];
    let title = format!("Low octave of period-doubled crows, 300 ms, 230–1000 Hz, {count} each");
    let mut table = Table::new(title, &columns);
    for (noise, colour, snr_db) in NOISES {
        for (low_db, white, pink) in LEVELS {
            let goal = if colour == Colour::White { white } else { pink };
            let all = trials(&format!("octaves {noise} {low_db}"), count, |rng, seed| {
                period_doubled(rng, seed, low_db, colour, snr_db)
            });
            let heard: Vec<Heard> = all.iter().filter_map(heard).collect();
            let counted = |is: fn(&Heard) -> bool| heard.iter().filter(|h| is(h)).count();
            let found = counted(|h| h.fundamental);
            let upper = counted(|h| h.upper);
            let pitched = all.iter().filter(|trial| trial.fundamental_error().is_some()).count();
            let errors: Vec<f64> = heard.iter().filter_map(|h| h.error_cents).collect();
            table.row(vec![
                noise.into(),
                format!("{low_db} dB"),
                goal.map_or("–".into(), |goal| format!("{goal} %")),
                show_percent(found, count),
                show_percent(counted(|h| h.rung), count),
                show_percent(upper, count),
                show_percent(pitched.saturating_sub(found + upper), count),
                show_percent(count - pitched, count),
                show(rms(&errors)),
            ]);
            // Under −30 dB a rung does not sound by its definition; there no floor is held.
            if let Some(goal) = goal.filter(|_| low_db >= -25.0) {
                table.at_least(
                    &format!("low octave, {noise}, {low_db} dB"),
                    percent(found, count),
                    goal,
                    count,
                );
            }
        }
    }
    table
}

/// One tone with all its multiples: nothing an octave below it.
pub fn pure_upper(count: usize) -> Table {
    let columns = ["noise", "low octave claimed", "other tone", "no pitch", "RMS cents"];
    let title = format!("Pure upper octaves, 300 ms, 230–1150 Hz, {count} each (goal ≤ 1 %)");
    let mut table = Table::new(title, &columns);
    for (noise, colour, snr_db) in NOISES {
        let all = trials(&format!("pure {noise}"), count, |rng, seed| {
            let crow = CrowSound::single(any_hz(rng, 230.0, 1150.0), 0.3);
            Scene::of_crow(crow, MARGIN_S, seed).in_noise(colour, snr_db)
        });
        let claimed = all.iter().filter(|trial| claims_low(trial)).count();
        let errors: Vec<f64> = all.iter().filter_map(Trial::fundamental_error).collect();
        let right: Vec<f64> = errors.iter().copied().filter(|e| e.abs() <= NEAR_CENTS).collect();
        table.row(vec![
            noise.into(),
            show_percent(claimed, count),
            show_percent(errors.len() - right.len(), count),
            show_percent(count - errors.len(), count),
            show(rms(&right)),
        ]);
        table.at_least("upper octave alone", percent(right.len(), count), 99.0, count);
    }
    table
}

/// Whether the reading lists a tone an octave under the one made, as fundamental or as a rung.
fn claims_low(trial: &Trial) -> bool {
    let low_hz = trial.made().fundamental_hz / 2.0;
    trial.heard().is_some_and(|(crow, _)| {
        let rungs = crow.figures.rungs.iter().map(|rung| rung.hz);
        rungs.chain(crow.figures.fundamental.hz).any(|hz| cents(hz, low_hz).abs() <= NEAR_CENTS)
    })
}

/// The same crows at other sample rates and levels.
pub fn rates(count: usize) -> Table {
    let columns = ["rate", "level", "octave right", "RMS cents"];
    let title = format!("Sample rate and level, octaves at −10 dB, pink 30 dB, {count} each");
    let mut table = Table::new(title, &columns);
    for rate_hz in [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
        for level_dbfs in [-6.0, -20.0, -50.0] {
            let all = trials(&format!("rates {rate_hz} {level_dbfs}"), count, |rng, seed| {
                let mut crow = CrowSound::octaves(oboe_hz(rng), 0.4, -13.0);
                crow.level_dbfs = level_dbfs;
                let mut scene = Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::Pink, 30.0);
                scene.sample_rate_hz = rate_hz;
                scene
            });
            let right: Vec<f64> = all
                .iter()
                .filter_map(Trial::fundamental_error)
                .filter(|error| error.abs() <= NEAR_CENTS)
                .collect();
            let share = percent(right.len(), count);
            table.row(vec![
                format!("{rate_hz} Hz"),
                format!("{level_dbfs} dBFS"),
                show_percent(right.len(), count),
                show(rms(&right)),
            ]);
            table.at_least(&format!("{rate_hz} Hz, {level_dbfs} dBFS"), share, 99.0, count);
        }
    }
    table
}
