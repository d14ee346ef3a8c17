//! The recordings of a check judged: how loud its quiet and its crows are, and what troubles them.

use super::{Delivery, Fitness, LEAST_DBFS, Matter};
use crate::capture::SoundFormat;
use crate::capture::channel::{alternating_power, loudest};
use crate::capture::noise::{floor_mean_square, hum, loudest_stretch};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{
    FULL_RATE_HZ, HOT_DBFS, MainsHum, NOISY_DBFS, OverloadCount, QUIET_DBFS, Reading, WarningCode,
    read,
};
use crate::take::Take;
use crate::units::Dbfs;

/// Frames that came this much later than the soonest are told: half a second is noticed.
const LATE_S: f64 = 0.5;

/// A device whose rate by the clock is off by more than this gives another one than it says: 44.1 and
/// 48 kHz differ by 8.8 %, and no clock is off by a hundredth of that.
const OTHER_RATE: f64 = 0.04;

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
    let (powers, channel, recorded) = Recorded::strongest(quiet, trial, format);
    let rate_hz = recorded.rate_hz;
    let heard = heard(&recorded.quiet, &recorded.trial, format.sample_rate_hz);
    let crows = heard.summary.crow_count;
    let air_heard = crows == 0 && !heard.crows.is_empty();
    let loudest_dbfs = recorded.loudest_dbfs();
    let (room, floor) = recorded.room();
    let of_room = hum(room, rate_hz);
    // Hum has its own remedy; the room is loud when it is loud without it.
    let room_dbfs = dbfs(floor - of_room.in_band_mean_square);
    let hum = recorded.hum(of_room);

    let over = |level: Option<f64>, limit: f64| level.is_some_and(|level| level > limit);
    let overload = is_overloaded(&recorded.quiet) || is_overloaded(&recorded.trial);
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
        peak: recorded.peak(),
        hum_dbfs: dbfs(hum.mean_square),
        late_s: delivery.late_s,
        crows,
        air_heard,
        findings: holds.into_iter().filter_map(|(holds, what)| holds.then_some(what)).collect(),
    }
}

/// One channel of what was recorded for a check.
struct Recorded {
    quiet: Vec<f32>,
    trial: Vec<f32>,
    rate_hz: f64,
}

impl Recorded {
    /// The channel with the most power, after the power of each and its number, counted from 0.
    fn strongest(quiet: &[f32], trial: &[f32], format: SoundFormat) -> (Vec<f64>, usize, Self) {
        let channels = usize::from(format.channels.max(1));
        let of = |frames: &[f32], channel: usize| -> Vec<f32> {
            let samples = frames.iter().skip(channel).step_by(channels);
            samples.map(|&x| if x.is_finite() { x } else { 0.0 }).collect()
        };
        let power = |channel| {
            alternating_power(&of(quiet, channel)) + alternating_power(&of(trial, channel))
        };
        let powers: Vec<f64> = (0..channels).map(power).collect();
        let channel = loudest(&powers);
        let (quiet, trial) = (of(quiet, channel), of(trial, channel));
        (powers, channel, Self { quiet, trial, rate_hz: f64::from(format.sample_rate_hz) })
    }

    /// Whichever part has the quieter room, with the mean square of its noise.
    fn room(&self) -> (&[f32], f64) {
        let floor_of =
            |part: &[f32]| floor_mean_square(part, self.rate_hz).unwrap_or(f64::INFINITY);
        let (of_quiet, of_trial) = (floor_of(&self.quiet), floor_of(&self.trial));
        let (room, floor) = match of_trial < of_quiet {
            true => (&self.trial, of_trial),
            false => (&self.quiet, of_quiet),
        };
        (room, if floor.is_finite() { floor } else { 0.0 })
    }

    /// The loudest 50 ms.
    fn loudest_dbfs(&self) -> Option<f64> {
        let short = ((self.rate_hz * 0.05) as usize).max(1);
        [&self.quiet, &self.trial]
            .into_iter()
            .flat_map(|part| part.chunks_exact(short))
            .map(alternating_power)
            .max_by(f64::total_cmp)
            .and_then(dbfs)
    }

    fn peak(&self) -> f64 {
        let all = self.quiet.iter().chain(&self.trial);
        f64::from(all.fold(0.0_f32, |peak, x| peak.max(x.abs())))
    }

    /// The hum of the room, or what began after the quiet: that is hum all the same.
    fn hum(&self, of_room: MainsHum) -> MainsHum {
        let rate_hz = self.rate_hz;
        let of_quiet = loudest_stretch(&self.quiet, rate_hz);
        let sound = of_quiet.max_by_power(loudest_stretch(&self.trial, rate_hz));
        let of_sound = hum(sound.samples, rate_hz);
        let is_hum = (of_sound.has_low_line || of_sound.lines > 2)
            && of_sound.mean_square > 0.5 * alternating_power(sound.samples);
        let began = is_hum && of_sound.mean_square > 4.0 * of_room.mean_square;
        if began { of_sound } else { of_room }
    }
}

fn dbfs(mean_square: f64) -> Option<f64> {
    let level = Dbfs::from_mean_square(mean_square).map(|level| level.0);
    level.filter(|level| *level > LEAST_DBFS)
}

/// The quiet and the crows as any take is read, held to no note: any reed will do for a check.
pub(super) fn heard(quiet: &[f32], trial: &[f32], sample_rate_hz: u32) -> Reading {
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
