//! Two tones that do not stand at 2:1, fitted together with their combination tones.
//!
//! Near every multiple of half the upper tone lie several lines, as far apart as the octave is
//! off: a multiple of one of the tones, and the combination tones n₁·f_low + n₂·f_up that any
//! nonlinearity adds. Read alone, each pulls the others' frequency; so the amplitudes of all are
//! fitted at once, and the two frequencies are those that leave least.

use std::f64::consts::TAU;
use std::ops::Range;

use realfft::num_complex::Complex;

use super::family::Family;
use super::orders::NOISE_CORRELATION;
use super::spanned::{Powers, Projection};
use crate::dsp::phase::{Multiples, turned};

/// Frequencies of the bases of both tones, with their standard deviations, in hertz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoTones {
    /// Of the lower tone.
    pub lower_hz: f64,
    /// Its standard deviation.
    pub lower_sd_hz: f64,
    /// Half the upper tone.
    pub half_upper_hz: f64,
    /// Its standard deviation.
    pub half_upper_sd_hz: f64,
    /// Standard deviation of the difference of the two.
    pub difference_sd_hz: f64,
    /// What the fit leaves, over what noise would.
    pub misfit: f64,
}

/// Multiples of half the upper tone that take part: those up to the first at first, and from what
/// these tell, as many as the second.
pub(super) const HIGHEST_MULTIPLES: [usize; 2] = [8, 22];
/// Lines farther than this from a bin's middle, in bins, are not in its frames.
const IN_LOBE_BINS: f64 = 1.3;
/// Half the width of a line in frequency.
const MAIN_LOBE_BINS: f64 = 2.0;
/// About the lower tone's own course, which holds all that both wander, the fit stands when what it leaves is no
/// more than this many times the noise.
const FITS_BY_LOWER: f64 = 16.0;
/// Where the lower tone's course is known, the upper is sought beside it in so many steps to either side …
const STEPS: i32 = 8;
/// … each this long, over the stretch.
const STEP_TURNS: f64 = 0.08;
/// What both tones do together is followed once more where the fit leaves this many times the noise, …
const LEAVES_LITTLE: f64 = 1.5;
/// … so often at most.
const COURSES: usize = 3;
/// Rounds of Newton's method, at most …
const ROUNDS: usize = 6;
/// … until it moves by less than this share of the step that derivatives are taken over.
const SETTLED: f64 = 0.02;
/// Fits both tones over `frames`.
///
/// * `family`: over the base of half the upper tone; its multiples are not used.
/// * `cycles`: `[frames]` smooth phase of that base.
/// * `difference_hz`: f_up − 2·f_low, as found so far; may be negative.
/// * `by_lower`: whether `cycles` are the lower tone's, up to that difference, which is then sought.
///
/// `None` where the lines are not told apart, or do not explain what is there.
pub fn fit(
    family: &Family<'_>,
    frames: Range<usize>,
    cycles: &[f64],
    difference_hz: f64,
    by_lower: bool,
) -> Option<TwoTones> {
    let mut problem = Problem::new(family, frames, cycles, difference_hz)?;
    let span = problem.span_s();
    // Lines nearer than this cannot be told apart.
    if difference_hz.abs() * span < 0.8 {
        return None;
    }
    let mut all = std::mem::take(&mut problem.series).into_iter().peekable();
    let mut start = [0.0, difference_hz];
    let mut at = start;
    let mut hessian = [[0.0; 2]; 2];
    for highest in HIGHEST_MULTIPLES {
        while let Some(series) = all.next_if(|series| series.multiple <= highest) {
            problem.series.push(series);
        }
        if by_lower && highest == HIGHEST_MULTIPLES[0] {
            start = problem.beside_lower(difference_hz)?;
            at = start;
        }
        hessian = problem.settle(&mut at, highest)?;
    }
    for _ in 0..COURSES {
        if problem.misfit(at[0], at[1]) <= LEAVES_LITTLE {
            break;
        }
        let together = problem.together(at[0], at[1]);
        problem.about(&together);
        hessian = problem.settle(&mut at, HIGHEST_MULTIPLES[1])?;
    }
    let misfit = problem.misfit(at[0], at[1]);
    if (at[1] - start[1]).abs() * span > 0.15 || (by_lower && misfit > FITS_BY_LOWER) {
        return None;
    }
    let covariance = problem.covariance(at, span, misfit, &hessian);
    let half_upper_hz = problem.base_hz + at[0];
    // f_low = b + a − d/2.
    let lower_variance = covariance.a + covariance.d / 4.0 - covariance.both;
    Some(TwoTones {
        lower_hz: half_upper_hz - at[1] / 2.0,
        lower_sd_hz: lower_variance.max(0.0).sqrt(),
        half_upper_hz,
        half_upper_sd_hz: covariance.a.sqrt(),
        difference_sd_hz: covariance.d.sqrt() / 2.0,
        misfit,
    })
}

/// The lines of both tones in a stretch.
pub(super) struct Problem {
    /// `[frames]` moments about the middle of the stretch as the smooth phase counts them, in
    /// seconds: both tones drift together, and so does how far they are off.
    pub(super) time_s: Vec<f64>,
    /// Mean of half the upper tone, as the smooth phase has it.
    pub(super) base_hz: f64,
    pub(super) bin_hz: f64,
    pub(super) series: Vec<Series>,
}

/// What the bins about one multiple of half the upper tone hold.
pub(super) struct Series {
    pub(super) multiple: usize,
    /// `[frames]` amplitudes, turned back by that multiple of the smooth phase.
    pub(super) turned: Vec<Complex<f64>>,
    /// Mean square of the noise.
    pub(super) noise: f64,
    /// The middle of the bin, over that multiple, in hertz.
    pub(super) middle_hz: f64,
}

impl Problem {
    fn new(
        family: &Family<'_>,
        frames: Range<usize>,
        cycles: &[f64],
        difference_hz: f64,
    ) -> Option<Self> {
        let orders = family.orders;
        let time = orders.time_s.get(frames.clone())?;
        let seconds = time.last()? - time.first()?;
        let base_hz = (cycles.last()? - cycles.first()?) / seconds;
        let middle = (cycles.first()? + cycles.last()?) / 2.0;
        // Higher up, the lower tone's partials come into the bins of the upper's next multiple.
        let room_hz = base_hz - (IN_LOBE_BINS + MAIN_LOBE_BINS) * orders.bin_hz();
        let highest = (orders.bins as f64 / family.base_bins)
            .min(2.0 * room_hz / difference_hz.abs())
            .max(1.0) as usize;
        // Where the lower tone's own partials are, far from the upper's multiples when high, their
        // own bins are looked at; but turned back all the same by the upper's phase.
        let series_of = |first: usize, base_bins: f64| {
            let unit = base_bins / orders.bins_per_unit as f64;
            let lines = Family {
                base_bins,
                multiples: (first..=highest.min(HIGHEST_MULTIPLES[1])).step_by(2).collect(),
                ..family.clone()
            };
            let offset: Vec<f64> = frames
                .clone()
                .zip(cycles)
                .map(|(b, cycles)| cycles - orders.reference_cycles[b] * unit)
                .collect();
            let turned = lines.turned_back(frames.clone(), &offset);
            let series: Vec<Series> = lines
                .multiples
                .iter()
                .zip(turned)
                .map(|(&multiple, turned)| Series {
                    multiple,
                    turned,
                    noise: family.noise.at(multiple),
                    middle_hz: (multiple as f64 * base_bins).round() * orders.bin_hz()
                        - multiple as f64 * base_hz,
                })
                .collect();
            series
        };
        let lower_bins = family.base_bins * (1.0 - difference_hz / (2.0 * base_hz));
        let mut series = series_of(1, lower_bins);
        series.extend(series_of(2, family.base_bins));
        // The highest may lie beyond the last bin.
        series.retain(|series| series.turned.len() == frames.len());
        series.sort_by_key(|series| series.multiple);
        (frames.len() >= 12).then(|| Self {
            time_s: cycles.iter().map(|c| (c - middle) / base_hz).collect(),
            base_hz,
            bin_hz: orders.bin_hz(),
            series,
        })
    }

    /// Moves the two tones to the top of the likelihood near `at`, by Newton's method; its second derivatives
    /// there. `None` where there is no top.
    fn settle(&self, at: &mut [f64; 2], highest: usize) -> Option<[[f64; 2]; 2]> {
        let span = self.span_s();
        let mut hessian = [[0.0; 2]; 2];
        // In frequency the likelihood is as narrow as the highest multiples make it.
        let step = 0.16 / (highest as f64 * span);
        for _ in 0..ROUNDS {
            let value = |a: f64, d: f64| self.likelihood(at[0] + a, at[1] + d);
            let here = value(0.0, 0.0);
            let (a_up, a_down) = (value(step, 0.0), value(-step, 0.0));
            let (d_up, d_down) = (value(0.0, step), value(0.0, -step));
            let both = value(step, step) + value(-step, -step);
            let cross = (both - a_up - a_down - d_up - d_down + 2.0 * here) / 2.0;
            let square = step * step;
            hessian = [
                [(a_up - 2.0 * here + a_down) / square, cross / square],
                [cross / square, (d_up - 2.0 * here + d_down) / square],
            ];
            let slope = [(a_up - a_down) / (2.0 * step), (d_up - d_down) / (2.0 * step)];
            let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
            if !(determinant > 0.0 && hessian[0][0] < 0.0) {
                return None;
            }
            let limit = 15.0 * step;
            let move_a = (slope[0] * hessian[1][1] - slope[1] * hessian[0][1]) / determinant;
            let move_d = (slope[1] * hessian[0][0] - slope[0] * hessian[1][0]) / determinant;
            at[0] -= move_a.clamp(-limit, limit);
            at[1] -= move_d.clamp(-limit, limit);
            if move_a.abs().max(move_d.abs()) < SETTLED * step {
                break;
            }
        }
        Some(hessian)
    }

    /// Where the upper tone lies, when the smooth phase is the lower one's and they are about `difference_hz`
    /// apart: half of it over that phase, and the difference.
    fn beside_lower(&self, difference_hz: f64) -> Option<[f64; 2]> {
        let moved = |step: i32| f64::from(step) * STEP_TURNS / self.span_s();
        let places = (-STEPS..=STEPS).map(|step| [moved(step) / 2.0, difference_hz + moved(step)]);
        let each = places.map(|at| (self.likelihood(at[0], at[1]), at));
        each.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, at)| at)
    }

    pub(super) fn span_s(&self) -> f64 {
        self.time_s.last().unwrap_or(&0.0) - self.time_s.first().unwrap_or(&0.0)
    }

    /// The lines about a multiple, as multiples of the lower tone in them (the rest is upper tone),
    /// when half the upper tone lies `a` hertz above the smooth phase's and the octave is off by
    /// `d`. The strongest come first.
    fn lines(&self, series: &Series, a: f64, d: f64) -> Vec<i32> {
        let own = series.multiple as i32;
        let all = if own % 2 == 1 {
            &[own, 1, -1, 3, -3, own - 2, own + 2][..]
        } else {
            &[0, 2, -2, own]
        };
        let mut lines = Vec::with_capacity(all.len());
        for n in all {
            let offset = series.multiple as f64 * a - f64::from(*n) * d / 2.0 - series.middle_hz;
            if offset.abs() <= IN_LOBE_BINS * self.bin_hz && !lines.contains(n) {
                lines.push(*n);
            }
        }
        lines
    }

    /// For each series, in order: its lines and the energy that they explain.
    pub(super) fn explained(&self, a: f64, d: f64) -> Vec<(Vec<i32>, f64)> {
        self.fitted(a, d, |_, _, _, lines, projection| (lines, projection.energy()))
    }

    /// What both tones do together that the course and the lines lack, frame by frame: how far their base goes
    /// on, in cycles, but for a straight line between the ends, which the fit takes for its own; and how loud
    /// they are. All lines together tell it.
    fn together(&self, a: f64, d: f64) -> Vec<(f64, f64)> {
        let mut told = vec![(0.0, 0.0, 0.0, 0.0); self.time_s.len()];
        self.fitted(a, d, |series, still, powers, _, projection| {
            let mut model = vec![Complex::new(0.0, 0.0); still.len()];
            for (line, amplitude) in projection.amplitudes() {
                powers.add(&mut model, -line, amplitude);
            }
            let multiple = series.multiple as f64;
            for ((told, z), model) in told.iter_mut().zip(still).zip(&model) {
                let share = z * model.conj() / series.noise;
                told.0 += multiple * share.im;
                told.1 += multiple * multiple / series.noise * model.norm_sqr();
                told.2 += share.re;
                told.3 += model.norm_sqr() / series.noise;
            }
        });
        let each = |(turned, weight, loud, all): &(f64, f64, f64, f64)| {
            let cycles = turned / (TAU * weight.max(f64::MIN_POSITIVE));
            (cycles, (loud / all.max(f64::MIN_POSITIVE)).clamp(0.3, 3.0))
        };
        let together: Vec<(f64, f64)> = told.iter().map(each).collect();
        let (first, last) = (together[0].0, together[together.len() - 1].0);
        let (start, span) = (self.time_s[0], self.span_s());
        let straight = |t: f64| first + (last - first) * (t - start) / span;
        self.time_s.iter().zip(together).map(|(t, (c, loud))| (c - straight(*t), loud)).collect()
    }

    /// The same problem about a course that goes by so much more, in cycles of the base, of tones as loud
    /// throughout.
    fn about(&mut self, together: &[(f64, f64)]) {
        for (t, (cycles, _)) in self.time_s.iter_mut().zip(together) {
            *t += cycles / self.base_hz;
        }
        for series in &mut self.series {
            let multiple = series.multiple as f64;
            for (z, (cycles, loud)) in series.turned.iter_mut().zip(together) {
                *z *= turned(-multiple * cycles) / loud;
            }
        }
    }

    /// Each series, in order, turned as the two tones go, with its lines and what they hold of it.
    fn fitted<T>(
        &self,
        a: f64,
        d: f64,
        mut told: impl FnMut(&Series, &[Complex<f64>], &Powers, Vec<i32>, &Projection) -> T,
    ) -> Vec<T> {
        // The lines about multiple q turn by q·a − n·d/2: all are products of powers of two turns.
        let turn =
            |hz: f64| -> Vec<Complex<f64>> { self.time_s.iter().map(|t| turned(hz * t)).collect() };
        let all: Vec<Vec<i32>> = self.series.iter().map(|s| self.lines(s, a, d)).collect();
        let widest = |lines: &Vec<i32>| {
            let ends = lines.iter().min().zip(lines.iter().max());
            ends.map_or(0, |(least, most)| (most - least).max(most.abs()).max(least.abs()))
        };
        let powers = Powers::new(&turn(d / 2.0), all.iter().map(widest).max().unwrap_or(0));
        let mut back = Multiples::of(turn(-a));
        self.series
            .iter()
            .zip(all)
            .map(|(series, lines)| {
                let turns = back.next(series.multiple);
                let still: Vec<Complex<f64>> =
                    series.turned.iter().zip(turns).map(|(z, turn)| z * turn).collect();
                let shares: Vec<Complex<f64>> =
                    lines.iter().map(|n| powers.share(&still, *n)).collect();
                let projection = Projection::new(&lines, &shares, |n| powers.sum(n));
                told(series, &still, &powers, lines, &projection)
            })
            .collect()
    }

    pub(super) fn likelihood(&self, a: f64, d: f64) -> f64 {
        let explained = self.explained(a, d);
        let each = self.series.iter().zip(explained).map(|(s, (_, energy))| energy / s.noise);
        each.sum::<f64>() / NOISE_CORRELATION
    }

    /// What the lines leave, over what the noise measured between the multiples would leave; the
    /// series count by what they tell of the frequencies. More than 1 where the model lacks
    /// something, less where other tones' lines fell into the noise's own bins.
    fn misfit(&self, a: f64, d: f64) -> f64 {
        let (mut top, mut bottom) = (0.0, 0.0);
        for (series, (lines, explained)) in self.series.iter().zip(self.explained(a, d)) {
            let all: f64 = series.turned.iter().map(|z| z.norm_sqr()).sum();
            let freedom = series.turned.len() as f64 - NOISE_CORRELATION * lines.len() as f64;
            let weight = (series.multiple * series.multiple) as f64 * explained / series.noise;
            top += weight * (all - explained) / (freedom.max(1.0) * series.noise);
            bottom += weight;
        }
        top / bottom
    }
}
