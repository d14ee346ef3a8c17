//! Medians, lines through points, and intervals of means of correlated series.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Half widths of 95 % intervals are this many standard errors (normal distribution).
pub const NORMAL_95: f64 = 1.959_964;

/// Median of the finite values; `None` when there is none. Reorders `values`.
pub fn median_in_place(values: &mut [f64]) -> Option<f64> {
    quantile_in_place(values, 0.5)
}

/// Median of the finite values; `None` when there is none.
pub fn median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut finite: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).collect();
    median_in_place(&mut finite)
}

/// Quantile `q` (0 … 1) by linear interpolation between order statistics; `None` when empty.
/// Reorders `values`, which must be finite.
pub fn quantile_in_place(values: &mut [f64], q: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let position = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let index = position.floor() as usize;
    let (_, &mut low, above) = values.select_nth_unstable_by(index, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    Some(low + (high - low) * (position - index as f64))
}

/// The middle of many values, and the middle half of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distribution {
    /// The middle value; of an even count, the mean of the two in the middle.
    pub median: f64,
    /// A quarter of the way through the sorted values, between neighbours by a straight line.
    pub lower_quartile: f64,
    /// Three quarters of the way.
    pub upper_quartile: f64,
}

impl Distribution {
    /// Of the finite ones of `values`; `None` where there is none.
    pub fn of(values: &[f64]) -> Option<Self> {
        let mut finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
        let mut quantile = |share| quantile_in_place(&mut finite, share);
        Some(Self {
            median: quantile(0.5)?,
            lower_quartile: quantile(0.25)?,
            upper_quartile: quantile(0.75)?,
        })
    }
}

/// Sum of single-precision values, eight side by side as vector registers hold them.
pub fn sum(values: &[f32]) -> f32 {
    let (eights, rest) = values.as_chunks::<8>();
    let mut sums = [0.0_f32; 8];
    for eight in eights {
        for (sum, value) in sums.iter_mut().zip(eight) {
            *sum += value;
        }
    }
    sums.iter().sum::<f32>() + rest.iter().sum::<f32>()
}

/// Arithmetic mean; `None` when empty.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Sample standard deviation (n − 1); `None` under two values.
pub fn sample_sd(values: &[f64]) -> Option<f64> {
    let mean = mean(values)?;
    (values.len() > 1).then(|| {
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        (squares / (values.len() - 1) as f64).sqrt()
    })
}

/// A straight line y = `at_mean` + `slope`·(x − `mean_x`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Mean of the abscissas.
    pub mean_x: f64,
    /// Ordinate there.
    pub at_mean: f64,
    /// Ordinate units per abscissa unit.
    pub slope: f64,
}

impl Line {
    /// Ordinate at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.at_mean + self.slope * (x - self.mean_x)
    }
}

/// Least-squares line through `[n]` points with weights of any scale; `None` under two distinct
/// abscissas. Slices must have one length; extra elements are ignored.
pub fn weighted_line(x: &[f64], y: &[f64], weight: &[f64]) -> Option<Line> {
    let total: f64 = weight.iter().sum();
    if !(total > 0.0) {
        return None;
    }
    let points = || x.iter().zip(y).zip(weight);
    let mean_x = points().map(|((x, _), w)| w * x).sum::<f64>() / total;
    let mean_y = points().map(|((_, y), w)| w * y).sum::<f64>() / total;
    let spread: f64 = points().map(|((x, _), w)| w * (x - mean_x).powi(2)).sum();
    if !(spread > 0.0) {
        return None;
    }
    let slope = points().map(|((x, y), w)| w * (x - mean_x) * (y - mean_y)).sum::<f64>() / spread;
    Some(Line { mean_x, at_mean: mean_y, slope })
}

/// Least-squares line through `[n]` points.
pub fn line(x: &[f64], y: &[f64]) -> Option<Line> {
    weighted_line(x, y, &vec![1.0; x.len().min(y.len())])
}

/// How much wider the interval of a mean is than for independent values: the square root of
/// 1 + 2·Σρ, from the autocorrelation of `residuals` up to the first lag where it is no longer
/// positive (initial positive sequence; Geyer, Statistical Science 7, 1992, from memory).
pub fn correlation_widening(residuals: &[f64]) -> f64 {
    let n = residuals.len();
    let power: f64 = residuals.iter().map(|r| r * r).sum();
    if n < 4 || !(power > 0.0) {
        return 1.0;
    }
    let mut sum = 0.0;
    for lag in 1..n / 3 + 1 {
        let rho: f64 =
            residuals.iter().zip(&residuals[lag..]).map(|(a, b)| a * b).sum::<f64>() / power;
        if rho <= 0.0 {
            break;
        }
        sum += rho;
    }
    (1.0 + 2.0 * sum).sqrt()
}

/// The 97.5 % point of Student's t distribution: the factor of a two-sided 95 % interval; that of the
/// normal distribution where the degrees of freedom have no bound.
///
/// * `freedom`: degrees of freedom, fractions allowed; fewer than 1 count as 1.
pub fn t_975(freedom: f64) -> f64 {
    if !freedom.is_finite() || freedom > 1e6 {
        return NORMAL_95;
    }
    StudentsT::new(0.0, 1.0, freedom.max(1.0))
        .map_or(f64::INFINITY, |student| student.inverse_cdf(0.975))
}

/// Mean of `values` over `reach` to either side of each, as far as there are any.
pub fn running_mean(values: &[f64], reach: usize) -> Vec<f64> {
    let mut running = vec![0.0; values.len() + 1];
    for (i, value) in values.iter().enumerate() {
        running[i + 1] = running[i] + value;
    }
    (0..values.len())
        .map(|i| {
            let (low, high) = (i.saturating_sub(reach), (i + reach + 1).min(values.len()));
            (running[high] - running[low]) / (high - low) as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17's `stats.t.ppf(0.975, n)`: whole degrees are in printed tables too (3.182 of 3,
    /// 2.042 of 30), fractions are not.
    #[test]
    fn t_points_match_scipy_between_whole_degrees_too() {
        for (freedom, expected) in [
            (1.0, 12.706_204_7),
            (1.49, 6.073_542_6),
            (1.51, 5.961_175_2),
            (2.0, 4.302_652_7),
            (2.49, 3.584_947_0),
            (3.0, 3.182_446_3),
            (30.0, 2.042_272_5),
            (f64::INFINITY, 1.959_964_0),
        ] {
            let found = t_975(freedom);
            assert!((found / expected - 1.0).abs() < 1e-6, "{freedom}: {found} {expected}");
        }
    }

    #[test]
    fn quantiles_interpolate_between_order_statistics() {
        assert_eq!(median([3.0, 1.0, 2.0, 4.0]), Some(2.5));
        assert_eq!(median([f64::NAN, 7.0]), Some(7.0));
        assert_eq!(median([]), None);
        assert_eq!(quantile_in_place(&mut [1.0, 2.0, 3.0, 4.0, 5.0], 0.25), Some(2.0));
    }

    #[test]
    fn a_line_through_points_on_a_line_is_that_line() {
        let x = [1.0, 2.0, 4.0, 8.0];
        let y = x.map(|x| 3.0 - 0.5 * x);
        let found = line(&x, &y).unwrap();
        assert!((found.slope + 0.5).abs() < 1e-12 && (found.at(0.0) - 3.0).abs() < 1e-12);
        assert_eq!(line(&[1.0, 1.0], &[0.0, 1.0]), None);
    }

    #[test]
    fn independent_values_widen_little_and_equal_pairs_by_root_two() {
        let mut state = 1_u64;
        let mut next = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let pairs: Vec<f64> = (0..4000).flat_map(|_| [next(); 2]).collect();
        let widening = correlation_widening(&pairs);
        assert!((widening - 2.0_f64.sqrt()).abs() < 0.15, "{widening}");
    }

    #[test]
    fn the_median_is_no_bin_but_the_middle_of_the_values() {
        let of = |values: &[f64]| Distribution::of(values).unwrap();
        assert_eq!(of(&[-40.6]).median, -40.6);
        let four = of(&[3.25, -40.6, f64::NAN, 12.5, -10.4]);
        assert_eq!(four.median, (3.25 - 10.4) / 2.0);
        // Positions 0.75 and 2.25 of 0 … 3.
        let close = |a: f64, b: f64| (a - b).abs() < 1e-12;
        assert!(close(four.lower_quartile, -40.6 + 0.75 * 30.2), "{four:?}");
        assert!(close(four.upper_quartile, 3.25 + 0.25 * 9.25), "{four:?}");
        assert_eq!(Distribution::of(&[f64::NAN]), None);
    }
}
