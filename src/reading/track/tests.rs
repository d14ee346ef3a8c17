//! What each step of following a crow's tones promises, on sounds whose answer is known in closed form.

use std::f64::consts::TAU;

use super::coarse::CoarseTrack;
use super::family::{Family, NoiseProfile};
use super::ladder::{Ladder, Lowest, find_ladder, frames_between};
use super::orders::Orders;
use super::tones::{Tones, tones};

const RATE_HZ: f64 = 48_000.0;
const LENGTH_S: f64 = 1.2;
const TOP_HZ: f64 = 8_000.0;
/// Amplitude of the white noise, uniform: 60 dB under a tone of amplitude 1, or so.
const NOISE: f64 = 1e-3;

/// Sines of (frequency in Hz, amplitude) over a little white noise.
fn sound(sines: &[(f64, f64)]) -> Vec<f32> {
    moved(sines, |time_s| (time_s, 1.0))
}

/// The same of which all go by `course`: how far they are by a moment, in seconds of their frequency, and how loud.
fn moved(sines: &[(f64, f64)], course: impl Fn(f64) -> (f64, f64)) -> Vec<f32> {
    let mut noise = 1u32;
    (0..(LENGTH_S * RATE_HZ) as usize)
        .map(|n| {
            // A linear congruential generator (Numerical Recipes' constants, from memory).
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let hiss = NOISE * (2.0 * f64::from(noise) / f64::from(u32::MAX) - 1.0);
            let (time_s, loud) = course(n as f64 / RATE_HZ);
            let tone: f64 = sines.iter().map(|(hz, a)| a * (TAU * hz * time_s).sin()).sum();
            (0.1 * loud * tone + hiss) as f32
        })
        .collect()
}

/// Six partials of `hz`, falling off as 1/n, times `amplitude`.
fn tone(hz: f64, amplitude: f64) -> Vec<(f64, f64)> {
    (1..=6).map(|n| (f64::from(n) * hz, amplitude / f64::from(n))).collect()
}

fn steady(hz: f64) -> CoarseTrack {
    CoarseTrack { knots: vec![(0.0, hz), (LENGTH_S, hz)], agreement: 1.0 }
}

/// What the ladder finds where the strongest period is that of `coarse_hz`.
fn ladder(sines: &[(f64, f64)], coarse_hz: f64) -> Ladder {
    let lowest = Lowest { own_from_hz: 0.0, may_halve: true };
    find_ladder(&sound(sines), RATE_HZ, 0.0, &steady(coarse_hz), TOP_HZ, &[], lowest).unwrap()
}

fn cents(hz: f64, of_hz: f64) -> f64 {
    1200.0 * (hz / of_hz).log2()
}

/// Odd multiples of 260 Hz, so many decibels under a tone at 520 Hz, make 260 Hz the lowest tone.
#[test]
fn the_ladder_stands_on_the_lowest_tone_that_is_there_and_on_none_that_is_not() {
    let upper = tone(520.0, 1.0);
    let alone = ladder(&upper, 520.0).orders.reference_hz;
    assert!(cents(alone, 520.0).abs() < 1.0, "{alone}");
    for under_db in [10.0, 30.0, 40.0] {
        let amplitude = 10f64.powf(-under_db / 20.0);
        let odd = tone(260.0, amplitude).into_iter().step_by(2);
        let sines: Vec<(f64, f64)> = upper.iter().copied().chain(odd).collect();
        let found = ladder(&sines, 520.0).orders.reference_hz;
        assert!(cents(found, 260.0).abs() < 1.0, "{under_db} dB under: {found}");
    }
}

/// A period that holds two of the tone's is one of it too.
#[test]
fn the_ladder_is_lifted_where_the_multiples_between_are_not_there() {
    let found = ladder(&tone(1040.0, 1.0), 520.0).orders.reference_hz;
    assert!(cents(found, 1040.0).abs() < 1.0, "{found}");
}

fn orders(sines: &[(f64, f64)], reference_hz: f64) -> (Orders, NoiseProfile) {
    orders_of(&sound(sines), reference_hz)
}

fn orders_of(sound: &[f32], reference_hz: f64) -> (Orders, NoiseProfile) {
    let orders = Orders::new(sound, RATE_HZ, 0.0, &steady(reference_hz), TOP_HZ).unwrap();
    let bins = orders.bins_per_unit as f64;
    let noise = NoiseProfile::new(&orders, bins, 0..orders.frames());
    (orders, noise)
}

/// A sine of amplitude a has the power a²/2; white noise of variance v within one bin of a Hann window
/// (1.5 bins wide, Harris 1978) a share of it.
#[test]
fn a_family_has_the_power_of_its_sines_and_nothing_of_the_noise() {
    let (orders, noise) = orders(&tone(520.0, 1.0), 520.0);
    let base_bins = orders.bins_per_unit as f64;
    let frames = 0..orders.frames();
    let family = Family { orders: &orders, base_bins, multiples: (1..=8).collect(), noise: &noise };
    for m in 1..=6 {
        let power = 0.5 * (0.1 / m as f64).powi(2);
        let found = family.partial_power(m, frames.clone());
        assert!((found / power - 1.0).abs() < 0.01, "{m}: {found} for {power}");
    }
    // Nothing sounds there: no more is left than the noise strays by.
    for m in [7, 8] {
        assert!(family.partial_power(m, frames.clone()) < noise.at(m), "{m}");
    }
    let sum: f64 = (1..=8).map(|m| family.partial_power(m, frames.clone())).sum();
    assert!((family.power(frames) - sum).abs() < 1e-12);
}

#[test]
fn a_family_moved_keeps_the_partials_that_stay_near_their_multiples() {
    let (orders, noise) = orders(&tone(520.0, 1.0), 520.0);
    let base_bins = orders.bins_per_unit as f64;
    let family =
        Family { orders: &orders, base_bins, multiples: (1..=12).collect(), noise: &noise };
    let moved = family.detuned(0.03);
    assert_eq!(moved.multiples, (1..=6).collect::<Vec<_>>(), "7 · 0.03 is over a fifth");
    assert!((moved.base_bins / base_bins - 1.03).abs() < 1e-12);
}

/// The phase is read against a reference that is 8 cents off.
#[test]
fn a_family_tells_the_frequency_of_its_tone_whatever_reference_it_is_read_along() {
    let hz = 520.0 * (8f64 / 1200.0).exp2();
    let (orders, noise) = orders(&tone(hz, 1.0), 520.0);
    let base_bins = orders.bins_per_unit as f64;
    let family = Family { orders: &orders, base_bins, multiples: (1..=6).collect(), noise: &noise };
    let track = family.phase_track(0..orders.frames()).unwrap();
    let found = track.mean_frequency(1.0, true).unwrap().hz;
    assert!(cents(found, hz).abs() < 0.05, "{} cents off", cents(found, hz));
}

/// The odd partials of a lower tone at 260 Hz and an upper tone so many cents from twice that.
fn sines_of_two(off_cents: f64) -> Vec<(f64, f64)> {
    let upper_hz = 520.0 * (off_cents / 1200.0).exp2();
    let odd = tone(260.0, 0.5).into_iter().step_by(2);
    odd.chain(tone(upper_hz, 1.0)).collect()
}

fn two(off_cents: f64) -> Tones {
    tones_of(&sound(&sines_of_two(off_cents)))
}

fn tones_of(sound: &[f32]) -> Tones {
    let (orders, noise) = orders_of(sound, 260.0);
    let core = frames_between(&orders, 0.1, LENGTH_S - 0.1);
    tones(&orders, &noise, 1, core.clone(), core, None).unwrap()
}

#[test]
fn two_tones_are_told_apart_by_what_they_are_off_the_octave() {
    for off_cents in [0.0, 12.0, -25.0, 60.0] {
        let found = two(off_cents);
        let deviation = found.deviation.unwrap();
        let wrong = deviation.cents - off_cents;
        assert!(wrong.abs() < deviation.ci95_cents.max(0.2), "{off_cents}: {deviation:?}");
        assert!(deviation.ci95_cents < 5.0, "{off_cents}: {deviation:?}");
        assert_eq!(deviation.locked(), off_cents == 0.0, "{off_cents}: {deviation:?}");
        let low_hz = found.lower_mean().unwrap().hz;
        assert!(cents(low_hz, 260.0).abs() < 0.5, "{off_cents}: {low_hz}");
    }
}

/// Both waver by up to 3 cents and swell by a twentieth together, which no fit of steady lines explains.
#[test]
fn two_tones_that_waver_and_swell_together_are_told_as_exactly_as_steady_ones() {
    const WAVER_HZ: f64 = 3.0;
    let depth = (3f64 / 1200.0).exp2() - 1.0;
    for off_cents in [-140.0, -75.0, 33.0, 120.0] {
        let sound = moved(&sines_of_two(off_cents), |t| {
            let turned = TAU * WAVER_HZ * t;
            (t - depth / (TAU * WAVER_HZ) * turned.cos(), 1.0 + 0.05 * (turned * 0.7).sin())
        });
        let deviation = tones_of(&sound).deviation.unwrap();
        let wrong = (deviation.cents - off_cents).abs();
        assert!(wrong < deviation.ci95_cents.min(0.01), "{off_cents}: {deviation:?}");
    }
}
