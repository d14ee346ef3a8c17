//! What sounds in the rooms: crows with their truth, and what makers do not mean to record.
//!
//! Disturbances leave with a mean square of 1 over what sounds of them, so that a level against the
//! crow can be given in decibels.

use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use reedcrow_synth::{
    Air, Background, Colour, CrowSound, Disturbance, Hum, Motion, Noise, NoiseLevel, Rattle,
    Rendered, Room, RungSound, Scene, Sound, Source,
};

use super::super::trial::oboe_hz;

pub const RATE_HZ: u32 = 48_000;
const RATE: f64 = RATE_HZ as f64;

/// Level of the crows, and so what the others' levels are counted from.
pub const CROW_DBFS: f64 = -20.0;

/// What crows are drawn from.
#[derive(Clone, Copy)]
pub struct Crowing {
    /// Least and longest pause between crows, in seconds.
    pub pauses_s: (f64, f64),
    /// Level of the room's own noise, relative to a full-scale sine.
    pub room_dbfs: (f64, f64),
    /// Number of crows.
    pub crows: usize,
}

impl Default for Crowing {
    fn default() -> Self {
        Self { pauses_s: (0.9, 2.6), room_dbfs: (-68.0, -55.0), crows: 3 }
    }
}

/// One reed crowed several times at a bench.
pub fn crows(crowing: Crowing, rng: &mut ChaCha8Rng, seed: u64) -> Rendered {
    let reed = reed(rng);
    let mut scene = Scene::new(0.0, seed);
    let mut start_s = rng.random_range(1.0..2.0);
    for _ in 0..crowing.crows {
        let mut crow = reed.clone();
        crow.f_low_hz *= f64::exp2(rng.random_range(-6.0..6.0) / 1200.0);
        crow.level_dbfs = CROW_DBFS + rng.random_range(-2.0..2.0);
        crow.duration_s = rng.random_range(0.7..1.8);
        let end_s = start_s + crow.duration_s;
        scene.sounds.push(Sound { start_s, source: Source::Crow(crow) });
        start_s = end_s + rng.random_range(crowing.pauses_s.0..crowing.pauses_s.1);
    }
    scene.duration_s = start_s;
    let level = NoiseLevel::Dbfs(rng.random_range(crowing.room_dbfs.0..crowing.room_dbfs.1));
    scene.background.noise = Some(Noise { colour: Colour::Pink, level });
    scene.render()
}

/// A reed as makers crow them: octaves mostly, and what else can be wrong with one.
fn reed(rng: &mut ChaCha8Rng) -> CrowSound {
    let low_hz = oboe_hz(rng);
    let low_db = rng.random_range(-16.0..-2.0);
    let mut crow = CrowSound::octaves(low_hz, 1.0, low_db);
    match rng.random_range(0..10) {
        0 => crow = CrowSound::single(2.0 * low_hz, 1.0),
        1 => crow = CrowSound::split(low_hz, 1.0, rng.random_range(25.0..80.0)),
        2 => {
            let hz = rng.random_range(20.0..45.0);
            crow.rattle = Some(Rattle { hz, depth: rng.random_range(0.3..0.6) });
        }
        3 => {
            let late = RungSound { entry_s: 0.25, ..RungSound::at(low_db) };
            crow.rungs = vec![Some(late), Some(RungSound::at(0.0))];
        }
        _ => {}
    }
    crow.ragged_db = rng.random_range(1.0..5.0);
    crow.attack_s = rng.random_range(0.03..0.12);
    crow.decay_s = rng.random_range(0.04..0.12);
    crow.motion = Motion {
        drift_cents_per_s: rng.random_range(-30.0..30.0),
        spread_cents: rng.random_range(0.5..5.0),
        spread_time_s: 0.08,
        ..Motion::default()
    };
    crow.air = Some(Air {
        level_db: rng.random_range(-30.0..-18.0),
        lead_s: rng.random_range(0.03..0.25),
        tail_s: rng.random_range(0.0..0.12),
        ..Air::default()
    });
    let room =
        Room { decay_s: rng.random_range(0.15..0.45), level_db: rng.random_range(-16.0..-6.0) };
    crow.room = Some(room);
    crow
}

/// `samples += 10^(db/20) × of`, `of` having a mean square of 1 and the crows being at
/// [`CROW_DBFS`].
pub fn add(samples: &mut [f32], of: &[f32], db_re_crow: f64) {
    let gain = (0.5 * 10f64.powf((CROW_DBFS + db_re_crow) / 10.0)).sqrt() as f32;
    samples.iter_mut().zip(of).for_each(|(out, x)| *out += gain * x);
}

/// Noise of a colour, mean square 1.
fn noise(colour: Colour, count: usize, seed: u64) -> Vec<f32> {
    let mut scene = Scene::new(count as f64 / RATE, seed);
    let level = NoiseLevel::Dbfs(-20.0);
    scene.background = Background { noise: Some(Noise { colour, level }), hum: None };
    to_unit(scene.render().samples)
}

/// Scaled to a mean square of 1 over the samples that are not nearly silent.
fn to_unit(mut samples: Vec<f32>) -> Vec<f32> {
    let blocks: Vec<f64> = samples
        .chunks(2400)
        .map(|block| block.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / block.len() as f64)
        .collect();
    let highest = blocks.iter().copied().fold(0.0, f64::max);
    let sounding: Vec<f64> = blocks.into_iter().filter(|b| *b > 1e-3 * highest).collect();
    let mean = sounding.iter().sum::<f64>() / sounding.len().max(1) as f64;
    let gain = 1.0 / mean.max(1e-12).sqrt() as f32;
    samples.iter_mut().for_each(|x| *x *= gain);
    samples
}

/// A street through the window: a rumble with cars that pass.
pub fn traffic(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let seed: u64 = rng.random();
    let corner_hz = rng.random_range(90.0..220.0);
    let rumble = noise(Colour::Low { corner_hz }, count, seed);
    let air = Colour::Air { low_hz: 250.0, high_hz: rng.random_range(900.0..1600.0) };
    let tyres = noise(air, count, seed ^ 1);
    let share = rng.random_range(0.25..0.5);
    let mut passes = Vec::new();
    let mut at_s = rng.random_range(0.0..4.0);
    while at_s < count as f64 / RATE + 3.0 {
        passes.push((at_s, rng.random_range(0.8..2.5), rng.random_range(0.5..1.5)));
        at_s += rng.random_range(2.5..7.0);
    }
    let samples = (0..count).map(|i| {
        let time_s = i as f64 / RATE;
        let swell: f64 = passes
            .iter()
            .map(|(at, width, height)| height * (-((time_s - at) / width).powi(2)).exp())
            .sum();
        (0.3 + swell) as f32 * (rumble[i] + share * tyres[i])
    });
    to_unit(samples.collect())
}

/// Somebody talking: phrases of syllables with pauses.
pub fn speech(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let seconds = count as f64 / RATE;
    let mut scene = Scene::new(seconds, rng.random());
    let pitch_hz = rng.random_range(95.0..240.0);
    let mut start_s = rng.random_range(0.0..0.6);
    while start_s < seconds {
        let duration_s = rng.random_range(0.7..2.2);
        let phrase = Disturbance::Speech { level_dbfs: -20.0, duration_s, pitch_hz };
        scene.sounds.push(Sound { start_s, source: Source::Other(phrase) });
        start_s += duration_s + rng.random_range(0.15..0.6);
    }
    to_unit(scene.render().samples)
}

const SENTENCES: [&str; 6] = [
    "Could you pass me the knife, please, the one with the short blade, and the plaque.",
    "I think the left corner is still too thick, look at it against the window.",
    "We have a rehearsal at seven, and nobody has printed the second oboe part yet.",
    "No, leave the heart alone for now. Take a little off the sides and try it again.",
    "She said the weather would turn on Thursday, and then all of them will be flat.",
    "How long have you soaked it? Two minutes in warm water is enough for that cane.",
];

/// A speech synthesiser's voice, where one is installed (espeak-ng); else [`speech`].
pub fn spoken(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let voice = ["en-us", "en-gb", "en-us+f3", "en-gb+f2"][rng.random_range(0..4)];
    let mut samples: Vec<f32> = Vec::new();
    while samples.len() < count {
        let sentence = SENTENCES[rng.random_range(0..SENTENCES.len())];
        let speed = rng.random_range(130..190).to_string();
        let output = Command::new("espeak-ng")
            .args(["-v", voice, "-s", &speed, "--stdout", sentence])
            .output();
        let Some(wav) = output.ok().filter(|o| o.status.success()).map(|o| o.stdout) else {
            return speech(count, rng);
        };
        // Its header tells no length: samples of 16 bits at 22 050 Hz begin after 44 bytes.
        let bytes = wav.get(44..).unwrap_or_default();
        let spoken: Vec<f32> = bytes
            .chunks_exact(2)
            .map(|pair| f32::from(i16::from_le_bytes([pair[0], pair[1]])) / 32_768.0)
            .collect();
        samples.extend(at_speed(&spoken, 22_050.0 / RATE));
        samples.extend(vec![0.0; rng.random_range(4_000..24_000)]);
    }
    samples.truncate(count);
    to_unit(samples)
}

/// `samples` read at `speed` (2: an octave higher, half as long), by cubic interpolation.
pub fn at_speed(samples: &[f32], speed: f64) -> Vec<f32> {
    let count = (samples.len() as f64 / speed) as usize;
    let at = |i: i64| samples.get(i.max(0) as usize).copied().unwrap_or(0.0);
    (0..count)
        .map(|i| {
            let place = i as f64 * speed;
            let (k, t) = (place.floor() as i64, place.fract() as f32);
            let (a, b, c, d) = (at(k - 1), at(k), at(k + 1), at(k + 2));
            let slope = c - a;
            b + 0.5
                * t
                * (slope + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
        })
        .collect()
}

/// A recorded note: its samples at [`RATE_HZ`], cut to the held part, and its pitch.
struct PlayedNote {
    samples: Vec<f32>,
    hz: f64,
}

/// Of which instrument the notes are.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Instrument {
    Oboe,
    EnglishHorn,
}

fn notes(instrument: Instrument) -> &'static [PlayedNote] {
    static OBOE: OnceLock<Vec<PlayedNote>> = OnceLock::new();
    static HORN: OnceLock<Vec<PlayedNote>> = OnceLock::new();
    let read = |list: &[(&str, f64)]| {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/recordings");
        list.iter()
            .map(|(name, hz)| {
                let path = folder.join(format!("{name}.wav"));
                let mut reader = hound::WavReader::open(&path).expect("a fixture");
                let rate = f64::from(reader.spec().sample_rate);
                let samples: Vec<f32> = reader
                    .samples::<i16>()
                    .map(|x| f32::from(x.expect("whole")) / 32_768.0)
                    .collect();
                PlayedNote { samples: to_unit(at_speed(&samples, rate / RATE)), hz: *hz }
            })
            .collect::<Vec<_>>()
    };
    // Pitches as measured, from fixtures/recordings/labels.csv.
    match instrument {
        Instrument::Oboe => OBOE.get_or_init(|| {
            read(&[
                ("smstools_oboe_A4", 442.38),
                ("fluid_oboe_G4", 398.11),
                ("fluid_oboe_D5", 595.92),
                ("fluid_oboe_As5", 929.66),
                ("fluid_oboe_Ds4", 312.45),
            ])
        }),
        Instrument::EnglishHorn => HORN.get_or_init(|| {
            read(&[
                ("fluid_english_horn_C4", 264.48),
                ("fluid_english_horn_Fs4", 373.09),
                ("fluid_english_horn_B4", 503.76),
            ])
        }),
    }
}

/// Somebody practising beside the bench: a melody from recorded notes.
pub fn melody(instrument: Instrument, count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let notes = notes(instrument);
    let mut samples = vec![0.0_f32; count];
    let mut place = rng.random_range(0..12_000);
    // A scale of C major walked up and down, from the note before.
    const SCALE: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
    let mut degree: i32 = rng.random_range(-2..10);
    while place < count {
        degree = (degree + rng.random_range(-3..=3)).clamp(-2, 12);
        let semitones = 12 * degree.div_euclid(7) + SCALE[degree.rem_euclid(7) as usize];
        let low = if instrument == Instrument::Oboe { 261.63 } else { 196.0 };
        let hz = low * f64::exp2(f64::from(semitones) / 12.0);
        let near = |note: &PlayedNote| (note.hz / hz).log2().abs();
        let Some(note) = notes.iter().min_by(|a, b| near(a).total_cmp(&near(b))) else { break };
        let length = rng.random_range(0.15..0.75_f64);
        let played = at_speed(&note.samples, hz / note.hz);
        let wanted = ((length * RATE) as usize).min(played.len());
        let gain = rng.random_range(0.6..1.0_f32);
        for (i, x) in played[..wanted].iter().enumerate() {
            let Some(out) = samples.get_mut(place + i) else { break };
            let fade = ((wanted - i) as f32 / 2400.0).min(1.0);
            *out += gain * fade * x;
        }
        place += wanted;
        if rng.random::<f64>() < 0.12 {
            place += rng.random_range(9_000..40_000);
        }
    }
    to_unit(samples)
}

/// Water from a tap into a sink: hiss that flickers, and bubbles.
pub fn tap(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let colour = Colour::Air {
        low_hz: rng.random_range(500.0..1800.0),
        high_hz: rng.random_range(3000.0..8000.0),
    };
    let hiss = noise(colour, count, rng.random());
    let flicker = noise(Colour::Low { corner_hz: 12.0 }, count, rng.random());
    let mut samples: Vec<f32> =
        hiss.iter().zip(&flicker).map(|(x, f)| x * (1.0 + 0.25 * f).max(0.1)).collect();
    let bubbles = (count as f64 / RATE * rng.random_range(8.0..30.0)) as usize;
    for _ in 0..bubbles {
        let from = rng.random_range(0..count.max(1));
        let (hz, fall_s) = (rng.random_range(400.0..2500.0), rng.random_range(0.004..0.02));
        let height = rng.random_range(0.3..1.5);
        for (i, out) in samples.iter_mut().skip(from).take(4800).enumerate() {
            let time_s = i as f64 / RATE;
            // A bubble's pitch rises as it comes to the surface.
            let phase = std::f64::consts::TAU * hz * (time_s + 2.0 * time_s * time_s);
            *out += (height * (-time_s / fall_s).exp() * phase.sin()) as f32;
        }
    }
    to_unit(samples)
}

/// A fan: broad noise, and its blades.
pub fn fan(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let colour = Colour::Air { low_hz: 80.0, high_hz: rng.random_range(800.0..2500.0) };
    let mut samples = noise(colour, count, rng.random());
    let blades_hz = rng.random_range(70.0..160.0);
    for harmonic in 1..=5 {
        let height = 0.25 / f64::from(harmonic);
        for (i, out) in samples.iter_mut().enumerate() {
            let phase = std::f64::consts::TAU * blades_hz * f64::from(harmonic) * i as f64 / RATE;
            *out += (height * phase.sin()) as f32;
        }
    }
    to_unit(samples)
}

/// A kitchen: a fridge that hums, and plates.
pub fn kitchen(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let seconds = count as f64 / RATE;
    let mut scene = Scene::new(seconds, rng.random());
    scene.background = Background {
        noise: Some(Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-24.0) }),
        hum: Some(Hum { mains_hz: 50.0, level_dbfs: -24.0, harmonics: 6 }),
    };
    let mut start_s = rng.random_range(0.0..2.0);
    while start_s < seconds {
        let decay_s = rng.random_range(0.04..0.25);
        let plate = Disturbance::Knock { level_dbfs: rng.random_range(-22.0..-10.0), decay_s };
        scene.sounds.push(Sound { start_s, source: Source::Other(plate) });
        start_s += rng.random_range(0.6..3.0);
    }
    to_unit(scene.render().samples)
}

/// A bench with no crow on it: scraping, knocks, plaques, talk, humming, water, music on the radio.
pub fn work_without_crows(seconds: f64, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let count = (seconds * RATE) as usize;
    let pink = Noise { colour: Colour::Pink, level: NoiseLevel::Dbfs(-60.0) };
    let mut scene = Scene::new(seconds, rng.random());
    scene.background.noise = Some(pink);
    let mut at_s = 1.0;
    let mut added = vec![0.0_f32; count];
    while at_s < seconds - 8.0 {
        let length_s = rng.random_range(1.0..6.0);
        let span = (length_s * RATE) as usize;
        let level_db = rng.random_range(-22.0..0.0);
        let part = match rng.random_range(0..9) {
            0 => scraping(span, rng),
            1 => speech(span, rng),
            2 => spoken(span, rng),
            3 => humming(span, rng),
            4 => tap(span, rng),
            5 => melody(Instrument::Oboe, span, rng),
            6 => melody(Instrument::EnglishHorn, span, rng),
            _ => {
                let end_s = at_s + length_s;
                while at_s < end_s {
                    let other = Disturbance::Knock {
                        level_dbfs: rng.random_range(-35.0..-12.0),
                        decay_s: rng.random_range(0.03..0.5),
                    };
                    scene.sounds.push(Sound { start_s: at_s, source: Source::Other(other) });
                    at_s += rng.random_range(0.1..1.2);
                }
                Vec::new()
            }
        };
        add(added.get_mut((at_s * RATE) as usize..).unwrap_or_default(), &part, level_db);
        at_s += part.len() as f64 / RATE + rng.random_range(0.2..1.5);
    }
    let mut samples = scene.render().samples;
    samples.iter_mut().zip(&added).for_each(|(out, x)| *out += x);
    samples
}

/// A knife on cane: bursts of band noise, some with a squeak of the blade in them.
fn scraping(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let mut samples = vec![0.0_f32; count];
    let mut place = 0;
    while place < count {
        let span = rng.random_range(4_000..14_000);
        let low_hz = rng.random_range(800.0..2500.0);
        let stroke = noise(Colour::Air { low_hz, high_hz: 3.0 * low_hz }, span, rng.random());
        let squeak_hz = rng.random_range(900.0..3500.0);
        let squeak = if rng.random::<f64>() < 0.3 { rng.random_range(0.2..1.0) } else { 0.0 };
        let (glide, mut turns) = (rng.random_range(-0.3..0.5), 0.0_f64);
        for (i, x) in stroke.iter().enumerate() {
            let share = i as f64 / span as f64;
            turns += squeak_hz * f64::exp2(glide * share) / RATE;
            let tone = squeak * (std::f64::consts::TAU * turns).sin();
            let height = (std::f64::consts::PI * share).sin();
            if let Some(out) = samples.get_mut(place + i) {
                *out = (height * (f64::from(*x) + tone)) as f32;
            }
        }
        place += span + rng.random_range(2_000..20_000);
    }
    to_unit(samples)
}

/// Somebody humming a tune: a soft voice that slides from note to note, with vibrato.
fn humming(count: usize, rng: &mut ChaCha8Rng) -> Vec<f32> {
    let base_hz = rng.random_range(130.0..330.0);
    let vibrato_hz = rng.random_range(4.5..6.5);
    let (mut semitone, mut aim, mut left, mut turns) = (0.0_f64, 0.0_f64, 0_usize, 0.0_f64);
    let samples = (0..count).map(|i| {
        if left == 0 {
            aim = f64::from(rng.random_range(-4..8));
            left = rng.random_range(12_000..40_000);
        }
        left -= 1;
        semitone += (aim - semitone) / (0.04 * RATE);
        let waver = 0.25 * (std::f64::consts::TAU * vibrato_hz * i as f64 / RATE).sin();
        turns += base_hz * f64::exp2((semitone + waver) / 12.0) / RATE;
        (1..8)
            .map(|n| 0.35f64.powi(n - 1) * (std::f64::consts::TAU * f64::from(n) * turns).sin())
            .sum::<f64>() as f32
    });
    to_unit(samples.collect())
}
