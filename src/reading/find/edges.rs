//! Where exactly a sound rises over the room noise or falls back to it.

use super::floor::RISE;
use super::frames::{BAND_EDGES_HZ, BANDS};
use crate::dsp::spectrum::Spectrum;

/// Which edge of a sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Its beginning.
    Rise,
    /// Its end.
    Fall,
}

/// Short windows: long enough for the bands from 800 Hz up, short enough to place an edge.
const WINDOW_S: f64 = 0.005;
const STEP_S: f64 = 0.001;
/// How far the edge may lie from where the longer frames put it: their half length and a hop.
const REACH_S: f64 = 0.02;
/// Bands wide enough to be judged in a short window.
const LOWEST_BAND: usize = 2;
/// Windows in a row that must be over the floor.
const IN_A_ROW: usize = 3;

/// The moment near `coarse_s` at which the sound crosses 6 dB over the floor, in seconds of the
/// take; `coarse_s` itself where the short windows see no crossing.
///
/// * `samples`, `base`: samples of the take and the index of the first of them.
/// * `floor`: `[BANDS]` mean density of the room noise in each band.
pub fn edge_s(
    samples: &[f32],
    base: u64,
    sample_rate_hz: f64,
    coarse_s: f64,
    floor: &[f32; BANDS],
    edge: Edge,
) -> f64 {
    let n = ((WINDOW_S * sample_rate_hz / 2.0).round() as usize).max(8) * 2;
    let mut spectrum = Spectrum::new(n, sample_rate_hz);
    let mut density = vec![0.0_f32; n / 2 + 1];
    let bin_hz = spectrum.bin_hz();
    let mut is_over = |middle_s: f64| {
        let start = (middle_s * sample_rate_hz).round() as i64 - (n / 2) as i64 - base as i64;
        let span = usize::try_from(start).ok().and_then(|s| samples.get(s..s + n));
        let Some(span) = span else { return false };
        spectrum.density(span, &mut density);
        (LOWEST_BAND..BANDS).any(|b| {
            let first = (BAND_EDGES_HZ[b] / bin_hz).round() as usize;
            let end = (BAND_EDGES_HZ[b + 1] / bin_hz).round() as usize;
            let bins = density.get(first..end).unwrap_or_default();
            !bins.is_empty() && bins.iter().sum::<f32>() / bins.len() as f32 > RISE * floor[b]
        })
    };
    let steps = (REACH_S / STEP_S).round() as i32;
    let (from, towards) = match edge {
        Edge::Rise => (-1.0, 1.0),
        Edge::Fall => (1.0, -1.0),
    };
    let mut row = 0;
    for step in 0..=2 * steps {
        let moment = coarse_s + from * REACH_S + towards * STEP_S * f64::from(step);
        row = if is_over(moment) { row + 1 } else { 0 };
        if row == IN_A_ROW {
            // Already over at the far end: the crossing lies beyond reach of the short windows.
            if step + 1 == IN_A_ROW as i32 {
                return coarse_s;
            }
            return moment - towards * STEP_S * (IN_A_ROW - 1) as f64;
        }
    }
    coarse_s
}
