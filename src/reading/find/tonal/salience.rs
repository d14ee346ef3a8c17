//! How far each pitch stands out from its surroundings in one spectrum.

use super::comb::{Comb, PLACES};

/// The floor is taken within this many bins to either side …
const REACH: usize = 26;
/// … at every so many bins, …
const EVERY: usize = 16;
/// … as this share of the bins from below, …
const QUANTILE: f64 = 0.4;
/// … which lies so far under the mean of noise, whose power is exponentially distributed:
/// −10·log10(−ln 0.6) = 2.9 dB; 2.6 with windows that overlap within it.
const QUANTILE_DB: f32 = 2.6;
/// The greatest of three bins of noise stands so far over its mean.
const GREATEST_OF_THREE_DB: f32 = 5.0;
/// Less than nothing is limited, so that one missing partial does not hide the others; more than
/// enough is, so that one partial alone is not a family.
const LIMITS_DB: (f32, f32) = (-4.0, 20.0);
/// Added to all densities (−100 dBFS over the band): digital silence holds no tones.
const LEAST_DENSITY: f32 = 1.25e-14;
/// Of what stands between the partials this share is taken off.
const BETWEEN: f32 = 0.6;
/// A course gains by what is over this, …
const LEAST_SALIENCE_DB: f32 = 4.0;
/// … within these limits, …
const SCORE_LIMITS: (f32, f32) = (-8.0, 12.0);
/// … and by the share of power it explains beyond chance, over this.
const SHARE_WEIGHT: f32 = 8.0;
const LEAST_SHARE: f32 = 0.3;
/// Lower pitches share so many bins that they explain anything.
const SHARE_FROM_HZ: f64 = 300.0;

/// Works on one spectrum after the other.
#[derive(Debug)]
pub struct Salience {
    /// For each bin how far the greatest of it and its neighbours stands over noise, limited.
    pub over_floor: Box<[f32; PLACES]>,
    /// `[states]` height of the partials less that of what is in between, in decibels.
    pub salience: Vec<f32>,
    /// `[states]` power explained, in decibels.
    pub level: Vec<f32>,
    /// `[states]` share of all power explained.
    pub share: Vec<f32>,
    /// `[states]` what a course gains there in this moment.
    pub score: Vec<f32>,
    /// Share that flat noise would explain.
    by_chance: Vec<f32>,
    level_db: Vec<f32>,
    /// Bits of densities, which are positive: in the order of what they stand for.
    padded: Vec<u32>,
    sorted: Vec<u32>,
    floor: Vec<f32>,
    sums: Vec<f32>,
    odd: Vec<f32>,
    all: Vec<f32>,
    lift: Vec<f32>,
}

impl Salience {
    pub fn new(comb: &Comb) -> Self {
        let (bins, states) = (comb.bins(), comb.states());
        let mut new = Self {
            over_floor: Box::new([0.0; PLACES]),
            salience: vec![0.0; states],
            level: vec![0.0; states],
            share: vec![0.0; states],
            score: vec![0.0; states],
            by_chance: vec![0.0; states],
            level_db: vec![0.0; bins],
            padded: vec![0; bins + 2 * REACH],
            sorted: Vec::with_capacity(2 * REACH + 1),
            floor: vec![0.0; bins.div_ceil(EVERY) + 1],
            sums: vec![0.0; bins + 1],
            odd: vec![0.0; states],
            all: vec![0.0; states],
            lift: (0..bins).map(|bin| comb.lift(bin)).collect(),
        };
        let total = new.explain(comb, &vec![1.0; bins]);
        new.by_chance = new.share.iter().map(|own| own / total).collect();
        new
    }

    /// Judges one spectrum.
    ///
    /// * `density`: `[bins]`, full scale squared per hertz.
    pub fn judge(&mut self, comb: &Comb, density: &[f32]) {
        for (level, density) in self.level_db.iter_mut().zip(density) {
            *level = decibels(density + LEAST_DENSITY);
        }
        self.find_floor(density);
        self.rise_over_floor();
        let total = self.explain(comb, density);
        for state in 0..comb.states() {
            let (own, between) = comb.heights(state, &self.over_floor);
            let salience = own - BETWEEN * between.max(0.0);
            let explained = self.share[state];
            self.level[state] = decibels(explained + LEAST_DENSITY);
            let share = (explained / total.max(f32::MIN_POSITIVE)).min(1.0);
            let chance = self.by_chance[state];
            let beyond = ((share - chance) / (1.0 - chance).max(0.05)).clamp(0.0, 1.0);
            let beyond = if comb.hz(state) > SHARE_FROM_HZ { beyond } else { 0.0 };
            self.salience[state] = salience;
            self.share[state] = share;
            self.score[state] = (salience - LEAST_SALIENCE_DB)
                .clamp(SCORE_LIMITS.0, SCORE_LIMITS.1)
                + SHARE_WEIGHT * (beyond - LEAST_SHARE);
        }
    }

    /// Power that each pitch explains, into `share`; returns all of it.
    fn explain(&mut self, comb: &Comb, density: &[f32]) -> f32 {
        let mut sum = 0.0;
        for (bin, (density, lift)) in density.iter().zip(&self.lift).enumerate() {
            self.sums[bin] = sum;
            sum += density * lift;
        }
        let bins = self.lift.len();
        self.sums[bins] = sum;
        comb.explained(&self.sums, &mut self.odd, &mut self.all, &mut self.share)
    }

    /// A quantile across frequency, mirrored at both ends.
    fn find_floor(&mut self, density: &[f32]) {
        let bins = self.level_db.len();
        for (i, out) in self.padded.iter_mut().enumerate() {
            let place = i as i64 - REACH as i64;
            let last = bins as i64 - 1;
            let mirrored = if place < 0 {
                -place
            } else if place > last {
                2 * last - place
            } else {
                place
            };
            *out = (density[mirrored.clamp(0, last) as usize] + LEAST_DENSITY).to_bits();
        }
        let rank = (QUANTILE * (2 * REACH) as f64).round() as usize;
        for (k, floor) in self.floor.iter_mut().enumerate() {
            let from = (k * EVERY).min(bins - 1);
            self.sorted.clear();
            self.sorted.extend_from_slice(&self.padded[from..from + 2 * REACH + 1]);
            let quantile = *self.sorted.select_nth_unstable(rank).1;
            *floor = decibels(f32::from_bits(quantile)) + QUANTILE_DB;
        }
    }

    fn rise_over_floor(&mut self) {
        let bins = self.level_db.len();
        let rise = |bin: usize| {
            let (k, part) = (bin / EVERY, (bin % EVERY) as f32 / EVERY as f32);
            let (a, b) = (self.floor[k], self.floor[k + 1]);
            self.level_db[bin] - (a + (b - a) * part)
        };
        let (mut before, mut here) = (f32::MIN, rise(0));
        for bin in 0..bins {
            let after = if bin + 1 < bins { rise(bin + 1) } else { f32::MIN };
            self.over_floor[bin] = (before.max(here).max(after) - GREATEST_OF_THREE_DB)
                .clamp(LIMITS_DB.0, LIMITS_DB.1);
            (before, here) = (here, after);
        }
    }
}

/// 10·lg of a power that is over 0, by the series of the inverse hyperbolic tangent: within 10⁻⁴ dB, and in
/// vector registers.
fn decibels(power: f32) -> f32 {
    const DB_PER_OCTAVE: f32 = 3.010_3;
    const DB_PER_E: f32 = 4.342_944_8;
    let bits = power.to_bits();
    let octaves = (bits >> 23) as i32 - 127;
    let mantissa = f32::from_bits(bits & 0x007f_ffff | 0x3f80_0000);
    let t = (mantissa - 1.0) / (mantissa + 1.0);
    let square = t * t;
    let series = 1.0 + square * (1.0 / 3.0 + square * (0.2 + square * (1.0 / 7.0 + square / 9.0)));
    DB_PER_OCTAVE * octaves as f32 + 2.0 * DB_PER_E * t * series
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decibels_are_ten_times_the_logarithm() {
        let mut power = 1.3e-14_f32;
        while power < 1e6 {
            let right = 10.0 * f64::from(power).log10();
            assert!((f64::from(decibels(power)) - right).abs() < 1e-4, "{power}");
            power *= 1.07;
        }
    }
}
