//! Whether a microphone in its room is fit for crowing, from some seconds of quiet and a trial crow.

use std::cmp::Ordering;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use super::SoundFormat;
use super::channel::{alternating_power, loudest};
use crate::dsp::periodicity::Periodicity;
use crate::dsp::window::hann;
use crate::reading::{FULL_RATE_HZ, MainsHum, OverloadCount, QUIET_DBFS, mains_hum};
use crate::units::Dbfs;

/// The band that readings use.
const BAND_HZ: (f64, f64) = (100.0, 10_000.0);

/// A crow at −20 dBFS has partials that count down to −50; a floor over that hides them. Chosen
/// from the definition of a rung that sounds, not tried on rooms.
pub const NOISY_DBFS: f64 = -50.0;

/// A sound this much over the floor is taken for a trial crow.
const TRIAL_DB: f64 = 20.0;

/// Over this a louder crow would overload.
pub const HOT_DBFS: f64 = -6.0;

/// Under this there is no sound: the noise of a 24-bit converter's last step is at −146 dBFS
/// (6.02·24 + 1.76 dB under a full-scale sine), and what is lower is rounding.
pub const SILENT_DBFS: f64 = -140.0;

/// What a check found.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Fitness {
    /// The channel judged, counted from 1: the one with the most power.
    pub channel: u16,
    /// Room noise, 100 Hz … 10 kHz, in the quieter half of the quiet, or of the trial where that is
    /// lower; `None` for digital silence.
    pub floor_dbfs: Option<f64>,
    /// Loudest 50 ms of both.
    pub loudest_dbfs: Option<f64>,
    /// Highest sample, as a share of full scale.
    pub peak: f64,
    /// Mains hum, all its harmonics up to 500 Hz together; `None` where none stands out.
    pub hum_dbfs: Option<f64>,
    /// What is to be changed, the gravest first; empty when the microphone is fit.
    pub findings: Vec<Matter>,
    /// Whether a sound with a tone in it was heard, that the level could be judged by.
    pub trial_heard: bool,
    /// Whether what was heard was air, or any sound without a tone.
    pub air_heard: bool,
}

/// One thing that makes crows hard to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Matter {
    /// Nothing but zeros, or one constant value.
    Muted,
    /// Samples at full scale.
    Overload,
    /// The trial crow comes close to full scale.
    Hot,
    /// The trial crow is weak.
    Quiet,
    /// Room noise close under a crow's faint partials.
    NoisyRoom,
    /// Mains hum.
    Hum,
    /// Samples that the program could not keep.
    LostSamples,
    /// The sample rate is too low for some figures.
    LowRate,
}

/// Judges the room by a recording of its quiet, and the level by one of a trial crow.
///
/// * `quiet`, `trial`: interleaved, full scale ±1; a second or more each. A maker who crows too
///   soon does no harm: the room is judged by whichever is quieter.
/// * `lost_frames`: how many the device could not deliver.
pub fn room_fitness(
    quiet: &[f32],
    trial: &[f32],
    format: SoundFormat,
    lost_frames: u64,
) -> Fitness {
    let channels = usize::from(format.channels.max(1));
    let of = |frames: &[f32], channel: usize| -> Vec<f32> {
        let samples = frames.iter().skip(channel).step_by(channels);
        samples.map(|&x| if x.is_finite() { x } else { 0.0 }).collect()
    };
    let power =
        |channel| alternating_power(&of(quiet, channel)) + alternating_power(&of(trial, channel));
    let powers: Vec<f64> = (0..channels).map(power).collect();
    let channel = loudest(&powers);
    let (quiet, trial) = (of(quiet, channel), of(trial, channel));
    let rate_hz = f64::from(format.sample_rate_hz);

    let dbfs = |mean_square: f64| {
        Dbfs::from_mean_square(mean_square)
            .map(|level| level.0)
            .filter(|level| *level > SILENT_DBFS)
    };
    let floor_of = |part: &Vec<f32>| floor_mean_square(part, rate_hz).unwrap_or(f64::INFINITY);
    let (of_quiet, of_trial) = (floor_of(&quiet), floor_of(&trial));
    let (room, floor) = if of_trial < of_quiet { (&trial, of_trial) } else { (&quiet, of_quiet) };
    let floor = if floor.is_finite() { floor } else { 0.0 };
    let floor_dbfs = dbfs(floor);
    let short = ((rate_hz * 0.05) as usize).max(1);
    let loudest_dbfs = [&quiet, &trial]
        .into_iter()
        .flat_map(|part| part.chunks_exact(short))
        .map(alternating_power)
        .max_by(f64::total_cmp)
        .and_then(dbfs);
    let all = || quiet.iter().chain(&trial);
    let peak = all().fold(0.0_f32, |peak, x| peak.max(x.abs()));
    let hum = hum(room, rate_hz);
    // Hum has its own remedy; the room is loud when it is loud without it.
    let room_dbfs = dbfs(floor - hum.in_band_mean_square);
    // A gate in the microphone makes the room digital silence; any sound is a trial then. Hum under a
    // crow does not hide it, and neither rumble nor hum is one.
    let sound = loudest_stretch(&quiet, rate_hz).max_by_power(loudest_stretch(&trial, rate_hz));
    let over_hum = dbfs(sound.short_in_band)
        .is_some_and(|loudest| room_dbfs.is_none_or(|room| loudest - room >= TRIAL_DB));
    let rises = sound.short_in_band >= RISE * floor;
    let of_sound = self::hum(sound.samples, rate_hz);
    let is_hum = (of_sound.has_low_line || of_sound.lines > 2)
        && of_sound.mean_square > 0.5 * alternating_power(sound.samples);
    let sound_heard = over_hum && rises && !is_hum;
    let has_tone = sound_heard && has_tone(sound.part, rate_hz);
    let (trial_heard, air_heard) = (sound_heard && has_tone, sound_heard && !has_tone);
    // Hum that began after the quiet is hum all the same.
    let began = is_hum && of_sound.mean_square > 4.0 * hum.mean_square;
    let hum = if began { of_sound } else { hum };
    let hum_dbfs = dbfs(hum.mean_square);

    let mut findings = Vec::new();
    let mut note = |holds: bool, matter: Matter| {
        if holds {
            findings.push(matter);
        }
    };
    let over = |level: Option<f64>, limit: f64| level.is_some_and(|level| level > limit);
    let overload = is_overloaded(&quiet) || is_overloaded(&trial);
    note(powers.iter().all(|&power| dbfs(power).is_none()), Matter::Muted);
    note(overload, Matter::Overload);
    note(trial_heard && !overload && over(loudest_dbfs, HOT_DBFS), Matter::Hot);
    note(trial_heard && !over(loudest_dbfs, QUIET_DBFS), Matter::Quiet);
    note(over(room_dbfs, NOISY_DBFS), Matter::NoisyRoom);
    note(hum.is_trouble(), Matter::Hum);
    note(lost_frames > 0, Matter::LostSamples);
    note(rate_hz < FULL_RATE_HZ, Matter::LowRate);
    let channel = channel as u16 + 1;
    let peak = f64::from(peak);
    Fitness { channel, floor_dbfs, loudest_dbfs, peak, hum_dbfs, findings, trial_heard, air_heard }
}

/// The loudest half second of a part, or all of a shorter one.
#[derive(Clone, Copy)]
struct Loudest<'a> {
    part: &'a [f32],
    samples: &'a [f32],
    power: f64,
    /// Mean square of its loudest 50 ms in the band of readings.
    short_in_band: f64,
}

impl Loudest<'_> {
    fn max_by_power(self, other: Self) -> Self {
        if other.power > self.power { other } else { self }
    }
}

fn loudest_stretch(part: &[f32], rate_hz: f64) -> Loudest<'_> {
    let long = ((rate_hz * STRETCH_S) as usize).clamp(1, part.len().max(1));
    let (hop, short) = ((long / 5).max(1), ((rate_hz * 0.05) as usize).max(2));
    let powers =
        part.windows(long).step_by(hop).map(|samples| (alternating_power(samples), samples));
    let (power, samples) = powers.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, part));
    let shorts = samples.chunks_exact(short).map(|frame| in_band(frame, rate_hz));
    Loudest { part, samples, power, short_in_band: shorts.fold(0.0, f64::max) }
}

/// What is judged whether it is hum: long enough that the lines of the mains stand apart.
const STRETCH_S: f64 = 0.5;

/// A sound rises over the quiet by this (6 dB), hum counted in.
const RISE: f64 = 4.0;

/// Whether the louder frames of a part repeat themselves, as a tone does and air does not.
fn has_tone(samples: &[f32], rate_hz: f64) -> bool {
    let frame = ((rate_hz * TONE_FRAME_S) as usize).max(16);
    let loudest = samples.chunks_exact(frame).map(alternating_power).fold(0.0, f64::max);
    let loud = |frame: &&[f32]| loudest > 0.0 && alternating_power(frame) >= 0.1 * loudest;
    let mut periodicity = Periodicity::new(frame, rate_hz, TONE_HZ, TONE_BAND_HZ);
    let mut tonal = |frame: &[f32]| {
        periodicity.transform(frame);
        periodicity.strongest(&[]).is_some_and(|period| period.correlation > TONE_CORRELATION)
    };
    let frames: Vec<bool> = samples.chunks_exact(frame).filter(loud).map(&mut tonal).collect();
    let with_tone = frames.iter().filter(|tonal| **tonal).count();
    with_tone >= 2 && 2 * with_tone >= frames.len()
}

/// Frames in which a tone is looked for: some periods of the lowest crow.
const TONE_FRAME_S: f64 = 0.04;

/// Where a crow's lower partials lie: over it breath would drown a low one.
const TONE_BAND_HZ: (f64, f64) = (100.0, 3_000.0);

/// Rates at which crows repeat themselves.
const TONE_HZ: (f64, f64) = (100.0, 2_000.0);

/// Share of the power that repeats over which a frame has a tone: noise of 40 ms seldom comes over
/// 0.4, a crow's tone stays over 0.8 (tried on synthetic takes; our choice between).
const TONE_CORRELATION: f64 = 0.6;

/// Whether the input was driven too far, as a reading finds it.
fn is_overloaded(samples: &[f32]) -> bool {
    let mut count = OverloadCount::default();
    count.push(samples);
    count.overload().is_some()
}

/// The mains hum of a part, as a reading finds it; nothing where that is not hum for sure.
fn hum(samples: &[f32], rate_hz: f64) -> MainsHum {
    let is_hum = |hum: &MainsHum| hum.has_own_line || hum.lines >= 2;
    mains_hum(samples, rate_hz).filter(is_hum).unwrap_or_default()
}

/// Mean square in the band of readings of the middle of the quieter half of 100 ms frames, so
/// that a knock or a crow does not count.
fn floor_mean_square(samples: &[f32], rate_hz: f64) -> Option<f64> {
    let frame = (rate_hz * 0.1) as usize;
    let mut levels: Vec<f64> =
        samples.chunks_exact(frame.max(2)).map(|frame| in_band(frame, rate_hz)).collect();
    levels.sort_by(|a, b| a.partial_cmp(b).unwrap_or(Ordering::Equal));
    levels.get(levels.len() / 4).copied()
}

/// Mean square in the band of readings.
fn in_band(frame: &[f32], rate_hz: f64) -> f64 {
    let powers = bin_powers(frame);
    let hz_per_bin = rate_hz / frame.len().max(1) as f64;
    let in_band = |bin: &usize| (BAND_HZ.0..=BAND_HZ.1).contains(&(*bin as f64 * hz_per_bin));
    (0..powers.len()).filter(in_band).map(|bin| powers[bin]).sum()
}

/// One-sided power spectrum under a Hann window, scaled so that its sum is the mean square of
/// noise spread over many bins. Bin k is at k·rate/n.
fn bin_powers(samples: &[f32]) -> Vec<f64> {
    let n = samples.len();
    if n < 2 {
        return Vec::new();
    }
    let mean = samples.iter().map(|&x| f64::from(x)).sum::<f64>() / n as f64;
    let mut windowed: Vec<f64> =
        samples.iter().zip(hann(n)).map(|(&x, weight)| (f64::from(x) - mean) * weight).collect();
    let fft = RealFftPlanner::<f64>::new().plan_fft_forward(n);
    let mut spectrum: Vec<Complex<f64>> = fft.make_output_vec();
    // Lengths fit by construction; a failure would leave an empty spectrum.
    if fft.process(&mut windowed, &mut spectrum).is_err() {
        return Vec::new();
    }
    // Sum of the squared Hann weights is 3n/8.
    let scale = 2.0 / (n as f64 * n as f64 * 3.0 / 8.0);
    spectrum.iter().map(|bin| bin.norm_sqr() * scale).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pitch::A4;
    use crate::profile::Profile;
    use crate::reading::{Reading, WarningCode, read};
    use crate::take::Take;
    use rand::{RngExt, SeedableRng};
    use std::f64::consts::TAU;

    const RATE_HZ: u32 = 48_000;
    const MONO: SoundFormat = SoundFormat { sample_rate_hz: RATE_HZ, channels: 1 };

    /// Two seconds of white noise with `dbfs` in the whole band up to 24 kHz.
    fn noise(dbfs: f64) -> Vec<f32> {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        // A uniform sample in ±a has the mean square a²/3; a full-scale sine has ½.
        let a = (1.5 * 10_f64.powf(dbfs / 10.0)).sqrt() as f32;
        (0..2 * RATE_HZ).map(|_| random.random_range(-a..a)).collect()
    }

    fn add(samples: &mut [f32], hz: f64, dbfs: f64, from_s: f64, to_s: f64) {
        let a = 10_f64.powf(dbfs / 20.0);
        for (n, sample) in samples.iter_mut().enumerate() {
            let t = n as f64 / f64::from(RATE_HZ);
            if (from_s..to_s).contains(&t) {
                *sample += (a * (TAU * hz * t).sin()) as f32;
            }
        }
    }

    /// `quiet` with a crow of `dbfs` in it.
    fn crow_in(quiet: &[f32], dbfs: f64, from_s: f64, to_s: f64) -> Vec<f32> {
        let mut samples = quiet.to_vec();
        add(&mut samples, 523.0, dbfs, from_s, to_s);
        samples.iter_mut().for_each(|x| *x = x.clamp(-1.0, 1.0));
        samples
    }

    #[test]
    fn a_quiet_room_with_a_good_trial_crow_is_fit() {
        let quiet = noise(-70.0);
        let fitness = room_fitness(&quiet, &crow_in(&quiet, -20.0, 0.8, 1.3), MONO, 0);
        assert_eq!(fitness.findings, [], "{fitness:?}");
        assert!(fitness.trial_heard);
        // 100 Hz to 10 kHz is 9.9 of 24 kHz: 3.85 dB under the whole.
        let floor = fitness.floor_dbfs.unwrap();
        assert!((floor + 73.85).abs() < 0.5, "{floor}");
        assert!((fitness.loudest_dbfs.unwrap() + 20.0).abs() < 0.1, "{fitness:?}");
    }

    /// A maker may crow through all of the trial, or too soon: the crow is never the room.
    #[test]
    fn a_long_or_early_crow_is_no_room_noise() {
        let quiet = noise(-70.0);
        let long = crow_in(&quiet, -20.0, 0.0, 2.0);
        for (first, second) in [(&quiet, &long), (&long, &quiet)] {
            let fitness = room_fitness(first, second, MONO, 0);
            assert_eq!(fitness.findings, [], "{fitness:?}");
            assert!(fitness.trial_heard && (fitness.floor_dbfs.unwrap() + 73.85).abs() < 0.5);
        }
        assert!(!room_fitness(&quiet, &quiet, MONO, 0).trial_heard);
    }

    #[test]
    fn each_trouble_is_named() {
        let quiet = noise(-80.0);
        let mut hum = quiet.clone();
        [(60.0, -55.0), (120.0, -50.0), (180.0, -60.0)]
            .iter()
            .for_each(|&(hz, dbfs)| add(&mut hum, hz, dbfs, 0.0, 2.0));
        let crow = |dbfs: f64| crow_in(&quiet, dbfs, 0.8, 1.3);
        // Rounding of a converter that hears nothing: 20·log10(1e-9) is −180 dBFS.
        let rounding: Vec<f32> = (0..96_000).map(|n| [1e-9, -1e-9][n % 2]).collect();
        for (quiet, trial, expected) in [
            (&vec![0.0; 96_000], vec![0.0; 96_000], vec![Matter::Muted]),
            (&vec![0.1; 96_000], vec![0.1; 96_000], vec![Matter::Muted]),
            (&rounding, rounding.clone(), vec![Matter::Muted]),
            (&noise(-40.0), noise(-40.0), vec![Matter::NoisyRoom]),
            (&hum, hum.clone(), vec![Matter::Hum]),
            (&quiet, crow(-3.0), vec![Matter::Hot]),
            (&quiet, crow(6.0), vec![Matter::Overload]),
            (&quiet, crow(-55.0), vec![Matter::Quiet]),
        ] {
            let fitness = room_fitness(quiet, &trial, MONO, 0);
            assert_eq!(fitness.findings, expected, "{fitness:?}");
        }
    }

    /// Parseval: the level found is the level put in. Three tones, powers added by hand.
    #[test]
    fn hum_is_measured_as_the_sum_of_its_harmonics() {
        let mut samples = noise(-90.0);
        for (hz, dbfs) in [(50.0, -50.0), (100.0, -50.0), (150.0, -50.0)] {
            add(&mut samples, hz, dbfs, 0.0, 2.0);
        }
        let hum = room_fitness(&samples, &samples, MONO, 0).hum_dbfs.unwrap();
        let expected = -50.0 + 10.0 * 3_f64.log10();
        assert!((hum - expected).abs() < 0.1, "{hum} for {expected}");
    }

    #[test]
    fn the_mains_frequency_alone_is_hum_and_another_tone_alone_is_not() {
        for (hz, dbfs, found) in [(50.0, -43.0, true), (60.0, -43.0, true), (150.0, -43.0, false)] {
            let mut samples = noise(-90.0);
            add(&mut samples, hz, dbfs, 0.0, 2.0);
            let fitness = room_fitness(&samples, &samples, MONO, 0);
            let hum = fitness.hum_dbfs.filter(|_| found);
            assert_eq!(hum.is_some(), found, "{hz}: {fitness:?}");
            assert!(hum.is_none_or(|hum| (hum - dbfs).abs() < 0.2), "{fitness:?}");
            assert_eq!(fitness.findings.contains(&Matter::Hum), found, "{hz}");
        }
    }

    /// What a reading warns of, the check finds as well, and the other way round.
    #[test]
    fn the_check_and_a_reading_agree_about_hum_and_overload() {
        let quiet = noise(-90.0);
        let humming = |hz: &[f64], dbfs: f64| {
            let mut samples = quiet.clone();
            hz.iter().for_each(|&hz| add(&mut samples, hz, dbfs, 0.0, 2.0));
            samples
        };
        // Cut flat well under full scale, as a recorder's own limiter does.
        let mut cut = crow_in(&quiet, -3.0, 0.2, 1.8);
        cut.iter_mut().for_each(|x| *x = x.clamp(-0.5, 0.5));
        for (room, hums, overloads) in [
            (humming(&[50.0, 100.0], -68.0), true, false),
            (humming(&[60.0], -55.0), true, false),
            (humming(&[50.0, 100.0], -85.0), false, false),
            (cut, false, true),
        ] {
            let reading = read_of(&room);
            let warns = |code| reading.warnings.iter().any(|warning| warning.code == code);
            let findings = room_fitness(&room, &room, MONO, 0).findings;
            assert_eq!(findings.contains(&Matter::Hum), hums, "{findings:?}");
            assert_eq!(warns(WarningCode::Hum), hums, "{:?}", reading.warnings);
            assert_eq!(findings.contains(&Matter::Overload), overloads, "{findings:?}");
            assert_eq!(warns(WarningCode::Overload), overloads, "{:?}", reading.warnings);
        }
    }

    fn read_of(samples: &[f32]) -> Reading {
        let take = Take {
            sample_rate_hz: RATE_HZ,
            channels: 1,
            channel: 1,
            samples: samples.to_vec(),
            ..Take::default()
        };
        read(&take, &Profile::default(), A4::default()).reading
    }

    /// Air blown through the reed is loud, and tells nothing of a crow's level.
    #[test]
    fn air_alone_is_no_trial_crow() {
        let quiet = noise(-75.0);
        let mut air = quiet.clone();
        let blown = noise(-30.0);
        air[30_000..60_000].copy_from_slice(&blown[30_000..60_000]);
        let fitness = room_fitness(&quiet, &air, MONO, 0);
        assert!(!fitness.trial_heard && fitness.air_heard, "{fitness:?}");
        let mut crow = air;
        add(&mut crow, 130.0, -20.0, 0.7, 1.2);
        let fitness = room_fitness(&quiet, &crow, MONO, 0);
        assert!(fitness.trial_heard && !fitness.air_heard, "{fitness:?}");
    }

    /// Mains of 50 Hz with its harmonics, at −30 dBFS each.
    fn hum_from(quiet: &[f32], from_s: f64) -> Vec<f32> {
        let mut samples = quiet.to_vec();
        for hz in [50.0, 100.0, 150.0, 250.0] {
            add(&mut samples, hz, -30.0, from_s, 2.0);
        }
        samples
    }

    #[test]
    fn hum_that_begins_while_a_crow_is_waited_for_is_hum_and_no_crow() {
        let quiet = noise(-75.0);
        let fitness = room_fitness(&quiet, &hum_from(&quiet, 0.5), MONO, 0);
        assert!(!fitness.trial_heard && !fitness.air_heard, "{fitness:?}");
        assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
    }

    #[test]
    fn a_crow_over_hum_is_heard() {
        let hum = hum_from(&noise(-75.0), 0.0);
        let fitness = room_fitness(&hum, &crow_in(&hum, -10.0, 0.8, 1.4), MONO, 0);
        assert!(fitness.trial_heard, "{fitness:?}");
        assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
        let fitness = room_fitness(&hum, &hum, MONO, 0);
        assert!(!fitness.trial_heard && !fitness.air_heard, "{fitness:?}");
    }

    /// Rumble is loud under the band of readings, and no breath.
    #[test]
    fn a_room_that_rumbles_is_no_air() {
        let mut room = noise(-75.0);
        for hz in [13.0, 17.0, 29.0] {
            add(&mut room, hz, -35.0, 0.0, 2.0);
        }
        let fitness = room_fitness(&room, &room, MONO, 0);
        assert!(!fitness.trial_heard && !fitness.air_heard, "{fitness:?}");
    }

    #[test]
    fn the_stronger_channel_is_judged() {
        let frames: Vec<f32> = noise(-80.0).iter().flat_map(|&x| [0.0, x]).collect();
        let stereo = SoundFormat { channels: 2, ..MONO };
        assert_eq!(room_fitness(&frames, &frames, stereo, 0).channel, 2);
        let empty = room_fitness(&[], &[], MONO, 0);
        assert_eq!(empty.findings, [Matter::Muted]);
    }
}
