//! What one side of a comparison shows: gathered take by take, so that no samples need be kept.

use super::octaves::Octaves;
use super::spectral::mean_spectrum;
use super::spectrum::{curve, shown_hz, sounding_span, span};
use crate::dsp::statistics::median;
use crate::reading::{Analysis, Crow, Kind};
use crate::take::Take;

/// Spectra kept of one side; the takes after them add their figures only.
const MOST_SPECTRA: usize = 50;
/// Curves are summed on this grid of steps per octave.
const STEPS_PER_OCTAVE: f64 = 150.0;

/// One side of a comparison: any number of takes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PictureSide {
    /// What it is called: `before`, a file, a step of a reed.
    pub(super) label: String,
    /// Fundamental of each crow that has one, in hertz.
    pub(super) crow_hz: Vec<f64>,
    /// Frequency and level of each rung of each crow.
    rungs: Vec<Vec<(f64, f64)>>,
    /// The loudest of each take's spectrum by step of log frequency, in decibels under its peak.
    curves: Vec<Vec<(f64, f64)>>,
}

impl PictureSide {
    /// A side without takes.
    pub fn new(label: &str) -> Self {
        Self { label: label.to_owned(), ..Self::default() }
    }

    /// Adds a take: the figures of all its crows and the spectrum of its longest one. A take
    /// without samples adds its figures only.
    pub fn add(&mut self, take: &Take, analysis: &Analysis) {
        let crows = || analysis.reading.crows.iter().filter(|crow| crow.kind != Kind::Breath);
        self.crow_hz.extend(crows().filter_map(|crow| crow.figures.fundamental.hz));
        self.rungs.extend(crows().map(rungs));
        let Some(span_s) = sounding_span(analysis) else {
            return;
        };
        if self.curves.len() >= MOST_SPECTRA {
            return;
        }
        if let Some(spectrum) = mean_spectrum(span(take, span_s), take.sample_rate_hz) {
            let (from_hz, to_hz) = shown_hz(take.sample_rate_hz);
            let mut points = curve(&spectrum, from_hz, to_hz);
            let peak = points.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
            points.iter_mut().for_each(|point| point.1 -= peak);
            self.curves.push(points);
        }
    }

    /// Median fundamental of the crows.
    pub(super) fn fundamental_hz(&self) -> Option<f64> {
        median(self.crow_hz.iter().copied())
    }

    /// Median level of each octave over the crows in which it sounds, lowest first.
    pub(super) fn ladder(&self, octaves: Option<&Octaves>) -> Vec<(i32, f64)> {
        let place = |index: usize, hz: f64| octaves.map_or(index as i32, |o| o.octave(hz));
        let mut by_octave = std::collections::BTreeMap::<i32, Vec<f64>>::new();
        for ladder in &self.rungs {
            for (index, (hz, level_db)) in ladder.iter().enumerate() {
                if level_db.is_finite() {
                    by_octave.entry(place(index, *hz)).or_default().push(*level_db);
                }
            }
        }
        let levels = by_octave.into_iter();
        levels.filter_map(|(octave, levels)| Some((octave, median(levels)?))).collect()
    }

    /// The spectrum: of one take as it is, of several the loudest in each narrow step of frequency,
    /// on the median over the takes. Pairs of hertz and decibels under the loudest.
    pub(super) fn curve(&self) -> Vec<(f64, f64)> {
        if let [only] = self.curves.as_slice() {
            return only.clone();
        }
        let mut steps = std::collections::BTreeMap::<i64, Vec<f64>>::new();
        for curve in &self.curves {
            let step = |point: &(f64, f64)| (point.0.log2() * STEPS_PER_OCTAVE).round() as i64;
            for run in curve.chunk_by(|a, b| step(a) == step(b)) {
                let loudest = run.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
                steps.entry(run.first().map_or(0, step)).or_default().push(loudest);
            }
        }
        let levels = steps.into_iter();
        levels
            .filter_map(|(step, levels)| {
                Some(((step as f64 / STEPS_PER_OCTAVE).exp2(), median(levels)?))
            })
            .collect()
    }
}

fn rungs(crow: &Crow) -> Vec<(f64, f64)> {
    crow.figures.rungs.iter().map(|rung| (rung.hz, rung.level_db)).collect()
}
