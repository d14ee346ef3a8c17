//! An upper tone beside the lower one's even partials that wanders by itself: no line over a whole crow, but
//! it turns against them from one frame to the next.
//!
//! The mean rate at which a series turns is the phase of its autocorrelation at one frame, however it wanders
//! meanwhile (the pulse-pair estimator; D. S. Zrnić, IEEE Trans. GE-15, 1977, pp. 344-354, from memory).

use std::ops::Range;

use realfft::num_complex::Complex;

use super::beside::nearest;
use super::family::Family;
use super::line::{Line, LineSearch};
use super::sought::{STRETCH, Stretches, from_multiples};
use super::wander::NOISE_KEPT;
use crate::dsp::statistics::{mean, sample_sd};
use crate::units::CENTS_PER_E;

/// Partials that are asked: higher ones turn faster than frames follow.
const PARTIALS: usize = 3;
/// Beside the even partials this share of their power is left at least, …
const LEAST_LEFT: f64 = 0.03;
/// … and so many times less beside the odd ones.
const OVER_ODD: f64 = 4.0;
/// What is left turns as one tone: the autocorrelation at one frame is this share of its power at least.
const LEAST_COHERENCE: f64 = 0.85;
/// Its partials agree within this, in cents.
const AGREE_CENTS: f64 = 12.0;
/// It is looked at in so many parts of the crow, which scatter as its interval tells, …
const PARTS: usize = 6;
/// … each at least so long.
const LEAST_PART_S: f64 = 0.05;
/// Degrees of freedom of how far the parts scatter.
pub const PARTS_FREEDOM: f64 = PARTS as f64 - 1.0;

/// What turns beside the even partials that a tone has of its own: the mean of what the parts of the crow
/// tell, and how far they scatter as the standard deviation of that mean, with [`PARTS_FREEDOM`] degrees of
/// freedom. `None` where nothing is left beside them that is one tone.
///
/// * `odd`: the same tone's odd partials.
/// * `reference`: `[frames]` phase of the base as they tell it, in cycles.
/// * `least_own`: share of the family's power that the lower tone's own partials hold at least.
pub fn turning_beside_own(
    family: &Family<'_>,
    odd: &Family<'_>,
    frames: Range<usize>,
    reference: &[f64],
    least_own: f64,
) -> Option<Line> {
    let there = Stretches { frames: frames.clone(), reference, partials: PARTIALS };
    let own = there.at(family, 0.0)?;
    let (of_even, of_odd) = (own.power_of_all(), there.at(odd, 0.0)?.power_of_all());
    if own.locked_power() < least_own * of_even {
        return None;
    }
    let found = Stretches::all().filter_map(|detune| {
        let left = there.beside_own(family, detune)?;
        let share = left.power_of_all() / of_even;
        let whole = Turning::of(&left, 0..frames.len())?;
        // It is read from the bins it lies in, …
        let is_there = whole.deviation.abs() <= STRETCH / 2.0 && whole.is_one_tone();
        if share < LEAST_LEFT || !is_there {
            return None;
        }
        // … and what swells, fades or winds does so in all partials.
        let of_odd = there.beside_own(odd, detune)?.power_of_all() / of_odd;
        (share > OVER_ODD * of_odd).then_some((whole, detune, left))
    });
    let (_, detune, left) = found.max_by(|(a, ..), (b, ..)| a.power.total_cmp(&b.power))?;
    let per_part = frames.len() / PARTS;
    if per_part as f64 * family.orders.hop_s() < LEAST_PART_S {
        return None;
    }
    let each: Vec<f64> = (0..PARTS)
        .filter_map(|part| Turning::of(&left, part * per_part..(part + 1) * per_part))
        .map(|part| from_multiples(detune, part.deviation))
        .collect();
    let whole = mean(&each).filter(|_| each.len() == PARTS)?;
    let sd = sample_sd(&each)? / (PARTS as f64).sqrt();
    (whole.abs() > nearest(family, frames.len())?).then_some(Line {
        deviation: whole,
        sd,
        evidence: 0.0,
        locked_evidence: 0.0,
        partials: PARTIALS,
        power: left.power_of_all(),
    })
}

/// How fast what is left turns.
struct Turning {
    /// Against the partials it is read beside, as a ratio.
    deviation: f64,
    /// Its power, on an arbitrary scale.
    power: f64,
    /// Of each partial: how far off, as a ratio, its power, and its coherence.
    each: Vec<(f64, f64, f64)>,
}

impl Turning {
    fn of(left: &LineSearch, frames: Range<usize>) -> Option<Self> {
        let each: Vec<(f64, f64, f64)> = (0..PARTIALS)
            .filter_map(|partial| {
                let (multiple_hz, noise, series) = left.series(partial)?;
                let series = series.get(frames.clone())?;
                let count = series.len() as f64;
                let power = series.iter().map(Complex::norm_sqr).sum::<f64>() - noise * count;
                let next: Complex<f64> = series.windows(2).map(|two| two[1] * two[0].conj()).sum();
                let next = next - NOISE_KEPT * noise * (count - 1.0);
                let turns_hz = next.arg() / (std::f64::consts::TAU * left.hop_s());
                (power > 0.0).then(|| (turns_hz / multiple_hz, power, next.norm() / power))
            })
            .collect();
        let power: f64 = each.iter().map(|(_, power, _)| power).sum();
        let deviation = each.iter().map(|(off, power, _)| off * power).sum::<f64>() / power;
        deviation.is_finite().then_some(Self { deviation, power, each })
    }

    /// Whether two partials at least turn alike, each as one tone does.
    fn is_one_tone(&self) -> bool {
        let alike = self.each.iter().filter(|(off, _, coherence)| {
            *coherence > LEAST_COHERENCE && (off - self.deviation).abs() * CENTS_PER_E < AGREE_CENTS
        });
        alike.count() >= 2
    }
}
