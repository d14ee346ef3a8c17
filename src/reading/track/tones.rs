//! The tones of a crow: one harmonic tone, or two that do not stand at 2:1.

use std::ops::Range;

use super::base::{Base, Bases};
use super::beside::{PARTS_FREEDOM, line_beside_own, line_beside_own_in_parts};
use super::disagree::{Disagreement, disagreement};
use super::family::{Family, NoiseProfile};
use super::line::{LOCKED_CENTS, Line};
use super::orders::{NOISE_CORRELATION, Orders};
use super::sought::{Sought, most_certain_line};
use super::turning::{self, turning_beside_own};
use super::wander::{Beside, disagreement_ci95, hidden_beside, wander_ci95};
use crate::dsp::phase::{MeanFrequency, PhaseTrack};
use crate::dsp::statistics::t_975;
use crate::units::CENTS_PER_E;

/// What the curvature leaves out of a deviation's interval (the ends of a stretch, partials chosen
/// by what they show), found by counting how often it held the truth of simulated crows.
const WIDENING: f64 = 1.08;
/// A lower tone has even partials of its own when they hold this share of what stands there …
const OWN_SHARE: f64 = 0.02;
/// … and from here on a line found between them and the upper tone's may be of both.
const MIXED_SHARE: f64 = 0.2;
/// One that only slipped explains no more than the line does.
const ONE_THAT_FOLLOWS: f64 = 1.02;
/// Tones this many half widths off the octave are two, however near it they are.
const SURELY_APART: f64 = 1.5;
/// So many half widths of their wander may lie between what the ends of two phases tell and what a straight
/// line through them does.
const MOST_WEIGHED: f64 = 2.0;
/// An interval that is to hold both is wider than their distance by what the ends are known to.
const ENDS_KNOWN: f64 = 1.25;
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
    let family = |multiples: Vec<usize>| Family { orders, base_bins, multiples, noise: &noise };
    let odd = family((1..=most).step_by(2).collect());
    let even = family((2..=most).step_by(2).collect());
    let odd_leads = lasting_power(&odd, frames.clone()) >= lasting_power(&even, frames.clone());
    let (leader, other) = if odd_leads { (&odd, &even) } else { (&even, &odd) };
    let track = match known.filter(|bases| bases.are_exact(orders, &frames)) {
        Some(bases) => {
            let base = if odd_leads { &bases.lower } else { &bases.upper };
            leader.phase_track_from(frames.clone(), base.over_reference(orders, frames.clone()))?
        }
        None => leader.leading_phase_track(frames.clone())?,
    };
    let stretch = Stretch { orders, base_bins, frames, together };
    let near = known.and_then(|bases| bases.deviation);
    let power = leader.power(stretch.together.clone());
    let sought = Sought::beside(power, near.map(|d| if odd_leads { d } else { -d }));
    let led = stretch.led(&track);
    let Some(line) = most_certain_line(other, stretch.together.clone(), led, sought) else {
        return Some(Tones { lower: track, upper: None, deviation: None, fitted: None });
    };
    let sign = if odd_leads { 1.0 } else { -1.0 };
    let Stands { mut deviation, wander, by_room } =
        stretch.stands(leader, &track, other, &line, sign)?;
    // The lower tone's own phase; beside its even partials the upper may stand off.
    let lower =
        if odd_leads { Some(track.clone()) } else { odd.phase_track(stretch.frames.clone()) };
    let least_own = if deviation.locked() { OWN_SHARE } else { MIXED_SHARE };
    let beside = lower.and_then(|track| stretch.beside_own(&odd, &even, track, least_own));
    let pair = Pair { lower_leads: odd_leads, is_beside: false, line, track, other, deviation };
    // Partials of a tone that wanders by itself agree on it.
    if beside.is_none()
        && !by_room
        && wander.is_some()
        && let Some(own) = stretch.own_course(&other.moved_beside(pair.line.deviation), &pair)
        && !stretch.go_together(&noise, &pair)
    {
        return stretch.apart(pair, own);
    }
    match beside {
        Some(pair) => stretch.two(&noise, &odd, pair),
        None if !deviation.locked() => stretch.two(&noise, &odd, pair),
        // Locked as a maker hears it, and yet two.
        None if deviation.cents.abs() > SURELY_APART * deviation.ci95_cents => {
            stretch.two(&noise, &odd, pair)
        }
        None => {
            if odd_leads {
                deviation.ci95_cents = deviation.ci95_cents.max(stretch.hidden_cents(&pair, &odd));
            }
            stretch.locked(&family((1..=most).collect()), &pair, deviation, wander)
        }
    }
}

/// How the other tone's line stands to the leader's multiples.
struct Stands {
    deviation: Deviation,
    /// How far the two wander apart, as half width of a 95 % interval of the ratio.
    wander: Option<f64>,
    /// Whether the partials of one of them disagree, as a room makes them.
    by_room: bool,
}

/// The frames of a crow over which its tones are held against each other.
pub(super) struct Stretch<'a> {
    pub(super) orders: &'a Orders,
    /// Bins per multiple of the lower tone's base.
    base_bins: f64,
    /// All frames.
    pub(super) frames: Range<usize>,
    /// Those in which both tones sound.
    pub(super) together: Range<usize>,
}

/// A tone, and another as a line beside its multiples.
pub(super) struct Pair<'a> {
    /// Phase of the leading tone's base over all frames.
    pub(super) track: PhaseTrack,
    /// Whether that is the lower tone.
    pub(super) lower_leads: bool,
    /// Whether the other stands beside partials of the leader's own.
    pub(super) is_beside: bool,
    /// The other as a line beside the leader's multiples, …
    pub(super) line: Line,
    /// … among these.
    pub(super) other: &'a Family<'a>,
    /// How the upper stands to the lower as that line tells it.
    pub(super) deviation: Deviation,
}

impl Pair<'_> {
    /// Phases of the lower and the upper tone's bases.
    pub(super) fn tracks(&self) -> (PhaseTrack, PhaseTrack) {
        let shifted = shifted_track(&self.track, self.line.deviation, self.line.sd);
        let track = self.track.clone();
        if self.lower_leads { (track, shifted) } else { (shifted, track) }
    }
}

impl Stretch<'_> {
    /// The part of a track, which is over all frames, in which both tones sound.
    pub(super) fn led<'t>(&self, track: &'t PhaseTrack) -> &'t [f64] {
        let (start, end) = (self.together.start, self.together.end);
        &track.cycles[start - self.frames.start..end - self.frames.start]
    }

    /// Student's factor: as many independent looks at the noise as the frames hold.
    pub(super) fn t(&self) -> f64 {
        t_975((self.together.len() as f64 / NOISE_CORRELATION - 2.0).max(2.0))
    }

    /// The leader's own noise, which a line's curvature does not know of, in cents.
    fn leader_sd_cents(&self, track: &PhaseTrack) -> Option<f64> {
        let led = self.led(track);
        let span =
            self.orders.time_s[self.together.end - 1] - self.orders.time_s[self.together.start];
        let scatter = (12.0 * NOISE_CORRELATION / led.len() as f64).sqrt();
        let slope_hz = track.noise_cycles[0] * scatter / span;
        let base_hz = (led.last()? - led.first()?) / span;
        Some(slope_hz / base_hz * CENTS_PER_E)
    }

    /// The deviation that a line beside the leader's multiples tells, `sign` being 1 where the lower tone
    /// leads and −1 where the upper does.
    fn of_line(&self, track: &PhaseTrack, line: &Line, sign: f64) -> Option<Deviation> {
        let known_cents = (line.sd * CENTS_PER_E).hypot(self.leader_sd_cents(track)?);
        Some(Deviation {
            cents: sign * 1200.0 * (1.0 + line.deviation).log2(),
            ci95_cents: WIDENING * self.t() * known_cents,
        })
    }

    /// The lower tone, and the upper as a line beside the lower's own even partials, if there is one.
    ///
    /// * `odd`, `even`: multiples of the lower tone's base; `track`: its phase over all frames.
    /// * `least_own`: share of what stands at the even ones that is the lower tone's own.
    fn beside_own<'f>(
        &self,
        odd: &Family<'_>,
        even: &'f Family<'f>,
        track: PhaseTrack,
        least_own: f64,
    ) -> Option<Pair<'f>> {
        let together = || self.together.clone();
        let led = self.led(&track);
        let (line, deviation) = match line_beside_own(even, odd, together(), led, least_own) {
            Some(line) => (line, self.of_line(&track, &line, 1.0)?),
            None => {
                let parts = line_beside_own_in_parts(even, odd, together(), led, least_own);
                let turning = || turning_beside_own(even, odd, together(), led, least_own);
                let (line, freedom) = match parts {
                    Some(line) => (line, PARTS_FREEDOM),
                    None => (turning()?, turning::PARTS_FREEDOM),
                };
                let ci95_cents = t_975(freedom) * line.sd * CENTS_PER_E;
                (line, Deviation { cents: 1200.0 * (1.0 + line.deviation).log2(), ci95_cents })
            }
        };
        Some(Pair { lower_leads: true, is_beside: true, line, track, other: even, deviation })
    }

    /// How the other tone's line stands to the leader's multiples, `sign` being 1 where the lower tone
    /// leads.
    fn stands(
        &self,
        leader: &Family<'_>,
        track: &PhaseTrack,
        other: &Family<'_>,
        line: &Line,
        sign: f64,
    ) -> Option<Stands> {
        let led = self.led(track);
        let mut deviation = self.of_line(track, line, sign)?;
        let predicted: Vec<f64> = led.iter().map(|c| c * (1.0 + line.deviation)).collect();
        let moved = other.detuned(line.deviation);
        let wander = wander_ci95(&moved, &self.together, &predicted, Beside::Nothing);
        if let Some(ci95) = wander {
            deviation.ci95_cents = deviation.ci95_cents.max(ci95 * CENTS_PER_E);
            // A straight line weighs the middle more, the mean is told by the ends; which of them a room
            // or noise has moved cannot be seen. What lies farther off is a phase that slipped.
            let off = self.mean_apart(&moved, led).map(|mean| (mean - line.deviation).abs());
            let slipped = || {
                let own = moved.phase_track(self.together.clone());
                let by_itself = own.map(|own| moved.explained(self.together.clone(), &own.cycles));
                let by_line = moved.explained(self.together.clone(), &predicted);
                by_line * ONE_THAT_FOLLOWS > 1.0
                    || by_itself.is_none_or(|by_itself| by_itself < ONE_THAT_FOLLOWS * by_line)
            };
            let off = off.filter(|off| *off < MOST_WEIGHED * ci95 || !slipped()).unwrap_or(0.0);
            deviation.ci95_cents = deviation.ci95_cents.max(ENDS_KNOWN * off * CENTS_PER_E);
        }
        // Beating, the partials of two unlocked tones disagree without any doubt.
        let mut by_room = false;
        if deviation.locked() {
            type Joins = fn(f64, f64) -> f64;
            for (family, reference, side, joins) in [
                (&moved, &predicted[..], sign, f64::max as Joins),
                (leader, led, -sign, f64::hypot),
            ] {
                // Less than its doubt is no reason to leave what the louder partials tell.
                let is_plain = |told: &Disagreement| told.deviation.abs() > told.ci95;
                let told = disagreement(family, &self.together, reference).filter(is_plain);
                if let Some(told) = told {
                    by_room = true;
                    deviation.cents += side * told.deviation * CENTS_PER_E;
                    deviation.ci95_cents = deviation.ci95_cents.hypot(told.ci95 * CENTS_PER_E);
                } else if let Some(ci95) = disagreement_ci95(family, &self.together, reference) {
                    deviation.ci95_cents = joins(deviation.ci95_cents, ci95 * CENTS_PER_E);
                }
            }
        }
        Some(Stands { deviation, wander, by_room })
    }

    /// How far the base of a family that wanders lies on the mean from the leader's, as a ratio: what the
    /// ends of both phases tell.
    fn mean_apart(&self, family: &Family<'_>, led: &[f64]) -> Option<f64> {
        let own = family.phase_track(self.together.clone())?;
        let apart = own.cycles.iter().zip(led).map(|(own, led)| own - led).collect();
        let mean = PhaseTrack { cycles: apart, ..own }.mean_frequency(NOISE_CORRELATION, true)?;
        let span =
            self.orders.time_s[self.together.end - 1] - self.orders.time_s[self.together.start];
        Some(mean.hz * span / (led.last()? - led.first()?))
    }

    /// How far off the octave an upper tone may stand that hides beside the even partials of the lower.
    fn hidden_cents(&self, pair: &Pair<'_>, odd: &Family<'_>) -> f64 {
        let led = self.led(&pair.track);
        hidden_beside(pair.other, odd, &self.together, led).map_or(0.0, |ratio| ratio * CENTS_PER_E)
    }

    /// Both tones as one, which all partials tell. Tones that wander apart have each a mean of its own,
    /// which that of both may miss by as much.
    fn locked(
        &self,
        both: &Family<'_>,
        pair: &Pair<'_>,
        deviation: Deviation,
        wander: Option<f64>,
    ) -> Option<Tones> {
        let share = self.base_bins / self.orders.bins_per_unit as f64;
        let led = self.frames.clone().zip(&pair.track.cycles);
        let offset =
            led.map(|(b, cycles)| cycles - share * self.orders.reference_cycles[b]).collect();
        let common = both.phase_track_from(self.frames.clone(), offset)?;
        let fitted = wander.and_then(|_| {
            let leader = pair.track.mean_frequency(NOISE_CORRELATION, true)?;
            let apart_hz = deviation.ci95_cents / CENTS_PER_E * leader.hz;
            let ratio = (deviation.cents / 1200.0).exp2();
            let other = |ratio: f64| MeanFrequency {
                hz: leader.hz * ratio,
                ci95_hz: leader.ci95_hz.hypot(apart_hz),
            };
            Some(if pair.lower_leads {
                FittedMeans { lower: leader, upper: other(ratio) }
            } else {
                FittedMeans { lower: other(1.0 / ratio), upper: leader }
            })
        });
        let (lower, upper) = (common.clone(), Some(common));
        Some(Tones { lower, upper, deviation: Some(deviation), fitted })
    }
}

/// Mean frequency of a track from its ends alone, in hertz.
pub(super) fn span_hz(track: &PhaseTrack) -> Option<f64> {
    let cycles = track.cycles.last()? - track.cycles.first()?;
    Some(cycles / (track.time_s.last()? - track.time_s.first()?))
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
/// that comes late is not a guide for the time before.
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
