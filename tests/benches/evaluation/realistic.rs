//! A crow as a bench hears it: slow attack, late low octave, drift, rattle, breath around it.

use rand_chacha::ChaCha8Rng;
use reedcrow::reading::TrackPoint;
use reedcrow_synth::{Colour, CrowSound, RungSound, Scene};

use super::table::{Table, percent, quantile, rms, show, show_percent};
use super::trial::{MARGIN_S, Trial, cents, oboe_hz, realistic, trials};

/// A point this far off is gross.
const GROSS_CENTS: f64 = 50.0;
/// Points this near an entry or an end are not judged.
const EDGE_S: f64 = 0.1;

/// The crow of this table.
pub fn scene(rng: &mut ChaCha8Rng, seed: u64) -> Scene {
    let mut crow = realistic(CrowSound::octaves(oboe_hz(rng), 1.2, -6.0), rng);
    crow.rungs =
        vec![Some(RungSound { entry_s: 0.3, ..RungSound::at(-6.0) }), Some(RungSound::at(0.0))];
    Scene::of_crow(crow, MARGIN_S, seed).in_noise(Colour::Pink, 15.0)
}

/// What one trial's track of the lowest rung says.
#[derive(Default)]
struct Track {
    errors: Vec<f64>,
    gross: usize,
    gaps: usize,
    in_breath: usize,
    points: usize,
}

fn track(trial: &Trial) -> Track {
    let made = trial.made();
    let middle_s = (made.tone_start_s + made.tone_end_s) / 2.0;
    let Some((crow, tracks)) = trial.heard() else { return Track::default() };
    let lowest = crow
        .figures
        .rungs
        .iter()
        .position(|rung| cents(rung.hz, made.fundamental_hz).abs() < GROSS_CENTS);
    let empty: Vec<TrackPoint> = Vec::new();
    let points = lowest.and_then(|index| tracks.rungs.get(index)).unwrap_or(&empty);
    let entry_s = made.start_s + made.rungs.first().map_or(0.0, |rung| rung.entry_s);
    let mut found = Track::default();
    for point in points {
        let inside = (entry_s + EDGE_S..made.tone_end_s - EDGE_S).contains(&point.time_s);
        let in_breath = !(made.tone_start_s..made.tone_end_s).contains(&point.time_s);
        found.points += usize::from(inside);
        match point.hz {
            None => found.gaps += usize::from(inside),
            Some(hz) if inside => {
                let drifted = made.drift_cents_per_s * (point.time_s - middle_s);
                let error = cents(hz, made.fundamental_hz) - drifted;
                if error.abs() > GROSS_CENTS {
                    found.gross += 1;
                } else {
                    found.errors.push(error);
                }
            }
            Some(_) => found.in_breath += usize::from(in_breath),
        }
    }
    found
}

/// Realistic crows.
pub fn table(count: usize) -> Table {
    let title = format!(
        "Realistic crow: 100 ms attack, low octave 300 ms late, drift, 35 Hz rattle, pink 15 dB, \
         breath before and after; {count} trials"
    );
    let mut table = Table::new(title, &["figure", "reached", "goal"]);
    let all = trials("realistic", count, scene);
    let tracks: Vec<Track> = all.iter().map(track).collect();
    let errors: Vec<f64> = tracks.iter().flat_map(|track| track.errors.clone()).collect();
    let sum = |of: fn(&Track) -> usize| tracks.iter().map(of).sum::<usize>();
    let mut line = |figure: &str, reached: String, goal: &str| {
        table.row(vec![figure.into(), reached, goal.into()]);
    };
    line("track of the lowest rung, RMS cents", show(rms(&errors)), "≤ 0.1");
    line("points judged", sum(|t| t.points).to_string(), "–");
    line("gross points", sum(|t| t.gross).to_string(), "0");
    line("gaps", sum(|t| t.gaps).to_string(), "0");
    line("points with a pitch in breath", sum(|t| t.in_breath).to_string(), "0");
    let fundamental: Vec<f64> = all.iter().filter_map(Trial::fundamental_error).collect();
    let right: Vec<f64> =
        fundamental.iter().copied().filter(|error| error.abs() < GROSS_CENTS).collect();
    line("fundamental right", show_percent(right.len(), count), "100 %");
    line("fundamental, RMS cents", show(rms(&right)), "–");
    let off = |error: &dyn Fn(&Trial) -> Option<f64>| -> Vec<f64> {
        all.iter().filter_map(error).collect()
    };
    let entries = off(&|trial| {
        let (crow, _) = trial.heard()?;
        let made = trial.made();
        let rung = crow
            .figures
            .rungs
            .iter()
            .find(|rung| cents(rung.hz, made.fundamental_hz).abs() < GROSS_CENTS)?;
        // Both counted in the take, so that an error of the start does not count twice.
        Some(1000.0 * (crow.start_s + rung.entry_s? - made.start_s - made.rungs.first()?.entry_s))
    });
    let starts = off(&|trial| Some(1000.0 * (trial.heard()?.0.start_s - trial.made().start_s)));
    let ends = off(&|trial| Some(1000.0 * (trial.heard()?.0.end_s - trial.made().end_s)));
    for (name, values, goal) in [
        ("entry of the low octave", &entries, "≤ 10"),
        ("start", &starts, "–"),
        ("end", &ends, "–"),
    ] {
        let sizes: Vec<f64> = values.iter().map(|value| value.abs()).collect();
        line(&format!("{name}: given"), show_percent(values.len(), count), "100 %");
        line(&format!("{name}: median error, ms"), show(quantile(values, 0.5)), "–");
        line(&format!("{name}: median size of error, ms"), show(quantile(&sizes, 0.5)), goal);
        line(&format!("{name}: 95 % of errors, ms"), show(quantile(&sizes, 0.95)), "–");
    }
    let sizes: Vec<f64> = entries.iter().map(|value| value.abs()).collect();
    table.at_least("fundamental right", percent(right.len(), count), 99.0, count);
    table.at_most("track, RMS cents", rms(&errors).unwrap_or(f64::NAN), 0.15);
    table.at_most("entry, median ms", quantile(&sizes, 0.5).unwrap_or(f64::NAN), 15.0);
    table
}
