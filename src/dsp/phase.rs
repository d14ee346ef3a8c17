//! Mean frequency from a track of phases.
//!
//! A phase track is the cheapest sufficient record of a tone: its least-squares slope reaches the
//! Cramér-Rao bound of the whole stretch when the tone is steady, and the difference of its ends
//! is the mean frequency, exactly, when the tone itself wanders.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

use realfft::num_complex::Complex;

use super::statistics::{correlation_widening, line, running_mean, sample_sd, t_975};

/// Phases of one tone over time.
#[derive(Debug, Clone, Default)]
pub struct PhaseTrack {
    /// `[n]` moments in seconds, evenly spaced, ascending.
    pub time_s: Vec<f64>,
    /// `[n]` unwrapped phase in cycles.
    pub cycles: Vec<f64>,
    /// `[n]` standard deviation of each phase that the noise alone explains, in cycles.
    pub noise_cycles: Vec<f64>,
}

/// A mean frequency with its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanFrequency {
    /// In hertz.
    pub hz: f64,
    /// Half width of the 95 % interval, in hertz.
    pub ci95_hz: f64,
}

/// Where a tone begins and ends is known to this in a room, which lets it swell and die away, in seconds.
const ENDS_KNOWN_S: f64 = 0.1;
/// Where the residual phase wanders more than this many times what noise explains (as variance),
/// the tone itself wanders and its mean is taken from the ends of the track.
const WANDERS: f64 = 3.0;

impl PhaseTrack {
    /// Mean frequency over the track; `None` under 4 points.
    ///
    /// * `noise_correlation`: Σ over all lags of the correlation between the noise of neighbouring
    ///   phases (1 for independent ones; more where analysis frames overlap).
    /// * `fit_drift`: whether a straight-line drift of the frequency is taken out first.
    pub fn mean_frequency(&self, noise_correlation: f64, fit_drift: bool) -> Option<MeanFrequency> {
        let n = self.time_s.len();
        if n < 4 || self.cycles.len() != n || self.noise_cycles.len() != n {
            return None;
        }
        let middle = (self.time_s[0] + self.time_s[n - 1]) / 2.0;
        let x: Vec<f64> = self.time_s.iter().map(|t| t - middle).collect();
        // The points are even in time: odd and even powers do not mix, so the slope at the middle
        // is that of the straight line, and it is the mean frequency of a linear drift as well.
        let straight = line(&x, &self.cycles)?;
        let mut residual: Vec<f64> =
            x.iter().zip(&self.cycles).map(|(x, c)| c - straight.at(*x)).collect();
        if fit_drift && n >= 8 {
            remove_parabola(&x, &mut residual);
        }
        let freedom = (n as f64 / noise_correlation - if fit_drift { 3.0 } else { 2.0 }).max(1.0);
        let squares: f64 = residual.iter().map(|r| r * r).sum();
        let variance = squares / (n as f64 - 2.0).max(1.0);
        let noise = self.noise_cycles.iter().map(|s| s * s).sum::<f64>() / n as f64;
        let spread_x: f64 = x.iter().map(|x| x * x).sum();
        if variance > WANDERS * noise && n >= 16 {
            return self.wandering_mean(&residual);
        }
        let sd = (variance.max(0.7 * noise) * noise_correlation / spread_x).sqrt();
        Some(MeanFrequency { hz: straight.slope, ci95_hz: t_975(freedom) * sd })
    }

    /// The phase as a parabola through the track: a straight drift of the frequency. `None` under 4
    /// points.
    pub fn drifting(&self) -> Option<Vec<f64>> {
        let rough = self.about_drift()?;
        Some(self.cycles.iter().zip(&rough).map(|(c, r)| c - r).collect())
    }

    /// The same with the wander about it averaged over `ripple_s`: what comes and goes in that time is
    /// none. `None` where noise explains the wander, or the track is too short for it.
    ///
    /// * `noise_correlation`: as for [`PhaseTrack::mean_frequency`].
    pub fn wandering(&self, ripple_s: f64, noise_correlation: f64) -> Option<Vec<f64>> {
        let rough = self.about_drift()?;
        let n = rough.len();
        let hop = (self.time_s[n - 1] - self.time_s[0]) / (n - 1) as f64;
        let reach = (ripple_s / hop / 2.0).round().max(1.0);
        if !(reach < n as f64 / 4.0) {
            return None;
        }
        let wander = running_mean(&rough, reach as usize);
        let power = wander.iter().map(|w| w * w).sum::<f64>() / n as f64;
        let noise = self.noise_cycles.iter().map(|s| s * s).sum::<f64>() / n as f64;
        let wanders = power >= WANDERS * noise * noise_correlation / (2.0 * reach);
        let smooth = || self.cycles.iter().zip(&rough).zip(&wander).map(|((c, r), w)| c - r + w);
        wanders.then(|| smooth().collect())
    }

    /// What a straight drift of the frequency leaves of the phase.
    fn about_drift(&self) -> Option<Vec<f64>> {
        let n = self.time_s.len();
        if n < 4 {
            return None;
        }
        let middle = (self.time_s[0] + self.time_s[n - 1]) / 2.0;
        let x: Vec<f64> = self.time_s.iter().map(|t| t - middle).collect();
        let straight = line(&x, &self.cycles)?;
        let mut rough: Vec<f64> =
            x.iter().zip(&self.cycles).map(|(x, c)| c - straight.at(*x)).collect();
        remove_parabola(&x, &mut rough);
        Some(rough)
    }

    /// Mean as the phase difference of the ends, its interval from the scatter of the frequency
    /// about its drift: as much as ends that are known to [`ENDS_KNOWN_S`] leave of it, or, of a short
    /// stretch, as a few independent looks at it would.
    fn wandering_mean(&self, residual: &[f64]) -> Option<MeanFrequency> {
        let n = self.time_s.len();
        let end = (n / 10).clamp(1, 8);
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let span = mean(&self.time_s[n - end..]) - mean(&self.time_s[..end]);
        let cycles = mean(&self.cycles[n - end..]) - mean(&self.cycles[..end]);
        if !(span > 0.0) {
            return None;
        }
        // Frequency of consecutive stretches of about 50 ms, about the drift already taken out.
        let hop = (self.time_s[n - 1] - self.time_s[0]) / (n - 1) as f64;
        let stride = ((0.05 / hop).round() as usize).clamp(1, (n / 4).max(1));
        let steps: Vec<f64> = residual
            .iter()
            .zip(&residual[stride..])
            .step_by(stride)
            .map(|(a, b)| (b - a) / (stride as f64 * hop))
            .collect();
        let spread = sample_sd(&steps)?;
        let average = mean(&steps);
        let about: Vec<f64> = steps.iter().map(|s| s - average).collect();
        let widening = correlation_widening(&about);
        // The mean between the ends is exact; where the ends are is not.
        let by_ends = std::f64::consts::SQRT_2 * ENDS_KNOWN_S / span;
        let sd = spread * (widening / (steps.len() as f64).sqrt()).min(by_ends);
        let noise = self.noise_cycles.iter().map(|s| s * s).sum::<f64>() / n as f64;
        let ends = (2.0 * noise / end as f64).sqrt() / span;
        let freedom = (steps.len() as f64 / widening.powi(2) - 1.0).max(2.0);
        Some(MeanFrequency { hz: cycles / span, ci95_hz: t_975(freedom) * sd.hypot(ends) })
    }

    /// Frequency of consecutive frames of `frame_s`, by least squares within each: pairs of the
    /// frame's middle and its frequency in hertz.
    pub fn frames(&self, frame_s: f64) -> Vec<(f64, f64)> {
        let n = self.time_s.len();
        if n < 3 {
            return Vec::new();
        }
        let hop = (self.time_s[n - 1] - self.time_s[0]) / (n - 1) as f64;
        if !(hop > 0.0) {
            return Vec::new();
        }
        let per_frame = ((frame_s / hop).round() as usize).max(3);
        self.time_s
            .chunks_exact(per_frame)
            .zip(self.cycles.chunks_exact(per_frame))
            .filter_map(|(time, cycles)| line(time, cycles).map(|l| (l.mean_x, l.slope)))
            .collect()
    }
}

/// The unit vector that has turned by so many cycles, to rounding: by the series of sine and cosine within an
/// eighth of a cycle, in a fifth of the time that a library takes for any angle.
///
/// * `cycles`: under 10¹⁴.
pub fn turned(cycles: f64) -> Complex<f64> {
    /// What is added to this, 1.5·2⁵², is rounded to a whole number, which its last bits tell.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    let quarters = 4.0 * cycles;
    let whole = quarters + WHOLE;
    let x = (quarters - (whole - WHOLE)) * FRAC_PI_2;
    let s = x * x;
    // Both series side by side, as a vector register holds them.
    let mut series = [0.0; 2];
    for terms in SINE_COSINE.iter().rev() {
        series = [s * (series[0] + terms[0]), s * (series[1] + terms[1])];
    }
    let sine = x + x * series[0];
    let cosine = 1.0 + series[1];
    let quarter = whole.to_bits();
    let (re, im) = if quarter & 1 == 0 { (cosine, sine) } else { (sine, cosine) };
    let signed =
        |value: f64, is_negative: u64| f64::from_bits(value.to_bits() ^ (is_negative << 63));
    Complex::new(signed(re, (quarter.wrapping_add(1) >> 1) & 1), signed(im, (quarter >> 1) & 1))
}

/// Of the second power of the angle and its multiples, in the series of the sine over the angle and in that of
/// the cosine.
const SINE_COSINE: [[f64; 2]; 8] = [
    [-1.0 / 6.0, -1.0 / 2.0],
    [1.0 / 120.0, 1.0 / 24.0],
    [-1.0 / 5_040.0, -1.0 / 720.0],
    [1.0 / 362_880.0, 1.0 / 40_320.0],
    [-1.0 / 39_916_800.0, -1.0 / 3_628_800.0],
    [1.0 / 6_227_020_800.0, 1.0 / 479_001_600.0],
    [-1.0 / 1_307_674_368_000.0, -1.0 / 87_178_291_200.0],
    [1.0 / 355_687_428_096_000.0, 1.0 / 20_922_789_888_000.0],
];

/// The sum of products of two series, each pair by `of`; in four sums, of which none waits for the others.
pub fn summed<T: Copy>(
    one: &[Complex<f64>],
    other: &[T],
    of: impl Fn(Complex<f64>, T) -> Complex<f64>,
) -> Complex<f64> {
    let (one, of_one) = one.as_chunks::<4>();
    let (other, of_other) = other.as_chunks::<4>();
    let mut sums = [Complex::<f64>::default(); 4];
    for (one, other) in one.iter().zip(other) {
        for i in 0..4 {
            sums[i] += of(one[i], other[i]);
        }
    }
    let rest: Complex<f64> = of_one.iter().zip(of_other).map(|(a, b)| of(*a, *b)).sum();
    (sums[0] + sums[2]) + (sums[1] + sums[3]) + rest
}

/// Multiples of turns, one after the other, in ascending order.
#[derive(Debug)]
pub struct Multiples {
    once: Vec<Complex<f64>>,
    /// Made when first stepped by.
    twice: Vec<Complex<f64>>,
    /// The last one taken, and which it is.
    last: Vec<Complex<f64>>,
    multiple: usize,
}

impl Multiples {
    /// Of these turns.
    pub fn of(once: Vec<Complex<f64>>) -> Self {
        let last = vec![Complex::new(1.0, 0.0); once.len()];
        Self { once, twice: Vec::new(), last, multiple: 0 }
    }

    /// The turns `multiple` times, which is no less than the last one.
    pub fn next(&mut self, multiple: usize) -> &[Complex<f64>] {
        let turn = |last: &mut [Complex<f64>], by: &[Complex<f64>]| {
            last.iter_mut().zip(by).for_each(|(turn, by)| *turn *= by);
        };
        let more = multiple.saturating_sub(self.multiple);
        if more > 1 && self.twice.is_empty() {
            self.twice = self.once.iter().map(|turn| turn * turn).collect();
        }
        (0..more / 2).for_each(|_| turn(&mut self.last, &self.twice));
        if more % 2 == 1 {
            turn(&mut self.last, &self.once);
        }
        self.multiple += more;
        &self.last
    }
}

/// The angle of a vector in radians, −π … π, to rounding: by the series of the arc tangent about the nearest
/// eighth.
pub fn angle(z: Complex<f64>) -> f64 {
    let (x, y) = (z.re.abs(), z.im.abs());
    let (low, high) = if y <= x { (y, x) } else { (x, y) };
    // Mostly it is small, and that is told without a division.
    let (near, t) = if 16.0 * low <= high {
        (0.0, low / high)
    } else {
        let eighth = ((8.0 * low / high + 0.5) as usize).min(8);
        let tangent = 0.125 * eighth as f64;
        (ARC_TANGENTS[eighth], (low - tangent * high) / (high + tangent * low))
    };
    let s = t * t;
    let series = 1.0 / 3.0 - s * (0.2 - s * (1.0 / 7.0 - s * (1.0 / 9.0 - s * (1.0 / 11.0))));
    let low_angle = near + (t - t * s * series);
    let half = if y <= x { low_angle } else { FRAC_PI_2 - low_angle };
    let whole = if z.re < 0.0 { PI - half } else { half };
    if high > 0.0 { whole.copysign(z.im) } else { 0.0 }
}

/// Arc tangents of eighths.
const ARC_TANGENTS: [f64; 9] = [
    0.0,
    0.12435499454676144,
    0.24497866312686414,
    0.35877067027057225,
    0.4636476090008061,
    0.5585993153435624,
    0.6435011087932844,
    0.7188299996216245,
    FRAC_PI_4,
];

/// Takes the least-squares parabola (even part) off values at symmetric abscissas.
fn remove_parabola(x: &[f64], values: &mut [f64]) {
    let n = x.len() as f64;
    let mean_square = x.iter().map(|x| x * x).sum::<f64>() / n;
    let even = |x: f64| x * x - mean_square;
    let power: f64 = x.iter().map(|x| even(*x).powi(2)).sum();
    if power > 0.0 {
        let bend = x.iter().zip(values.iter()).map(|(x, v)| even(*x) * v).sum::<f64>() / power;
        for (x, value) in x.iter().zip(values) {
            *value -= bend * even(*x);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The library's own functions are the judges.
    #[test]
    fn vectors_turn_and_have_angles_as_the_library_says() {
        for i in -4000..4000 {
            let cycles = f64::from(i) * 0.37e-2 + 1e-5;
            let (sine, cosine) = (std::f64::consts::TAU * cycles).sin_cos();
            let found = turned(cycles);
            assert!(
                (found.re - cosine).abs() < 2e-14 && (found.im - sine).abs() < 2e-14,
                "{cycles}"
            );
            let z = found * 3.7e-9;
            assert!((angle(z) - z.arg()).abs() < 1e-15, "{cycles}");
        }
        assert!((turned(123_456_789.25) - Complex::i()).norm() < 1e-7);
        assert_eq!(angle(Complex::default()), 0.0);
    }

    /// Each multiple by itself is the judge, and each sum of products one after the other.
    #[test]
    fn multiples_and_sums_are_those_of_one_after_the_other() {
        let once = |i: u32| f64::from(i) * 0.031 - 0.2;
        let mut multiples = Multiples::of((0..11).map(|i| turned(once(i))).collect());
        for multiple in [0, 1, 3, 4, 4, 9, 16] {
            let found = multiples.next(multiple).to_vec();
            for (i, found) in (0..).zip(&found) {
                let right = turned(once(i) * multiple as f64);
                assert!((found - right).norm() < 1e-13, "{multiple} {i}");
            }
            let slow: Complex<f64> = found.iter().map(|z| z * z.conj() * 2.0).sum();
            let sum = summed(&found, &found, |one, other| one * other.conj() * 2.0);
            assert!((sum - slow).norm() < 1e-12 && (sum.re - 22.0).abs() < 1e-9);
        }
    }
}
