//! What the recorder did to the sound, told by the pauses between crows.
//!
//! Levels of blocks of 10 ms enter while the take is read; what leaves, once the crows are known, is
//! what to warn of.

use super::figures::Crow;

/// Length of a block.
const BLOCK_S: f64 = 0.01;
/// Blocks kept: half an hour; what comes later is as what came before.
const MOST_BLOCKS: usize = 180_000;
/// Of a pause, so much after the crow still holds its reverberation …
const AFTER_S: f64 = 0.3;
/// … and so much before the next one its breath.
const BEFORE_S: f64 = 0.25;
/// Shorter pauses tell nothing of a gain that swells.
const LEAST_PAUSE_S: f64 = 0.4;
/// A gain that comes back after a loud sound lets the room swell so fast, in decibels per second, …
const SWELLS_DB_PER_S: f64 = 3.5;
/// … by so much over the pause, …
const SWELLS_DB: f64 = 3.0;
/// … along a straight line, from which levels averaged over 50 ms differ by no more than this.
const STRAIGHT_DB: f64 = 2.0;
/// A pause that falls this fast shows that the room itself comes and goes.
const FALLS_DB_PER_S: f64 = -2.0;
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
    /// Moments of crows are missing.
    pub dropouts: bool,
}

/// Levels over time.
#[derive(Debug)]
pub struct Levels {
    per_block: usize,
    sum: f64,
    count: usize,
    before: f64,
    dbfs: Vec<f32>,
}

impl Levels {
    /// For samples at `sample_rate_hz`.
    pub fn new(sample_rate_hz: u32) -> Self {
        let per_block = ((f64::from(sample_rate_hz) * BLOCK_S).round() as usize).max(2);
        Self { per_block, sum: 0.0, count: 0, before: 0.0, dbfs: Vec::new() }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        for &sample in samples {
            let sample = f64::from(sample);
            // A difference hears neither a constant offset nor much of a rumble.
            self.sum += (sample - self.before).powi(2);
            self.before = sample;
            self.count += 1;
            if self.count == self.per_block {
                let mean = self.sum / self.per_block as f64;
                if self.dbfs.len() < MOST_BLOCKS {
                    self.dbfs.push((10.0 * (2.0 * mean).max(1e-20).log10()) as f32);
                }
                (self.sum, self.count) = (0.0, 0);
            }
        }
    }

    /// What was done, as the crows of the take and the pauses between them tell.
    pub fn done(&self, crows: &[Crow]) -> Done {
        let pauses: Vec<&[f32]> = crows
            .windows(2)
            .map(|pair| (pair[0].end_s, pair[1].start_s))
            .filter_map(|(from_s, to_s)| self.between(from_s + AFTER_S, to_s - BEFORE_S))
            .collect();
        Done {
            gain_control: swell(&pauses),
            gated: are_shut(&pauses),
            dropouts: crows
                .iter()
                .filter_map(|crow| self.between(crow.start_s + BEFORE_S, crow.end_s - BEFORE_S))
                .map(holes)
                .sum::<usize>()
                >= LEAST_HOLES,
        }
    }

    fn between(&self, from_s: f64, to_s: f64) -> Option<&[f32]> {
        let at = |seconds: f64| (seconds.max(0.0) / BLOCK_S) as usize;
        self.dbfs.get(at(from_s)..at(to_s).min(self.dbfs.len()))
    }
}

/// Whether the room swells in most of the pauses that are long enough to tell, and falls in none.
fn swell(pauses: &[&[f32]]) -> bool {
    let slopes: Vec<bool> = pauses
        .iter()
        .filter(|pause| pause.len() as f64 * BLOCK_S >= LEAST_PAUSE_S)
        .filter_map(|pause| {
            let means: Vec<f64> = pause
                .chunks_exact(5)
                .map(|five| five.iter().map(|db| f64::from(*db)).sum::<f64>() / 5.0)
                .collect();
            let time: Vec<f64> = (0..means.len()).map(|i| 5.0 * BLOCK_S * i as f64).collect();
            let fit = crate::dsp::statistics::line(&time, &means)?;
            let length_s = *time.last()?;
            let away = time.iter().zip(&means).map(|(t, db)| (db - fit.at(*t)).powi(2));
            let spread = (away.sum::<f64>() / means.len() as f64).sqrt();
            if fit.slope < FALLS_DB_PER_S {
                return Some(false);
            }
            let swells = fit.slope > SWELLS_DB_PER_S && fit.slope * length_s > SWELLS_DB;
            (swells && spread < STRAIGHT_DB).then_some(true)
        })
        .collect();
    slopes.len() >= 2 && slopes.iter().all(|swells| *swells) && 2 * slopes.len() > pauses.len()
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
    fn pauses_that_swell_one_and_all_are_gain_control_and_a_street_is_none() {
        let rising: Vec<f32> = (0..150).map(|i| -60.0 + 0.06 * i as f32).collect();
        let falling: Vec<f32> = rising.iter().rev().copied().collect();
        let level = vec![-60.0_f32; 150];
        assert!(swell(&[&rising, &rising, &rising]));
        assert!(!swell(&[&rising, &falling, &rising]));
        assert!(!swell(&[&level, &level, &level]));
        assert!(!swell(&[&rising]));
    }

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
