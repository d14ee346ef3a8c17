//! Sounds that hold a tone and are no crow: knocks, voices, hum, what only seems to have a tone.

use std::ops::Range;

use super::balance::{HIGHEST_HZ, LOWEST_HZ, MeanSpectrum};
use super::coarse::CoarseTrack;
use super::orders::Orders;
use super::rungs::RungCourse;
use crate::dsp::statistics::{line, quantile_in_place};

/// Frames are tested for periodicity this often.
const TONAL_TEST_S: f64 = 0.01;
/// Share of the tests between the first and last tonal one that must be tonal.
const LEAST_DENSITY: f64 = 0.4;
/// Voices lie under this …
const HIGHEST_VOICE_HZ: f64 = 360.0;
/// … and move farther than this within a sound.
const VOICE_RANGE_CENTS: f64 = 80.0;
/// What is struck dies away faster than this; a held crow does not.
const DYING_DB_PER_S: f64 = -70.0;
/// Hum is a multiple of the mains under this, give or take this share, …
const HUM: (f64, f64) = (250.0, 0.005);
/// … with this share of its power under this frequency.
const HUM_LOW: (f64, f64) = (0.97, 500.0);

/// Whether the tonal frames are strewn over the sound instead of making up one tone.
///
/// * `tonal_frames`: frames that passed the test for periodicity.
pub fn is_scattered(coarse: &CoarseTrack, tonal_frames: usize) -> bool {
    let (Some(first), Some(last)) = (coarse.knots.first(), coarse.knots.last()) else {
        return true;
    };
    let frames = (last.0 - first.0) / TONAL_TEST_S + 1.0;
    (tonal_frames as f64) < LEAST_DENSITY * frames
}

/// Whether the pitch moves smoothly and far, low down, as a voice's does. A reed that wavers so
/// does it in jumps.
pub fn is_voice(coarse: &CoarseTrack) -> bool {
    let mut octaves: Vec<f64> = coarse.knots.iter().map(|(_, hz)| hz.log2()).collect();
    let (Some(low), Some(middle), Some(high)) = (
        quantile_in_place(&mut octaves, 0.1),
        quantile_in_place(&mut octaves, 0.5),
        quantile_in_place(&mut octaves, 0.9),
    ) else {
        return false;
    };
    coarse.agreement >= 0.5
        && middle.exp2() < HIGHEST_VOICE_HZ
        && 1200.0 * (high - low) > VOICE_RANGE_CENTS
}

/// Whether the level falls over the steady part as that of something struck.
pub fn dies_away(orders: &Orders, rungs: &[RungCourse], steady: &Range<usize>) -> bool {
    let (time, level): (Vec<f64>, Vec<f64>) = steady
        .clone()
        .map(|b| (orders.time_s[b], rungs.iter().map(|rung| rung.power[b]).sum::<f64>()))
        .filter(|(_, power)| *power > 0.0)
        .map(|(time, power)| (time, 10.0 * power.log10()))
        .unzip();
    line(&time, &level).is_some_and(|fit| fit.slope < DYING_DB_PER_S)
}

/// Whether a tone of `hz` is the mains: a low multiple of its frequency with little above it.
pub fn is_hum(hz: f64, mean: &MeanSpectrum) -> bool {
    let near_mains = [50.0, 60.0].iter().any(|mains| {
        let nearest = (hz / mains).round() * mains;
        (hz - nearest).abs() < HUM.1 * hz
    });
    let low = mean.power(LOWEST_HZ, HUM_LOW.1);
    hz < HUM.0 && near_mains && low > HUM_LOW.0 * mean.power(LOWEST_HZ, HIGHEST_HZ)
}
