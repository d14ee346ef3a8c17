//! Are both tones of a crow found when its octaves do not lock?

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use reedcrow::reading::Kind;
use reedcrow_synth::{Colour, CrowSound, Scene};

use super::table::{Table, percent, quantile, rms, show, show_percent};
use super::trial::{MARGIN_S, Trial, oboe_hz, trials};

/// Cents off 2:1, length of the tone in seconds, goal for the RMS error.
const CASES: [(f64, f64, Option<f64>); 7] = [
    (15.0, 0.25, Some(0.3)),
    (30.0, 0.25, Some(0.3)),
    (60.0, 0.25, Some(0.3)),
    (10.0, 0.5, None),
    (25.0, 0.5, None),
    (5.0, 1.0, Some(0.05)),
    (20.0, 1.0, Some(0.05)),
];

/// An unlocked crow, `cents` above or below 2:1, in white noise at 30 dB.
pub fn unlocked(rng: &mut ChaCha8Rng, seed: u64, cents: f64, duration_s: f64) -> Scene {
    let sign = if rng.random::<bool>() { 1.0 } else { -1.0 };
    let crow = CrowSound::split(oboe_hz(rng), duration_s, sign * cents);
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::White, 30.0)
}

/// Error of the deviation where it was given and is nearer the truth than 2:1 is.
fn deviation_error(trial: &Trial) -> Option<f64> {
    let made = trial.made().alignment_cents?;
    let heard = trial.heard()?.0.figures.alignment.cents?;
    Some(heard - made).filter(|error| error.abs() < made.abs() / 2.0)
}

/// Two unlocked tones with their combination tones.
pub fn table(count: usize) -> Table {
    let columns =
        ["off 2:1", "tone", "goal", "both found", "kind split", "RMS cents", "95 %", "RMS ÷ bound"];
    let title = format!("Two unlocked tones with combination tones, white 30 dB, {count} each");
    let mut table = Table::new(title, &columns);
    for (cents, duration_s, goal) in CASES {
        let all = trials(&format!("split {cents} {duration_s}"), count, |rng, seed| {
            unlocked(rng, seed, cents, duration_s)
        });
        let errors: Vec<f64> = all.iter().filter_map(deviation_error).collect();
        let sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
        let against: Vec<f64> = all
            .iter()
            .filter_map(|trial| Some(deviation_error(trial)? / trial.made().alignment_bound_cents?))
            .collect();
        let named = all
            .iter()
            .filter(|trial| trial.heard().is_some_and(|(crow, _)| crow.kind == Kind::Split))
            .count();
        table.row(vec![
            format!("{cents} cents"),
            format!("{duration_s} s"),
            goal.map_or("–".into(), |goal| format!("all, ≤ {goal}")),
            show_percent(errors.len(), count),
            show_percent(named, count),
            show(rms(&errors)),
            show(quantile(&sizes, 0.95)),
            show(rms(&against)),
        ]);
        if let Some(goal) = goal {
            let what = format!("{cents} cents in {duration_s} s");
            table.at_least(&what, percent(errors.len(), count), 99.0, count);
            table.at_most(&what, rms(&errors).unwrap_or(f64::NAN), goal);
        }
    }
    table
}
