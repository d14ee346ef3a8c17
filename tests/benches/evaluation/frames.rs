//! One isolated frame of a harmonic tone: the estimator against the bound.

use rand::RngExt;
use rayon::prelude::*;
use reedcrow_synth::harmonic::estimate;
use reedcrow_synth::{Colour, CrowSound, RungSound, Scene};

use super::table::{Table, percent, rms, show, show_percent};
use super::trial::{any_hz, cents, draw};

/// Tone of which the frame is the part 50 ms inside both ends, where the truth is stated.
const TONE_S: f64 = 0.16;
const INSET_S: f64 = 0.05;
/// Signal to noise, goal for RMS error ÷ bound.
const CASES: [(f64, f64); 4] = [(40.0, 1.1), (20.0, 1.1), (10.0, 1.1), (0.0, 1.25)];

struct Frame {
    error_cents: Option<f64>,
    half_width_cents: f64,
    bound_cents: f64,
}

fn frame(snr_db: f64, number: u64) -> Frame {
    let scene = draw(&format!("frames {snr_db}"), number, |rng, seed| {
        let mut crow = CrowSound::single(any_hz(rng, 230.0, 1150.0), TONE_S);
        let tilt_db_per_octave = rng.random_range(-9.0..-2.0);
        crow.rungs = vec![Some(RungSound { tilt_db_per_octave, ..RungSound::at(0.0) })];
        (crow.attack_s, crow.decay_s, crow.ragged_db) = (0.0, 0.0, 3.0);
        Scene::of_crow(crow, 0.0, seed).in_noise(Colour::White, snr_db)
    });
    let rendered = scene.render();
    let rate = f64::from(scene.sample_rate_hz);
    let at = |t_s: f64| (t_s * rate).round() as usize;
    let samples: Vec<f64> = rendered.samples[at(INSET_S)..at(TONE_S - INSET_S)]
        .iter()
        .map(|&sample| f64::from(sample))
        .collect();
    let made = &rendered.truth.crows[0];
    let heard = estimate(&samples, rate);
    Frame {
        error_cents: heard.map(|heard| cents(heard.hz, made.fundamental_hz)),
        half_width_cents: heard.map_or(f64::NAN, |heard| heard.ci95_cents),
        bound_cents: made.fundamental_bound_cents.unwrap_or(f64::NAN),
    }
}

/// RMS error against the bound by signal to noise.
pub fn table(count: usize) -> Table {
    let columns = ["SNR", "RMS ÷ bound", "goal", "RMS cents", "gross", "gaps", "truth inside 95 %"];
    let title =
        format!("One 60 ms frame, harmonic tone 230–1150 Hz, white noise, {count} tones each");
    let mut table = Table::new(title, &columns);
    for (snr_db, goal) in CASES {
        let frames: Vec<Frame> =
            (0..count as u64).into_par_iter().map(|number| frame(snr_db, number)).collect();
        let given: Vec<(f64, &Frame)> =
            frames.iter().filter_map(|frame| Some((frame.error_cents?, frame))).collect();
        let right: Vec<&(f64, &Frame)> =
            given.iter().filter(|(error, _)| error.abs() <= 50.0).collect();
        let errors: Vec<f64> = right.iter().map(|(error, _)| *error).collect();
        let ratios: Vec<f64> = right.iter().map(|(error, f)| error / f.bound_cents).collect();
        let inside = right.iter().filter(|(e, f)| e.abs() <= f.half_width_cents).count();
        table.row(vec![
            format!("{snr_db} dB"),
            show(rms(&ratios)),
            format!("≤ {goal}"),
            show(rms(&errors)),
            (given.len() - right.len()).to_string(),
            (count - given.len()).to_string(),
            show_percent(inside, right.len()),
        ]);
        // Chance: the RMS of n ratios has a relative standard deviation of 1/√(2n).
        let chance = 3.0 / (2.0 * count as f64).sqrt();
        let what = format!("RMS ÷ bound at {snr_db} dB");
        table.at_most(&what, rms(&ratios).unwrap_or(f64::NAN), goal * (1.0 + chance));
        table.at_least("frames right", percent(right.len(), count), 99.5, count);
    }
    table
}
