//! How well a crow's frequency can be known at best.
//!
//! The asymptotic Cramér-Rao bound of the harmonic model with unknown amplitudes and phases. For
//! n samples of Σ A_l·cos(l·ω·t + φ_l) in white noise of variance σ² it is
//! var(ω) ≥ 24σ² / (n(n² − 1)·Σ A_l²l²) (Christensen & Jakobsson, Multi-Pitch Estimation, 2009, from
//! memory; one partial gives Rife & Boorstyn, IEEE Trans. IT-20, 1974). Here it is written for
//! gains that change over time and noise whose density differs from partial to partial: each
//! partial adds l²·P_l/σ_l²·Σ g²(t − t̄)² to the information.

use std::f64::consts::TAU;

use super::crow::CrowSound;
use super::measure::Surroundings;
use super::tones::Tone;

/// Step of the sums over time.
const STEP_S: f64 = 0.001;
/// Width over which the noise density about a partial is taken.
const NEAR_HZ: f64 = 20.0;

/// Standard deviations, in cents, of the best unbiased estimates over the steady part.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    /// Of the fundamental: from all partials when locked, else from those of the lowest tone.
    pub fundamental: Option<f64>,
    /// Of the deviation from 2:1, from odd and even partials apart.
    pub alignment: Option<f64>,
}

/// The bounds for the partials of `tone` over `steady`, seconds from the tone's start.
pub(super) fn bounds(
    crow: &CrowSound,
    tone: &Tone,
    surroundings: &Surroundings,
    steady: (f64, f64),
) -> Bounds {
    let lower = information(crow, tone, surroundings, steady, |rung| rung == 0);
    let upper = information(crow, tone, surroundings, steady, |rung| rung > 0);
    let sd = |information: f64| {
        (information > 0.0 && information.is_finite()).then(|| information.sqrt().recip())
    };
    let fundamental = match crow.unlocked {
        Some(_) if lower > 0.0 => sd(lower),
        _ => sd(lower + upper),
    };
    let alignment = sd(lower).zip(sd(upper)).map(|(a, b)| a.hypot(b));
    Bounds { fundamental, alignment }
}

/// Fisher information about the pitch, per cent squared, of the partials in the chosen rungs. A
/// common pitch change of one cent moves every partial by its own frequency's share, so a partial
/// counts with the square of its frequency.
fn information(
    crow: &CrowSound,
    tone: &Tone,
    surroundings: &Surroundings,
    steady: (f64, f64),
    chosen: impl Fn(usize) -> bool,
) -> f64 {
    let cent = std::f64::consts::LN_2 / 1200.0;
    let steps = ((steady.1 - steady.0) / STEP_S).round() as usize;
    let spreads: Vec<f64> =
        (0..crow.rungs.len()).map(|source| time_spread(crow, source, steady, steps)).collect();
    tone.partials
        .iter()
        .filter(|partial| partial.rung.is_some_and(&chosen))
        .map(|partial| {
            let band = (partial.hz - NEAR_HZ / 2.0, partial.hz + NEAR_HZ / 2.0);
            let density = (surroundings.power(band.0, band.1)
                + crow.air_power(band.0, band.1, surroundings.sample_rate_hz))
                / NEAR_HZ;
            // White noise of this density has variance density·rate/2, and there are rate·STEP_S
            // samples to a step: the rate cancels.
            let samples = 2.0 * STEP_S / density;
            (TAU * partial.hz * cent).powi(2) * partial.power * samples * spreads[partial.source]
        })
        .sum()
}

/// Σ g²(t − t̄)² over the steps, t̄ being weighted by g².
fn time_spread(crow: &CrowSound, source: usize, steady: (f64, f64), steps: usize) -> f64 {
    let weighted: Vec<(f64, f64)> = (0..steps)
        .map(|step| steady.0 + (step as f64 + 0.5) * STEP_S)
        .map(|t_s| (t_s, crow.gain(source, t_s).powi(2)))
        .collect();
    let weight: f64 = weighted.iter().map(|(_, w)| w).sum();
    if weight <= 0.0 {
        return 0.0;
    }
    let middle = weighted.iter().map(|(t_s, w)| t_s * w).sum::<f64>() / weight;
    weighted.iter().map(|(t_s, w)| w * (t_s - middle).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::super::{Colour, CrowSound, Scene};

    /// One real sinusoid, 0.6 s at 48 kHz (so 0.5 s of steady part), 20 dB: Kay, Fundamentals of
    /// Statistical Signal Processing, 1993 (from memory): sd(f) = rate/2π·√(12/(η·N(N² − 1))) with
    /// η = A²/2σ². The sums run in steps of 1 ms: 1 in 10⁵.
    #[test]
    fn one_partial_gives_the_bound_of_a_sinusoid() {
        let mut crow = CrowSound::single(7000.0, 0.6);
        (crow.attack_s, crow.decay_s) = (0.0, 0.0);
        let scene = Scene::of_crow(crow, 0.1, 1).in_noise(Colour::White, 20.0);
        let truth = scene.render().truth;
        let n: f64 = 24_000.0;
        let sd_hz = 48_000.0 / std::f64::consts::TAU * (12.0 / (100.0 * n * (n * n - 1.0))).sqrt();
        let sd_cents = 1200.0 / std::f64::consts::LN_2 * sd_hz / 7000.0;
        let got = truth.crows[0].fundamental_bound_cents.unwrap();
        assert!((got / sd_cents - 1.0).abs() < 1e-4, "{got} {sd_cents}");
    }
}
