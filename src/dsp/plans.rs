//! Transform plans and windows, made once per length and shared: making one costs more than using it on
//! the short series that this program transforms by the thousand.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner};

use super::window::hann;

static COMPLEX: LazyLock<Mutex<FftPlanner<f32>>> = LazyLock::new(|| Mutex::new(FftPlanner::new()));
static REAL: LazyLock<Mutex<RealFftPlanner<f32>>> =
    LazyLock::new(|| Mutex::new(RealFftPlanner::new()));
static HANN: LazyLock<Mutex<HashMap<usize, Arc<[f32]>>>> = LazyLock::new(Mutex::default);

/// A Hann window of `n` weights.
pub fn hann_window(n: usize) -> Arc<[f32]> {
    let mut windows = HANN.lock().unwrap_or_else(PoisonError::into_inner);
    let made = || hann(n).iter().map(|weight| *weight as f32).collect();
    windows.entry(n).or_insert_with(made).clone()
}

/// A forward transform of `n` complex values.
pub fn complex_forward(n: usize) -> Arc<dyn Fft<f32>> {
    // A planner that another thread left in a panic is still a sound cache.
    COMPLEX.lock().unwrap_or_else(PoisonError::into_inner).plan_fft_forward(n)
}

/// A forward transform of `n` real values.
pub fn real_forward(n: usize) -> Arc<dyn RealToComplex<f32>> {
    REAL.lock().unwrap_or_else(PoisonError::into_inner).plan_fft_forward(n)
}

/// An inverse transform to `n` real values.
pub fn real_inverse(n: usize) -> Arc<dyn ComplexToReal<f32>> {
    REAL.lock().unwrap_or_else(PoisonError::into_inner).plan_fft_inverse(n)
}
