//! How likely a maker is to call a crow octaves: a logistic model of what was measured, which each
//! maker's own words teach.
//!
//! Its first constants were fitted on 41 real double-reed notes and 656 mixtures of two of them at
//! exactly 2:1, and on no crow and no listening test: they are the mean that an ear starts from.

use std::f64::consts::PI;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What of a crow tells one tone from octaves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Heard {
    /// How far the upper octave stands out.
    pub stand_out_db: f64,
    /// Half width of its 95 % interval.
    pub ci95_db: f64,
    /// How long the upper octave comes before the lower; negative: after it.
    pub lead_ms: Option<f64>,
    /// Power of the low octave's own partials relative to all.
    pub low_db: f64,
    /// How far the octave is from 2:1.
    pub off_cents: f64,
    /// How much the pitch wanders.
    pub spread_cents: f64,
}

/// Number of weights.
const WEIGHTS: usize = 8;
/// Weights of: one, stand-out over [`MIDDLE_DB`], milliseconds between the entries; where these are
/// not known, one and stand-out once more; tens of decibels by which the low octave lies under
/// [`WEAK_DB`], fives of cents off 2:1, tens of cents of wander.
type Weights = [f64; WEIGHTS];

/// Stand-outs are counted from here: near even odds.
const MIDDLE_DB: f64 = 6.0;
/// A low octave weaker than this is faint.
const WEAK_DB: f64 = -20.0;
/// The mean of an ear that was not taught: log odds −3.09 + 0.433·S + 0.095·|lead|, without a lead
/// −2.60 + 0.456·S …
const FIRST: Weights =
    [-3.09 + 0.433 * MIDDLE_DB, 0.433, 0.095, 0.49 + 0.023 * MIDDLE_DB, 0.023, 0.0, 0.0, 0.0];
/// … and how far makers' ears may differ from it (standard deviations, our choice): the limit by
/// some 5 dB.
const SPREAD: Weights = [2.0, 0.15, 0.04, 0.3, 0.05, 0.5, 0.3, 0.3];
/// One word in so many is a slip: no single one moves an ear far.
const SLIPS: f64 = 0.05;
/// Rounds of Newton's method.
const ROUNDS: usize = 30;

/// How a maker hears.
#[derive(Debug, Clone, PartialEq)]
pub struct Ear {
    mean: Weights,
    covariance: [Weights; WEIGHTS],
    labels: usize,
}

impl Default for Ear {
    /// One that was not taught.
    fn default() -> Self {
        let mut covariance = [[0.0; WEIGHTS]; WEIGHTS];
        for (i, sd) in SPREAD.into_iter().enumerate() {
            covariance[i][i] = sd * sd;
        }
        Self { mean: FIRST, covariance, labels: 0 }
    }
}

impl Ear {
    /// What `labels` make of an ear: each what was measured, and whether it was called octaves.
    ///
    /// The weights have a Gaussian prior about the first constants; their posterior is taken for
    /// Gaussian about its top (Laplace's method).
    pub fn taught(labels: &[(Heard, bool)]) -> Self {
        let first = Self::default();
        let rows: Vec<(Weights, bool)> =
            labels.iter().map(|(heard, octaves)| (features(heard), *octaves)).collect();
        let mut mean = FIRST;
        let mut information = [[0.0; WEIGHTS]; WEIGHTS];
        for _ in 0..ROUNDS {
            let mut slope = [0.0; WEIGHTS];
            information = [[0.0; WEIGHTS]; WEIGHTS];
            for (i, sd) in SPREAD.into_iter().enumerate() {
                information[i][i] = 1.0 / (sd * sd);
                slope[i] = (FIRST[i] - mean[i]) / (sd * sd);
            }
            for (row, octaves) in &rows {
                let plain = logistic(dot(row, &mean));
                let told = SLIPS + (1.0 - 2.0 * SLIPS) * plain;
                let rise = (1.0 - 2.0 * SLIPS) * plain * (1.0 - plain);
                let surprise = f64::from(u8::from(*octaves)) - told;
                let certainty = (told * (1.0 - told)).max(1e-9);
                for i in 0..WEIGHTS {
                    slope[i] += surprise * rise / certainty * row[i];
                    for j in 0..WEIGHTS {
                        information[i][j] += rise * rise / certainty * row[i] * row[j];
                    }
                }
            }
            let Some(inverse) = inverse(&information) else { return first };
            let step: Weights = std::array::from_fn(|i| dot(&inverse[i], &slope));
            let longest =
                step.iter().zip(&SPREAD).map(|(s, sd)| (s / sd).abs()).fold(0.0, f64::max);
            // A step longer than the prior's own width leads astray.
            let share = 1.0 / longest.max(1.0);
            for (weight, step) in mean.iter_mut().zip(step) {
                *weight += share * step;
            }
            if longest < 1e-6 {
                break;
            }
        }
        match inverse(&information) {
            Some(covariance) => Self { mean, covariance, labels: labels.len() },
            None => first,
        }
    }

    /// Chance that the maker calls it octaves, 0 … 1: what is not known of the stand-out and of the
    /// ear is integrated over.
    pub fn octaves_chance(&self, heard: &Heard) -> f64 {
        let row = features(heard);
        let per_db = self.per_db(heard.lead_ms.is_some());
        let of_ear = match self.labels {
            // The first constants' own spread is that of makers, not a doubt of one.
            0 => 0.0,
            _ => (0..WEIGHTS).map(|i| row[i] * dot(&self.covariance[i], &row)).sum(),
        };
        let variance = (per_db * heard.ci95_db / 2.0).powi(2) + of_ear;
        // The mean of a logistic over a normal doubt (MacKay, Neural Computation 4:720, 1992).
        logistic(dot(&row, &self.mean) / (1.0 + PI * variance / 8.0).sqrt())
    }

    /// The stand-out at which it is even odds, tones that begin together and lie true, in decibels.
    pub fn limit_db(&self) -> f64 {
        MIDDLE_DB - self.mean[0] / self.per_db(true).max(0.05)
    }

    /// How many words taught it.
    pub fn labels(&self) -> usize {
        self.labels
    }

    fn per_db(&self, with_lead: bool) -> f64 {
        self.mean[1] + if with_lead { 0.0 } else { self.mean[4] }
    }
}

fn features(heard: &Heard) -> Weights {
    let over = (heard.stand_out_db - MIDDLE_DB).clamp(-30.0, 60.0);
    let without = f64::from(u8::from(heard.lead_ms.is_none()));
    [
        1.0,
        over,
        heard.lead_ms.map_or(0.0, |lead_ms| lead_ms.abs().min(100.0)),
        without,
        without * over,
        ((WEAK_DB - heard.low_db) / 10.0).clamp(0.0, 3.0),
        (heard.off_cents.abs() / 5.0).min(4.0),
        (heard.spread_cents / 10.0).clamp(0.0, 4.0),
    ]
}

fn dot(a: &Weights, b: &Weights) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// By Gauss and Jordan; `None` of what cannot be inverted.
fn inverse(matrix: &[Weights; WEIGHTS]) -> Option<[Weights; WEIGHTS]> {
    let mut left = *matrix;
    let mut right = [[0.0; WEIGHTS]; WEIGHTS];
    for (i, row) in right.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for i in 0..WEIGHTS {
        let pivot = left[i][i];
        // A prior of its own for each weight keeps every pivot above 0.
        if !(pivot > 0.0) {
            return None;
        }
        for k in 0..WEIGHTS {
            left[i][k] /= pivot;
            right[i][k] /= pivot;
        }
        for other in (0..WEIGHTS).filter(|other| *other != i) {
            let times = left[other][i];
            for k in 0..WEIGHTS {
                left[other][k] -= times * left[i][k];
                right[other][k] -= times * right[i][k];
            }
        }
    }
    Some(right)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn at(stand_out_db: f64, lead_ms: Option<f64>) -> Heard {
        Heard {
            stand_out_db,
            ci95_db: 0.0,
            lead_ms,
            low_db: -3.0,
            off_cents: 0.0,
            spread_cents: 0.0,
        }
    }

    /// The first constants, written out.
    #[test]
    fn an_ear_that_was_not_taught_has_the_first_constants() {
        let ear = Ear::default();
        for (stand_out_db, lead_ms, log_odds) in [
            (0.0, Some(0.0), -3.09),
            (12.0, Some(-20.0), -3.09 + 0.433 * 12.0 + 0.095 * 20.0),
            (10.0, None, -2.60 + 4.56),
        ] {
            let chance = ear.octaves_chance(&at(stand_out_db, lead_ms));
            assert!((chance - logistic(log_odds)).abs() < 1e-9, "{stand_out_db}: {chance}");
        }
        let doubtful = Heard { ci95_db: 8.0, ..at(15.0, None) };
        assert!(ear.octaves_chance(&doubtful) < ear.octaves_chance(&at(15.0, None)));
        assert_eq!(Ear::taught(&[]), Ear::default());
    }

    /// A maker who calls it octaves from a limit of their own on, and slips now and then.
    struct Maker {
        limit_db: f64,
        slips: f64,
    }

    impl Maker {
        fn crow(rng: &mut impl Rng) -> f64 {
            -4.0 + 24.0 * rng.random::<f64>()
        }

        fn means(&self, stand_out_db: f64, rng: &mut impl Rng) -> bool {
            rng.random::<f64>() < logistic(1.2 * (stand_out_db - self.limit_db))
        }

        fn says(&self, stand_out_db: f64, rng: &mut impl Rng) -> bool {
            self.means(stand_out_db, rng) != (rng.random::<f64>() < self.slips)
        }

        fn labels(&self, count: usize, rng: &mut impl Rng) -> Vec<(Heard, bool)> {
            (0..count)
                .map(|_| {
                    let db = Self::crow(rng);
                    (at(db, Some(0.0)), self.says(db, rng))
                })
                .collect()
        }

        /// How often an ear, and one that knows the limit, agree with what is meant.
        fn agreement(&self, ear: &Ear, rng: &mut impl Rng) -> (f64, f64) {
            let count = 2000;
            let (mut of_ear, mut best) = (0, 0);
            for _ in 0..count {
                let db = Self::crow(rng);
                let means = self.means(db, rng);
                of_ear += usize::from((ear.octaves_chance(&at(db, Some(0.0))) > 0.5) == means);
                best += usize::from((db > self.limit_db) == means);
            }
            (of_ear as f64 / count as f64, best as f64 / count as f64)
        }
    }

    /// 40 makers with limits from 1 to 13 dB who slip once in twenty: after 30 words an ear agrees
    /// within 3 points of one that knows the limit, on the mean, and nearer than untaught.
    #[test]
    fn thirty_words_teach_a_makers_limit() {
        let mut rng = ChaCha8Rng::seed_from_u64(12);
        let (mut lost, mut lost_untaught) = (0.0, 0.0);
        for i in 0..40 {
            let maker = Maker { limit_db: 1.0 + 12.0 * f64::from(i) / 39.0, slips: 0.05 };
            let ear = Ear::taught(&maker.labels(30, &mut rng));
            let (of_ear, best) = maker.agreement(&ear, &mut rng);
            let (untaught, best_too) = maker.agreement(&Ear::default(), &mut rng);
            lost += (best - of_ear) / 40.0;
            lost_untaught += (best_too - untaught) / 40.0;
        }
        assert!(lost < 0.03, "{lost}");
        assert!(lost < 0.5 * lost_untaught, "{lost} {lost_untaught}");
    }

    #[test]
    fn ten_wrong_words_do_no_lasting_harm() {
        let mut rng = ChaCha8Rng::seed_from_u64(13);
        let mut lost = 0.0;
        for i in 0..20 {
            let maker = Maker { limit_db: 2.0 + 10.0 * f64::from(i) / 19.0, slips: 0.05 };
            let mut labels = maker.labels(10, &mut rng);
            labels.iter_mut().for_each(|(_, octaves)| *octaves = !*octaves);
            labels.extend(maker.labels(40, &mut rng));
            let (of_ear, best) = maker.agreement(&Ear::taught(&labels), &mut rng);
            lost += (best - of_ear) / 20.0;
        }
        assert!(lost < 0.05, "{lost}");
    }
}
