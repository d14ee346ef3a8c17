//! What the recorder did to the sound, told by the pauses between crows.
//!
//! Levels of blocks of 10 ms and spectra of the quiet enter while the take is read; what leaves, once
//! the crows are known, is what to warn of.

mod bubbles;
mod ceiling;
mod edge;
mod swells;

pub use edge::upper_edge_hz;

use bubbles::Spectra;
use ceiling::Ceiling;

use super::catalogue::{Spoiler, leave_out};
use super::figures::{Crow, Figures, Kind};
use super::find::no_crow::Other;

/// Length of a block.
const BLOCK_S: f64 = 0.01;
/// Blocks kept: half an hour; what comes later is as what came before.
const MOST_BLOCKS: usize = 180_000;
/// Of a pause, so much after the crow still holds its reverberation …
const AFTER_S: f64 = 0.25;
/// … and so much before the next one its breath.
const BEFORE_S: f64 = 0.25;
/// What swells steeply is told in short pauses too, where tails and breath only make it less clear.
const CLOSE_AFTER_S: f64 = 0.15;
const CLOSE_BEFORE_S: f64 = 0.1;
/// Under this nothing comes from a microphone: it was shut off.
const SHUT_DBFS: f64 = -100.0;
/// Share of the blocks of the pauses that are shut where a gate works.
const SHUT_SHARE: f64 = 0.3;
/// A hole within a crow: blocks this far under those beside it …
const HOLE_DB: f64 = 25.0;
/// … of no more than this (60 ms) …
const LONGEST_HOLE: usize = 6;
/// … and so many of them in a take.
const LEAST_HOLES: usize = 2;

/// What a recorder did.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Done {
    /// It turned its gain up in the pauses.
    pub gain_control: bool,
    /// It shut off what was quiet.
    pub gated: bool,
    /// It took noise off, leaving bubbles of it.
    pub noise_suppressed: bool,
    /// Moments of crows are missing.
    pub dropouts: bool,
    /// It cut or bent what was loud, and the level was changed after that.
    pub distorted: bool,
}

impl Done {
    /// Leaves out what such a recorder does not let be known.
    pub fn spoil(&self, figures: &mut Figures) {
        let done = [
            (self.gain_control || self.gated, Spoiler::Gain),
            (self.dropouts, Spoiler::Gaps),
            (self.distorted, Spoiler::Ceiling),
        ];
        let done: Vec<Spoiler> =
            done.iter().filter(|(is_done, _)| *is_done).map(|(_, spoiler)| *spoiler).collect();
        leave_out(figures, &done);
    }
}

/// What is kept of a take to tell.
#[derive(Debug)]
pub struct Recorder {
    per_block: usize,
    sum: f64,
    count: usize,
    before: f32,
    dbfs: Vec<f32>,
    spectra: Spectra,
    ceiling: Ceiling,
}

impl Recorder {
    /// For samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: u32) -> Self {
        let per_block = ((f64::from(sample_rate_hz) * BLOCK_S).round() as usize).max(2);
        Self {
            per_block,
            sum: 0.0,
            count: 0,
            before: 0.0,
            dbfs: Vec::new(),
            spectra: Spectra::new(sample_rate_hz),
            ceiling: Ceiling::default(),
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.spectra.push(samples);
        let mut rest = samples;
        while !rest.is_empty() {
            let (piece, later) = rest.split_at(rest.len().min(self.per_block - self.count));
            self.sum += changes(self.before, piece);
            self.before = piece.last().copied().unwrap_or(self.before);
            self.count += piece.len();
            rest = later;
            if self.count == self.per_block {
                let mean = self.sum / self.per_block as f64;
                if self.dbfs.len() < MOST_BLOCKS {
                    self.dbfs.push((10.0 * (2.0 * mean).max(1e-20).log10()) as f32);
                }
                (self.sum, self.count) = (0.0, 0);
            }
        }
    }

    /// Takes the samples of a crow, once it is known for one.
    pub fn push_crow(&mut self, samples: &[f32], sample_rate_hz: f64) {
        self.ceiling.push(samples, sample_rate_hz);
    }

    /// What was done, as the crows of the take and the pauses between them tell.
    ///
    /// * `others`: what else sounded. A pause in which somebody speaks or plays tells nothing of a gain.
    pub fn done(&self, crows: &[Crow], others: &[Other]) -> Done {
        // A room that a gain has turned up is read as breath.
        let crows: Vec<&Crow> = crows.iter().filter(|crow| crow.kind != Kind::Breath).collect();
        let is_quiet = |from_s: f64, to_s: f64| {
            !others.iter().any(|other| other.from_s < to_s && other.to_s > from_s)
        };
        let bounds_s = self.pauses_s(&crows, AFTER_S, BEFORE_S);
        let levels = |bounds_s: &[(f64, f64)]| -> Vec<&[f32]> {
            let each = bounds_s.iter().map(|(from_s, to_s)| {
                let pause = self.between(*from_s, *to_s).filter(|_| is_quiet(*from_s, *to_s));
                pause.unwrap_or_default()
            });
            each.collect()
        };
        let pauses = levels(&bounds_s);
        let close = levels(&self.pauses_s(&crows, CLOSE_AFTER_S, CLOSE_BEFORE_S));
        let quiet_s: Vec<(f64, f64)> =
            bounds_s.into_iter().filter(|(from_s, to_s)| is_quiet(*from_s, *to_s)).collect();
        Done {
            gain_control: swells::alike(&pauses) || swells::steeply(&close),
            gated: are_shut(pauses.get(1..crows.len()).unwrap_or_default()),
            noise_suppressed: self.spectra.bubble_within(&quiet_s),
            dropouts: crows
                .iter()
                .filter_map(|crow| {
                    // A gate flutters while there is breath and no tone.
                    let onset_s = crow.figures.response.onset_s.unwrap_or(0.0);
                    let from_s = crow.start_s + onset_s.max(BEFORE_S);
                    self.between(from_s, crow.end_s - BEFORE_S)
                })
                .map(holes)
                .sum::<usize>()
                >= LEAST_HOLES,
            distorted: self.ceiling.is_reached(),
        }
    }

    /// Bounds of what lies before, between and after the crows, so long after and before each.
    fn pauses_s(&self, crows: &[&Crow], after_s: f64, before_s: f64) -> Vec<(f64, f64)> {
        let end_s = self.dbfs.len() as f64 * BLOCK_S;
        let ends = crows.iter().map(|crow| crow.end_s + after_s);
        let starts = crows.iter().map(|crow| crow.start_s - before_s).chain([end_s]);
        std::iter::once(0.0).chain(ends).zip(starts).collect()
    }

    fn between(&self, from_s: f64, to_s: f64) -> Option<&[f32]> {
        let at = |seconds: f64| (seconds.max(0.0) / BLOCK_S) as usize;
        self.dbfs.get(at(from_s)..at(to_s).min(self.dbfs.len()))
    }
}

/// Squares of what each sample differs by from the one before it, summed, four side by side. A difference
/// hears neither a constant offset nor much of a rumble.
fn changes(before: f32, samples: &[f32]) -> f64 {
    let square = |one: f32, other: f32| (f64::from(other) - f64::from(one)).powi(2);
    let Some((first, later)) = samples.split_first() else { return 0.0 };
    let (ones, others) = (samples[..later.len()].as_chunks::<4>(), later.as_chunks::<4>());
    let mut sums = [0.0; 4];
    for (ones, others) in ones.0.iter().zip(others.0) {
        for i in 0..4 {
            sums[i] += square(ones[i], others[i]);
        }
    }
    let rest = ones.1.iter().zip(others.1).map(|(one, other)| square(*one, *other));
    square(before, *first) + sums.iter().sum::<f64>() + rest.sum::<f64>()
}

fn are_shut(pauses: &[&[f32]]) -> bool {
    let all: usize = pauses.iter().map(|pause| pause.len()).sum();
    let shut = pauses.iter().flat_map(|pause| pause.iter());
    let shut = shut.filter(|db| f64::from(**db) < SHUT_DBFS).count();
    all > 0 && shut as f64 > SHUT_SHARE * all as f64
}

/// Short holes in a crow.
fn holes(levels: &[f32]) -> usize {
    let mut count = 0;
    let mut i = 1;
    while i < levels.len() {
        let low = f64::from(levels[i - 1]) - HOLE_DB;
        let length = levels[i..].iter().take_while(|db| f64::from(**db) < low).count();
        if (1..=LONGEST_HOLE).contains(&length) && i + length < levels.len() {
            count += 1;
        }
        i += length + 1;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_pauses_without_any_sound_are_shut() {
        let (shut, room) = (vec![-180.0_f32; 100], vec![-85.0_f32; 100]);
        assert!(are_shut(&[&shut, &room]));
        assert!(!are_shut(&[&room, &room]));
        assert!(!are_shut(&[]));
    }

    #[test]
    fn a_hole_comes_back_and_the_end_of_a_crow_does_not() {
        let mut crow = vec![-20.0_f32; 60];
        assert_eq!(holes(&crow), 0);
        crow[20..22].fill(-120.0);
        crow[40] = -70.0;
        assert_eq!(holes(&crow), 2);
        crow[50..].fill(-90.0);
        assert_eq!(holes(&crow), 2);
    }
}
