//! AES17 (from memory): a full-scale sine is 0 dBFS, so a sine of peak a has 20·log10(a) dBFS.

use std::f64::consts::TAU;

use reedcrow::pitch::A4;
use reedcrow::profile::Profile;
use reedcrow::reading::read;
use reedcrow::take::Take;

/// A 997 Hz sine, the frequency AES17 measures with, in faint noise of one 16-bit step.
fn sine(peak: f64) -> Take {
    let mut state = 1u32;
    let samples = (0..96_000)
        .map(|i| {
            // Numerical Recipes' linear congruential generator.
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let dither = (f64::from(state) / f64::from(u32::MAX) - 0.5) / 32_768.0;
            let tone = if (24_000..72_000).contains(&i) {
                peak * (TAU * 997.0 * f64::from(i) / 48_000.0).sin()
            } else {
                0.0
            };
            (tone + dither) as f32
        })
        .collect();
    Take {
        source: "sine".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        samples,
        ..Take::default()
    }
}

#[test]
fn a_sine_of_half_scale_is_6_02_db_under_full_scale() {
    for (peak, dbfs) in [(0.999, -0.009), (0.5, -6.021), (0.01, -40.0)] {
        let reading = read(&sine(peak), &Profile::default(), A4::default()).reading;
        let level = reading.crows[0].figures.level_dbfs.unwrap();
        assert!((level - dbfs).abs() < 0.05, "{peak}: {level}");
    }
}
