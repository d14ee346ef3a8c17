//! Two tones that do not stand at 2:1, fitted together with their combination tones.
//!
//! Near every multiple of half the upper tone lie several lines, as far apart as the octave is
//! off: a multiple of one of the tones, and the combination tones n₁·f_low + n₂·f_up that any
//! nonlinearity adds. Read alone, each pulls the others' frequency; so the amplitudes of all are
//! fitted at once, and the two frequencies are those that leave least.

use std::collections::HashSet;
use std::ops::Range;

use realfft::num_complex::Complex;

use super::family::Family;
use super::orders::NOISE_CORRELATION;

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
}

/// Multiples of half the upper tone that take part: those up to the first at first, and from what
/// these tell, as many as the second.
const HIGHEST_MULTIPLES: [usize; 2] = [8, 22];
/// Lines farther than this from a bin's middle, in bins, are not in its frames.
const IN_LOBE_BINS: f64 = 1.3;
/// Half the width of a line in frequency.
const MAIN_LOBE_BINS: f64 = 2.0;
/// The fit stands when what it leaves is no more than this many times the noise.
const FITS: f64 = 4.0;
/// Rounds of Newton's method, at most …
const ROUNDS: usize = 6;
/// … until it moves by less than this share of the step that derivatives are taken over.
const SETTLED: f64 = 1e-3;

/// Fits both tones over `frames`.
///
/// * `family`: over the base of half the upper tone; its multiples are not used.
/// * `cycles`: `[frames]` smooth phase of that base.
/// * `difference_hz`: f_up − 2·f_low, as found so far; may be negative.
///
/// `None` where the lines are not told apart, or do not explain what is there.
pub fn fit(
    family: &Family<'_>,
    frames: Range<usize>,
    cycles: &[f64],
    difference_hz: f64,
) -> Option<TwoTones> {
    let mut problem = Problem::new(family, frames, cycles, difference_hz)?;
    let span = problem.span_s();
    // Lines nearer than this cannot be told apart.
    if difference_hz.abs() * span < 0.8 {
        return None;
    }
    let mut all = std::mem::take(&mut problem.series).into_iter().peekable();
    let mut at = [0.0, difference_hz];
    let mut hessian = [[0.0; 2]; 2];
    for highest in HIGHEST_MULTIPLES {
        while let Some(series) = all.next_if(|series| series.multiple <= highest) {
            problem.series.push(series);
        }
        // In frequency the likelihood is as narrow as the highest multiples make it.
        let step = 0.16 / (highest as f64 * span);
        for _ in 0..ROUNDS {
            let value = |a: f64, d: f64| problem.likelihood(at[0] + a, at[1] + d);
            let here = value(0.0, 0.0);
            let (a_up, a_down) = (value(step, 0.0), value(-step, 0.0));
            let (d_up, d_down) = (value(0.0, step), value(0.0, -step));
            let cross =
                value(step, step) - value(step, -step) - value(-step, step) + value(-step, -step);
            let square = step * step;
            hessian = [
                [(a_up - 2.0 * here + a_down) / square, cross / (4.0 * square)],
                [cross / (4.0 * square), (d_up - 2.0 * here + d_down) / square],
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
    }
    let misfit = problem.misfit(at[0], at[1]);
    if (at[1] - difference_hz).abs() * span > 0.15 || misfit > FITS {
        return None;
    }
    let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
    let variance_a = -hessian[1][1] / determinant * misfit;
    let variance_d = -hessian[0][0] / determinant * misfit;
    let covariance = hessian[0][1] / determinant * misfit;
    let half_upper_hz = problem.base_hz + at[0];
    // f_low = b + a − d/2.
    let lower_variance = variance_a + variance_d / 4.0 - covariance;
    Some(TwoTones {
        lower_hz: half_upper_hz - at[1] / 2.0,
        lower_sd_hz: lower_variance.max(0.0).sqrt(),
        half_upper_hz,
        half_upper_sd_hz: variance_a.sqrt(),
        difference_sd_hz: variance_d.sqrt() / 2.0,
    })
}

struct Problem {
    /// `[frames]` moments about the middle of the stretch as the smooth phase counts them, in
    /// seconds: both tones drift together, and so does how far they are off.
    time_s: Vec<f64>,
    /// Mean of half the upper tone, as the smooth phase has it.
    base_hz: f64,
    bin_hz: f64,
    series: Vec<Series>,
}

/// What the bins about one multiple of half the upper tone hold.
struct Series {
    multiple: usize,
    /// `[frames]` amplitudes, turned back by that multiple of the smooth phase.
    turned: Vec<Complex<f64>>,
    /// Mean square of the noise.
    noise: f64,
    /// The middle of the bin, over that multiple, in hertz.
    middle_hz: f64,
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
        series.sort_by_key(|series| series.multiple);
        (frames.len() >= 12).then(|| Self {
            time_s: cycles.iter().map(|c| (c - middle) / base_hz).collect(),
            base_hz,
            bin_hz: orders.bin_hz(),
            series,
        })
    }

    fn span_s(&self) -> f64 {
        self.time_s.last().unwrap_or(&0.0) - self.time_s.first().unwrap_or(&0.0)
    }

    /// Offsets of the lines about a multiple, in hertz, when half the upper tone lies `a` above the
    /// smooth phase's and the octave is off by `d`.
    fn lines(&self, series: &Series, a: f64, d: f64) -> Vec<f64> {
        // Multiples of the lower tone in a line; the rest is upper tone. The strongest come first.
        let own = series.multiple as i32;
        let mut counts: Vec<i32> = if own % 2 == 1 {
            vec![own, 1, -1, 3, -3, own - 2, own + 2]
        } else {
            vec![0, 2, -2, own]
        };
        let mut known = HashSet::new();
        counts.retain(|count| known.insert(*count));
        counts
            .into_iter()
            .map(|n| series.multiple as f64 * a - f64::from(n) * d / 2.0)
            .filter(|offset| (offset - series.middle_hz).abs() <= IN_LOBE_BINS * self.bin_hz)
            .collect()
    }

    /// Energy of one series that its lines explain.
    fn explained(&self, series: &[Complex<f64>], lines: &[f64]) -> f64 {
        let mut basis: Vec<Vec<Complex<f64>>> = Vec::with_capacity(lines.len());
        let mut energy = 0.0;
        for hz in lines {
            let mut column: Vec<Complex<f64>> = self
                .time_s
                .iter()
                .map(|t| Complex::from_polar(1.0, std::f64::consts::TAU * hz * t))
                .collect();
            let before = column.len() as f64;
            for known in &basis {
                let share: Complex<f64> =
                    known.iter().zip(&column).map(|(k, c)| k.conj() * c).sum();
                column.iter_mut().zip(known).for_each(|(c, k)| *c -= share * k);
            }
            let norm: f64 = column.iter().map(|c| c.norm_sqr()).sum();
            // A line that the others nearly make up has nothing of its own to say.
            if norm < 0.02 * before {
                continue;
            }
            let scale = norm.sqrt().recip();
            column.iter_mut().for_each(|c| *c *= scale);
            let share: Complex<f64> = column.iter().zip(series).map(|(c, z)| c.conj() * z).sum();
            energy += share.norm_sqr();
            basis.push(column);
        }
        energy
    }

    fn likelihood(&self, a: f64, d: f64) -> f64 {
        let of = |series: &Series| {
            self.explained(&series.turned, &self.lines(series, a, d)) / series.noise
        };
        self.series.iter().map(of).sum::<f64>() / NOISE_CORRELATION
    }

    /// What the lines leave, over what the noise measured between the multiples would leave; the
    /// series count by what they tell of the frequencies. More than 1 where the model lacks
    /// something, less where other tones' lines fell into the noise's own bins.
    fn misfit(&self, a: f64, d: f64) -> f64 {
        let (mut top, mut bottom) = (0.0, 0.0);
        for series in &self.series {
            let lines = self.lines(series, a, d);
            let all: f64 = series.turned.iter().map(|z| z.norm_sqr()).sum();
            let explained = self.explained(&series.turned, &lines);
            let freedom = series.turned.len() as f64 - NOISE_CORRELATION * lines.len() as f64;
            let weight = (series.multiple * series.multiple) as f64 * explained / series.noise;
            top += weight * (all - explained) / (freedom.max(1.0) * series.noise);
            bottom += weight;
        }
        top / bottom
    }
}
