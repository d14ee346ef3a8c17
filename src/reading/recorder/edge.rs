//! Where the upper part of a recording is cut off, as codecs and telephones do.

/// An edge is a step down of so much …
const STEP_DB: f64 = 24.0;
/// … within this share of its frequency, …
const WITHIN: f64 = 1.08;
/// … between the means of bands this wide.
const BAND: f64 = 1.06;
/// Edges are sought from here, where noise of rooms still falls gently, …
const LOWEST_HZ: f64 = 2500.0;
/// … up to where readings end.
const HIGHEST_HZ: f64 = 10_000.0;
/// Under this density (about −120 dBFS over the band) a recording holds nothing that could be cut off.
const LEAST_DENSITY: f64 = 1e-16;

/// The frequency over which the room's noise falls as by a wall and stays down; `None` where it does
/// not, or where there is no noise to tell by.
///
/// * `density`: `[bins]` mean power spectral density of the room noise.
/// * `bin_hz`: width of a bin.
pub fn upper_edge_hz(density: &[f32], bin_hz: f64) -> Option<f64> {
    let nyquist_hz = density.len().saturating_sub(1) as f64 * bin_hz;
    let mean = |from_hz: f64, to_hz: f64| {
        let from = (from_hz / bin_hz).round() as usize;
        let to = ((to_hz / bin_hz).round() as usize).max(from + 1).min(density.len());
        let band = density.get(from..to)?;
        Some(band.iter().map(|d| f64::from(*d)).sum::<f64>() / band.len().max(1) as f64)
    };
    let top_hz = HIGHEST_HZ.min(0.8 * nyquist_hz);
    let steps = std::iter::successors(Some(LOWEST_HZ), |hz| Some(hz * 1.02));
    steps.take_while(|hz| *hz < top_hz).find(|hz| {
        let below = mean(hz / BAND, *hz);
        let above = mean(hz * WITHIN, hz * WITHIN * BAND);
        let rest = mean(hz * WITHIN, 0.95 * nyquist_hz);
        let (Some(below), Some(above), Some(rest)) = (below, above, rest) else { return false };
        let least = below * 10.0_f64.powf(-STEP_DB / 10.0);
        below > LEAST_DENSITY && above < least && rest < least
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wall_is_found_and_a_slope_is_none() {
        let bin_hz = 50.0;
        let room = |wall_hz: f64| -> Vec<f32> {
            (0..480)
                .map(|bin| {
                    let hz = 50.0 * f64::from(bin.max(1));
                    (1e-9 / hz * if hz > wall_hz { 1e-4 } else { 1.0 }) as f32
                })
                .collect()
        };
        // The band of a telephone, 3400 Hz (ITU-T G.712, from memory).
        let edge = upper_edge_hz(&room(3400.0), bin_hz).unwrap();
        assert!((3150.0..3500.0).contains(&edge), "{edge}");
        assert_eq!(upper_edge_hz(&room(f64::INFINITY), bin_hz), None);
        assert_eq!(upper_edge_hz(&room(15_000.0), bin_hz), None);
        // Two poles at 2 kHz fall by 12 dB an octave.
        let steep: Vec<f32> =
            (0..480).map(|bin| (1e-9 / (1.0 + (f64::from(bin) / 40.0).powi(4))) as f32).collect();
        assert_eq!(upper_edge_hz(&steep, bin_hz), None);
        assert_eq!(upper_edge_hz(&[], bin_hz), None);
    }
}
