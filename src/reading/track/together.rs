//! Two tones off the octave, fitted together.

use std::ops::Range;

use super::base::Base;
use super::family::{Family, NoiseProfile};
use super::line::LOCKED_CENTS;
use super::orders::{NOISE_CORRELATION, Orders};
use super::tones::{Deviation, FittedMeans, Pair, Stretch, Tones, span_hz};
use super::two_tones::{self, TwoTones};
use super::wander::{Beside, hidden_beside, wander_ci95};
use crate::dsp::phase::{MeanFrequency, PhaseTrack};
use crate::units::CENTS_PER_E;

/// Two tones that beat fewer times than this in a crow may hide partials of the lower's own in what is
/// taken for the upper's.
const FEW_BEATS: f64 = 6.5;

impl Stretch<'_> {
    /// Two tones off the octave, fitted together where that stands.
    pub(super) fn two(
        &self,
        noise: &NoiseProfile,
        odd: &Family<'_>,
        pair: Pair<'_>,
    ) -> Option<Tones> {
        let Pair { is_beside, line, other, .. } = pair;
        let (lower, upper) = pair.tracks();
        let both = fit_both(self.orders, noise, &lower, &upper, self.frames.clone());
        let lower_hz = span_hz(&lower)?;
        let mut deviation = both.map_or(pair.deviation, |both| Deviation {
            cents: 1200.0 * (both.half_upper_hz / both.lower_hz).log2(),
            ci95_cents: self.t() * both.difference_sd_hz / both.lower_hz * CENTS_PER_E,
        });
        let difference_hz = deviation.cents.abs() / CENTS_PER_E * 2.0 * lower_hz;
        let near = if is_beside {
            Beside::Own(1.0 / (1.0 + line.deviation) - 1.0)
        } else {
            Beside::Beats(1.0 / difference_hz)
        };
        let led = self.led(&pair.track);
        let predicted: Vec<f64> = led.iter().map(|c| c * (1.0 + line.deviation)).collect();
        let moved = other.moved_beside(line.deviation);
        let mut widen = |ci95: Option<f64>| {
            let cents = ci95.map_or(0.0, |ci95| ci95 * CENTS_PER_E);
            deviation.ci95_cents = deviation.ci95_cents.max(cents);
        };
        let wander = wander_ci95(&moved, &self.together, &predicted, near);
        widen(wander);
        let beats = difference_hz * self.orders.hop_s() * self.together.len() as f64;
        if pair.lower_leads && !is_beside && beats < FEW_BEATS {
            widen(hidden_beside(&moved, odd, &self.together, &predicted));
        }
        let fitted = match both {
            Some(both) => {
                // About a course that wanders itself, as a tone alone does.
                let own = wander_of(&upper, difference_hz);
                let mean = |hz: f64, sd_hz: f64, more: f64| {
                    let ci95_hz = (self.t() * sd_hz).hypot(own).hypot(more * lower_hz);
                    MeanFrequency { hz, ci95_hz }
                };
                FittedMeans {
                    // Fitted about the upper tone's course, from which it wanders.
                    lower: mean(both.lower_hz, both.lower_sd_hz, wander.unwrap_or(0.0)),
                    upper: mean(both.half_upper_hz, both.half_upper_sd_hz, 0.0),
                }
            }
            // So near the octave, no line of the other pulls it.
            None if deviation.cents.abs() <= LOCKED_CENTS => {
                let upper = Some(upper);
                return Some(Tones { lower, upper, deviation: Some(deviation), fitted: None });
            }
            None => {
                // Read one after the other, each tone is pulled by lines the fit would have told apart.
                let pull_hz = pull_ci95_hz(&lower, difference_hz)?;
                deviation.ci95_cents =
                    deviation.ci95_cents.hypot(pull_hz / lower_hz * CENTS_PER_E * 2.0_f64.sqrt());
                let pulled = |track: &PhaseTrack| {
                    let mean = track.mean_frequency(NOISE_CORRELATION, true)?;
                    Some(MeanFrequency { ci95_hz: mean.ci95_hz.hypot(pull_hz), ..mean })
                };
                FittedMeans { lower: pulled(&lower)?, upper: pulled(&upper)? }
            }
        };
        let upper = Some(upper);
        Some(Tones { lower, upper, deviation: Some(deviation), fitted: Some(fitted) })
    }
}

/// Half width of the 95 % interval that a tone's own wander leaves of its mean, in hertz; 0 where it only
/// drifts, or its phase only ripples with another's lines `difference_hz` beside it.
fn wander_of(track: &PhaseTrack, difference_hz: f64) -> f64 {
    let course = track.wandering(1.0 / difference_hz.abs(), NOISE_CORRELATION);
    let mean = course.and_then(|cycles| {
        PhaseTrack { cycles, ..track.clone() }.mean_frequency(NOISE_CORRELATION, true)
    });
    mean.map_or(0.0, |mean| mean.ci95_hz)
}

/// How far a line 20 dB under a tone, `difference_hz` beside it, may pull the tone's frequency, in
/// hertz: the slope of the phase ripple it makes, at worst 12/(2πT³)·a·T/(2πd) for the relative
/// amplitude a and the stretch T.
fn pull_ci95_hz(track: &PhaseTrack, difference_hz: f64) -> Option<f64> {
    let span = track.time_s.last()? - track.time_s.first()?;
    Some(0.304 * 0.1 / (span * (difference_hz * span).max(1.0)))
}

/// A course that wanders explains what is there better than a drift that leaves so many times as much.
const WANDER_EXPLAINS: f64 = 1.5;

/// Both tones and their combination tones in one fit, about the course of the upper: a drift, or one that
/// wanders where that leaves clearly less. Other lines make its phase ripple at the rate of their
/// difference, which is averaged out.
fn fit_both(
    orders: &Orders,
    noise: &NoiseProfile,
    lower: &PhaseTrack,
    upper: &PhaseTrack,
    frames: Range<usize>,
) -> Option<TwoTones> {
    let span = |track: &PhaseTrack| {
        let ends = track.cycles.last().zip(track.cycles.first());
        ends.map_or(0.0, |(last, first)| last - first)
    };
    let seconds = upper.time_s.last()? - upper.time_s.first()?;
    let difference_hz = 2.0 * (span(upper) - span(lower)) / seconds;
    let fit_about = |cycles: Vec<f64>| {
        let course = PhaseTrack { cycles, ..upper.clone() };
        let base = Base::new(orders, &frames, &course);
        let family = Family { orders, base_bins: base.bins, multiples: Vec::new(), noise };
        two_tones::fit(&family, frames.clone(), &course.cycles, difference_hz)
    };
    let drifting = fit_about(upper.drifting()?);
    let wandering = || fit_about(upper.wandering(1.0 / difference_hz.abs(), NOISE_CORRELATION)?);
    match drifting {
        Some(fit) if fit.misfit <= WANDER_EXPLAINS => Some(fit),
        Some(fit) => {
            let better = |other: &TwoTones| other.misfit * WANDER_EXPLAINS < fit.misfit;
            wandering().filter(better).or(Some(fit))
        }
        None => wandering(),
    }
}
