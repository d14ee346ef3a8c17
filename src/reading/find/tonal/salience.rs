//! How far each pitch stands out from its surroundings in one spectrum.

use super::comb::Comb;

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
    /// `[bins]` how far the greatest of a bin and its neighbours stands over noise, limited.
    pub over_floor: Vec<f32>,
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
    padded: Vec<f32>,
    sorted: Vec<f32>,
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
            over_floor: vec![0.0; bins],
            salience: vec![0.0; states],
            level: vec![0.0; states],
            share: vec![0.0; states],
            score: vec![0.0; states],
            by_chance: vec![0.0; states],
            level_db: vec![0.0; bins],
            padded: vec![0.0; bins + 2 * REACH],
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
            *level = 10.0 * (density + LEAST_DENSITY).log10();
        }
        self.find_floor();
        self.rise_over_floor();
        let total = self.explain(comb, density);
        for state in 0..comb.states() {
            let (own, between) = comb.heights(state, &self.over_floor);
            let salience = own - BETWEEN * between.max(0.0);
            let explained = self.share[state];
            self.level[state] = 10.0 * (explained + LEAST_DENSITY).log10();
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
    fn find_floor(&mut self) {
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
            *out = self.level_db[mirrored.clamp(0, last) as usize];
        }
        let rank = (QUANTILE * (2 * REACH) as f64).round() as usize;
        for (k, floor) in self.floor.iter_mut().enumerate() {
            let from = (k * EVERY).min(bins - 1);
            self.sorted.clear();
            self.sorted.extend_from_slice(&self.padded[from..from + 2 * REACH + 1]);
            *floor = *self.sorted.select_nth_unstable_by(rank, f32::total_cmp).1 + QUANTILE_DB;
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
