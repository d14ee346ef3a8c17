//! What recorders do to a sound: gain control, gates, noise suppression, codecs.

use std::process::{Command, Stdio};
use std::sync::OnceLock;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use realfft::RealFftPlanner;

use super::sounds::RATE_HZ;

const RATE: f64 = RATE_HZ as f64;

/// Automatic gain: follows the level with these time constants and lifts or lowers it towards a
/// target, by no more than `most_db`.
#[derive(Clone, Copy)]
pub struct GainControl {
    pub attack_s: f64,
    pub release_s: f64,
    pub target_dbfs: f64,
    pub most_db: f64,
}

impl GainControl {
    pub fn slow(rng: &mut ChaCha8Rng) -> Self {
        Self {
            attack_s: rng.random_range(0.05..0.2),
            release_s: rng.random_range(1.0..4.0),
            target_dbfs: rng.random_range(-22.0..-14.0),
            most_db: rng.random_range(20.0..36.0),
        }
    }

    pub fn fast(rng: &mut ChaCha8Rng) -> Self {
        Self {
            attack_s: rng.random_range(0.003..0.02),
            release_s: rng.random_range(0.1..0.5),
            target_dbfs: rng.random_range(-22.0..-14.0),
            most_db: rng.random_range(20.0..36.0),
        }
    }

    pub fn apply(&self, samples: &mut [f32]) {
        let keep = |seconds: f64| (-1.0 / (seconds * RATE)).exp();
        let (attack, release) = (keep(self.attack_s), keep(self.release_s));
        let target = 0.5 * 10f64.powf(self.target_dbfs / 10.0);
        let least = target / 10f64.powf(self.most_db / 10.0);
        let mut power = target;
        for sample in samples {
            let now = f64::from(*sample).powi(2);
            let keep = if now > power { attack } else { release };
            power = keep * power + (1.0 - keep) * now;
            *sample =
                (f64::from(*sample) * (target / power.max(least)).sqrt()).clamp(-1.0, 1.0) as f32;
        }
    }
}

/// Each stretch of `frame_s` brought to the same peak, the gains smoothed over `frames` of them.
pub fn normalise(samples: &mut [f32], frame_s: f64, frames: usize, most: f64) {
    let frame = (frame_s * RATE) as usize;
    let gains: Vec<f64> = samples
        .chunks(frame)
        .map(|part| {
            let peak = part.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
            (0.9 / f64::from(peak).max(1e-6)).min(most)
        })
        .collect();
    let smooth: Vec<f64> = (0..gains.len())
        .map(|i| {
            let near = &gains[i.saturating_sub(frames / 2)..(i + frames / 2 + 1).min(gains.len())];
            // Never over the least of the nearest, so that nothing clips.
            near.iter().sum::<f64>() / near.len() as f64
        })
        .collect();
    for (i, sample) in samples.iter_mut().enumerate() {
        let place = i as f64 / frame as f64 - 0.5;
        let k = place.floor().max(0.0) as usize;
        let (a, b) = (smooth[k.min(smooth.len() - 1)], smooth[(k + 1).min(smooth.len() - 1)]);
        let gain = a + (b - a) * (place - k as f64).clamp(0.0, 1.0);
        *sample = (f64::from(*sample) * gain).clamp(-1.0, 1.0) as f32;
    }
}

/// A gate: closed (−60 dB) while the level is under the threshold for longer than the hold.
pub fn gate(samples: &mut [f32], threshold_dbfs: f64, hold_s: f64) {
    let threshold = 0.5 * 10f64.powf(threshold_dbfs / 10.0);
    let keep = (-1.0 / (0.01 * RATE)).exp();
    let (mut power, mut open_until, mut gain) = (0.0_f64, 0_usize, 0.001_f64);
    for (i, sample) in samples.iter_mut().enumerate() {
        power = keep * power + (1.0 - keep) * f64::from(*sample).powi(2);
        if power > threshold {
            open_until = i + (hold_s * RATE) as usize;
        }
        let aim = if i < open_until { 1.0 } else { 0.001 };
        gain += (aim - gain) / (0.005 * RATE);
        *sample = (f64::from(*sample) * gain) as f32;
    }
}

/// Spectral subtraction: the noise is learnt from the quietest frames, each bin is turned down to
/// what stands over it, by no more than `most_db`.
pub fn denoise(samples: &[f32], over: f64, most_db: f64) -> Vec<f32> {
    const N: usize = 1024;
    const HOP: usize = 256;
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, backward) = (planner.plan_fft_forward(N), planner.plan_fft_inverse(N));
    let window: Vec<f32> = (0..N)
        .map(|i| (0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / N as f64).cos()).sqrt() as f32)
        .collect();
    let mut padded = vec![0.0; N];
    padded.extend_from_slice(samples);
    padded.extend(vec![0.0; N]);
    let frames: Vec<Vec<_>> = (0..(padded.len() - N) / HOP)
        .map(|f| {
            let mut frame: Vec<f32> =
                padded[f * HOP..f * HOP + N].iter().zip(&window).map(|(x, w)| x * w).collect();
            let mut bins = forward.make_output_vec();
            forward.process(&mut frame, &mut bins).expect("lengths of the plan");
            bins
        })
        .collect();
    let noise: Vec<f32> = (0..=N / 2)
        .map(|k| {
            let mut powers: Vec<f32> = frames.iter().map(|bins| bins[k].norm_sqr()).collect();
            powers.sort_by(f32::total_cmp);
            let quiet = &powers[..(powers.len() / 4).max(1)];
            2.0 * quiet.iter().sum::<f32>() / quiet.len() as f32
        })
        .collect();
    let least = 10f64.powf(-most_db / 20.0) as f32;
    let mut out = vec![0.0_f32; padded.len()];
    for (f, mut bins) in frames.into_iter().enumerate() {
        for (bin, noise) in bins.iter_mut().zip(&noise) {
            let rest = 1.0 - over as f32 * noise / bin.norm_sqr().max(1e-20);
            *bin *= rest.max(0.0).sqrt().max(least);
        }
        bins[0].im = 0.0;
        bins[N / 2].im = 0.0;
        let mut frame = backward.make_output_vec();
        backward.process(&mut bins, &mut frame).expect("lengths of the plan");
        // Four overlapped squares of the window sum to 2, the transform to N.
        for ((out, x), w) in out[f * HOP..].iter_mut().zip(frame).zip(&window) {
            *out += x * w / (2.0 * N as f32);
        }
    }
    out[N..N + samples.len()].to_vec()
}

/// Packets of 20 ms that never came, each replaced by silence.
pub fn lose_packets(samples: &mut [f32], share: f64, rng: &mut ChaCha8Rng) {
    for packet in samples.chunks_mut(960) {
        if rng.random::<f64>() < share {
            packet.fill(0.0);
        }
    }
}

/// Whether FFmpeg is here.
pub fn has_ffmpeg() -> bool {
    static HERE: OnceLock<bool> = OnceLock::new();
    *HERE.get_or_init(|| {
        let mut command = Command::new("ffmpeg");
        command.arg("-version").stdout(Stdio::null()).stderr(Stdio::null());
        command.status().is_ok_and(|status| status.success())
    })
}

/// Through FFmpeg: filters (`-af`), then an encoder with its container and back; as they are where
/// FFmpeg is not installed.
///
/// * `encoder`: arguments of the encoder, and the ending of its file; empty for none.
pub fn ffmpeg(samples: &[f32], filters: &str, encoder: (&[&str], &str)) -> Vec<f32> {
    if !has_ffmpeg() {
        return samples.to_vec();
    }
    let folder = tempfile::tempdir().expect("a folder for files that pass");
    let made = folder.path().join("made.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&made, spec).expect("a file");
    samples.iter().for_each(|x| writer.write_sample(*x).expect("room"));
    writer.finalize().expect("room");
    let run = |input: &std::path::Path, arguments: &[&str], output: &std::path::Path| {
        let status = Command::new("ffmpeg")
            .args(["-v", "error", "-y", "-i"])
            .arg(input)
            .args(arguments)
            .arg(output)
            .stdin(Stdio::null())
            .status();
        assert!(status.is_ok_and(|status| status.success()), "ffmpeg {arguments:?}");
    };
    let mut last = made;
    if !filters.is_empty() {
        let filtered = folder.path().join("filtered.wav");
        run(&last, &["-af", filters, "-c:a", "pcm_f32le"], &filtered);
        last = filtered;
    }
    if !encoder.0.is_empty() {
        let encoded = folder.path().join(format!("encoded.{}", encoder.1));
        // hound marks the channel as a left one, which encoders refuse.
        let as_mono = ["-af", "aformat=channel_layouts=mono"];
        run(&last, &[&as_mono[..], encoder.0].concat(), &encoded);
        last = encoded;
    }
    let decoded = folder.path().join("decoded.wav");
    run(&last, &["-ac", "1", "-ar", "48000", "-c:a", "pcm_f32le"], &decoded);
    let mut reader = hound::WavReader::open(&decoded).expect("what FFmpeg wrote");
    reader.samples::<f32>().map(|x| x.expect("whole").clamp(-1.0, 1.0)).collect()
}
