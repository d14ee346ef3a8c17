//! The tones of a crow: one harmonic tone, or two that do not stand at 2:1.

use std::ops::Range;

use super::base::{Base, Bases};
use super::family::{Family, NoiseProfile};
use super::ladder::{Sought, line_beside_own, most_certain_line};
use super::orders::{NOISE_CORRELATION, Orders};
use super::two_tones::{self, TwoTones};
use super::wander::{Beside, disagreement_ci95, wander_ci95};
use crate::dsp::phase::{MeanFrequency, PhaseTrack};
use crate::dsp::statistics::t_975;

/// Octaves within this of 2:1 are locked.
pub const LOCKED_CENTS: f64 = 5.0;
/// What the curvature leaves out of a deviation's interval (the ends of a stretch, partials chosen
/// by what they show), found by counting how often it held the truth of simulated crows.
const WIDENING: f64 = 1.08;
/// A lower tone has even partials of its own when they hold this share of what stands there …
const OWN_SHARE: f64 = 0.02;
/// … and from here on a line found between them and the upper tone's may be of both.
const MIXED_SHARE: f64 = 0.2;
/// Tones this many half widths off the octave are two, however near it they are.
const SURELY_APART: f64 = 1.5;
/// Cents of a small ratio.
pub const CENTS: f64 = 1200.0 / std::f64::consts::LN_2;

/// How the upper tone stands to twice the lower.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deviation {
    /// 1200·log2(f_upper / (2·f_lower)).
    pub cents: f64,
    /// Half width of the 95 % interval.
    pub ci95_cents: f64,
}

impl Deviation {
    /// Within the tolerance, or not told from 0.
    pub fn locked(&self) -> bool {
        self.cents.abs() <= LOCKED_CENTS || self.cents.abs() <= self.ci95_cents
    }
}

/// The tones of a stretch of sound along its lowest tone, from `lowest` times its base up.
#[derive(Debug)]
pub struct Tones {
    /// Phase of the base as the lower tone tells it.
    pub lower: PhaseTrack,
    /// Phase of the base as the upper tone tells it, where there is one.
    pub upper: Option<PhaseTrack>,
    /// How they stand to each other.
    pub deviation: Option<Deviation>,
    /// Mean frequencies of both bases from the fit of both, where one stands.
    pub fitted: Option<FittedMeans>,
}

/// Mean frequencies of the bases of two tones fitted together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedMeans {
    /// Of the lower tone.
    pub lower: MeanFrequency,
    /// Half the upper tone's.
    pub upper: MeanFrequency,
}

/// Tones over `frames`, `lowest` being the multiple of the base that is the lower tone.
///
/// The stronger of the two families gives a phase track, and the other is sought as a line beside
/// the multiples that track predicts: whatever both do together (drift, spread) cancels. Where the
/// bases are roughly known, both start from there.
///
/// * `together`: those of `frames` in which both sound, where that is known; over these they are
///   held against each other.
pub fn tones(
    orders: &Orders,
    noise: &NoiseProfile,
    lowest: usize,
    frames: Range<usize>,
    together: Range<usize>,
    known: Option<&Bases>,
) -> Option<Tones> {
    let base_bins = (orders.bins_per_unit * lowest) as f64;
    let most = (orders.bins as f64 / base_bins) as usize;
    // The profile is by multiples of the base; a higher lowest tone skips those between.
    let noise = NoiseProfile { mean_square: (0..=most).map(|m| noise.at(m * lowest)).collect() };
    let family = |first: usize| Family {
        orders,
        base_bins,
        multiples: (first..=most).step_by(2).collect(),
        noise: &noise,
    };
    let (odd, even) = (family(1), family(2));
    let odd_leads = lasting_power(&odd, frames.clone()) >= lasting_power(&even, frames.clone());
    let (leader, other) = if odd_leads { (&odd, &even) } else { (&even, &odd) };
    let track = match known.filter(|bases| bases.are_exact(orders, &frames)) {
        Some(bases) => {
            let base = if odd_leads { &bases.lower } else { &bases.upper };
            leader.phase_track_from(frames.clone(), base.over_reference(orders, frames.clone()))?
        }
        None => leader.phase_track(frames.clone())?,
    };
    let near = known.and_then(|bases| bases.deviation);
    let power = leader.power(together.clone());
    let sought = Sought::beside(power, near.map(|d| if odd_leads { d } else { -d }));
    let led = &track.cycles[together.start - frames.start..together.end - frames.start];
    let Some(line) = most_certain_line(other, together.clone(), led, sought) else {
        return Some(Tones { lower: track, upper: None, deviation: None, fitted: None });
    };
    // As many independent looks at the noise as the frames hold.
    let t = t_975((together.len() as f64 / NOISE_CORRELATION - 2.0).max(2.0));
    let sign = if odd_leads { 1.0 } else { -1.0 };
    let mut deviation = Deviation {
        cents: sign * 1200.0 * (1.0 + line.deviation).log2(),
        ci95_cents: t * line.sd * CENTS,
    };
    // The leader's own noise, which the line's curvature does not know of.
    let leader_sd = {
        let n = led.len() as f64;
        let span = orders.time_s[together.end - 1] - orders.time_s[together.start];
        let slope = track.noise_cycles[0] * (12.0 * NOISE_CORRELATION / n).sqrt() / span;
        let base_hz = (led.last()? - led.first()?) / span;
        slope / base_hz * CENTS
    };
    deviation.ci95_cents = WIDENING * deviation.ci95_cents.hypot(t * leader_sd);
    let predicted: Vec<f64> = led.iter().map(|cycles| cycles * (1.0 + line.deviation)).collect();
    let moved = other.detuned(line.deviation);
    let wander = wander_ci95(&moved, &together, &predicted, Beside::Nothing);
    if let Some(ci95) = wander {
        deviation.ci95_cents = deviation.ci95_cents.max(ci95 * CENTS);
    }
    // Beating, the partials of two unlocked tones disagree without any doubt.
    if deviation.locked() {
        if let Some(ci95) = disagreement_ci95(&moved, &together, &predicted) {
            deviation.ci95_cents = deviation.ci95_cents.max(ci95 * CENTS);
        }
        if let Some(ci95) = disagreement_ci95(leader, &together, led) {
            deviation.ci95_cents = deviation.ci95_cents.hypot(ci95 * CENTS);
        }
    }
    let odd_track = if odd_leads { Some(track.clone()) } else { odd.phase_track(frames.clone()) };
    let beside = odd_track.and_then(|odd_track| {
        let led = &odd_track.cycles[together.start - frames.start..together.end - frames.start];
        let least_own = if deviation.locked() { OWN_SHARE } else { MIXED_SHARE };
        Some((line_beside_own(&even, &odd, together.clone(), led, least_own)?, odd_track))
    });
    let apart = deviation.cents.abs() > SURELY_APART * deviation.ci95_cents;
    if deviation.locked() && beside.is_none() && apart {
        // Locked as a maker hears it, and yet two: each has its own mean.
        let shifted = shifted_track(&track, line.deviation, line.sd);
        let (lower, upper) = if odd_leads { (track, shifted) } else { (shifted, track) };
        return Some(Tones { lower, upper: Some(upper), deviation: Some(deviation), fitted: None });
    }
    if deviation.locked() && beside.is_none() {
        let both = Family { multiples: (1..=most).collect(), ..leader.clone() };
        let share = lowest as f64;
        let led = frames.clone().zip(&track.cycles);
        let offset = led.map(|(b, cycles)| cycles - share * orders.reference_cycles[b]).collect();
        let common = both.phase_track_from(frames, offset)?;
        // Tones that wander apart have each a mean of its own, which that of both may miss by as much.
        let mean = common.mean_frequency(NOISE_CORRELATION, true);
        let fitted = mean.zip(wander).map(|(mean, ci95)| {
            let apart = MeanFrequency { ci95_hz: mean.ci95_hz.hypot(ci95 * mean.hz), ..mean };
            FittedMeans { lower: apart, upper: apart }
        });
        return Some(Tones {
            lower: common.clone(),
            upper: Some(common),
            deviation: Some(deviation),
            fitted,
        });
    }
    // Beside its own even partials, the lower tone leads and the upper is what stands off.
    let is_beside = beside.is_some();
    let (line, lower_leads, track, moved, predicted) = match beside {
        Some((beside, odd_track)) => {
            deviation = Deviation {
                cents: 1200.0 * (1.0 + beside.deviation).log2(),
                ci95_cents: WIDENING * (t * beside.sd * CENTS).hypot(t * leader_sd),
            };
            let led = &odd_track.cycles[together.start - frames.start..together.end - frames.start];
            let predicted = led.iter().map(|cycles| cycles * (1.0 + beside.deviation)).collect();
            (beside, true, odd_track, even.detuned(beside.deviation), predicted)
        }
        None => (line, odd_leads, track, moved, predicted),
    };
    let shifted = shifted_track(&track, line.deviation, line.sd);
    let (lower, upper) = if lower_leads { (track, shifted) } else { (shifted, track) };
    let fitted = fit_both(orders, &noise, base_bins, &lower, &upper, frames);
    if let Some(both) = fitted {
        deviation = Deviation {
            cents: 1200.0 * (both.half_upper_hz / both.lower_hz).log2(),
            ci95_cents: t * both.difference_sd_hz / both.lower_hz * CENTS,
        };
    }
    let near = if is_beside {
        Beside::Own(1.0 / (1.0 + line.deviation) - 1.0)
    } else {
        Beside::Beats(1.0 / (deviation.cents.abs() / CENTS * 2.0 * span_hz(&lower)?))
    };
    if let Some(ci95) = wander_ci95(&moved, &together, &predicted, near) {
        deviation.ci95_cents = deviation.ci95_cents.max(ci95 * CENTS);
    }
    if fitted.is_none() {
        // Read one after the other, each tone is pulled by lines the fit would have told apart.
        let difference_hz = deviation.cents.abs() / CENTS * 2.0 * span_hz(&lower)?;
        let pull_hz = pull_ci95_hz(&lower, difference_hz)?;
        deviation.ci95_cents =
            deviation.ci95_cents.hypot(pull_hz / span_hz(&lower)? * CENTS * 2.0_f64.sqrt());
    }
    let fitted = match fitted {
        Some(both) => FittedMeans {
            lower: MeanFrequency { hz: both.lower_hz, ci95_hz: t * both.lower_sd_hz },
            upper: MeanFrequency { hz: both.half_upper_hz, ci95_hz: t * both.half_upper_sd_hz },
        },
        None => {
            let difference_hz = deviation.cents.abs() / CENTS * 2.0 * span_hz(&lower)?;
            let pull_hz = pull_ci95_hz(&lower, difference_hz)?;
            let pulled = |track: &PhaseTrack| {
                let mean = track.mean_frequency(NOISE_CORRELATION, true)?;
                Some(MeanFrequency { ci95_hz: mean.ci95_hz.hypot(pull_hz), ..mean })
            };
            FittedMeans { lower: pulled(&lower)?, upper: pulled(&upper)? }
        }
    };
    Some(Tones { lower, upper: Some(upper), deviation: Some(deviation), fitted: Some(fitted) })
}

/// Mean frequency of a track from its ends alone, in hertz.
fn span_hz(track: &PhaseTrack) -> Option<f64> {
    let cycles = track.cycles.last()? - track.cycles.first()?;
    Some(cycles / (track.time_s.last()? - track.time_s.first()?))
}

/// How far a line 20 dB under a tone, `difference_hz` beside it, may pull the tone's frequency, in
/// hertz: the slope of the phase ripple it makes, at worst 12/(2πT³)·a·T/(2πd) for the relative
/// amplitude a and the stretch T.
fn pull_ci95_hz(track: &PhaseTrack, difference_hz: f64) -> Option<f64> {
    let span = track.time_s.last()? - track.time_s.first()?;
    Some(0.304 * 0.1 / (span * (difference_hz * span).max(1.0)))
}

/// Both tones and their combination tones in one fit, about the smooth course of the upper: other
/// lines make its phase ripple at the rate of their difference, which is averaged out.
fn fit_both(
    orders: &Orders,
    noise: &NoiseProfile,
    base_bins: f64,
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
    let smooth = upper.smooth(1.0 / difference_hz.abs(), NOISE_CORRELATION)?;
    let base = Base::new(orders, &frames, &PhaseTrack { cycles: smooth.clone(), ..upper.clone() });
    let units = base_bins / orders.bins_per_unit as f64;
    let family = Family {
        orders,
        base_bins: if base.bins == orders.bins_per_unit as f64 * units {
            base_bins
        } else {
            base.bins
        },
        multiples: Vec::new(),
        noise,
    };
    two_tones::fit(&family, frames, &smooth, difference_hz)
}

/// The tone of all partials from `lowest` times the base up, taken as one: for octaves that take
/// turns, whose phases cannot be held against each other because they hardly sound together.
pub fn one_tone(
    orders: &Orders,
    noise: &NoiseProfile,
    lowest: usize,
    frames: Range<usize>,
) -> Option<Tones> {
    let most = orders.bins / orders.bins_per_unit;
    let all = Family {
        orders,
        base_bins: orders.bins_per_unit as f64,
        multiples: (1..=most / lowest).map(|m| m * lowest).collect(),
        noise,
    };
    let mut track = all.phase_track(frames)?;
    track.cycles.iter_mut().chain(&mut track.noise_cycles).for_each(|c| *c *= lowest as f64);
    Some(Tones { lower: track, upper: None, deviation: None, fitted: None })
}

/// What power a family keeps up: its mean power in the weaker half of the stretch. A strong tone
/// that comes late is no guide for the time before.
fn lasting_power(family: &Family<'_>, frames: Range<usize>) -> f64 {
    let pieces = 8.min(frames.len());
    let mut powers: Vec<f64> = (0..pieces)
        .map(|i| {
            let at = |i: usize| frames.start + i * frames.len() / pieces;
            family.power(at(i)..at(i + 1))
        })
        .collect();
    powers.sort_by(f64::total_cmp);
    powers.iter().take(pieces.div_ceil(2)).sum()
}

/// The phase track of a tone that stands `deviation` off another's.
fn shifted_track(track: &PhaseTrack, deviation: f64, sd: f64) -> PhaseTrack {
    let middle = track.cycles.iter().sum::<f64>() / track.cycles.len().max(1) as f64;
    // A frequency with the relative deviation `sd` is what a line through n phases with this
    // scatter has.
    let n = track.cycles.len() as f64;
    let span = track.cycles.last().unwrap_or(&0.0) - track.cycles.first().unwrap_or(&0.0);
    let scatter = sd * span * (n / (12.0 * NOISE_CORRELATION)).sqrt();
    PhaseTrack {
        time_s: track.time_s.clone(),
        cycles: track.cycles.iter().map(|c| middle + (c - middle) * (1.0 + deviation)).collect(),
        noise_cycles: vec![scatter; track.cycles.len()],
    }
}

impl Tones {
    /// The bases of both, over all frames of `orders`, from the tones of the frames `core`.
    pub fn bases(&self, orders: &Orders, core: &Range<usize>) -> Bases {
        let lower = Base::new(orders, core, &self.lower);
        let upper = self.upper.as_ref().map(|upper| Base::new(orders, core, upper));
        let deviation = self.deviation.map(|deviation| (deviation.cents / 1200.0).exp2() - 1.0);
        Bases { upper: upper.unwrap_or_else(|| lower.clone()), lower, deviation }
    }

    /// Mean frequency of the lower tone's base.
    pub fn lower_mean(&self) -> Option<MeanFrequency> {
        self.fitted
            .map(|means| means.lower)
            .or_else(|| self.lower.mean_frequency(NOISE_CORRELATION, true))
    }

    /// Mean frequency of the base the upper tone tells: half its own; the lower's where there is
    /// no other.
    pub fn upper_mean(&self) -> Option<MeanFrequency> {
        let track = self.upper.as_ref().unwrap_or(&self.lower);
        self.fitted
            .map(|means| means.upper)
            .or_else(|| track.mean_frequency(NOISE_CORRELATION, true))
    }
}
