//! A short room: the sound and an exponentially decaying, noise-like tail.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use realfft::RealFftPlanner;

use super::crow::Room;

/// The dry samples with the room's tail added, longer by the tail's length.
pub(super) fn reverberate(
    dry: &[f64],
    room: &Room,
    sample_rate_hz: f64,
    rng: &mut impl Rng,
) -> Vec<f64> {
    let response = response(room, sample_rate_hz, rng);
    convolve(dry, &response)
}

/// Impulse response: 1 at time 0, then a tail with the stated power.
fn response(room: &Room, sample_rate_hz: f64, rng: &mut impl Rng) -> Vec<f64> {
    let count = (room.decay_s * sample_rate_hz).max(1.0) as usize;
    // First reflection after 2 ms: a reed maker's bench has a wall or a table near.
    let gap = (0.002 * sample_rate_hz) as usize;
    let mut response = vec![0.0; gap + count + 1];
    let mut energy = 0.0;
    for (i, value) in response.iter_mut().skip(gap + 1).enumerate() {
        let white: f64 = StandardNormal.sample(rng);
        // 60 dB over decay_s is a factor 10^-3 in amplitude.
        *value = white * 10f64.powf(-3.0 * i as f64 / count as f64);
        energy += *value * *value;
    }
    let gain = (10f64.powf(room.level_db / 10.0) / energy.max(f64::MIN_POSITIVE)).sqrt();
    response.iter_mut().for_each(|value| *value *= gain);
    response[0] = 1.0;
    response
}

/// Linear convolution by FFT.
fn convolve(left: &[f64], right: &[f64]) -> Vec<f64> {
    if left.is_empty() || right.is_empty() {
        return Vec::new();
    }
    let count = left.len() + right.len() - 1;
    let size = count.next_power_of_two().max(2);
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(size);
    let backward = planner.plan_fft_inverse(size);
    let spectrum = |samples: &[f64]| {
        let mut padded = samples.to_vec();
        padded.resize(size, 0.0);
        let mut spectrum = forward.make_output_vec();
        forward.process(&mut padded, &mut spectrum).map(|()| spectrum)
    };
    let (Ok(mut product), Ok(other)) = (spectrum(left), spectrum(right)) else {
        return left.to_vec();
    };
    for (a, b) in product.iter_mut().zip(&other) {
        *a = *a * b / size as f64;
    }
    product[0].im = 0.0;
    product[size / 2].im = 0.0;
    let mut samples = vec![0.0; size];
    if backward.process(&mut product, &mut samples).is_err() {
        return left.to_vec();
    }
    samples.truncate(count);
    samples
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn convolution_matches_the_sum_written_out() {
        let product = convolve(&[1.0, 2.0, 3.0], &[0.5, -1.0]);
        for (got, want) in product.iter().zip([0.5, 0.0, -0.5, -3.0]) {
            assert!((got - want).abs() < 1e-12, "{product:?}");
        }
        assert_eq!(product.len(), 4);
    }
}
