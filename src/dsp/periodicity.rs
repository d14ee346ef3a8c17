//! How periodic a short frame is, and with what period: the normalised autocorrelation.

use super::real::{PowerInverse, RealTransform};
use super::statistics::sum;
use super::window::hann;

/// The strongest period of a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Period {
    /// Its rate in hertz.
    pub hz: f64,
    /// Normalised autocorrelation at that lag: the share of the power that repeats, up to 1.
    pub correlation: f64,
}

/// Normalised autocorrelation of Hann-windowed frames, between two rates of repetition.
#[derive(Debug)]
pub struct Periodicity {
    sample_rate_hz: f64,
    window: Vec<f32>,
    /// Window autocorrelation over its value at lag 0, `[lags]`.
    taper: Vec<f32>,
    min_lag: usize,
    transform: RealTransform,
    inverse: PowerInverse,
    /// First and one past the last bin of the padded transform that count.
    band: (usize, usize),
    /// The bin from which on nothing is rumble.
    over_rumble: usize,
    /// `[bins]` power that counts, of the frame looked at.
    powers: Vec<f32>,
}

/// A peak at a shorter lag is preferred when it reaches this share of the highest: what repeats
/// after T also repeats after 2T, 3T ….
const SHORTER_LAG_SHARE: f32 = 0.8;

/// Wind on a microphone has its power under this …
const RUMBLE_HZ: f64 = 250.0;
/// … and from this share of all on it may hide a period, or bend it.
const RUMBLE_SHARE: f32 = 0.1;

/// A period is clear from this correlation on.
const CLEAR: f64 = 0.5;

/// Share of a frame's power that single precision may put where nothing is.
const ROUNDING: f32 = 1e-9;

impl Periodicity {
    /// For frames of `n` samples, periods between 1/`max_hz` and 1/`min_hz` (at most 0.6 frames),
    /// hearing only `band_hz`.
    pub fn new(
        n: usize,
        sample_rate_hz: f64,
        (min_hz, max_hz): (f64, f64),
        band_hz: (f64, f64),
    ) -> Self {
        let padded_len = (2 * n).next_power_of_two();
        let window: Vec<f32> = hann(n).iter().map(|w| *w as f32).collect();
        let max_lag = ((sample_rate_hz / min_hz).ceil() as usize + 2).min(n * 6 / 10);
        let power: f32 = window.iter().map(|w| w * w).sum();
        let taper: Vec<f32> = (0..=max_lag)
            .map(|lag| window.iter().zip(&window[lag..]).map(|(a, b)| a * b).sum::<f32>() / power)
            .collect();
        let bin_hz = sample_rate_hz / padded_len as f64;
        Self {
            sample_rate_hz,
            min_lag: ((sample_rate_hz / max_hz).floor() as usize).max(2),
            over_rumble: (RUMBLE_HZ / bin_hz).ceil() as usize,
            powers: vec![0.0; padded_len / 2 + 1],
            band: (
                (band_hz.0 / bin_hz).ceil() as usize,
                ((band_hz.1 / bin_hz).floor() as usize + 1).min(padded_len / 2),
            ),
            transform: RealTransform::new(padded_len),
            inverse: PowerInverse::new(padded_len),
            window,
            taper,
        }
    }

    /// Takes in a frame.
    ///
    /// * `samples`: `[n]`.
    ///
    /// Returns the power spectrum of the frame without its mean, windowed and followed by as many zeros:
    /// every other bin is one of the frame alone.
    pub fn powers(&mut self, samples: &[f32]) -> &[f32] {
        // A constant offset would leak into the band: between the bins of the frame alone, where
        // padding puts the others, the window has no zeros.
        let mean = sum(samples) / samples.len().max(1) as f32;
        self.powers.copy_from_slice(self.transform.powers(samples, &self.window, mean));
        &self.powers
    }

    /// The strongest period of the frame taken in last, after taking `noise` off its power
    /// spectrum. Once per frame: its spectrum is used up.
    ///
    /// * `noise`: `[n/2 + 1]` expected power of the noise in each bin of an unpadded transform of
    ///   the same windowed frame (sum of squares scaling). Where it is empty the noise is not
    ///   known and is taken to fall as 1/f, as rooms' mostly does: the spectrum is weighted by f,
    ///   or the slow part of such noise would pass for a period.
    ///
    /// `None` for silence, or when no lag repeats at all.
    pub fn strongest(&mut self, noise: &[f32]) -> Option<Period> {
        let (first, end) = self.band;
        // What a constant or a rumble leaves in the band by rounding is no sound.
        if sum(self.powers.get(first..end)?) < ROUNDING * sum(&self.powers) {
            return None;
        }
        self.powers[..first].fill(0.0);
        self.powers[end..].fill(0.0);
        for (k, power) in self.powers.iter_mut().enumerate().take(end).skip(first) {
            *power = match noise.get(k / 2) {
                Some(noise) => (*power - noise).max(0.0),
                None => *power * k as f32,
            };
        }
        let whole = self.strongest_of_powers();
        let all = sum(&self.powers);
        let rumble = self.powers.get_mut(..self.over_rumble).unwrap_or_default();
        if !(sum(rumble) > RUMBLE_SHARE * all) {
            return whole;
        }
        rumble.fill(0.0);
        let over_it = self.strongest_of_powers();
        // What moves slowly repeats after any lag, and seems to repeat more than it does.
        let correlation = |period: &Option<Period>| period.map_or(0.0, |p| p.correlation);
        let is_clear = correlation(&over_it) > CLEAR.min(correlation(&whole));
        if is_clear { over_it } else { whole }
    }

    /// The strongest period of what has the power spectrum at hand.
    fn strongest_of_powers(&mut self) -> Option<Period> {
        let repeats = self.inverse.of(&self.powers, self.taper.len());
        let zero = repeats[0];
        if !(zero > f32::MIN_POSITIVE) {
            return None;
        }
        for (repeats, taper) in repeats.iter_mut().zip(&self.taper) {
            *repeats /= zero * taper;
        }
        let at = |lag: usize| repeats[lag];
        let last = self.taper.len() - 2;
        let is_peak = |lag: usize| at(lag) > at(lag - 1) && at(lag) >= at(lag + 1);
        let mut highest = 0.0_f32;
        for lag in self.min_lag..=last {
            if at(lag) > highest && is_peak(lag) {
                highest = at(lag);
            }
        }
        if !(highest > 0.0) {
            return None;
        }
        let lag = (self.min_lag..=last)
            .find(|&lag| at(lag) >= SHORTER_LAG_SHARE * highest && is_peak(lag))?;
        let (before, peak, after) = (at(lag - 1), at(lag), at(lag + 1));
        let bend = before - 2.0 * peak + after;
        let shift = if bend < 0.0 { 0.5 * (before - after) / bend } else { 0.0 };
        Some(Period {
            hz: self.sample_rate_hz / (lag as f64 + f64::from(shift)),
            correlation: f64::from(peak.min(1.0)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(f: impl Fn(f64) -> f64) -> Vec<f32> {
        (0..1024).map(|n| f(f64::from(n) / 48_000.0) as f32).collect()
    }

    #[test]
    fn a_harmonic_tone_repeats_with_its_own_period() {
        let mut periodicity = Periodicity::new(1024, 48_000.0, (100.0, 2000.0), (90.0, 8000.0));
        for hz in [180.0, 440.0, 1046.5, 1800.0] {
            let tone = frame(|t| {
                (1..5)
                    .map(|n| (std::f64::consts::TAU * hz * f64::from(n) * t).cos() / f64::from(n))
                    .sum()
            });
            let period = {
                periodicity.powers(&tone);
                periodicity.strongest(&[]).unwrap()
            };
            assert!((period.hz / hz - 1.0).abs() < 0.01, "{hz}: {period:?}");
            assert!(period.correlation > 0.9, "{hz}: {period:?}");
        }
    }

    #[test]
    fn silence_has_no_period() {
        let mut periodicity = Periodicity::new(1024, 48_000.0, (100.0, 2000.0), (90.0, 8000.0));
        periodicity.powers(&[0.0; 1024]);
        assert_eq!(periodicity.strongest(&[]), None);
    }
}
