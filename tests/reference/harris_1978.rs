//! F. J. Harris, Proc. IEEE 66(1), 1978, pp. 51-83, Table 1 (from memory), and the same figures
//! from scipy's windows.

use reedcrow::dsp::window::{blackman_harris, coherent_gain, hann, noise_bandwidth_bins};

use super::table::rows;

const POINTS: usize = 4096;

fn window(name: &str) -> Option<Vec<f64>> {
    match name {
        "hann" => Some(hann(POINTS)),
        "blackman_harris_4_term_92_db" | "blackmanharris" => Some(blackman_harris(POINTS)),
        _ => None,
    }
}

/// `tolerance`: half the last printed place.
fn figures_agree(path: &str, tolerance: f64) {
    let mut checked = 0;
    for row in rows(path) {
        let name = row.text("window");
        let Some(window) = window(name) else { continue };
        let gain = coherent_gain(&window);
        let bandwidth = noise_bandwidth_bins(&window).unwrap();
        assert!((gain - row.must("coherent_gain")).abs() <= tolerance, "{name} {gain}");
        let printed = row.must("noise_bandwidth_bins");
        assert!((bandwidth - printed).abs() <= tolerance, "{name} {bandwidth}");
        checked += 1;
    }
    assert_eq!(checked, 2);
}

#[test]
fn gain_and_noise_bandwidth_match_harris_1978() {
    figures_agree("published/harris_1978_windows.csv", 0.005);
}

#[test]
fn gain_and_noise_bandwidth_match_scipy() {
    figures_agree("made/windows.csv", 0.6e-5);
}
