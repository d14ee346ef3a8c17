//! Transform plans and windows, made once per length and shared: making one costs more than using it on
//! the short series that this program transforms by the thousand.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use realfft::num_complex::{Complex, Complex32};
use rustfft::{Fft, FftPlanner};

use super::window::hann;

static COMPLEX: LazyLock<Mutex<FftPlanner<f32>>> = LazyLock::new(|| Mutex::new(FftPlanner::new()));
static TURNS: LazyLock<Mutex<HashMap<usize, Arc<[Complex32]>>>> = LazyLock::new(Mutex::default);
static HANN: LazyLock<Mutex<HashMap<usize, Arc<[f32]>>>> = LazyLock::new(Mutex::default);

/// A Hann window of `n` weights.
pub fn hann_window(n: usize) -> Arc<[f32]> {
    let mut windows = HANN.lock().unwrap_or_else(PoisonError::into_inner);
    let made = || hann(n).iter().map(|weight| *weight as f32).collect();
    windows.entry(n).or_insert_with(made).clone()
}

/// `[n/4 + 1]` unit vectors turned back by a quarter and by 0, 1, 2 … `n`th parts of a turn.
pub fn half_turns(n: usize) -> Arc<[Complex32]> {
    let mut turns = TURNS.lock().unwrap_or_else(PoisonError::into_inner);
    let turn = |k: usize| {
        let cycles = 0.25 + k as f64 / n as f64;
        let exact = Complex::from_polar(1.0, -std::f64::consts::TAU * cycles);
        Complex32::new(exact.re as f32, exact.im as f32)
    };
    turns.entry(n).or_insert_with(|| (0..=n / 4).map(turn).collect()).clone()
}

/// A forward transform of `n` complex values.
pub fn complex_forward(n: usize) -> Arc<dyn Fft<f32>> {
    // A planner that another thread left in a panic is still a sound cache.
    COMPLEX.lock().unwrap_or_else(PoisonError::into_inner).plan_fft_forward(n)
}

/// An inverse transform of `n` complex values.
pub fn complex_inverse(n: usize) -> Arc<dyn Fft<f32>> {
    COMPLEX.lock().unwrap_or_else(PoisonError::into_inner).plan_fft_inverse(n)
}
