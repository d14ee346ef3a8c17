//! Autocorrelation of frames spread over a sound: how much of it repeats from one moment to the next
//! (the harmonicity of Boersma 1993), and whether anything repeats through the whole of it.

use std::sync::Arc;

use super::padded::{correlation, powers, sum_of_cosines, taper};
use super::plans::hann_window;
use super::statistics::median;

/// Length of the frames: four periods and a half of 100 Hz, as Boersma takes them.
const FRAME_S: f64 = 0.045;
/// The band that is heard.
const BAND_HZ: (f64, f64) = (100.0, 10_000.0);
/// The envelope of a spectrum is what is left when it is smoothed over this.
const ENVELOPE_HZ: f64 = 1000.0;
/// The envelope is taken off from here up; under it rooms and hands make lines of their own.
const FLAT_FROM_HZ: f64 = 200.0;
/// Where the frame is so far from its own start, its autocorrelation is mostly doubt.
const LEAST_TAPER: f64 = 0.1;
/// What noise adds to one frame differs from what it adds on the mean by this share of it, …
const NOISE_UNKNOWN: f64 = 0.05;
/// … and hides a din of no more than this share of the sound.
const MOST_UNKNOWN: f64 = 0.03;
/// Steps of the search for the place of a peak between two lags.
const STEPS: usize = 10;

/// Power spectra of frames spread evenly over a sound.
#[derive(Debug)]
pub struct Frames {
    sample_rate_hz: f64,
    padded: usize,
    /// Autocorrelation of the window over its value at lag 0, `[padded/2]`.
    taper: Arc<[f64]>,
    /// Lags that are looked at, and the next.
    lags: usize,
    /// `[frames][padded/2 + 1]`.
    powers: Vec<Vec<f32>>,
    /// Expected power of what sounds besides, `[padded/2 + 1]`.
    noise: Vec<f32>,
}

impl Frames {
    /// At most `most` frames of `samples`; none where the sound is shorter than one.
    ///
    /// * `noise_density`: one-sided density of what sounds besides, by frequency in hertz.
    pub fn new(
        samples: &[f32],
        sample_rate_hz: f64,
        most: usize,
        noise_density: impl Fn(f64) -> f64,
    ) -> Self {
        let n = (FRAME_S * sample_rate_hz).round() as usize;
        let padded = (2 * n).next_power_of_two().max(4);
        let window = hann_window(n);
        let energy: f64 = window.iter().map(|w| f64::from(w * w)).sum();
        let bin_hz = sample_rate_hz / padded as f64;
        let noise: Vec<f32> = (0..=padded / 2)
            .map(|k| (noise_density(k as f64 * bin_hz) / 2.0 * sample_rate_hz * energy) as f32)
            .collect();
        let spare = samples.len().saturating_sub(n);
        let count = if samples.len() < n || n < 2 { 0 } else { most.min(1 + 2 * spare / n).max(1) };
        let places = (0..count).map(|i| spare * i / count.saturating_sub(1).max(1));
        let powers = powers(places.map(|at| &samples[at..at + n]), &window, padded);
        let taper = taper(n, padded);
        let lags = taper.partition_point(|taper| *taper > LEAST_TAPER) + 2;
        Self { sample_rate_hz, padded, taper, lags, powers, noise }
    }

    /// Median over the frames of the harmonics-to-noise ratio in decibels, 10·lg(r/(1 − r)), r being
    /// the highest normalised autocorrelation at the periods of `periods_hz` of what stands over the
    /// noise. `None` where no frame is at least half something else, or in most of them nothing repeats, or
    /// what is found is more than the known noise lets be found.
    ///
    /// Source: P. Boersma, Proc. Institute of Phonetic Sciences Amsterdam 17, 1993, pp. 97-110.
    pub fn harmonicity_db(&self, periods_hz: (f64, f64)) -> Option<f64> {
        let bin = |hz: f64| hz / self.sample_rate_hz * self.padded as f64;
        let (first, end) = (bin(BAND_HZ.0).ceil() as usize, bin(BAND_HZ.1) as usize + 1);
        let noise: f32 = self.noise.get(first..end)?.iter().sum();
        let repeats = self.powers.iter().filter_map(|power| {
            let loud = power.get(first..end)?.iter().sum::<f32>() > 2.0 * noise;
            let heard: Vec<f32> = (0..power.len())
                .map(|k| if (first..end).contains(&k) { power[k] - self.noise[k] } else { 0.0 })
                .collect();
            loud.then(|| self.heights(&heard, [periods_hz])[0])
        });
        let r = median(repeats)?.min(1.0 - 1e-6);
        // Of a frame's noise no more than so much is known.
        let all = self.powers.iter().filter_map(|power| power.get(first..end));
        let all = median(all.map(|power| f64::from(power.iter().sum::<f32>())))?;
        let unknown =
            NOISE_UNKNOWN * f64::from(noise) / (all - f64::from(noise)).max(f64::MIN_POSITIVE);
        (r > 0.0 && 1.0 - r > unknown.min(MOST_UNKNOWN)).then(|| 10.0 * (r / (1.0 - r)).log10())
    }

    /// What repeats through all the frames together when the envelope of the mean spectrum is taken
    /// off: for each range of rates, the highest autocorrelation at its periods, 0 … 1. Noise of any
    /// colour has none; the lines of a tone add up, though they come and go. `None` under `least`
    /// frames.
    pub fn recurrence<const N: usize>(
        &self,
        ranges_hz: [(f64, f64); N],
        top_hz: f64,
        least: usize,
    ) -> Option<[f64; N]> {
        if self.powers.len() < least {
            return None;
        }
        let bins = self.padded / 2 + 1;
        let total = |power: &Vec<f32>| power.iter().sum::<f32>();
        let mut mean = vec![0.0_f64; bins];
        for power in &self.powers {
            // Loud moments tell no more than others.
            let weight = f64::from(total(power)).max(f64::MIN_POSITIVE).recip();
            for (mean, p) in mean.iter_mut().zip(power) {
                *mean += weight * f64::from(*p);
            }
        }
        let flat = self.flattened(&mean, top_hz)?;
        Some(self.heights(&flat, ranges_hz))
    }

    /// A power spectrum `[padded/2 + 1]` up to `top_hz` with its envelope taken off.
    fn flattened(&self, power: &[f64], top_hz: f64) -> Option<Vec<f32>> {
        let bins = self.padded / 2 + 1;
        let bin = |hz: f64| (hz / self.sample_rate_hz * self.padded as f64) as usize;
        let (first, end) = (bin(FLAT_FROM_HZ), bin(top_hz).min(bins));
        let mut envelope: Vec<f64> =
            power.get(first..end)?.iter().map(|p| p.max(1e-12).ln()).collect();
        for _ in 0..2 {
            envelope = super::statistics::running_mean(&envelope, bin(ENVELOPE_HZ) / 4);
        }
        let mut flat = vec![0.0_f32; bins];
        for (k, envelope) in (first..end).zip(envelope) {
            flat[k] = (power[k] / envelope.exp()) as f32;
        }
        Some(flat)
    }

    /// What repeats within half of the frames at least: for each range of rates the median over the frames of
    /// the highest autocorrelation at its periods, 0 … 1, of the frames as they are and with their envelopes
    /// taken off, which leaves nothing of what a narrow band of noise has. `None` under `least` frames.
    pub fn within_moments<const N: usize>(
        &self,
        ranges_hz: [(f64, f64); N],
        top_hz: f64,
        least: usize,
    ) -> Option<[(f64, f64); N]> {
        if self.powers.len() < least {
            return None;
        }
        let mut heights = [const { (Vec::new(), Vec::new()) }; N];
        for power in &self.powers {
            let all = f64::from(power.iter().sum::<f32>()).max(f64::MIN_POSITIVE);
            let wide: Vec<f64> = power.iter().map(|p| f64::from(*p) / all).collect();
            let flat = self.flattened(&wide, top_hz)?;
            let [plain, flat] = [power, &flat].map(|power| self.heights(power, ranges_hz));
            for (heights, (plain, flat)) in heights.iter_mut().zip(plain.into_iter().zip(flat)) {
                heights.0.push(plain);
                heights.1.push(flat);
            }
        }
        let medians = heights.into_iter().map(|(plain, flat)| median(plain).zip(median(flat)));
        medians.collect::<Option<Vec<_>>>()?.try_into().ok()
    }

    /// For each frame, the highest autocorrelation at the periods of each range, 0 … 1: of the first range no
    /// more than what still repeats after `lasts_s`, which a narrow band of noise does not for long.
    pub fn repeating<const N: usize>(
        &self,
        ranges_hz: [(f64, f64); N],
        lasts_s: f64,
    ) -> Vec<[f64; N]> {
        self.powers.iter().map(|power| self.repeating_in(power, ranges_hz, lasts_s)).collect()
    }

    fn repeating_in<const N: usize>(
        &self,
        power: &[f32],
        ranges_hz: [(f64, f64); N],
        lasts_s: f64,
    ) -> [f64; N] {
        let heard: Vec<f32> =
            power.iter().zip(&self.noise).map(|(p, noise)| (p - noise).max(0.0)).collect();
        let all = correlation(&heard, self.padded, self.lags);
        if !(all[0] > 0.0) {
            return [0.0; N];
        }
        let at = |lag: usize| all[lag] / (all[0] * self.taper[lag]);
        let lag = |hz: f64| (self.sample_rate_hz / hz) as usize;
        let end = self.taper.partition_point(|taper| *taper > LEAST_TAPER).min(all.len() - 1);
        let highest = |(low_hz, high_hz): (f64, f64)| {
            let lags = lag(high_hz).max(1)..lag(low_hz).min(end);
            lags.max_by(|a, b| at(*a).total_cmp(&at(*b)))
        };
        let mut each = ranges_hz.map(|range| highest(range).map_or(0.0, at));
        let period = ranges_hz.first().copied().and_then(highest);
        if let (Some(first), Some(period)) = (each.first_mut(), period) {
            let times = (lasts_s * self.sample_rate_hz / period as f64).ceil().max(1.0) as usize;
            // A lag of whole samples is off by half a one at most.
            let later = period * times - times / 2 - 1..(period * times + times / 2 + 2).min(end);
            *first = first.min(later.map(at).fold(0.0, f64::max));
        }
        each
    }

    /// For each range of rates the normalised height of the highest peak that the autocorrelation of a power
    /// spectrum has at its periods; 0 where it has none.
    fn heights<const N: usize>(&self, power: &[f32], ranges_hz: [(f64, f64); N]) -> [f64; N] {
        let all = correlation(power, self.padded, self.lags);
        ranges_hz.map(|range| self.highest(power, &all, range).unwrap_or(0.0))
    }

    /// The normalised height of the highest peak at the periods of `periods_hz`.
    ///
    /// * `all`: autocorrelation of what has the spectrum `power`.
    fn highest(&self, power: &[f32], all: &[f64], periods_hz: (f64, f64)) -> Option<f64> {
        let zero = all[0];
        if !(zero > 0.0) {
            return None;
        }
        let lag = |hz: f64| self.sample_rate_hz / hz;
        let (from, to) = (lag(periods_hz.1).floor().max(1.0) as usize, lag(periods_hz.0) as usize);
        let to = to.min(all.len() - 2);
        let near: Vec<f64> = (from - 1..to.max(from) + 2)
            .map(|lag| all.get(lag).map_or(0.0, |r| r / (zero * self.taper[lag])))
            .collect();
        let at = |lag: usize| near[lag + 1 - from];
        let peak = (from..=to)
            .filter(|&lag| at(lag) > at(lag - 1) && at(lag) >= at(lag + 1))
            .max_by(|a, b| at(*a).total_cmp(&at(*b)))?;
        // Between two lags, the sum itself is asked: high partials turn over within a few samples.
        let heard = power.iter().rposition(|p| *p != 0.0).map_or(power, |last| &power[..=last]);
        let value = |lag: f64| {
            let sum = sum_of_cosines(heard, std::f64::consts::TAU * lag / self.padded as f64);
            let below = lag.floor() as usize;
            let taper =
                self.taper[below] + lag.fract() * (self.taper[below + 1] - self.taper[below]);
            sum / taper
        };
        let lag = highest_between(value, (peak as f64 - 1.0, (peak + 1).min(to) as f64));
        let total: f64 = power.iter().map(|p| f64::from(*p)).sum();
        Some(value(lag) / total)
    }
}

/// Where between `low` and `high` a value that rises and then falls is highest, by golden sections.
fn highest_between(value: impl Fn(f64) -> f64, (mut low, mut high): (f64, f64)) -> f64 {
    let part = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut left, mut right) = (high - part * (high - low), low + part * (high - low));
    let (mut of_left, mut of_right) = (value(left), value(right));
    for _ in 0..STEPS {
        if of_left < of_right {
            (low, left, of_left) = (left, right, of_right);
            right = low + part * (high - low);
            of_right = value(right);
        } else {
            (high, right, of_right) = (right, left, of_left);
            left = high - part * (high - low);
            of_left = value(left);
        }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;
    const PERIODS_HZ: (f64, f64) = (100.0, 2000.0);

    /// White noise of variance 1, the same at each call.
    fn noise(n: usize, seed: u64) -> Vec<f32> {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        (0..n).map(|_| StandardNormal.sample(&mut rng)).collect()
    }

    fn tone(n: usize, hz: f64) -> Vec<f32> {
        let partial = |t: f64, m: f64| (std::f64::consts::TAU * hz * m * t).cos() / m;
        (0..n)
            .map(|i| (1..6).map(|m| partial(i as f64 / RATE_HZ, f64::from(m))).sum::<f64>() as f32)
            .collect()
    }

    fn rms(samples: &[f32]) -> f32 {
        (samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32).sqrt()
    }

    /// "If we add to a periodic sound noise of a tenth, a hundredth … of its power, the harmonicity is
    /// 10, 20 … dB": Boersma 1993, by the definition of r.
    #[test]
    fn harmonicity_is_the_ratio_of_what_repeats_to_what_does_not() {
        let tone = tone(24_000, 523.25);
        let noise = noise(24_000, 1);
        // Of white noise, the share that lies in the band is heard.
        let share = (BAND_HZ.1 - BAND_HZ.0) / (RATE_HZ / 2.0);
        for db in [0.0, 10.0, 20.0, 30.0] {
            let gain = rms(&tone) / 10_f32.powf(db as f32 / 20.0) / (share as f32).sqrt();
            let sum: Vec<f32> = tone.iter().zip(&noise).map(|(t, n)| t + gain * n).collect();
            let read = Frames::new(&sum, RATE_HZ, 20, |_| 0.0).harmonicity_db(PERIODS_HZ).unwrap();
            assert!((read - db).abs() < 1.0, "{db} dB is read as {read}");
        }
        let clean = Frames::new(&tone, RATE_HZ, 20, |_| 0.0).harmonicity_db(PERIODS_HZ).unwrap();
        assert!(clean > 38.0, "{clean}");
    }

    /// The noise that is known to be there is taken off; what the tone has of its own is left.
    #[test]
    fn a_known_noise_leaves_the_tone_as_it_is() {
        let tone = tone(24_000, 440.0);
        let (gain, own) = (rms(&tone) / 3.0, rms(&tone) / 5.6);
        let din =
            noise(24_000, 2).into_iter().zip(noise(24_000, 5)).map(|(a, b)| gain * a + own * b);
        let sum: Vec<f32> = tone.iter().zip(din).map(|(t, din)| t + din).collect();
        let density = f64::from(gain * gain) / (RATE_HZ / 2.0);
        let plain = Frames::new(&sum, RATE_HZ, 20, |_| 0.0).harmonicity_db(PERIODS_HZ).unwrap();
        let known = Frames::new(&sum, RATE_HZ, 20, |_| density).harmonicity_db(PERIODS_HZ).unwrap();
        assert!(plain < 15.0 && known > plain + 3.0, "{plain} {known}");
    }

    /// Where nearly all that does not repeat is the room's, nothing tells how much is the tone's own.
    #[test]
    fn a_loud_room_lets_no_small_din_be_known() {
        let tone = tone(24_000, 440.0);
        let gain = rms(&tone) / 2.5;
        let sum: Vec<f32> = tone.iter().zip(noise(24_000, 3)).map(|(t, n)| t + gain * n).collect();
        let density = f64::from(gain * gain) / (RATE_HZ / 2.0);
        // A little more is taken off than there is, as of a room that is not quite steady.
        let frames = Frames::new(&sum, RATE_HZ, 20, |_| 1.05 * density);
        assert_eq!(frames.harmonicity_db(PERIODS_HZ), None);
    }

    #[test]
    fn noise_of_no_colour_recurs_and_a_tone_that_jumps_does() {
        let recurrence = |samples: &[f32]| {
            Frames::new(samples, RATE_HZ, 40, |_| 0.0)
                .recurrence([PERIODS_HZ], 8000.0, 5)
                .map(|[share]| share)
                .unwrap()
        };
        for seed in 0..20 {
            let mut coloured = noise(24_000, seed);
            // A resonance at 1.2 kHz that rings for some 3 ms.
            let (r, w) = (0.99_f32, std::f32::consts::TAU * 1200.0 / RATE_HZ as f32);
            for i in 2..coloured.len() {
                coloured[i] += 2.0 * r * w.cos() * coloured[i - 1] - r * r * coloured[i - 2];
            }
            let found = recurrence(&coloured);
            assert!(found < 0.12, "seed {seed}: {found}");
        }
        let noise = noise(24_000, 99);
        let jumps: Vec<f32> = (0..24_000)
            .map(|i| {
                let here = if (i / 2000) % 2 == 0 { 2.0 } else { 0.0 };
                here * (std::f32::consts::TAU * 520.0 * i as f32 / RATE_HZ as f32).sin().powi(15)
                    + 0.3 * noise[i]
            })
            .collect();
        assert!(recurrence(&jumps) > 0.3);
    }

    #[test]
    fn what_is_shorter_than_a_frame_tells_nothing() {
        let short = Frames::new(&[0.5; 100], RATE_HZ, 8, |_| 0.0);
        assert_eq!(short.harmonicity_db(PERIODS_HZ), None);
        assert_eq!(short.recurrence([PERIODS_HZ], 8000.0, 1), None);
        let silent = Frames::new(&[0.0; 9600], RATE_HZ, 8, |_| 0.0);
        assert_eq!(silent.harmonicity_db(PERIODS_HZ), None);
    }

    /// White noise through a resonator of Q 8 (the biquad of the Audio EQ Cookbook, constant peak gain).
    fn resonance(n: usize, hz: f64, seed: u64) -> Vec<f32> {
        let w = std::f64::consts::TAU * hz / RATE_HZ;
        let alpha = w.sin() / 16.0;
        let mut past = [0.0; 4];
        let mut next = |x: f64| {
            let [x1, x2, y1, y2] = past;
            let y = (alpha * (x - x2) + 2.0 * w.cos() * y1 - (1.0 - alpha) * y2) / (1.0 + alpha);
            past = [x, x1, y, y1];
            y as f32
        };
        noise(n, seed).into_iter().map(|x| next(f64::from(x))).collect()
    }

    #[test]
    fn a_tone_that_leaps_repeats_in_most_moments_and_a_band_of_noise_not_for_long() {
        let leaping: Vec<f32> = [523.0, 1046.0, 700.0, 410.0, 540.0, 810.0, 523.0, 390.0]
            .into_iter()
            .flat_map(|hz| tone(2_880, hz))
            .collect();
        let share_over = |samples: &[f32], least: f64| {
            let each = Frames::new(samples, RATE_HZ, 40, |_| 0.0).repeating([PERIODS_HZ], 0.008);
            assert!(!each.is_empty());
            each.iter().filter(|[r]| *r > least).count() as f64 / each.len() as f64
        };
        assert!(share_over(&leaping, 0.4) > 0.4, "{}", share_over(&leaping, 0.4));
        assert!(share_over(&tone(24_000, 523.25), 0.95) > 0.99);
        for hz in [450.0, 900.0, 1800.0] {
            let band = resonance(24_000, hz, 5);
            assert!(share_over(&band, 0.4) < 0.2, "{hz} Hz: {}", share_over(&band, 0.4));
        }
        assert_eq!(
            Frames::new(&[0.0; 24_000], RATE_HZ, 40, |_| 0.0).repeating([PERIODS_HZ], 0.008)[0],
            [0.0]
        );
    }
}
