//! What blowing harder does to the pitch in this maker's crows: learned from crows of one take, which one
//! microphone heard from one place, so that a level that differs is a breath that differs.

use crate::profile::Blowing;

/// The crows of one reed, as far as they tell how pitch goes with level within their takes: sums of
/// squares and products about each take's own means, in decibels and cents.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct OfReed {
    xx: f64,
    xy: f64,
    yy: f64,
    /// Crows less one for each take.
    freedom: f64,
}

impl OfReed {
    /// Adds one take.
    ///
    /// * `crows`: level in decibels and pitch in cents of each.
    pub fn add(&mut self, crows: &[(f64, f64)]) {
        let count = crows.len() as f64;
        if crows.len() < 2 {
            return;
        }
        let mean = |of: fn(&(f64, f64)) -> f64| crows.iter().map(of).sum::<f64>() / count;
        let (level, cents) = (mean(|crow| crow.0), mean(|crow| crow.1));
        for crow in crows {
            self.xx += (crow.0 - level).powi(2);
            self.xy += (crow.0 - level) * (crow.1 - cents);
            self.yy += (crow.1 - cents).powi(2);
        }
        self.freedom += count - 1.0;
    }
}

/// Without crows, the spread about the slope is taken to be this, in cents, as if so many crows had told
/// it (our choice).
const SPREAD: (f64, f64) = (4.0, 4.0);

/// Slopes and their spread that are tried, a step apart, in cents a decibel.
const STEP: f64 = 0.25;
/// As above: out to this many steps.
const STEPS: i32 = 40;

/// Slopes are told no finer than this, in cents a decibel, so that what rests on them is reckoned anew
/// only where it changes.
const GRAIN: f64 = 0.5;

/// The slope of the next reed's crows; `None` where no crows tell anything of it.
///
/// The mean over all reeds and how reeds differ from it are tried on a grid, each with a prior that is
/// half of what is known before any crow: normal, and half-normal.
///
/// * `usual`: standard deviation of the slope before any crow.
pub fn blowing(reeds: &[OfReed], usual: f64) -> Option<Blowing> {
    let told: Vec<&OfReed> = reeds.iter().filter(|reed| reed.xx > 0.0).collect();
    let freedom: f64 = told.iter().map(|reed| reed.freedom - 1.0).sum();
    if told.is_empty() {
        return None;
    }
    let residual: f64 = told.iter().map(|reed| reed.yy - reed.xy.powi(2) / reed.xx).sum();
    let variance =
        (SPREAD.1 * SPREAD.0.powi(2) + residual.max(0.0)) / (SPREAD.1 + freedom.max(0.0));
    let half = usual / std::f64::consts::SQRT_2;
    let mut tried: Vec<(f64, f64, f64)> = Vec::new();
    for apart in (0..=STEPS).map(|step| f64::from(step) * STEP) {
        // Of all reeds together, by how far they differ: precision, slopes weighted by it, their squares.
        let (mut sure, mut slopes, mut squares, mut log) = (0.0, 0.0, 0.0, 0.0);
        for reed in &told {
            let (slope, spread) = (reed.xy / reed.xx, variance / reed.xx + apart.powi(2));
            sure += spread.recip();
            slopes += slope / spread;
            squares += slope.powi(2) / spread;
            log -= 0.5 * spread.ln();
        }
        for mean in (-STEPS..=STEPS).map(|step| f64::from(step) * STEP) {
            let off = squares - 2.0 * mean * slopes + mean.powi(2) * sure;
            let prior = (mean / half).powi(2) + (apart / half).powi(2);
            tried.push((mean, apart, log - 0.5 * (off + prior)));
        }
    }
    let most = tried.iter().map(|one| one.2).fold(f64::NEG_INFINITY, f64::max);
    let (mut sum, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (slope, apart, log) in tried {
        let weight = (log - most).exp();
        sum += weight;
        mean += weight * slope;
        square += weight * (slope.powi(2) + apart.powi(2));
    }
    let mean = mean / sum;
    let sd = (square / sum - mean.powi(2)).max(0.0).sqrt();
    let grained = |value: f64| (value / GRAIN).round() * GRAIN;
    Some(Blowing { cents_per_db: grained(mean), sd: (sd / GRAIN).ceil() * GRAIN })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;
    use rand_distr::{Distribution, Normal};

    fn reeds(count: usize, slope: f64, apart: f64, seed: u64) -> Vec<OfReed> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut normal = |mean: f64, sd: f64| Normal::new(mean, sd).unwrap().sample(&mut rng);
        let reed = |_| {
            let of_reed = normal(slope, apart);
            let mut reed = OfReed::default();
            for _ in 0..3 {
                let (base, gain) = (normal(0.0, 30.0), normal(-25.0, 6.0));
                let crow = |_| {
                    let level = normal(0.0, 1.5);
                    (gain + level, base + of_reed * level + normal(0.0, 4.0))
                };
                let crows: Vec<(f64, f64)> = (0..3).map(crow).collect();
                reed.add(&crows);
            }
            reed
        };
        (0..count).map(reed).collect()
    }

    #[test]
    fn without_crows_nothing_is_told_and_with_many_the_slope_that_was_put_in() {
        assert_eq!(blowing(&[], 3.0), None);
        assert_eq!(blowing(&[OfReed::default()], 3.0), None);
        let few = blowing(&reeds(1, -2.0, 0.5, 1), 3.0).unwrap();
        let many = blowing(&reeds(60, -2.0, 0.5, 1), 3.0).unwrap();
        assert!((many.cents_per_db + 2.0).abs() <= 0.5 && many.sd <= 1.0, "{many:?}");
        assert!(few.sd > many.sd, "{few:?}");
    }

    /// The next reed's slope lies within two standard deviations of what is told 19 times in 20; of 200
    /// makers so many may not, three standard deviations of that count over it.
    #[test]
    fn the_next_reed_lies_where_it_is_told() {
        let mut missed = 0;
        for seed in 0..200 {
            let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1000 + seed);
            let slope = Normal::new(0.0, 2.1).unwrap().sample(&mut rng);
            let told = blowing(&reeds(1 + seed as usize % 20, slope, 1.0, seed), 3.0).unwrap();
            let next = Normal::new(slope, 1.0).unwrap().sample(&mut rng);
            missed += usize::from((next - told.cents_per_db).abs() > 1.96 * told.sd + GRAIN / 2.0);
        }
        assert!(missed <= 19, "{missed} of 200");
    }
}
