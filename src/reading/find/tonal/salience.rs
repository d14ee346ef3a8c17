//! How far each pitch stands out from its surroundings in one spectrum.

use super::comb::{Comb, PLACES, Room, greater};
use super::quantiles::{ABOUT, EVERY, Quantiles};

/// The floor is taken within this many bins to either side, as two fifths of them from below, …
const REACH: usize = ABOUT / 2;
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
/// A course that begins loses for certain by a score under this.
const LOSES: f32 = -0.01;

/// Works on one spectrum after the other.
#[derive(Debug)]
pub struct Salience {
    /// For each bin how far the greatest of it and its neighbours stands over noise, limited.
    pub over_floor: Box<[f32; PLACES]>,
    /// `[states]` height of the partials less that of what is in between, in decibels.
    pub salience: Vec<f32>,
    /// `[states]` power explained.
    pub explained: Vec<f32>,
    /// `[states]` share of all power explained.
    pub share: Vec<f32>,
    /// `[states]` what a course gains there in this moment, or no less than that where it would lose by it.
    pub score: Vec<f32>,
    /// Share that flat noise would explain.
    by_chance: Vec<f32>,
    /// The first pitch whose share counts.
    share_from: usize,
    level_db: Vec<f32>,
    /// Densities, mirrored at both ends.
    padded: Vec<f32>,
    quantiles: Box<Quantiles>,
    floor: Vec<f32>,
    sums: Box<[f32; PLACES]>,
    room: Room,
    lift: Vec<f32>,
}

impl Salience {
    pub fn new(comb: &Comb) -> Self {
        let (bins, states) = (comb.bins(), comb.states());
        let mut new = Self {
            over_floor: Box::new([0.0; PLACES]),
            salience: vec![0.0; states],
            explained: vec![0.0; states],
            share: vec![0.0; states],
            score: vec![0.0; states],
            by_chance: vec![0.0; states],
            share_from: (0..states).take_while(|state| comb.hz(*state) <= SHARE_FROM_HZ).count(),
            level_db: vec![0.0; bins],
            padded: vec![0.0; bins + 2 * REACH],
            quantiles: Quantiles::new(),
            floor: vec![0.0; bins.div_ceil(EVERY) + 1],
            sums: Box::new([0.0; PLACES]),
            room: Room::new(states),
            lift: (0..bins).map(|bin| comb.lift(bin)).collect(),
        };
        let total = new.explain(comb, &vec![1.0; bins]);
        new.by_chance = new.explained.iter().map(|own| own / total).collect();
        new
    }

    /// Judges one spectrum.
    ///
    /// * `density`: `[bins]`, full scale squared per hertz.
    /// * `begins_at`: whether a course that comes to a pitch would begin there, so that it need not be known
    ///   by how much it loses.
    pub fn judge(&mut self, comb: &Comb, density: &[f32], begins_at: impl Fn(usize) -> bool) {
        for (level, density) in self.level_db.iter_mut().zip(density) {
            *level = decibels(density + LEAST_DENSITY);
        }
        self.find_floor(density);
        self.rise_over_floor();
        let total = self.explain(comb, density);
        self.weigh_shares(total);
        for state in 0..comb.states() {
            let of_share = self.score[state];
            let score = |salience: f32| {
                (salience - LEAST_SALIENCE_DB).clamp(SCORE_LIMITS.0, SCORE_LIMITS.1) + of_share
            };
            // What stands between the partials only takes away.
            let mut salience = comb.height(state, &self.over_floor);
            if score(salience) > LOSES || !begins_at(state) {
                salience -= BETWEEN * comb.height_between(state, &self.over_floor).max(0.0);
            }
            self.salience[state] = salience;
            self.score[state] = score(salience);
        }
    }

    /// Shares of `total`, into `share`, and what a course gains by them, into `score`.
    fn weigh_shares(&mut self, total: f32) {
        let total = total.max(f32::MIN_POSITIVE);
        let explained = self.explained.iter().zip(&self.by_chance);
        let weighed = self.share.iter_mut().zip(&mut self.score);
        for ((explained, chance), (share, score)) in explained.zip(weighed) {
            *share = (explained / total).min(1.0);
            let beyond = ((*share - chance) / (1.0 - chance).max(0.05)).clamp(0.0, 1.0);
            *score = SHARE_WEIGHT * (beyond - LEAST_SHARE);
        }
        self.score[..self.share_from].fill(SHARE_WEIGHT * -LEAST_SHARE);
    }

    /// Power that each pitch explains, into `explained`; returns all of it.
    fn explain(&mut self, comb: &Comb, density: &[f32]) -> f32 {
        let mut sum = 0.0;
        for (bin, (density, lift)) in density.iter().zip(&self.lift).enumerate() {
            self.sums[bin] = sum;
            sum += density * lift;
        }
        let bins = self.lift.len();
        self.sums[bins] = sum;
        comb.explained(&self.sums, &mut self.room, &mut self.explained)
    }

    /// A quantile across frequency, mirrored at both ends.
    fn find_floor(&mut self, density: &[f32]) {
        let bins = self.level_db.len();
        let raised = |density: &f32| density + LEAST_DENSITY;
        let middle = self.padded.iter_mut().skip(REACH);
        middle.zip(density).for_each(|(out, density)| *out = raised(density));
        for off in 1..=REACH {
            self.padded[REACH - off] = raised(&density[off.min(bins - 1)]);
            self.padded[REACH + bins - 1 + off] = raised(&density[(bins - 1).saturating_sub(off)]);
        }
        self.quantiles.find(&self.padded, &mut self.floor);
        for floor in &mut self.floor {
            *floor = decibels(*floor) + QUANTILE_DB;
        }
    }

    fn rise_over_floor(&mut self) {
        for (k, levels) in self.level_db.chunks_mut(EVERY).enumerate() {
            let (here, rise) = (self.floor[k], self.floor[k + 1] - self.floor[k]);
            for (i, level) in levels.iter_mut().enumerate() {
                *level -= here + rise * (i as f32 / EVERY as f32);
            }
        }
        let limited = |most: f32| (most - GREATEST_OF_THREE_DB).clamp(LIMITS_DB.0, LIMITS_DB.1);
        let (level, bins) = (&self.level_db, self.level_db.len());
        let neighbours = level.iter().zip(&level[1..]).zip(&level[2..]);
        let inner = self.over_floor[1..bins - 1].iter_mut();
        for (over_floor, ((before, here), after)) in inner.zip(neighbours) {
            *over_floor = limited(greater(greater(*before, *here), *after));
        }
        self.over_floor[0] = limited(greater(level[0], level[1]));
        self.over_floor[bins - 1] = limited(greater(level[bins - 2], level[bins - 1]));
    }
}

/// Level of what a pitch explains, in decibels.
pub fn level_db(explained: f32) -> f32 {
    decibels(explained + LEAST_DENSITY)
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
