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

/// From so many times the noise on, in what the fit leaves, the means of both tones are known no better than the
/// phase of each tells: in a room where a crow ends is not known, which no fit sees.
const FITS: f64 = 4.0;

/// Tones that seem to wander apart go together where one fit of both leaves no more than this many times the
/// noise.
const WELL_FITTED: f64 = 8.0;

impl Stretch<'_> {
    /// Both tones in one fit, where that stands.
    fn fit(&self, noise: &NoiseProfile, pair: &Pair<'_>) -> Option<TwoTones> {
        let (lower, upper) = &pair.tracks();
        // The lower tone's odd partials have no other's beside them: of a loud upper tone theirs is the course
        // that does not ripple.
        let own = || pair.other.moved_beside(pair.line.deviation).phase_track(self.frames.clone());
        let by_odd = if pair.lower_leads { None } else { own() };
        let courses = Courses { lower, upper, by_odd };
        fit_both(self.orders, noise, &courses, self.frames.clone())
    }

    /// Whether both tones in one fit leave no more than noise does, or little more.
    pub(super) fn go_together(&self, noise: &NoiseProfile, pair: &Pair<'_>) -> bool {
        self.fit(noise, pair).is_some_and(|both| both.misfit <= WELL_FITTED)
    }

    /// Two tones off the octave, fitted together where that stands.
    pub(super) fn two(
        &self,
        noise: &NoiseProfile,
        odd: &Family<'_>,
        pair: Pair<'_>,
    ) -> Option<Tones> {
        let both = self.fit(noise, &pair);
        let Pair { is_beside, line, other, .. } = pair;
        let (lower, upper) = pair.tracks();
        let moved = other.moved_beside(line.deviation);
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
                let mean = |hz: f64, sd_hz: f64, more: f64, alone: &PhaseTrack| {
                    let ci95_hz = (self.t() * sd_hz).hypot(own).hypot(more * lower_hz);
                    let by_itself = alone
                        .mean_frequency(NOISE_CORRELATION, true)
                        .filter(|_| both.misfit > FITS)
                        .map_or(0.0, |mean| mean.ci95_hz.hypot(mean.hz - hz));
                    MeanFrequency { hz, ci95_hz: ci95_hz.max(by_itself) }
                };
                FittedMeans {
                    // Fitted about the upper tone's course, from which it wanders.
                    lower: mean(both.lower_hz, both.lower_sd_hz, wander.unwrap_or(0.0), &lower),
                    upper: mean(both.half_upper_hz, both.half_upper_sd_hz, 0.0, &upper),
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

/// Phases that two tones may be fitted about.
struct Courses<'a> {
    /// Of the lower tone's base …
    lower: &'a PhaseTrack,
    /// … and of half the upper tone, as one was read beside the other.
    upper: &'a PhaseTrack,
    /// Of the lower tone's base as its odd partials tell it, where the upper one led.
    by_odd: Option<PhaseTrack>,
}

impl Courses<'_> {
    /// That of the lower tone's own odd partials, as half the upper tone would go along with it.
    fn along_odd(&self) -> Option<PhaseTrack> {
        let odd = self.by_odd.as_ref()?;
        let ratio = span_hz(self.upper)? / span_hz(self.lower)?;
        let cycles = odd.cycles.iter().map(|cycles| cycles * ratio).collect();
        Some(PhaseTrack { cycles, ..odd.clone() })
    }
}

/// Both tones and their combination tones in one fit, about a drift, or about a course that wanders where
/// that leaves clearly less: of the upper tone, or of the lower one's odd partials. Other lines make a phase
/// ripple at the rate of their difference, which is averaged out.
fn fit_both(
    orders: &Orders,
    noise: &NoiseProfile,
    courses: &Courses<'_>,
    frames: Range<usize>,
) -> Option<TwoTones> {
    let upper = courses.upper;
    let difference_hz = 2.0 * (span_hz(upper)? - span_hz(courses.lower)?);
    let fit_about = |cycles: Vec<f64>, by_lower: bool| {
        let course = PhaseTrack { cycles, ..upper.clone() };
        let base = Base::new(orders, &frames, &course);
        let family = Family { orders, base_bins: base.bins, multiples: Vec::new(), noise };
        two_tones::fit(&family, frames.clone(), &course.cycles, difference_hz, by_lower)
    };
    let drifting = fit_about(upper.drifting()?, false);
    if drifting.is_some_and(|fit| fit.misfit <= WANDER_EXPLAINS) {
        return drifting;
    }
    let smooth = |track: &PhaseTrack| track.wandering(1.0 / difference_hz.abs(), NOISE_CORRELATION);
    let along_odd = courses.along_odd();
    let odd_smooth = along_odd.as_ref().and_then(smooth);
    let by_lower = [odd_smooth, along_odd.map(|track| track.cycles)];
    let wandering = by_lower.into_iter().flatten().map(|cycles| (cycles, true));
    let wandering = smooth(upper).map(|cycles| (cycles, false)).into_iter().chain(wandering);
    let fits = wandering.filter_map(|(cycles, by_lower)| fit_about(cycles, by_lower));
    let best = fits.min_by(|a, b| a.misfit.total_cmp(&b.misfit));
    let better =
        |other: &TwoTones| drifting.is_none_or(|fit| other.misfit * WANDER_EXPLAINS < fit.misfit);
    best.filter(better).or(drifting)
}
