//! Families of partials: their noise, their common phase, and how far one family stands from the
//! multiples of another.

use std::ops::Range;

use realfft::num_complex::Complex;

use super::orders::{NOISE_CORRELATION, Orders};
use crate::dsp::phase::{Multiples, PhaseTrack, angle, turned};
use crate::dsp::statistics::running_mean;

/// Noise is measured this far from a partial, in bins, or midway to the next where that is nearer:
/// beyond the main lobe of the window and of what a rattle adds to it.
const NOISE_ASIDE_BINS: f64 = 5.0;

/// What all partials tell of a phase is not the tone's own where they have turned so much more or less often
/// than the strongest, in turns of that, …
const DECEIVED_TURNS: f64 = 0.5;
/// … which leads if this share of what stands in its bin keeps to the phase it tells, …
const LEADS: f64 = 0.8;
/// … and others follow of which this share does.
const FOLLOWS: f64 = 0.5;

/// Mean power |Z|² of the noise at each multiple of a base, measured between multiples.
#[derive(Debug, Clone)]
pub struct NoiseProfile {
    /// `[multiples + 1]`, index 0 unused.
    pub mean_square: Vec<f64>,
}

impl NoiseProfile {
    /// Over `frames`, for multiples 1 … as far as the bins go, of a base of `base_bins` bins.
    pub fn new(orders: &Orders, base_bins: f64, frames: Range<usize>) -> Self {
        let multiples = (orders.bins as f64 / base_bins).floor() as usize;
        // Midway to the next multiples, or nearer where they are far: noise has a shape of its
        // own. With room, one bin more to each side.
        let aside = (base_bins / 2.0).min(NOISE_ASIDE_BINS);
        let reach = usize::from(base_bins >= 8.0);
        let mean_about = |place: f64| {
            let middle = place.round() as usize;
            let bins = middle.saturating_sub(reach)..(middle + reach + 1).min(orders.bins);
            let count = bins.len() as f64;
            (!bins.is_empty())
                .then(|| bins.map(|k| orders.mean_square(k, frames.clone())).sum::<f64>() / count)
        };
        let mean_square = (0..=multiples)
            .map(|m| {
                let place = m as f64 * base_bins;
                let below = if m > 0 { mean_about(place - aside) } else { None };
                let known = [below, mean_about(place + aside)].into_iter().flatten();
                // Noise falls or rises as a power of frequency: half way between is the mean of its decibels.
                let (sum, count) = known
                    .fold((0.0, 0.0), |(s, n), v| (s + v.max(f64::MIN_POSITIVE).ln(), n + 1.0));
                if count > 0.0 { (sum / count).exp() } else { f64::MIN_POSITIVE }
            })
            .collect();
        Self { mean_square }
    }

    /// At multiple `m`.
    pub fn at(&self, m: usize) -> f64 {
        self.mean_square.get(m).or(self.mean_square.last()).copied().unwrap_or(f64::MIN_POSITIVE)
    }
}

/// The noise of a moment is averaged over this many frames to either side.
const COURSE_REACH: usize = 3;
/// Under this it is not told from chance (3 dB).
const LOUDER: f64 = 2.0;

/// Partials with less than this share of the information on the phase are left out.
const NEXT_TO_NOTHING: f64 = 2e-3;
/// With this share, a partial is one of those that tell the most.
const STRONG: f64 = 0.05;
/// The first phase steps are read from partials up to this many times the lowest.
const LOW_PARTIALS: usize = 6;

/// A partial may be sought this far from its multiple, in multiples.
const MOST_MOVED: f64 = 0.2;

/// The partials of one base that belong together.
#[derive(Debug, Clone)]
pub struct Family<'a> {
    /// The sound.
    pub orders: &'a Orders,
    /// Bins per multiple of the base; need not be whole.
    pub base_bins: f64,
    /// Which multiples.
    pub multiples: Vec<usize>,
    /// Noise at each multiple of the base.
    pub noise: &'a NoiseProfile,
}

impl Family<'_> {
    /// The bin nearest to a partial, and what its amplitude there is to be multiplied by.
    fn place(&self, multiple: usize) -> (usize, f64) {
        let place = multiple as f64 * self.base_bins;
        let bin = place.round();
        let aside = place - bin;
        (bin as usize, if aside == 0.0 { 1.0 } else { 1.0 / main_lobe(aside) })
    }

    /// Power |Z|² of a partial in each of `frames`, noise included.
    pub fn squares(&self, multiple: usize, frames: Range<usize>) -> impl Iterator<Item = f64> {
        let (bin, gain) = self.place(multiple);
        self.orders.bin(bin, frames).iter().map(move |z| f64::from(z.norm_sqr()) * gain * gain)
    }

    /// `[frames]` how many times louder the noise beside the family's partials is than on the mean,
    /// at least 1; 1 within `core`, whose noise that is.
    pub fn noise_course(&self, core: &Range<usize>) -> Vec<f64> {
        let count = self.orders.frames();
        let aside = (self.base_bins / 2.0).min(NOISE_ASIDE_BINS);
        let mut power = vec![0.0; count];
        for &m in &self.multiples {
            for place in [-aside, aside].map(|aside| m as f64 * self.base_bins + aside) {
                let series = self.orders.bin(place.round() as usize, 0..count);
                for (power, z) in power.iter_mut().zip(series) {
                    // Each partial's noise counts alike, whatever its colour.
                    *power += f64::from(z.norm_sqr()) / self.noise.at(m);
                }
            }
        }
        let expected = (2 * self.multiples.len()).max(1) as f64;
        let times = running_mean(&power, COURSE_REACH).into_iter().map(|power| power / expected);
        let told = |(b, times)| if core.contains(&b) || times < LOUDER { 1.0 } else { times };
        times.enumerate().map(told).collect()
    }

    /// `[multiples][frames]` amplitudes over `frames`, each turned back by its multiple of
    /// `offset`: `[frames]` phase of the base over its share of the reference's, in cycles.
    pub fn turned_back(&self, frames: Range<usize>, offset: &[f64]) -> Vec<Vec<Complex<f64>>> {
        let mut all = Vec::with_capacity(self.multiples.len());
        self.each_turned_back(&frames, offset, |_, series| all.push(series.to_vec()));
        all
    }

    /// Hands each multiple and its amplitudes over `frames` to `take`, not turned back at all.
    fn each_as_it_is(&self, frames: &Range<usize>, mut take: impl FnMut(usize, &[Complex<f64>])) {
        if self.base_bins.fract() != 0.0 {
            return self.each_turned_back(frames, &vec![0.0; frames.len()], take);
        }
        let mut room = Vec::with_capacity(frames.len());
        for &m in &self.multiples {
            let (bin, gain) = self.place(m);
            let series = self.orders.bin(bin, frames.clone()).iter();
            room.clear();
            room.extend(series.map(|z| Complex::new(f64::from(z.re), f64::from(z.im)) * gain));
            take(m, &room);
        }
    }

    /// Hands each multiple and its amplitudes, turned back, to `take`, one after the other, so that they need no more room
    /// than one of them.
    fn each_turned_back(
        &self,
        frames: &Range<usize>,
        offset: &[f64],
        mut take: impl FnMut(usize, &[Complex<f64>]),
    ) {
        let unit = self.base_bins / self.orders.bins_per_unit as f64;
        // Beside the bins' middles, what counts is the base's own phase, and the bin's own has to
        // be turned forth again.
        let on_bins = self.base_bins.fract() == 0.0;
        let base: Vec<Complex<f64>> = frames
            .clone()
            .zip(offset)
            .map(|(frame, offset)| {
                let own = if on_bins { 0.0 } else { unit * self.orders.reference_cycles[frame] };
                turned(-(offset + own))
            })
            .collect();
        let mut turns = Multiples::of(base);
        let mut room = Vec::with_capacity(frames.len());
        for &m in &self.multiples {
            let (bin, gain) = self.place(m);
            let series = self.orders.bin(bin, frames.clone()).iter().zip(turns.next(m));
            let turned = series
                .map(|(z, turn)| Complex::new(f64::from(z.re), f64::from(z.im)) * turn * gain);
            room.clear();
            if on_bins {
                room.extend(turned);
            } else {
                let frames = frames.clone();
                room.extend(turned.zip(frames).map(|(z, b)| z * self.orders.bin_turn(b, bin)));
            }
            take(m, &room);
        }
    }

    /// The family without the partials that hold less than this share of what it tells of its
    /// phase.
    fn telling(&self, frames: Range<usize>, share: f64) -> Self {
        let information: Vec<f64> = self
            .multiples
            .iter()
            .map(|m| (m * m) as f64 * self.partial_power(*m, frames.clone()) / self.noise.at(*m))
            .collect();
        let least = share * information.iter().sum::<f64>();
        let kept = self.multiples.iter().zip(&information).filter(|(_, i)| **i > least);
        Self { multiples: kept.map(|(m, _)| *m).collect(), ..self.clone() }
    }

    /// The family with its base moved by `ratio`, without the partials that this would bring near
    /// other multiples.
    pub fn detuned(&self, ratio: f64) -> Self {
        let stays = |m: &usize| *m as f64 * ratio.abs() <= MOST_MOVED;
        Self {
            orders: self.orders,
            base_bins: self.base_bins * (1.0 + ratio),
            multiples: self.multiples.iter().copied().filter(stays).collect(),
            noise: self.noise,
        }
    }

    /// The family with its base moved by `ratio`, with all partials that lie near their own multiple of
    /// the base or clear of every other.
    pub fn moved_beside(&self, ratio: f64) -> Self {
        let place = |m: usize| m as f64 * (1.0 + ratio);
        let is_clear = |m: usize| (place(m) - place(m).round()).abs() > MOST_MOVED;
        let stays = |m: usize| m as f64 * ratio.abs() <= MOST_MOVED || is_clear(m);
        Self {
            base_bins: self.base_bins * (1.0 + ratio),
            multiples: self.multiples.iter().copied().filter(|m| stays(*m)).collect(),
            ..self.clone()
        }
    }

    /// Mean power of the family over `frames`, noise taken off.
    pub fn power(&self, frames: Range<usize>) -> f64 {
        self.multiples.iter().map(|m| self.partial_power(*m, frames.clone())).sum()
    }

    /// Mean power of partial `multiple` over `frames`, noise taken off, not under 0.
    pub fn partial_power(&self, multiple: usize, frames: Range<usize>) -> f64 {
        let (bin, gain) = self.place(multiple);
        let mean = self.orders.mean_square(bin, frames) * gain * gain;
        0.5 * (mean - self.noise.at(multiple)).max(0.0)
    }

    /// Mean power of all that stands in the bin of partial `multiple` over `frames`.
    pub fn bin_power(&self, multiple: usize, frames: Range<usize>) -> f64 {
        let (bin, gain) = self.place(multiple);
        0.5 * self.orders.mean_square(bin, frames) * gain * gain
    }

    /// How much of the partials' power over `frames` keeps to the course `cycles`: what is left of it in phase,
    /// over what the noise leaves of a tone that does.
    ///
    /// * `cycles`: `[frames]` phase of the base.
    pub fn explained(&self, frames: Range<usize>, cycles: &[f64]) -> f64 {
        let (kept, all) = self.kept_of_all(&frames, cycles);
        let noise: f64 =
            self.multiples.iter().map(|m| self.noise.at(*m) * frames.len() as f64).sum();
        kept / (all - noise).max(f64::MIN_POSITIVE)
    }

    /// Share of all that stands in the partials' bins over `frames` that keeps to the course `cycles`, noise
    /// and others' partials included.
    ///
    /// * `cycles`: `[frames]` phase of the base.
    fn kept_share(&self, frames: &Range<usize>, cycles: &[f64]) -> f64 {
        let (kept, all) = self.kept_of_all(frames, cycles);
        kept / all.max(f64::MIN_POSITIVE)
    }

    /// What is left in phase of the partials when they are turned back by the course `cycles`, and all that
    /// stands in their bins, as sums over `frames` of |Z|².
    fn kept_of_all(&self, frames: &Range<usize>, cycles: &[f64]) -> (f64, f64) {
        let offset = self.over_reference(frames, cycles);
        let (mut kept, mut all) = (0.0, 0.0);
        self.each_turned_back(frames, &offset, |_, series| {
            // The highest may lie beyond the last bin.
            kept += series.iter().sum::<Complex<f64>>().norm_sqr() / series.len().max(1) as f64;
            all += series.iter().map(Complex::norm_sqr).sum::<f64>();
        });
        (kept, all)
    }

    /// `[frames]` phase of the base, in cycles, over its share of the reference's.
    fn over_reference(&self, frames: &Range<usize>, cycles: &[f64]) -> Vec<f64> {
        let unit = self.base_bins / self.orders.bins_per_unit as f64;
        let own = frames.clone().zip(cycles);
        own.map(|(b, cycles)| cycles - self.orders.reference_cycles[b] * unit).collect()
    }

    /// Phase of the base as a family tells it that is to lead another, over `frames`. `None` when no partial
    /// stands over the noise.
    ///
    /// A high partial tells most of a phase; where another tone's lies beside it, it tells of that one's, or
    /// of both by turns. The strongest partial is seldom so deceived: where all together have turned more or
    /// less often than it has, it leads, and those count that keep to it.
    pub fn leading_phase_track(&self, frames: Range<usize>) -> Option<PhaseTrack> {
        let track = self.phase_track(frames.clone())?;
        let of = |multiples: Vec<usize>| Self { multiples, ..self.clone() };
        let power = |m: &usize| self.partial_power(*m, frames.clone());
        let strongest = self.multiples.iter().copied().max_by(|a, b| power(a).total_cmp(&power(b)));
        let Some((led, m)) = strongest
            .and_then(|m| of(vec![m]).phase_track(frames.clone()).map(|led| (led, m as f64)))
        else {
            return Some(track);
        };
        let turns = |track: &PhaseTrack| Some(m * (track.cycles.last()? - track.cycles.first()?));
        let keeps = |m: usize, to: &PhaseTrack| of(vec![m]).kept_share(&frames, &to.cycles);
        let differ = (turns(&track)? - turns(&led)?).abs();
        let own = m as usize;
        if differ < DECEIVED_TURNS || keeps(own, &led) < LEADS {
            return Some(track);
        }
        // Where another's partial beats with the strongest, that slips itself: its phase jumps.
        if keeps(own, &track) > FOLLOWS && jumps(&track) <= jumps(&led) {
            return Some(track);
        }
        let offset = self.over_reference(&frames, &led.cycles);
        let keeping =
            self.multiples.iter().copied().filter(|m| keeps(*m, &led) > FOLLOWS).collect();
        of(keeping).phase_track_from(frames.clone(), offset).or(Some(led))
    }

    /// Phase of the base as all partials tell it together, over `frames`. `None` when no partial stands
    /// over the noise.
    ///
    /// The phase steps from frame to frame are read first from the low partials, where they cannot
    /// wrap; then every partial is turned back by the phase found, its steady part becomes the
    /// yardstick of its phase, and all are averaged by their information m²·SNR.
    pub fn phase_track(&self, frames: Range<usize>) -> Option<PhaseTrack> {
        let mut offset = self.stepped_phase(frames.clone());
        // The first rounds only bring the phase near; few partials do for that.
        let strong = self.telling(frames.clone(), STRONG);
        for reach in [6, 24] {
            strong.refine(&frames, &mut offset, reach);
        }
        self.phase_track_from(frames, offset)
    }

    /// The same where the phase is nearly known: `[frames]` over the base's share of the
    /// reference's, in cycles.
    pub fn phase_track_from(
        &self,
        frames: Range<usize>,
        mut offset: Vec<f64>,
    ) -> Option<PhaseTrack> {
        let count = frames.len();
        let telling = self.telling(frames.clone(), NEXT_TO_NOTHING);
        let information = telling.refine(&frames, &mut offset, count);
        if !(information > 0.0) {
            return None;
        }
        let unit = self.base_bins / self.orders.bins_per_unit as f64;
        let noise = 1.0 / (std::f64::consts::TAU * (2.0 * information).sqrt());
        Some(PhaseTrack {
            time_s: self.orders.time_s[frames.clone()].to_vec(),
            cycles: frames
                .zip(&offset)
                .map(|(b, offset)| self.orders.reference_cycles[b] * unit + offset)
                .collect(),
            noise_cycles: vec![noise; count],
        })
    }

    /// Phase of the base over its share of the reference's, in cycles from the first of `frames`
    /// on, summed up from the steps that the low partials make from frame to frame. A partial
    /// counts by its power over the noise there and then: one that is silent just then has nothing
    /// to say.
    fn stepped_phase(&self, frames: Range<usize>) -> Vec<f64> {
        let count = frames.len();
        let highest = LOW_PARTIALS * self.multiples.first().copied().unwrap_or(0);
        let low = Self {
            multiples: self.multiples.iter().copied().filter(|m| *m <= highest).collect(),
            ..self.clone()
        };
        let (mut top, mut bottom) = (vec![0.0; count], vec![0.0; count]);
        low.each_as_it_is(&frames, |m, series| {
            let noise = self.noise.at(m);
            for (i, pair) in series.windows(2).enumerate() {
                let step = pair[1] * pair[0].conj();
                let excess = (step.norm_sqr().sqrt() / noise - 1.0).max(0.0);
                // Information grows with the power over the noise, squared where noise rules.
                let weight = excess * excess / (excess + 1.0);
                top[i + 1] += weight * m as f64 * angle(step) / std::f64::consts::TAU;
                bottom[i + 1] += weight * (m * m) as f64;
            }
        });
        let steps = top.iter().zip(&bottom).map(|(t, b)| if *b > 0.0 { t / b } else { 0.0 });
        steps
            .scan(0.0, |phase, step| {
                *phase += step;
                Some(*phase)
            })
            .collect()
    }

    /// One round of averaging the partials' phases; the yardstick of each is its mean over
    /// `reach` frames to either side. Returns the mean information Σ m²·SNR per frame.
    fn refine(&self, frames: &Range<usize>, offset: &mut [f64], reach: usize) -> f64 {
        let count = frames.len();
        let mut top = vec![0.0; count];
        let mut bottom = vec![0.0; count];
        let mut running = vec![Complex::<f64>::default(); count + 1];
        // Of each frame, what it is held against turned off it, and what that tells.
        let mut held = Vec::with_capacity(count);
        self.each_turned_back(frames, offset, |m, turned| {
            let noise = self.noise.at(m);
            let information = |yardstick: Complex<f64>, span: f64| {
                // A mean of noise alone has a power of its own; it carries no information.
                let power = yardstick.norm_sqr() - noise * NOISE_CORRELATION / span;
                (m * m) as f64 * power.max(0.0) / noise
            };
            held.clear();
            if reach >= count {
                let mean = turned.iter().sum::<Complex<f64>>() / count as f64;
                let weight = information(mean, count as f64);
                held.extend(turned.iter().map(|z| (z * mean.conj(), weight)));
            } else {
                for (i, z) in turned.iter().enumerate() {
                    running[i + 1] = running[i] + z;
                }
                held.extend(turned.iter().enumerate().map(|(i, z)| {
                    let (low, high) = (i.saturating_sub(reach), (i + reach + 1).min(count));
                    let span = (high - low) as f64;
                    let yardstick = (running[high] - running[low]) / span;
                    (z * yardstick.conj(), information(yardstick, span))
                }));
            }
            let cycles = 1.0 / (std::f64::consts::TAU * m as f64);
            for ((top, bottom), (off, weight)) in top.iter_mut().zip(&mut bottom).zip(&held) {
                if *weight > 0.0 {
                    *top += weight * cycles * angle(*off);
                    *bottom += weight;
                }
            }
        });
        for i in 0..count {
            if bottom[i] > 0.0 {
                offset[i] += top[i] / bottom[i];
            }
        }
        bottom.iter().sum::<f64>() / count.max(1) as f64
    }
}

/// How much a phase jumps: the sum of squares of how its steps change, in cycles.
fn jumps(track: &PhaseTrack) -> f64 {
    track.cycles.windows(3).map(|c| (c[2] - 2.0 * c[1] + c[0]).powi(2)).sum()
}

/// What a Hann frame leaves of the amplitude of a line `aside` bins from a bin's middle.
pub fn main_lobe(aside: f64) -> f64 {
    let x = aside.abs().clamp(1e-6, 0.999);
    let px = std::f64::consts::PI * x;
    px.sin() / px / (1.0 - x * x)
}
