//! Whether a microphone in its room is fit for crowing, from some seconds of quiet and trial crows.

use super::SoundFormat;
use super::channel::{alternating_power, loudest};
use super::noise::{floor_mean_square, hum, loudest_stretch};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{
    CheckedMicrophone, FULL_RATE_HZ, OverloadCount, QUIET_DBFS, Reading, WarningCode, read,
};
use crate::take::Take;
use crate::units::Dbfs;

/// A crow at −20 dBFS has partials that count down to −50; a floor over that hides them. Chosen
/// from the definition of a rung that sounds, not tried on rooms.
pub const NOISY_DBFS: f64 = -50.0;

/// Over this a louder crow would overload.
pub const HOT_DBFS: f64 = -6.0;

/// The lowest level that is told (silence is another question: `reading::is_silent`): the noise of a 24-bit converter's last step is at −146 dBFS
/// (6.02·24 + 1.76 dB under a full-scale sine), and what is lower is rounding.
pub const LEAST_DBFS: f64 = -140.0;

/// Frames that came this much later than the soonest are told: half a second is noticed.
const LATE_S: f64 = 0.5;

/// A device whose rate by the clock is off by more than this gives another one than it says: 44.1 and
/// 48 kHz differ by 8.8 %, and no clock is off by a hundredth of that.
const OTHER_RATE: f64 = 0.04;

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
    /// How much later than the soonest samples the latest came, in seconds.
    pub late_s: f64,
    /// Crows heard, as a reading finds them.
    pub crows: usize,
    /// Whether air was heard instead.
    pub air_heard: bool,
    /// What is to be changed, the gravest first.
    pub findings: Vec<Matter>,
}

impl Fitness {
    /// Whether this microphone will do: nothing is to be changed, and enough crows were heard to tell.
    pub fn is_fit(&self) -> bool {
        self.findings.is_empty() && self.crows >= CROWS
    }

    /// The verdict as it is kept with the takes that are recorded after it.
    ///
    /// * `at`: the day, YYYY-MM-DD.
    pub fn verdict(&self, device: &str, at: String) -> CheckedMicrophone {
        let few = (self.crows < CROWS).then_some(FEW_CROWS);
        let found = self.findings.iter().map(|matter| matter.code()).chain(few);
        CheckedMicrophone {
            device: device.to_owned(),
            at,
            fit: self.is_fit(),
            found: found.map(str::to_owned).collect(),
            floor_dbfs: self.floor_dbfs,
            loudest_dbfs: self.loudest_dbfs,
        }
    }
}

/// Code of a check that heard too few crows.
pub const FEW_CROWS: &str = "few-crows";

choice! {
    /// One thing that makes crows hard to read; the gravest first.
    Matter {
        /// Nothing but zeros, or one constant value.
        Muted = "muted",
        /// Samples at full scale.
        Overload = "overload",
        /// What is loud ends at a ceiling under full scale.
        Distorted = "distorted",
        /// By the clock it gives another sample rate than it says, so that every pitch is off.
        WrongRate = "wrong-rate",
        /// It shuts off what is quiet.
        Gated = "gated",
        /// It takes noise off, and weak octaves with it.
        NoiseSuppressed = "noise-suppressed",
        /// Its gain goes up in the quiet.
        GainControl = "gain-control",
        /// Moments of crows are missing.
        Dropouts = "dropouts",
        /// Samples that the program could not keep.
        LostSamples = "lost-samples",
        /// The trial crow comes close to full scale.
        Hot = "hot",
        /// The trial crow is weak.
        Quiet = "quiet",
        /// Room noise close under a crow's faint partials.
        NoisyRoom = "noisy-room",
        /// Mains hum.
        Hum = "hum",
        /// What is high is cut off, as a telephone does.
        LowPassed = "low-passed",
        /// The sample rate is too low for some figures.
        LowRate = "low-rate",
        /// Sound comes late, or in jerks.
        Late = "late",
    }
}

/// Judges the room by a recording of its quiet, and the rest by one of trial crows.
///
/// * `quiet`, `trial`: interleaved, full scale ±1; a second or more each, `trial` right after `quiet`. A
///   maker who crows too soon does no harm: the room is judged by whichever is quieter.
pub fn room_fitness(
    quiet: &[f32],
    trial: &[f32],
    format: SoundFormat,
    delivery: Delivery,
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
    let heard = heard(&quiet, &trial, format.sample_rate_hz);
    let crows = heard.summary.crow_count;
    let air_heard = crows == 0 && !heard.crows.is_empty();

    let floor_of = |part: &Vec<f32>| floor_mean_square(part, rate_hz).unwrap_or(f64::INFINITY);
    let (of_quiet, of_trial) = (floor_of(&quiet), floor_of(&trial));
    let (room, floor) = if of_trial < of_quiet { (&trial, of_trial) } else { (&quiet, of_quiet) };
    let floor = if floor.is_finite() { floor } else { 0.0 };
    let short = ((rate_hz * 0.05) as usize).max(1);
    let loudest_dbfs = [&quiet, &trial]
        .into_iter()
        .flat_map(|part| part.chunks_exact(short))
        .map(alternating_power)
        .max_by(f64::total_cmp)
        .and_then(dbfs);
    let all = || quiet.iter().chain(&trial);
    let peak = f64::from(all().fold(0.0_f32, |peak, x| peak.max(x.abs())));
    let of_room = hum(room, rate_hz);
    // Hum has its own remedy; the room is loud when it is loud without it.
    let room_dbfs = dbfs(floor - of_room.in_band_mean_square);
    // Hum that began after the quiet is hum all the same.
    let sound = loudest_stretch(&quiet, rate_hz).max_by_power(loudest_stretch(&trial, rate_hz));
    let of_sound = hum(sound.samples, rate_hz);
    let is_hum = (of_sound.has_low_line || of_sound.lines > 2)
        && of_sound.mean_square > 0.5 * alternating_power(sound.samples);
    let began = is_hum && of_sound.mean_square > 4.0 * of_room.mean_square;
    let hum = if began { of_sound } else { of_room };

    let over = |level: Option<f64>, limit: f64| level.is_some_and(|level| level > limit);
    let overload = is_overloaded(&quiet) || is_overloaded(&trial);
    let warned = |code| heard.warnings.iter().any(|warning| warning.code == code);
    let is_other = |by_clock_hz: f64| (by_clock_hz / rate_hz - 1.0).abs() > OTHER_RATE;
    let holds = [
        (powers.iter().all(|&power| dbfs(power).is_none()), Matter::Muted),
        (overload, Matter::Overload),
        (!overload && warned(WarningCode::Distorted), Matter::Distorted),
        (
            warned(WarningCode::WrongRate) || delivery.rate_hz.is_some_and(is_other),
            Matter::WrongRate,
        ),
        (warned(WarningCode::Gated), Matter::Gated),
        (warned(WarningCode::NoiseSuppressed), Matter::NoiseSuppressed),
        (warned(WarningCode::GainControl), Matter::GainControl),
        (warned(WarningCode::Dropouts) || warned(WarningCode::Spliced), Matter::Dropouts),
        (delivery.lost_frames > 0, Matter::LostSamples),
        (crows > 0 && !overload && over(loudest_dbfs, HOT_DBFS), Matter::Hot),
        (crows > 0 && !over(loudest_dbfs, QUIET_DBFS), Matter::Quiet),
        (over(room_dbfs, NOISY_DBFS) || warned(WarningCode::NoisyRoom), Matter::NoisyRoom),
        (hum.is_trouble(), Matter::Hum),
        (warned(WarningCode::LowPassed), Matter::LowPassed),
        (rate_hz < FULL_RATE_HZ, Matter::LowRate),
        (delivery.late_s > LATE_S, Matter::Late),
    ];
    Fitness {
        channel: channel as u16 + 1,
        floor_dbfs: dbfs(floor),
        loudest_dbfs,
        peak,
        hum_dbfs: dbfs(hum.mean_square),
        late_s: delivery.late_s,
        crows,
        air_heard,
        findings: holds.into_iter().filter_map(|(holds, what)| holds.then_some(what)).collect(),
    }
}

fn dbfs(mean_square: f64) -> Option<f64> {
    let level = Dbfs::from_mean_square(mean_square).map(|level| level.0);
    level.filter(|level| *level > LEAST_DBFS)
}

/// The quiet and the crows as any take is read, held to no note: any reed will do for a check.
fn heard(quiet: &[f32], trial: &[f32], sample_rate_hz: u32) -> Reading {
    let samples = [quiet, trial].concat();
    let take = Take { sample_rate_hz, channels: 1, channel: 1, samples, ..Take::default() };
    read(&take, &Profile::default(), A4::default()).reading
}

/// Whether the input was driven too far, as a reading finds it.
fn is_overloaded(samples: &[f32]) -> bool {
    let mut count = OverloadCount::default();
    count.push(samples);
    count.overload().is_some()
}

/// Crows wanted.
pub const CROWS: usize = 3;

/// How a device delivered what it heard, by the clock of whoever asked for it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Delivery {
    /// Frames that it could not deliver.
    pub lost_frames: u64,
    /// How much later than the soonest ones the latest frames came, in seconds.
    pub late_s: f64,
    /// Frames a second by the clock; `None` where it was not asked for long enough.
    pub rate_hz: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;
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
        let fitness =
            room_fitness(&quiet, &crow_in(&quiet, -20.0, 0.8, 1.3), MONO, Delivery::default());
        assert_eq!(fitness.findings, [], "{fitness:?}");
        assert_eq!(fitness.crows, 1);
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
            let fitness = room_fitness(first, second, MONO, Delivery::default());
            assert_eq!(fitness.findings, [], "{fitness:?}");
            assert!(fitness.crows == 1 && (fitness.floor_dbfs.unwrap() + 73.85).abs() < 0.5);
        }
        assert_eq!(room_fitness(&quiet, &quiet, MONO, Delivery::default()).crows, 0);
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
            let fitness = room_fitness(quiet, &trial, MONO, Delivery::default());
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
        let hum = room_fitness(&samples, &samples, MONO, Delivery::default()).hum_dbfs.unwrap();
        let expected = -50.0 + 10.0 * 3_f64.log10();
        assert!((hum - expected).abs() < 0.1, "{hum} for {expected}");
    }

    #[test]
    fn the_mains_frequency_alone_is_hum_and_another_tone_alone_is_not() {
        for (hz, dbfs, found) in [(50.0, -43.0, true), (60.0, -43.0, true), (150.0, -43.0, false)] {
            let mut samples = noise(-90.0);
            add(&mut samples, hz, dbfs, 0.0, 2.0);
            let fitness = room_fitness(&samples, &samples, MONO, Delivery::default());
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
            let reading = heard(&room, &[], RATE_HZ);
            let warns = |code| reading.warnings.iter().any(|warning| warning.code == code);
            let findings = room_fitness(&room, &room, MONO, Delivery::default()).findings;
            assert_eq!(findings.contains(&Matter::Hum), hums, "{findings:?}");
            assert_eq!(warns(WarningCode::Hum), hums, "{:?}", reading.warnings);
            assert_eq!(findings.contains(&Matter::Overload), overloads, "{findings:?}");
            assert_eq!(warns(WarningCode::Overload), overloads, "{:?}", reading.warnings);
        }
    }

    /// Air blown through the reed is loud, and tells nothing of a crow's level.
    #[test]
    fn air_alone_is_no_trial_crow() {
        let quiet = noise(-75.0);
        let mut air = quiet.clone();
        let blown = noise(-30.0);
        air[30_000..60_000].copy_from_slice(&blown[30_000..60_000]);
        let fitness = room_fitness(&quiet, &air, MONO, Delivery::default());
        assert!(fitness.crows == 0 && fitness.air_heard, "{fitness:?}");
        let mut crow = air;
        add(&mut crow, 130.0, -20.0, 0.7, 1.2);
        let fitness = room_fitness(&quiet, &crow, MONO, Delivery::default());
        assert!(fitness.crows == 1 && !fitness.air_heard, "{fitness:?}");
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
        let fitness = room_fitness(&quiet, &hum_from(&quiet, 0.5), MONO, Delivery::default());
        assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
        assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
    }

    #[test]
    fn a_crow_over_hum_is_heard() {
        let hum = hum_from(&noise(-75.0), 0.0);
        let fitness =
            room_fitness(&hum, &crow_in(&hum, -10.0, 0.8, 1.4), MONO, Delivery::default());
        assert!(fitness.crows == 1, "{fitness:?}");
        assert!(fitness.findings.contains(&Matter::Hum), "{fitness:?}");
        let fitness = room_fitness(&hum, &hum, MONO, Delivery::default());
        assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
    }

    /// Rumble is loud under the band of readings, and no breath.
    #[test]
    fn a_room_that_rumbles_is_no_air() {
        let mut room = noise(-75.0);
        for hz in [13.0, 17.0, 29.0] {
            add(&mut room, hz, -35.0, 0.0, 2.0);
        }
        let fitness = room_fitness(&room, &room, MONO, Delivery::default());
        assert!(fitness.crows == 0 && !fitness.air_heard, "{fitness:?}");
    }

    #[test]
    fn the_stronger_channel_is_judged() {
        let frames: Vec<f32> = noise(-80.0).iter().flat_map(|&x| [0.0, x]).collect();
        let stereo = SoundFormat { channels: 2, ..MONO };
        assert_eq!(room_fitness(&frames, &frames, stereo, Delivery::default()).channel, 2);
        let empty = room_fitness(&[], &[], MONO, Delivery::default());
        assert_eq!(empty.findings, [Matter::Muted]);
    }
}
