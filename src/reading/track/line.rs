//! The common line of a family of partials beside the multiples that another family's phase
//! predicts, and how likely noise alone is to show one.

use std::cell::OnceCell;
use std::ops::Range;

use realfft::num_complex::{Complex, Complex32};

use super::family::Family;
use super::lasting::Steady;
use super::orders::NOISE_CORRELATION;
use crate::dsp::phase::{Multiples, summed, turned};
use crate::dsp::plans::complex_forward;
use crate::reading::find::hum::RoomLine;

/// Octaves within this of 2:1 are locked.
pub const LOCKED_CENTS: f64 = 5.0;

/// A family's line beside the multiples of another family's phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Base of the family over the base the reference tells, minus 1.
    pub deviation: f64,
    /// Standard deviation of that, from the curvature of the likelihood.
    pub sd: f64,
    /// Log likelihood over noise alone.
    pub evidence: f64,
    /// Log likelihood over noise alone with no deviation at all.
    pub locked_evidence: f64,
    /// Partials that share in it.
    pub partials: usize,
    /// Power that stands in the line itself.
    pub power: f64,
}

/// A line as the spectra of the partials show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoarseLine {
    /// Base of the family over the base the reference tells, minus 1.
    pub deviation: f64,
    /// Log likelihood over noise alone, or a little less.
    pub evidence: f64,
    /// The same with no deviation at all.
    pub locked_evidence: f64,
    /// Partials that share in it.
    pub partials: usize,
    /// Power that stands in the line itself.
    pub power: f64,
    /// Power of the noise in the bins of those partials.
    pub noise: f64,
    /// Of the evidence, what does not rest on one partial alone, unless that is the lowest: any partial of
    /// one tone may happen to lie at a multiple of another.
    pub of_several: f64,
}

/// The partials of a family, turned back by the phase another family predicts for them.
///
/// Where phase and amplitude of each partial are unknown and its noise is white, the log
/// likelihood of a common line over noise alone is the sum over partials of |Σ z·e^(−jθ)|² over
/// its expectation from noise; that is what is maximised.
#[derive(Debug)]
pub struct LineSearch {
    /// Moments of the frames about their middle, in seconds.
    time_s: Vec<f64>,
    base_hz: f64,
    bin_hz: f64,
    partials: Vec<TurnedPartial>,
    /// Distance between the bins of the partials' spectra, in hertz.
    spectrum_hz: f64,
}

#[derive(Debug)]
struct TurnedPartial {
    multiple: usize,
    series: Vec<Complex<f64>>,
    /// One over what noise alone makes of the squared sum.
    scale: f64,
    /// Power of the noise in its bin.
    noise: f64,
    /// Squared sums at multiples of `spectrum_hz`, negative offsets behind; made when first asked for.
    spectrum: OnceCell<Vec<f32>>,
    /// How many those are, a power of two.
    padded: usize,
    /// Where lines of the room lie, as offsets in hertz, and the squared sum that a line must hold
    /// there to stand over them.
    room: Vec<(f64, f64)>,
}

impl TurnedPartial {
    fn spectrum(&self) -> &[f32] {
        self.spectrum.get_or_init(|| spectrum(&self.series, self.padded))
    }

    /// Power of all that its bin holds.
    fn mean_power(&self) -> f64 {
        0.5 * self.series.iter().map(Complex::norm_sqr).sum::<f64>() / self.series.len() as f64
    }

    /// A squared sum `shift` hertz off, without what may be a line of the room.
    fn over_room(&self, shift: f64, sum: f64) -> f64 {
        let is_rooms = |(at, least): &(f64, f64)| (shift - at).abs() < ROOM_HZ && sum < *least;
        if self.room.iter().any(is_rooms) { 0.0 } else { sum }
    }

    /// Squared sum with no deviation at all.
    fn locked_sum(&self) -> f64 {
        self.series.iter().sum::<Complex<f64>>().norm_sqr()
    }
}

/// Spectra of the turned partials are padded to at least this many times their length.
const PADDING: usize = 4;
/// A line this near to one of the room's (in hertz) is taken for it …
const ROOM_HZ: f64 = 8.0;
/// … unless it stands so many times over it (6 dB).
const OVER_ROOM: f64 = 4.0;
/// A line at the predicted multiples themselves that has this share of the likelihood of one beside
/// them explains as much.
const NEARLY_ALL: f64 = 0.7;
/// Log likelihood by which partials contradict a line.
const CONTRADICTS: f64 = 8.0;
/// A line must stay within this of its bin's middle, in bins, to be seen in it.
const IN_LOBE_BINS: f64 = 1.2;

impl LineSearch {
    /// Of the lowest `most_partials` of `family` over `frames`.
    ///
    /// * `reference`: `[frames]` phase of the base, in cycles, that the other family tells.
    ///
    /// `None` for fewer than 4 frames.
    pub fn new(
        family: &Family<'_>,
        frames: Range<usize>,
        reference: &[f64],
        most_partials: usize,
    ) -> Option<Self> {
        let count = frames.len();
        if count < 4 || reference.len() != count {
            return None;
        }
        let unit = family.base_bins / family.orders.bins_per_unit as f64;
        let time = &family.orders.time_s[frames.clone()];
        let (first, last) = (time[0], time[count - 1]);
        let padded = (PADDING * count).next_power_of_two();
        let sought = Family {
            multiples: family
                .multiples
                .iter()
                .copied()
                .filter(|m| ((*m as f64 * family.base_bins).round() as usize) < family.orders.bins)
                .take(most_partials)
                .collect(),
            ..family.clone()
        };
        let offset: Vec<f64> = frames
            .clone()
            .zip(reference)
            .map(|(b, cycles)| cycles - family.orders.reference_cycles[b] * unit)
            .collect();
        let base_hz = (reference[count - 1] - reference[0]) / (last - first);
        let bin_hz = family.orders.bin_hz();
        let partials = sought
            .turned_back(frames, &offset)
            .into_iter()
            .zip(&sought.multiples)
            .map(|(series, &multiple)| {
                let hz = multiple as f64 * base_hz;
                let near =
                    |line: &&RoomLine| (line.hz - hz).abs() < IN_LOBE_BINS * bin_hz + ROOM_HZ;
                let room = family.orders.room_lines.iter().filter(near);
                TurnedPartial {
                    multiple,
                    spectrum: OnceCell::new(),
                    padded,
                    series,
                    noise: 0.5 * family.noise.at(multiple),
                    scale: 1.0 / (count as f64 * NOISE_CORRELATION * family.noise.at(multiple)),
                    room: room
                        .map(|line| {
                            (line.hz - hz, OVER_ROOM * 2.0 * line.power * (count * count) as f64)
                        })
                        .collect(),
                }
            })
            .collect();
        let hop_s = (last - first) / (count - 1) as f64;
        Some(Self {
            time_s: time.iter().map(|t| t - (first + last) / 2.0).collect(),
            base_hz,
            bin_hz,
            partials,
            spectrum_hz: 1.0 / (padded as f64 * hop_s),
        })
    }

    /// Roughly the most likely common line of the lowest `most` partials within ± `reach` (a
    /// ratio) of the predicted multiples: to a quarter of what the stretch resolves.
    pub fn coarse(&self, reach: f64, most: usize) -> Option<CoarseLine> {
        let partials = self.partials.get(..most.min(self.partials.len()))?;
        let step = self.step(partials)?;
        let steps = (reach / step).ceil() as i32;
        let mut best = (f64::MIN, 0.0);
        for (likelihood, i) in self.likelihoods(partials, step, steps).into_iter().zip(-steps..) {
            if likelihood >= best.0 {
                best = (likelihood, i as f64 * step);
            }
        }
        let each = || partials.iter().map(|p| self.nearest(p, best.1));
        let strongest = each().fold(0.0, f64::max);
        let is_lowest = each().next().is_some_and(|lowest| lowest >= strongest);
        Some(CoarseLine {
            deviation: best.1,
            evidence: best.0,
            of_several: if is_lowest { best.0 } else { best.0 - strongest },
            locked_evidence: partials.iter().map(|p| self.nearest(p, 0.0)).sum(),
            partials: partials.len(),
            power: partials.iter().map(|p| self.power(p, best.1)).sum(),
            noise: partials.iter().map(|p| p.noise).sum(),
        })
    }

    /// Likelihoods of a common line of `partials` so many `steps` of the deviation to either side.
    fn likelihoods(&self, partials: &[TurnedPartial], step: f64, steps: i32) -> Vec<f64> {
        let mut sums = vec![0.0; (2 * steps + 1).max(0) as usize];
        for partial in partials {
            // Farther off than this the line lies beside the partial's bin.
            let most_hz = IN_LOBE_BINS * self.bin_hz;
            let step_hz = partial.multiple as f64 * self.base_hz * step;
            let reach = steps.min((most_hz / step_hz) as i32);
            let place = |i: i32| (i + steps) as usize;
            let within = sums.get_mut(place(-reach)..=place(reach)).unwrap_or_default();
            let (spectrum, bins) = (partial.spectrum(), step_hz / self.spectrum_hz);
            for (sum, i) in within.iter_mut().zip(-reach..) {
                let squared = nearest(spectrum, f64::from(i) * bins);
                *sum += partial.scale * partial.over_room(f64::from(i) * step_hz, squared);
            }
        }
        sums
    }

    /// The search without what stands at the deviation `own`, or changes no faster than a parabola over
    /// the stretch: another tone's own partials, as they swell and fade.
    #[must_use]
    pub fn without(mut self, own: f64) -> Self {
        let steady = Steady::new(&self.time_s);
        let partials = &mut self.partials;
        partials.iter_mut().for_each(|partial| partial.spectrum = OnceCell::new());
        let series = partials.iter_mut().map(|p| (p.multiple, &mut p.series[..]));
        steady.take_out(own * self.base_hz, series);
        self
    }

    /// How many of a line's partials show it by at least this log likelihood.
    pub fn telling(&self, line: &CoarseLine, least: f64) -> usize {
        let partials = &self.partials[..line.partials];
        partials.iter().filter(|p| self.nearest(p, line.deviation) > least).count()
    }

    /// Whether a line that stands off is that of one partial against the others, or explains little
    /// more than none: in a room a wavering tone winds the phase of a partial that lies by a notch,
    /// and a tone has more partials than one.
    pub fn is_disputed(&self, line: &CoarseLine) -> bool {
        let each: Vec<(f64, f64)> = self
            .partials
            .iter()
            .map(|p| (self.nearest(p, line.deviation), self.nearest(p, 0.0)))
            .collect();
        let sum = |each: &[(f64, f64)]| {
            each.iter().fold((0.0, 0.0), |(off, on), one| (off + one.0, on + one.1))
        };
        let Some(strongest) = (0..each.len()).max_by(|a, b| each[*a].0.total_cmp(&each[*b].0))
        else {
            return false;
        };
        let (off, on) = sum(&each);
        let (rest_off, rest_on) = (off - each[strongest].0, on - each[strongest].1);
        on > NEARLY_ALL * off || rest_on > rest_off + CONTRADICTS
    }

    /// All power over the noise in a line's partials.
    pub fn power_over_noise(&self, line: &CoarseLine) -> f64 {
        let partials = self.partials[..line.partials].iter();
        partials.map(|p| (p.mean_power() - p.noise).max(0.0)).sum()
    }

    /// All power that the partials hold, noise included: no line holds more.
    pub fn whole_power(&self) -> f64 {
        self.partials.iter().map(TurnedPartial::mean_power).sum()
    }

    /// Power that stands exactly where the reference predicts it.
    pub fn locked_power(&self) -> f64 {
        let count = self.time_s.len() as f64;
        let sum = |p: &TurnedPartial| p.over_room(0.0, p.locked_sum());
        self.partials.iter().map(|p| 0.5 * sum(p) / (count * count)).sum()
    }

    /// Power of all that stands over the noise.
    pub fn power_of_all(&self) -> f64 {
        self.partials.iter().map(|p| (p.mean_power() - p.noise).max(0.0)).sum()
    }

    /// Frequency of a partial as it is predicted, mean square of the noise in its bin, and its amplitudes
    /// turned back.
    pub fn series(&self, partial: usize) -> Option<(f64, f64, &[Complex<f64>])> {
        let partial = self.partials.get(partial)?;
        Some((partial.multiple as f64 * self.base_hz, 2.0 * partial.noise, &partial.series))
    }

    /// Mean time between frames, in seconds.
    pub fn hop_s(&self) -> f64 {
        let last = self.time_s.len() - 1;
        (self.time_s[last] - self.time_s[0]) / last as f64
    }

    /// Share of all that the partials hold that stands exactly where the reference predicts it.
    pub fn locked_share(&self) -> f64 {
        let (mut locked, mut all) = (0.0, 0.0);
        for partial in &self.partials {
            let power = partial.series.iter().map(Complex::norm_sqr).sum::<f64>();
            locked += partial.locked_sum() * partial.scale;
            all += partial.series.len() as f64 * power * partial.scale;
        }
        locked / all
    }

    /// The line at the top of the likelihood near a coarse one.
    pub fn refined(&self, coarse: CoarseLine) -> Option<Line> {
        let partials = self.partials.get(..coarse.partials)?;
        let mut width = self.step(partials)?;
        let blocks = Blocks::new(self, partials, coarse.deviation);
        let exact = |moved: f64| blocks.likelihood(moved);
        // A course that ripples makes the spectra only roughly right.
        let tops = (-ROUGH_STEPS..=ROUGH_STEPS).map(|step| f64::from(step) * width);
        let top = tops.map(|moved| (exact(moved), moved)).max_by(|a, b| a.0.total_cmp(&b.0))?;
        let mut moved = top.1;
        for _ in 0..4 {
            let (low, centre, high) = (exact(moved - width), exact(moved), exact(moved + width));
            let bend = low - 2.0 * centre + high;
            if !(bend < 0.0) {
                break;
            }
            moved += (0.5 * width * (low - high) / bend).clamp(-width, width);
            width *= 0.4;
        }
        let evidence = exact(moved);
        let bend = (exact(moved - width) - 2.0 * evidence + exact(moved + width)) / (width * width);
        let sd = if bend < 0.0 { (-1.0 / bend).sqrt() } else { return None };
        Some(Line {
            deviation: coarse.deviation + moved,
            sd,
            evidence,
            locked_evidence: coarse.locked_evidence,
            partials: partials.len(),
            power: coarse.power,
        })
    }

    /// A quarter of what the stretch resolves, as a ratio.
    fn step(&self, partials: &[TurnedPartial]) -> Option<f64> {
        let highest = partials.iter().map(|p| p.multiple).max()? as f64;
        let span = self.time_s.last()? - self.time_s.first()?;
        Some(0.25 / (span * self.base_hz * highest))
    }

    fn shift_hz(&self, partial: &TurnedPartial, deviation: f64) -> Option<f64> {
        let shift = partial.multiple as f64 * deviation * self.base_hz;
        (shift.abs() <= IN_LOBE_BINS * self.bin_hz).then_some(shift)
    }

    /// The likelihood of one partial, from the nearest bin of its spectrum.
    fn nearest(&self, partial: &TurnedPartial, deviation: f64) -> f64 {
        self.squared_sum(partial, deviation) * partial.scale
    }

    /// The power that one partial holds in phase.
    fn power(&self, partial: &TurnedPartial, deviation: f64) -> f64 {
        let count = self.time_s.len() as f64;
        0.5 * self.squared_sum(partial, deviation) / (count * count)
    }

    fn squared_sum(&self, partial: &TurnedPartial, deviation: f64) -> f64 {
        let shift = self.shift_hz(partial, deviation);
        shift.map_or(0.0, |shift| {
            partial.over_room(shift, nearest(partial.spectrum(), shift / self.spectrum_hz))
        })
    }
}

/// The value nearest to a place in a spectrum whose length is a power of two; negative ones lie behind.
fn nearest(spectrum: &[f32], bins: f64) -> f64 {
    /// What is added to this, 1.5·2⁵², is rounded to a whole number, which its last bits tell.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    let bin = (bins + WHOLE).to_bits() as usize & spectrum.len().saturating_sub(1);
    spectrum.get(bin).map_or(0.0, |squared| f64::from(*squared))
}

/// Squared spectrum of a turned series, padded. Single precision is enough to find the place; the last
/// climb has double.
fn spectrum(series: &[Complex<f64>], padded: usize) -> Vec<f32> {
    let fft = complex_forward(padded);
    let mut bins: Vec<Complex32> =
        series.iter().map(|z| Complex32::new(z.re as f32, z.im as f32)).collect();
    bins.resize(padded, Complex32::default());
    fft.process(&mut bins);
    bins.iter().map(Complex::norm_sqr).collect()
}

/// The top of the likelihood lies within so many quarters of what the stretch resolves from where its
/// spectra show it.
const ROUGH_STEPS: i32 = 6;

/// Blocks that a stretch is summed into for the last climb; a line moves by less than a cycle over
/// the whole stretch there, so nothing is lost within one.
const BLOCKS: usize = 40;

/// Partials turned back to a line and summed into blocks.
#[derive(Debug)]
struct Blocks {
    base_hz: f64,
    /// Middle of each block, in seconds.
    middles_s: Vec<f64>,
    /// Of each partial that the line is seen in, its multiple, its scale, and its sums.
    partials: Vec<(usize, f64, Vec<Complex<f64>>)>,
}

impl Blocks {
    fn new(search: &LineSearch, partials: &[TurnedPartial], deviation: f64) -> Self {
        let per_block = search.time_s.len().div_ceil(BLOCKS);
        let shift_hz = search.base_hz * deviation;
        let mut back = Multiples::of(search.time_s.iter().map(|t| turned(-shift_hz * t)).collect());
        let seen = partials.iter().filter(|p| search.shift_hz(p, deviation).is_some());
        let summed = |partial: &TurnedPartial| {
            let turns = back.next(partial.multiple).chunks(per_block);
            let blocks = partial.series.chunks(per_block).zip(turns);
            let sums =
                blocks.map(|(series, turns)| series.iter().zip(turns).map(|(z, t)| z * t).sum());
            (partial.multiple, partial.scale, sums.collect())
        };
        Self {
            base_hz: search.base_hz,
            partials: seen.map(summed).collect(),
            middles_s: search
                .time_s
                .chunks(per_block)
                .map(|time| time.iter().sum::<f64>() / time.len() as f64)
                .collect(),
        }
    }

    fn likelihood(&self, moved: f64) -> f64 {
        let turn = |t: &f64| turned(-self.base_hz * moved * t);
        let mut back = Multiples::of(self.middles_s.iter().map(turn).collect());
        let each = self.partials.iter().map(|(multiple, scale, sums)| {
            let turns = back.next(*multiple);
            summed(sums, turns, |sum, turn| sum * turn).norm_sqr() * scale
        });
        each.sum()
    }
}

/// Natural logarithm of the chance that noise alone gives a sum of `partials` unit exponentials of
/// `evidence` or more in any of `trials` places.
pub fn log_chance(evidence: f64, partials: usize, trials: f64) -> f64 {
    // Tail of the gamma distribution with whole shape: e^(−x) Σ x^k/k!.
    let mut term = 0.0_f64;
    let mut log_sum = 0.0_f64;
    for k in 1..partials {
        term += (evidence / k as f64).max(f64::MIN_POSITIVE).ln();
        let (high, low) = if term > log_sum { (term, log_sum) } else { (log_sum, term) };
        log_sum = high + (low - high).exp().ln_1p();
    }
    (log_sum - evidence + trials.max(1.0).ln()).min(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tail of the gamma distribution with shape 1 is e^(−x); with shape 2, e^(−x)·(1 + x).
    #[test]
    fn the_chance_of_a_sum_of_exponentials_is_the_gamma_tail() {
        assert!((log_chance(5.0, 1, 1.0) + 5.0).abs() < 1e-12);
        assert!((log_chance(5.0, 2, 1.0) - (-5.0 + 6.0_f64.ln())).abs() < 1e-12);
        assert!(
            (log_chance(50.0, 3, 10.0) - (-50.0 + (1.0 + 50.0 + 1250.0_f64).ln() + 10.0_f64.ln()))
                .abs()
                < 1e-9
        );
    }
}
