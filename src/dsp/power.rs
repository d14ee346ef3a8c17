//! Power of stretches of samples.

/// Mean square of the differences from each sample to the next, in squared units of the samples: what a
/// constant offset adds is left out, and most of what a rumble does.
///
/// * `samples`: `[n]`, any scale.
///
/// Returns `None` of fewer than two samples, which have no difference.
pub(crate) fn of_differences<'a>(
    samples: impl ExactSizeIterator<Item = &'a f32> + Clone,
) -> Option<f64> {
    let pairs = samples.len().checked_sub(1).filter(|pairs| *pairs > 0)?;
    let squares = samples.clone().zip(samples.skip(1)).map(|(a, b)| f64::from(b - a).powi(2));
    Some(squares.sum::<f64>() / pairs as f64)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn a_constant_has_none_and_one_sample_tells_nothing() {
        assert_eq!(of_differences([0.25; 100].iter()), Some(0.0));
        assert_eq!(of_differences([0.25].iter()), None);
        assert_eq!(of_differences([].iter()), None);
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
            let found = of_differences(samples.iter()).unwrap();
            assert!(
                (found / (0.5 * amplitude * amplitude) - 1.0).abs() < 1e-4,
                "{cycles}: {found}"
            );
        }
    }
}
