//! A take before it is recorded: what sounds when, in which noise.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::crow::CrowSound;
use super::disturbance::Disturbance;
use super::measure::{Surroundings, crow_truth};
use super::noise::{Colour, noise};
use super::room::reverberate;
use super::truth::{OtherTruth, Truth};
use reedcrow::take::Take;

/// Everything that sounds in one take.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Samples per second.
    pub sample_rate_hz: u32,
    /// Length of the take.
    pub duration_s: f64,
    /// The same seed gives the same samples.
    pub seed: u64,
    /// What sounds, in any order.
    pub sounds: Vec<Sound>,
    /// What is there all the time.
    pub background: Background,
    /// Digital silence at the start, as some recorders write it.
    pub lead_silence_s: f64,
    /// Samples beyond ± this are cut there; 1 is full scale.
    pub clip_at: f64,
}

/// One sound of a scene.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// When it starts: for a crow its tone, breath before it comes earlier.
    pub start_s: f64,
    /// What it is.
    pub source: Source,
}

/// What sounds.
#[allow(clippy::large_enum_variant, reason = "a scene holds a handful of sounds")]
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// A crow.
    Crow(CrowSound),
    /// Anything else.
    Other(Disturbance),
}

/// What is there all the time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Background {
    /// Room noise.
    pub noise: Option<Noise>,
    /// Mains hum.
    pub hum: Option<Hum>,
}

/// Room noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Its spectrum.
    pub colour: Colour,
    /// Its power.
    pub level: NoiseLevel,
}

/// How strong the noise is, over the whole band from 0 to half the sample rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoiseLevel {
    /// Below the tone of the scene's first crow at full gain, in decibels.
    Snr(f64),
    /// Relative to a full-scale sine.
    Dbfs(f64),
}

/// Mains hum: a fundamental with harmonics falling 5 dB each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hum {
    /// 50 or 60 Hz.
    pub mains_hz: f64,
    /// Level of the fundamental.
    pub level_dbfs: f64,
    /// How many harmonics, the fundamental included.
    pub harmonics: u32,
}

/// A scene's samples and its truth.
#[derive(Debug, Clone)]
pub struct Rendered {
    /// `[n]` samples, full scale ±1.
    pub samples: Vec<f32>,
    /// What a perfect reading would say.
    pub truth: Truth,
}

impl Scene {
    /// An empty scene at 48 kHz without noise.
    pub fn new(duration_s: f64, seed: u64) -> Self {
        Self {
            sample_rate_hz: 48_000,
            duration_s,
            seed,
            sounds: Vec::new(),
            background: Background::default(),
            lead_silence_s: 0.0,
            clip_at: 1.0,
        }
    }

    /// One crow between `margin_s` of background on both sides of its breath and tone.
    pub fn of_crow(crow: CrowSound, margin_s: f64, seed: u64) -> Self {
        let (lead_s, tail_s) = crow.air.map_or((0.0, 0.0), |air| (air.lead_s, air.tail_s));
        let mut scene = Self::new(2.0 * margin_s + lead_s + crow.duration_s + tail_s, seed);
        scene.sounds.push(Sound { start_s: margin_s + lead_s, source: Source::Crow(crow) });
        scene
    }

    /// The scene in noise of `colour`, `snr_db` under the tone of its first crow.
    #[must_use]
    pub fn in_noise(mut self, colour: Colour, snr_db: f64) -> Self {
        self.background.noise = Some(Noise { colour, level: NoiseLevel::Snr(snr_db) });
        self
    }

    /// Mean square of the background noise.
    fn noise_power(&self) -> f64 {
        let Some(noise) = self.background.noise else { return 0.0 };
        match noise.level {
            NoiseLevel::Dbfs(dbfs) => 0.5 * 10f64.powf(dbfs / 10.0),
            NoiseLevel::Snr(snr_db) => {
                let first = self.sounds.iter().find_map(|sound| match &sound.source {
                    Source::Crow(crow) => Some(crow.mean_square()),
                    Source::Other(_) => None,
                });
                // A scene without a crow counts from a tone at −20 dBFS.
                first.unwrap_or(0.005) * 10f64.powf(-snr_db / 10.0)
            }
        }
    }

    /// A generator of random numbers of its own for each part, so that changing one sound leaves
    /// the others as they were.
    fn rng(&self, part: u64) -> ChaCha8Rng {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(part);
        rng
    }

    /// The samples and the truth.
    pub fn render(&self) -> Rendered {
        let rate = f64::from(self.sample_rate_hz);
        let count = (self.duration_s * rate).round().max(0.0) as usize;
        let noise_power = self.noise_power();
        let surroundings = Surroundings {
            sample_rate_hz: rate,
            colour: self.background.noise.map_or(Colour::White, |noise| noise.colour),
            noise_power,
            hum: self.background.hum,
        };
        let mut mix = vec![0.0; count];
        let mut crows = Vec::new();
        let mut others = Vec::new();
        for (index, sound) in self.sounds.iter().enumerate() {
            let mut rng = self.rng(1 + index as u64);
            match &sound.source {
                Source::Crow(crow) => {
                    let tone = crow.tone(rate, &mut rng);
                    let (dry, lead_s) = with_air(crow, &tone.samples, rate, &mut rng);
                    crows.push(crow_truth(crow, &tone, &dry, lead_s, sound.start_s, &surroundings));
                    let wet = match &crow.room {
                        Some(room) => reverberate(&dry, room, rate, &mut rng),
                        None => dry,
                    };
                    add(&mut mix, &wet, ((sound.start_s - lead_s) * rate).round() as i64);
                }
                Source::Other(other) => {
                    let samples = other.render(rate, &mut rng);
                    let start = (sound.start_s * rate).round();
                    others.push(OtherTruth {
                        kind: other.name().to_owned(),
                        start_s: sound.start_s,
                        end_s: sound.start_s + samples.len() as f64 / rate,
                    });
                    add(&mut mix, &samples, start as i64);
                }
            }
        }
        self.add_background(&mut mix, noise_power);
        let silent = (self.lead_silence_s * rate).round().max(0.0) as usize;
        mix.iter_mut().take(silent).for_each(|sample| *sample = 0.0);
        let clipped = mix.iter().filter(|sample| sample.abs() > self.clip_at).count();
        let samples = mix.iter().map(|x| x.clamp(-self.clip_at, self.clip_at) as f32).collect();
        crows.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let noise_dbfs = (noise_power > 0.0).then(|| 10.0 * (2.0 * noise_power).log10());
        let truth = Truth {
            seed: self.seed,
            sample_rate_hz: self.sample_rate_hz,
            duration_s: self.duration_s,
            noise_dbfs,
            clipped_samples: clipped as u64,
            crows,
            others,
        };
        Rendered { samples, truth }
    }

    fn add_background(&self, mix: &mut [f64], noise_power: f64) {
        let rate = f64::from(self.sample_rate_hz);
        let mut rng = self.rng(0);
        if let Some(Noise { colour, .. }) = self.background.noise {
            let samples = noise(colour, mix.len(), rate, &mut rng);
            let gain = noise_power.sqrt();
            mix.iter_mut().zip(samples).for_each(|(out, x)| *out += gain * x);
        }
        if let Some(hum) = self.background.hum {
            for harmonic in 1..=hum.harmonics {
                let hz = hum.mains_hz * f64::from(harmonic);
                if hz >= 0.45 * rate {
                    break;
                }
                let amplitude = 10f64.powf((hum.level_dbfs - 5.0 * f64::from(harmonic - 1)) / 20.0);
                let phase: f64 = rng.random();
                for (i, out) in mix.iter_mut().enumerate() {
                    *out += amplitude * (TAU * (hz * i as f64 / rate + phase)).sin();
                }
            }
        }
    }
}

impl Rendered {
    /// The samples as a mono take.
    pub fn take(&self, source: &str) -> Take {
        Take {
            source: source.to_owned(),
            sample_rate_hz: self.truth.sample_rate_hz,
            channels: 1,
            channel: 1,
            samples: self.samples.clone(),
            ..Take::default()
        }
    }
}

/// The tone with its breath noise, and by how much the breath comes before the tone.
fn with_air(crow: &CrowSound, tone: &[f64], rate: f64, rng: &mut ChaCha8Rng) -> (Vec<f64>, f64) {
    let Some(air) = crow.air else { return (tone.to_vec(), 0.0) };
    let lead = (air.lead_s * rate).round().max(0.0) as usize;
    let tail = (air.tail_s * rate).round().max(0.0) as usize;
    let count = lead + tone.len() + tail;
    let gain = (crow.mean_square() * 10f64.powf(air.level_db / 10.0)).sqrt();
    let mut samples = noise(air.colour, count, rate, rng);
    for (i, sample) in samples.iter_mut().enumerate() {
        *sample *= gain * air.gain(crow.duration_s, (i as f64 - lead as f64) / rate);
    }
    samples.iter_mut().skip(lead).zip(tone).for_each(|(out, x)| *out += x);
    (samples, lead as f64 / rate)
}

/// Adds `samples` to `mix` from index `start`; what falls outside is left out.
fn add(mix: &mut [f64], samples: &[f64], start: i64) {
    let skip = (-start).max(0) as usize;
    let from = start.max(0) as usize;
    for (out, x) in mix.iter_mut().skip(from).zip(samples.iter().skip(skip)) {
        *out += x;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_scene_gives_the_same_samples_and_another_seed_others() {
        let scene = Scene::of_crow(CrowSound::octaves(520.0, 0.3, -6.0), 0.2, 9)
            .in_noise(Colour::Pink, 30.0);
        let other = Scene { seed: 10, ..scene.clone() };
        assert_eq!(scene.render().samples, scene.render().samples);
        assert_ne!(scene.render().samples, other.render().samples);
    }

    /// 0.5 s of white noise: 24 000 samples, so the level is known to 0.08 dB (two sd).
    #[test]
    fn noise_stands_as_far_below_the_tone_as_told() {
        let scene = Scene::of_crow(CrowSound::octaves(520.0, 0.3, -6.0), 0.5, 4)
            .in_noise(Colour::White, 30.0);
        let rendered = scene.render();
        let lead = &rendered.samples[..24_000];
        let mean_square =
            lead.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / lead.len() as f64;
        let dbfs = 10.0 * (2.0 * mean_square).log10();
        assert!((dbfs + 50.0).abs() < 0.12, "{dbfs}");
        assert!((rendered.truth.noise_dbfs.unwrap() + 50.0).abs() < 1e-9);
    }

    #[test]
    fn clipping_is_counted_and_held_at_the_limit() {
        let mut crow = CrowSound::octaves(520.0, 0.3, -6.0);
        crow.level_dbfs = 3.0;
        let mut scene = Scene::of_crow(crow, 0.1, 4);
        scene.clip_at = 0.8;
        let rendered = scene.render();
        assert!(rendered.truth.clipped_samples > 100);
        assert!(rendered.samples.iter().all(|x| x.abs() <= 0.8));
    }

    /// Attack and decay of 20 ms, white noise at 30 dB: the odd and even partials fill the band, so
    /// the tone stands over the noise within its attack.
    #[test]
    fn a_crow_starts_and_ends_within_its_ramps() {
        let scene = Scene::of_crow(CrowSound::octaves(520.0, 0.4, -6.0), 0.5, 4)
            .in_noise(Colour::White, 30.0);
        let truth = scene.render().truth;
        let crow = &truth.crows[0];
        assert!((0.5..0.51).contains(&crow.start_s), "{crow:?}");
        assert!((0.89..0.9).contains(&crow.end_s), "{crow:?}");
        assert!((crow.fundamental_hz - 520.0).abs() < 1e-9);
        assert_eq!(crow.alignment_cents, Some(0.0));
    }
}
