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
    /// What the fit leaves, over what noise would.
    pub misfit: f64,
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
const SETTLED: f64 = 0.02;
/// What the fit scatters by is told from the stretch with each of so many blocks left out, …
const BLOCKS: usize = 8;
/// … and counts when it is this many times what noise explains, as variance: more than chance does
/// in one fit of ten.
const OVER_CHANCE: f64 = 1.8;

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
    }
    let misfit = problem.misfit(at[0], at[1]);
    if (at[1] - difference_hz).abs() * span > 0.15 || misfit > FITS {
        return None;
    }
    let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
    let mut covariance = Covariance {
        a: -hessian[1][1] / determinant * misfit,
        d: -hessian[0][0] / determinant * misfit,
        both: hessian[0][1] / determinant * misfit,
    };
    let scatter = problem.scatter(at, 0.16 / (HIGHEST_MULTIPLES[1] as f64 * span), &hessian);
    if scatter.a > OVER_CHANCE * covariance.a || scatter.d > OVER_CHANCE * covariance.d {
        covariance = scatter;
    }
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

/// Variances of the upper tone's base and of the octave's difference in hertz, and what they share.
#[derive(Debug, Clone, Copy, Default)]
struct Covariance {
    a: f64,
    d: f64,
    both: f64,
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

    /// The same without the frames of `block`.
    fn without(&self, block: &Range<usize>) -> Self {
        fn rest<T: Copy>(values: &[T], block: &Range<usize>) -> Vec<T> {
            [&values[..block.start], &values[block.end..]].concat()
        }
        let series = self.series.iter();
        Self {
            time_s: rest(&self.time_s, block),
            series: series
                .map(|series| Series { turned: rest(&series.turned, block), ..*series })
                .collect(),
            ..*self
        }
    }

    /// How much the fit scatters, by leaving out one block after the other (the jackknife; Efron,
    /// The Jackknife, the Bootstrap and Other Resampling Plans, 1982, from memory), each followed by
    /// one step of Newton's method. That holds what the model lacks, as long as it changes from block
    /// to block.
    ///
    /// * `at`, `hessian`: the fit, and the likelihood's second derivatives there.
    fn scatter(&self, at: [f64; 2], step: f64, hessian: &[[f64; 2]; 2]) -> Covariance {
        let count = self.time_s.len();
        let left = (BLOCKS - 1) as f64 / BLOCKS as f64;
        let determinant = hessian[0][0] * hessian[1][1] - hessian[0][1] * hessian[1][0];
        let moves: Vec<(f64, f64)> = (0..BLOCKS)
            .map(|block| {
                let rest = self.without(&(block * count / BLOCKS..(block + 1) * count / BLOCKS));
                let value = |a: f64, d: f64| rest.likelihood(at[0] + a, at[1] + d);
                let a = (value(step, 0.0) - value(-step, 0.0)) / (2.0 * step * left);
                let d = (value(0.0, step) - value(0.0, -step)) / (2.0 * step * left);
                let move_a = (a * hessian[1][1] - d * hessian[0][1]) / determinant;
                (-move_a, -(d * hessian[0][0] - a * hessian[1][0]) / determinant)
            })
            .collect();
        let mean =
            |part: fn(&(f64, f64)) -> f64| moves.iter().map(part).sum::<f64>() / BLOCKS as f64;
        let (mean_a, mean_d) = (mean(|m| m.0), mean(|m| m.1));
        let mut scatter = Covariance::default();
        for (a, d) in moves.iter().map(|m| (m.0 - mean_a, m.1 - mean_d)) {
            scatter.a += left * a * a;
            scatter.d += left * d * d;
            scatter.both += left * a * d;
        }
        scatter
    }

    fn span_s(&self) -> f64 {
        self.time_s.last().unwrap_or(&0.0) - self.time_s.first().unwrap_or(&0.0)
    }

    /// The lines about a multiple, as multiples of the lower tone in them (the rest is upper tone),
    /// when half the upper tone lies `a` hertz above the smooth phase's and the octave is off by
    /// `d`. The strongest come first.
    fn lines(&self, series: &Series, a: f64, d: f64) -> Vec<i32> {
        let own = series.multiple as i32;
        let mut lines: Vec<i32> = if own % 2 == 1 {
            vec![own, 1, -1, 3, -3, own - 2, own + 2]
        } else {
            vec![0, 2, -2, own]
        };
        let mut known = HashSet::new();
        lines.retain(|n| {
            let offset = series.multiple as f64 * a - f64::from(*n) * d / 2.0 - series.middle_hz;
            known.insert(*n) && offset.abs() <= IN_LOBE_BINS * self.bin_hz
        });
        lines
    }

    /// For each series, in order: its lines and the energy that they explain.
    fn explained(&self, a: f64, d: f64) -> Vec<(Vec<i32>, f64)> {
        // The lines about multiple q turn by q·a − n·d/2: all are products of powers of two turns.
        let turn = |hz: f64| -> Vec<Complex<f64>> {
            let turn = |t: &f64| Complex::from_polar(1.0, std::f64::consts::TAU * hz * t);
            self.time_s.iter().map(turn).collect()
        };
        let all: Vec<Vec<i32>> = self.series.iter().map(|s| self.lines(s, a, d)).collect();
        let widest = |lines: &Vec<i32>| {
            let ends = lines.iter().min().zip(lines.iter().max());
            ends.map_or(0, |(least, most)| (most - least).max(most.abs()).max(least.abs()))
        };
        let powers = Powers::new(&turn(d / 2.0), all.iter().map(widest).max().unwrap_or(0));
        let back = turn(-a);
        let mut turned_back = vec![Complex::new(1.0, 0.0); back.len()];
        let mut multiple = 0;
        self.series
            .iter()
            .zip(all)
            .map(|(series, lines)| {
                while multiple < series.multiple {
                    turned_back.iter_mut().zip(&back).for_each(|(turn, back)| *turn *= back);
                    multiple += 1;
                }
                let still: Vec<Complex<f64>> =
                    series.turned.iter().zip(&turned_back).map(|(z, turn)| z * turn).collect();
                let shares: Vec<Complex<f64>> =
                    lines.iter().map(|n| powers.share(&still, *n)).collect();
                let energy = projected(&lines, &shares, |n| powers.sum(n));
                (lines, energy)
            })
            .collect()
    }

    fn likelihood(&self, a: f64, d: f64) -> f64 {
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

/// Powers of a turn over the frames.
struct Powers {
    /// `[powers][frames]` from the 0th on.
    turns: Vec<Vec<Complex<f64>>>,
    /// Their sums over the frames.
    sums: Vec<Complex<f64>>,
}

impl Powers {
    fn new(turn: &[Complex<f64>], highest: i32) -> Self {
        let mut turns = vec![vec![Complex::new(1.0, 0.0); turn.len()]];
        for power in 0..highest as usize {
            turns.push(turns[power].iter().zip(turn).map(|(a, b)| a * b).collect());
        }
        let sums = turns.iter().map(|turns| turns.iter().sum()).collect();
        Self { turns, sums }
    }

    /// Σ z·turnⁿ.
    fn share(&self, series: &[Complex<f64>], n: i32) -> Complex<f64> {
        let turns = self.turns[n.unsigned_abs() as usize].iter().zip(series);
        if n < 0 { turns.map(|(t, z)| z * t.conj()).sum() } else { turns.map(|(t, z)| z * t).sum() }
    }

    /// Σ turnⁿ.
    fn sum(&self, n: i32) -> Complex<f64> {
        let sum = self.sums[n.unsigned_abs() as usize];
        if n < 0 { sum.conj() } else { sum }
    }
}

/// A line that the others make up but for this share has nothing of its own to say.
const OWN_SHARE: f64 = 0.02;

/// One line of a decomposition.
struct Kept {
    line: i32,
    /// Its row of the triangle.
    row: Vec<Complex<f64>>,
    /// Root of what the lines before it leave of it.
    root: f64,
    /// Its part of the series.
    part: Complex<f64>,
}

/// Energy of a series in the span of `lines`, by Cholesky's decomposition of their Gram matrix.
///
/// * `shares`: the series' product with each line.
/// * `product`: of two lines, by how far apart they are.
fn projected(lines: &[i32], shares: &[Complex<f64>], product: impl Fn(i32) -> Complex<f64>) -> f64 {
    let mut kept: Vec<Kept> = Vec::new();
    let mut energy = 0.0;
    for (&line, share) in lines.iter().zip(shares) {
        let whole = product(0).re;
        let (mut left, mut part, mut row) = (whole, *share, Vec::new());
        for other in &kept {
            let common: Complex<f64> =
                row.iter().zip(&other.row).map(|(a, b): (&Complex<f64>, _)| a * b.conj()).sum();
            let entry = (product(line - other.line) - common) / other.root;
            left -= entry.norm_sqr();
            part -= entry * other.part;
            row.push(entry);
        }
        if left < OWN_SHARE * whole {
            continue;
        }
        let root = left.sqrt();
        let part = part / root;
        energy += part.norm_sqr();
        kept.push(Kept { line, row, root, part });
    }
    energy
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two lines that share nothing hold what each holds; one that is nearly another adds nothing.
    #[test]
    fn energy_is_what_the_span_of_the_lines_holds() {
        let frames = 64;
        let turn: Vec<Complex<f64>> = (0..frames)
            .map(|t| Complex::from_polar(1.0, std::f64::consts::TAU * f64::from(t) / 64.0))
            .collect();
        let powers = Powers::new(&turn, 3);
        let series: Vec<Complex<f64>> =
            turn.iter().map(|t| t.conj() * 3.0 + t.powi(2) * 4.0).collect();
        let energy = |lines: &[i32]| {
            let shares: Vec<_> = lines.iter().map(|n| powers.share(&series, *n)).collect();
            projected(lines, &shares, |n| powers.sum(n))
        };
        assert!((energy(&[1]) - 9.0 * 64.0).abs() < 1e-9);
        assert!((energy(&[1, -2]) - 25.0 * 64.0).abs() < 1e-9);
        assert!((energy(&[1, 1, 3]) - 9.0 * 64.0).abs() < 1e-9);
    }
}
