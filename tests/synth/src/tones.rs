//! The partials of a crow and their samples.
//!
//! Every partial is a product of powers of two unit phasors, one for each tone; when the octaves
//! are locked the upper phasor is the square of the lower. One sine and cosine per sample and tone,
//! then complex products.

use std::f64::consts::TAU;

use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};
use rustfft::num_complex::Complex;

use super::crow::{CrowSound, Motion};
use super::envelope::{fall, rise, turns};
use super::motion::cents_track;

/// Highest partial in hertz, as in the definition of a rung's level.
const TOP_HZ: f64 = 10_000.0;
/// Highest partial as a part of the sample rate.
const TOP_OF_RATE: f64 = 0.45;
/// Highest order of a combination tone, per tone.
const ORDER: i32 = 4;
/// Fall of combination tones with each order over the second.
const ORDER_DB: f64 = 8.0;

/// One partial: `lower`·f_low + `upper`·f_up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Partial {
    /// Multiple of the lower tone.
    pub lower: i32,
    /// Multiple of the upper tone.
    pub upper: i32,
    /// Index into `CrowSound::rungs` whose entry and turns it follows.
    pub source: usize,
    /// Rung it belongs to; `None` for a combination tone.
    pub rung: Option<usize>,
    /// Mean frequency in hertz.
    pub hz: f64,
    /// Mean square at full gain.
    pub power: f64,
    phase: f64,
}

/// A crow's tone, rendered.
#[derive(Debug)]
pub(super) struct Tone {
    /// The partials.
    pub partials: Vec<Partial>,
    /// `[n]` samples from the tone's start.
    pub samples: Vec<f64>,
    /// `[n]` frequency of the lowest tone at every sample.
    pub f_low_hz: Vec<f64>,
    /// `[n]` half the frequency of the upper tone at every sample.
    pub half_up_hz: Vec<f64>,
}

impl CrowSound {
    /// f_up / (2·f_low).
    fn stretch(&self) -> f64 {
        self.unlocked.map_or(1.0, |unlocked| (unlocked.deviation_cents / 1200.0).exp2())
    }

    /// Gain of attack, decay and the rung's own coming and going, without rattle; `t_s` counts
    /// from the tone's start.
    pub(super) fn gain(&self, source: usize, t_s: f64) -> f64 {
        let whole = rise(t_s, 0.0, self.attack_s) * fall(t_s, self.duration_s, self.decay_s);
        let Some(Some(rung)) = self.rungs.get(source) else { return 0.0 };
        let entry = if rung.entry_s > 0.0 { rise(t_s, rung.entry_s, rung.ramp_s) } else { 1.0 };
        let exit = rung.exit_s.map_or(1.0, |exit_s| fall(t_s, exit_s, rung.ramp_s));
        let turn = rung
            .turns
            .map_or(1.0, |turn| turns(t_s, turn.period_s, turn.share, turn.offset, rung.ramp_s));
        whole * entry * exit * turn
    }

    /// The partials with their powers, phases drawn from `rng`.
    fn partials(&self, sample_rate_hz: f64, rng: &mut impl Rng) -> Vec<Partial> {
        let top_hz = TOP_HZ.min(TOP_OF_RATE * sample_rate_hz);
        let f_up_hz = 2.0 * self.f_low_hz * self.stretch();
        let last = self.rungs.len().saturating_sub(1);
        let highest = (top_hz / self.f_low_hz).floor().clamp(1.0, 4096.0) as i32 + 1;
        let mut partials = Vec::new();
        let mut add = |lower: i32, upper: i32, source: usize, rung: usize| {
            let hz = f64::from(lower) * self.f_low_hz + f64::from(upper) * f_up_hz;
            if hz <= top_hz && matches!(self.rungs.get(source), Some(Some(_))) {
                let partial =
                    Partial { lower, upper, source, rung: Some(rung), hz, power: 0.0, phase: 0.0 };
                partials.push(partial);
            }
        };
        for n in 1..=highest {
            let rung = n.trailing_zeros() as usize;
            let source = rung.min(last);
            if source == 0 {
                add(n, 0, 0, rung);
            } else {
                add(0, n / 2, source, rung);
                if self.unlocked.is_some_and(|unlocked| unlocked.all_lower_multiples) {
                    add(n, 0, 0, 0);
                }
            }
        }
        self.set_powers(&mut partials, rng);
        if let Some(level_db) = self.unlocked.and_then(|unlocked| unlocked.combination_db) {
            self.add_combinations(&mut partials, level_db, f_up_hz, top_hz);
        }
        for partial in &mut partials {
            partial.phase = TAU * rng.random::<f64>();
        }
        partials
    }

    /// Shares the crow's power among its partials by rung level, tilt and raggedness.
    fn set_powers(&self, partials: &mut [Partial], rng: &mut impl Rng) {
        for (source, rung) in self.rungs.iter().enumerate() {
            let Some(rung) = rung else { continue };
            let mut sum = 0.0;
            for partial in partials.iter_mut().filter(|partial| partial.source == source) {
                let ragged: f64 = StandardNormal.sample(rng);
                let octaves = (partial.hz / self.f_low_hz).log2();
                let db = rung.tilt_db_per_octave * octaves + self.ragged_db * ragged;
                partial.power = 10f64.powf(db / 10.0);
                sum += partial.power;
            }
            let scale = 10f64.powf(rung.level_db / 10.0) / sum;
            for partial in partials.iter_mut().filter(|partial| partial.source == source) {
                partial.power *= scale;
            }
        }
        let total: f64 = partials.iter().map(|partial| partial.power).sum();
        for partial in partials {
            partial.power *= self.mean_square() / total;
        }
    }

    /// Combination tones |a·f_low + b·f_up|, except multiples of one tone alone. With two unlocked
    /// tones near 2:1 one of them, f_up − f_low, stands right beside the low tone.
    fn add_combinations(
        &self,
        partials: &mut Vec<Partial>,
        level_db: f64,
        f_up_hz: f64,
        top_hz: f64,
    ) {
        for lower in (-ORDER..=ORDER).filter(|&a| a != 0) {
            for upper in 1..=ORDER {
                let hz = f64::from(lower) * self.f_low_hz + f64::from(upper) * f_up_hz;
                let order = lower.abs() + upper;
                if hz < 20.0 || hz > top_hz || order > ORDER + 1 {
                    continue;
                }
                let db = level_db - ORDER_DB * f64::from(order - 2);
                let power = self.mean_square() * 10f64.powf(db / 10.0);
                partials.push(Partial {
                    lower,
                    upper,
                    source: 0,
                    rung: None,
                    hz,
                    power,
                    phase: 0.0,
                });
            }
        }
    }

    /// Renders the tone.
    pub(super) fn tone(&self, sample_rate_hz: f64, rng: &mut impl Rng) -> Tone {
        let count = (self.duration_s * sample_rate_hz).round().max(0.0) as usize;
        let partials = self.partials(sample_rate_hz, rng);
        let cents = cents_track(&self.motion, count, sample_rate_hz, rng);
        let rattle_phase = TAU * rng.random::<f64>();
        let f_low_hz: Vec<f64> =
            cents.iter().map(|cents| self.f_low_hz * (cents / 1200.0).exp2()).collect();
        let stretch = self.stretch();
        let most = |of: fn(&Partial) -> i32| {
            partials.iter().map(of).map(i32::abs).max().unwrap_or(0) as usize
        };
        let mut lower_powers = vec![Complex::new(1.0, 0.0); most(|p| p.lower) + 1];
        let mut upper_powers = vec![Complex::new(1.0, 0.0); most(|p| p.upper) + 1];
        let weights: Vec<Complex<f64>> =
            partials.iter().map(|p| Complex::from_polar((2.0 * p.power).sqrt(), p.phase)).collect();
        let own =
            self.unlocked.map(|unlocked| unlocked.own).filter(|own| *own != Motion::default());
        let half_up_hz: Vec<f64> = match own {
            Some(own) => {
                let more = cents_track(&own, count, sample_rate_hz, rng);
                let both = f_low_hz.iter().zip(more);
                both.map(|(hz, cents)| hz * stretch * (cents / 1200.0).exp2()).collect()
            }
            None => f_low_hz.iter().map(|hz| hz * stretch).collect(),
        };
        let (mut turns, mut half_up_turns) = (0.0, 0.0);
        let mut gains = vec![0.0; self.rungs.len()];
        let mut samples = Vec::with_capacity(count);
        for (i, (hz, half_up)) in f_low_hz.iter().zip(&half_up_hz).enumerate() {
            let t_s = i as f64 / sample_rate_hz;
            fill_powers(&mut lower_powers, turns);
            fill_powers(&mut upper_powers, 2.0 * half_up_turns);
            for (source, gain) in gains.iter_mut().enumerate() {
                *gain = self.gain(source, t_s);
            }
            let mut sum = 0.0;
            for (partial, weight) in partials.iter().zip(&weights) {
                // A combination tone needs both tones.
                let gain = if partial.rung.is_some() {
                    gains[partial.source]
                } else {
                    gains.iter().copied().fold(f64::INFINITY, f64::min)
                };
                let mut lower = lower_powers[partial.lower.unsigned_abs() as usize];
                if partial.lower < 0 {
                    lower = lower.conj();
                }
                let phasor = lower * upper_powers[partial.upper.unsigned_abs() as usize];
                sum += gain * (weight.re * phasor.re - weight.im * phasor.im);
            }
            let rattle = self.rattle.map_or(1.0, |rattle| {
                1.0 + rattle.depth * (TAU * rattle.hz * t_s + rattle_phase).cos()
            });
            samples.push(rattle * sum);
            turns += hz / sample_rate_hz;
            half_up_turns += half_up / sample_rate_hz;
        }
        Tone { partials, samples, f_low_hz, half_up_hz }
    }
}

/// Fills `powers[k]` with e^(2πi·k·turns).
fn fill_powers(powers: &mut [Complex<f64>], turns: f64) {
    if powers.len() < 2 {
        return;
    }
    let (sin, cos) = (TAU * turns.fract()).sin_cos();
    let step = Complex::new(cos, sin);
    let mut power = Complex::new(1.0, 0.0);
    for slot in powers.iter_mut() {
        *slot = power;
        power *= step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    const RATE_HZ: f64 = 48_000.0;

    /// Mean square of the component of `samples` at `hz`: a DFT at one frequency, written out.
    fn power_at(samples: &[f64], hz: f64) -> f64 {
        let sum: Complex<f64> = samples
            .iter()
            .enumerate()
            .map(|(i, x)| Complex::from_polar(*x, -TAU * hz * i as f64 / RATE_HZ))
            .sum();
        2.0 * (sum / samples.len() as f64).norm_sqr()
    }

    fn tone(crow: &CrowSound) -> Tone {
        crow.tone(RATE_HZ, &mut ChaCha8Rng::seed_from_u64(5))
    }

    /// 500 Hz for 1 s at 48 kHz: every partial has whole periods, so the DFT is exact.
    #[test]
    fn odd_multiples_stand_as_far_below_the_even_ones_as_told() {
        let mut crow = CrowSound::octaves(500.0, 1.0, -20.0);
        (crow.attack_s, crow.decay_s) = (0.0, 0.0);
        let samples = tone(&crow).samples;
        let sum = |first: usize| -> f64 {
            (first..=20).step_by(2).map(|n| power_at(&samples, 500.0 * n as f64)).sum()
        };
        let ratio_db = 10.0 * (sum(1) / sum(2)).log10();
        assert!((ratio_db + 20.0).abs() < 1e-6, "{ratio_db}");
        assert!((10.0 * (2.0 * (sum(1) + sum(2))).log10() + 20.0).abs() < 1e-6);
    }

    #[test]
    fn unlocked_tones_have_a_combination_tone_beside_the_low_one() {
        let crow = CrowSound::split(500.0, 0.1, 30.0);
        let partials = tone(&crow).partials;
        let f_up = 1000.0 * (30.0f64 / 1200.0).exp2();
        let beside =
            partials.iter().find(|p| p.rung.is_none() && (p.hz - (f_up - 500.0)).abs() < 1e-9);
        assert!(beside.is_some());
        assert!(partials.iter().all(|p| p.hz <= 10_000.0));
    }
}
