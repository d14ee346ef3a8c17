//! What makes a reading doubtful, and what to do about it.

use super::figures::{Crow, Kind, Summary, Warning, WarningCode};
use super::overload::Overload;
use super::recorder::Done;
use crate::take::Faults;
use crate::words::recorder;

/// Everything the warnings are judged on.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// The crows of the take.
    pub crows: &'a [Crow],
    /// Their medians.
    pub summary: &'a Summary,
    /// What was lost on the way.
    pub faults: Faults,
    /// Whether no sample says anything at all.
    pub silent: bool,
    /// Stretches of three samples or more at full scale, or cut flat under it.
    pub overload: Option<Overload>,
    /// Level of the room noise.
    pub floor_dbfs: Option<f64>,
    /// The mains frequency heard in the room noise.
    pub hum_hz: Option<f64>,
    /// Samples per second.
    pub sample_rate_hz: u32,
    /// Whether a crow was longer than is kept.
    pub cut: bool,
    /// Whether samples are missing or doubled within a crow.
    pub spliced: bool,
    /// What the recorder did to the sound.
    pub recorder: Done,
    /// Where the upper part was cut off.
    pub edge_hz: Option<f64>,
    /// Whether the mains hum as in a recording of another rate.
    pub wrong_rate: bool,
}

/// A crow under this level is quiet.
pub const QUIET_DBFS: f64 = -50.0;
/// Room noise closer under the crow than this is noisy.
const NOISY_DB: f64 = 20.0;
/// A crow shorter than this leaves little to measure.
const SHORT_S: f64 = 0.3;
/// Partials up to 10 kHz need this rate.
pub const FULL_RATE_HZ: f64 = 10_000.0 / 0.45;

/// The warnings of a take, the gravest first.
pub fn warnings(evidence: &Evidence<'_>) -> Vec<Warning> {
    let mut list = Vec::new();
    let mut warn = |code, text: String| list.push(Warning { code, text });
    let level = evidence.summary.figures.level_dbfs;
    let sounding = || evidence.crows.iter().filter(|crow| crow.kind != Kind::Breath);
    if evidence.silent && evidence.summary.crow_count == 0 {
        warn(
            WarningCode::Silent,
            "the input is silent: muted? Unmute the microphone, raise its level, or choose another; 'reedcrow devices --check' tells whether it hears".into(),
        );
        warn(WarningCode::NoCrow, "no crow was found, because nothing was recorded".into());
    } else if evidence.summary.crow_count == 0 {
        warn(
            WarningCode::NoCrow,
            "no crow was found; crow for a second or two, near the microphone, with a little silence before and after".into(),
        );
    }
    if let Some(overload) = evidence.overload {
        warn(
            WarningCode::Overload,
            format!(
                "{} {}: levels, balance and breath are distorted; move away or turn the input down",
                places(overload.stretches),
                cut_at(overload)
            ),
        );
    }
    if evidence.faults.lost > 0 {
        warn(
            WarningCode::LostSamples,
            format!(
                "{} samples were lost while recording; crow again with other programs closed",
                evidence.faults.lost
            ),
        );
    }
    if evidence.faults.cut_off {
        warn(
            WarningCode::CutOff,
            "the file is shorter than its header says; what there is was read".into(),
        );
    }
    if evidence.faults.not_finite > 0 {
        warn(
            WarningCode::NotFinite,
            match evidence.faults.not_finite {
                1 => "one sample is not a number and was read as silence".into(),
                count => format!("{count} samples are not numbers and were read as silence"),
            },
        );
    }
    if level.is_some_and(|level| level < QUIET_DBFS) {
        warn(WarningCode::Quiet, "the crow is very quiet; go nearer or turn the input up".into());
    }
    if let (Some(level), Some(floor)) = (level, evidence.floor_dbfs)
        && level - floor < NOISY_DB
    {
        warn(
            WarningCode::NoisyRoom,
            format!(
                "the room is only {:.0} dB under the crow; weak octaves and breath may be hidden",
                level - floor
            ),
        );
    }
    if let Some(mains) = evidence.hum_hz {
        warn(
            WarningCode::Hum,
            format!("mains hum at {mains:.0} Hz; move the microphone or its supply"),
        );
    }
    if sounding().any(|crow| {
        crow.end_s - crow.start_s < SHORT_S
            || crow.figures.fundamental.hz.is_none() && crow.kind != Kind::Unsettled
    }) {
        warn(
            WarningCode::Short,
            "a crow is too short for some figures; hold it for a second".into(),
        );
    }
    if f64::from(evidence.sample_rate_hz) < FULL_RATE_HZ {
        warn(
            WarningCode::LowRate,
            format!(
                "at {} samples a second the highest overtones are missing; levels and balance stop at {:.1} kHz",
                evidence.sample_rate_hz,
                0.45e-3 * f64::from(evidence.sample_rate_hz)
            ),
        );
    }
    let done = evidence.recorder;
    for (is_done, code, text) in [
        (done.gain_control, WarningCode::GainControl, recorder::GAIN_CONTROL),
        (done.gated, WarningCode::Gated, recorder::GATED),
        (done.noise_suppressed, WarningCode::NoiseSuppressed, recorder::NOISE_SUPPRESSED),
        (evidence.wrong_rate, WarningCode::WrongRate, recorder::WRONG_RATE),
        (done.dropouts, WarningCode::Dropouts, recorder::DROPOUTS),
    ] {
        if is_done {
            warn(code, text.into());
        }
    }
    if let Some(edge_hz) = evidence.edge_hz {
        warn(WarningCode::LowPassed, recorder::low_passed(edge_hz));
    }
    if evidence.spliced {
        warn(WarningCode::Spliced, recorder::SPLICED.into());
    }
    if evidence.cut {
        warn(
            WarningCode::LongCrow,
            "a crow is longer than can be kept; its figures are from its beginning".into(),
        );
    }
    list
}

fn cut_at(overload: Overload) -> String {
    if overload.level >= 1.0 {
        return "at full scale".into();
    }
    format!("cut flat {:.1} dB under full scale", -20.0 * overload.level.log10())
}

fn places(count: u64) -> String {
    if count == 1 { "one stretch".into() } else { format!("{count} stretches") }
}
