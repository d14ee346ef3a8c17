//! Gains over time: raised-cosine ramps, `t_s` in seconds.

use std::f64::consts::PI;

/// 0 before `from_s`, 1 after `from_s + ramp_s`, a raised cosine between. With `ramp_s` 0 a step.
pub(super) fn rise(t_s: f64, from_s: f64, ramp_s: f64) -> f64 {
    if t_s < from_s {
        0.0
    } else if t_s >= from_s + ramp_s {
        1.0
    } else {
        0.5 - 0.5 * (PI * (t_s - from_s) / ramp_s).cos()
    }
}

/// 1 before `to_s − ramp_s`, 0 after `to_s`, a raised cosine between.
pub(super) fn fall(t_s: f64, to_s: f64, ramp_s: f64) -> f64 {
    rise(to_s - t_s, 0.0, ramp_s)
}

/// Repeats every `period_s`: 1 for `share` of the period from `offset` (both as parts of a
/// period), 0 for the rest, with raised-cosine ramps of `ramp_s` inside the sounding part.
pub(super) fn turns(t_s: f64, period_s: f64, share: f64, offset: f64, ramp_s: f64) -> f64 {
    let place_s = (t_s / period_s - offset).rem_euclid(1.0) * period_s;
    rise(place_s, 0.0, ramp_s) * fall(place_s, share * period_s, ramp_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ramps_start_at_0_pass_one_half_and_end_at_1() {
        assert_eq!(rise(0.99, 1.0, 0.1), 0.0);
        assert!((rise(1.05, 1.0, 0.1) - 0.5).abs() < 1e-12);
        assert_eq!(rise(1.1, 1.0, 0.1), 1.0);
        assert!((fall(1.95, 2.0, 0.1) - 0.5).abs() < 1e-12);
        assert_eq!(fall(2.01, 2.0, 0.1), 0.0);
    }

    #[test]
    fn turns_sound_for_their_share_of_the_period() {
        let on = (0..10_000).filter(|&i| turns(f64::from(i) * 1e-4, 0.2, 0.4, 0.1, 0.0) > 0.5);
        assert!((on.count() as f64 / 10_000.0 - 0.4).abs() < 0.01);
    }
}
