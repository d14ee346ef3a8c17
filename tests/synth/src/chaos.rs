//! A reed whose vibration is chaos: a wave that comes back after a delay, through a nonlinear reed and a
//! low pass, x(t + T) = r·x(t)·(1 − x(t)).
//!
//! Source, from memory: C. Maganza, R. Causse, F. Laloe, "Bifurcations, period doublings and chaos in
//! clarinetlike systems", Europhysics Letters 1(6), 1986, pp. 295-302.

use std::f64::consts::TAU;

use rand::{Rng, RngExt};

/// The reed computes at so many times the sample rate: its delay is a whole number of steps.
const OVERSAMPLING: usize = 4;
/// What of its beginning is left out.
const SETTLES_S: f64 = 0.1;
/// Disturbs every step a little, as air does.
const UNREST: f64 = 0.002;

/// A reed as chaotic as its `gain` makes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chaos {
    /// Rate of its vibration while it is regular, of a period of two delays.
    pub hz: f64,
    /// Under 3.45 it is regular, from there on it halves, from 3.8 on it is wild; at most 4.
    pub gain: f64,
    /// Where its low pass cuts.
    pub cutoff_hz: f64,
    /// Length.
    pub duration_s: f64,
    /// RMS relative to a full-scale sine.
    pub level_dbfs: f64,
}

impl Chaos {
    /// Its samples, full scale ±1.
    pub fn render(&self, sample_rate_hz: u32, rng: &mut impl Rng) -> Vec<f64> {
        let rate_hz = f64::from(sample_rate_hz) * OVERSAMPLING as f64;
        let delay = (rate_hz / (2.0 * self.hz)).round() as usize;
        let share = 1.0 - (-TAU * self.cutoff_hz / rate_hz).exp();
        let steps = ((self.duration_s + SETTLES_S) * rate_hz) as usize;
        let mut x: Vec<f64> = (0..delay).map(|_| 0.3 + 0.1 * rng.random::<f64>()).collect();
        let mut passed = x[delay - 1];
        for i in delay..steps {
            let back = x[i - delay];
            passed += share * (self.gain * back * (1.0 - back) - passed);
            x.push((passed + UNREST * (rng.random::<f64>() - 0.5)).clamp(0.0, 1.0));
        }
        let settled = (SETTLES_S * rate_hz) as usize;
        let mean = |chunk: &[f64]| chunk.iter().sum::<f64>() / chunk.len() as f64;
        let flow: Vec<f64> = x[settled..].chunks_exact(OVERSAMPLING).map(mean).collect();
        // What is radiated is how the flow changes.
        let sound: Vec<f64> = flow.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let power = sound.iter().map(|s| s * s).sum::<f64>() / sound.len() as f64;
        let gain = (0.5 * 10_f64.powf(self.level_dbfs / 10.0) / power).sqrt();
        let ramp = 0.02 * f64::from(sample_rate_hz);
        let edge = |i: usize| (i.min(sound.len() - 1 - i) as f64 / ramp).min(1.0);
        sound.iter().enumerate().map(|(i, s)| gain * edge(i) * s).collect()
    }
}
