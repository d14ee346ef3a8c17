//! Power of stretches of samples.

/// Mean square of the differences from each sample to the next, in squared units of the samples: what a
/// constant offset adds is left out, and most of what a rumble does.
///
/// * `samples`: `[n]`, any scale.
///
/// Returns `None` of fewer than two samples, which have no difference.
pub(crate) fn of_differences(samples: &[f32]) -> Option<f64> {
    let squares = samples.windows(2).map(|two| f64::from(two[1] - two[0]).powi(2));
    (samples.len() > 1).then(|| squares.sum::<f64>() / (samples.len() - 1) as f64)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn a_constant_has_none_and_one_sample_tells_nothing() {
        assert_eq!(of_differences(&[0.25; 100]), Some(0.0));
        assert_eq!(of_differences(&[0.25]), None);
        assert_eq!(of_differences(&[]), None);
    }

    /// In closed form: a sine of amplitude 1 has differences of amplitude 2·sin(π·f), f in cycles a
    /// sample, whatever offset it has. Single precision keeps seven digits of the samples.
    #[test]
    fn a_sine_has_that_of_the_sine_of_its_differences() {
        for (cycles, offset) in [(0.01, 0.0), (0.05, 0.0), (0.25, 0.5)] {
            let sine = |i: usize| (offset + (TAU * cycles * i as f64).sin()) as f32;
            // Whole cycles of differences: 100 of them end where they began.
            let samples: Vec<f32> = (0..=100).map(sine).collect();
            let amplitude = 2.0 * (TAU / 2.0 * cycles).sin();
            let found = of_differences(&samples).unwrap();
            assert!(
                (found / (0.5 * amplitude * amplitude) - 1.0).abs() < 1e-4,
                "{cycles}: {found}"
            );
        }
    }
}
