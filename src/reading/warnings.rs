//! What makes a reading doubtful. What to do about it is in [`crate::words`].

use super::figures::{Crow, Kind, Summary, Warning, WarningCode};
use super::find::no_crow::{Other, What, Why};
use super::not_a_crow::{about, is_apart, none_agree};
use super::overload::Overload;
use super::recorder::Done;
use crate::dsp::spectrum::USABLE;
use crate::take::Faults;

/// Everything the warnings are judged on.
#[derive(Debug, Clone, Copy)]
pub struct Evidence<'a> {
    /// The crows of the take.
    pub crows: &'a [Crow],
    /// What sounded and was not taken for one.
    pub others: &'a [Other],
    /// Medians of the crows.
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
    /// How long the take is, in seconds.
    pub duration_s: f64,
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
/// Over this a louder crow would overload.
pub const HOT_DBFS: f64 = -6.0;
/// A crow at −20 dBFS has partials that count down to −50; a floor over that hides them. Chosen
/// from the definition of a rung that sounds, not tried on rooms.
pub const NOISY_DBFS: f64 = -50.0;
/// Air that flows for longer than this is no breath.
const STEADY_S: f64 = 4.0;
/// Room noise closer under the crow than this is noisy.
const NOISY_DB: f64 = 20.0;
/// A crow shorter than this leaves little to measure.
const SHORT_S: f64 = 0.3;
/// Partials up to 10 kHz need this rate.
pub const FULL_RATE_HZ: f64 = 10_000.0 / USABLE;

/// A crow that ends this near to the end of the take has no quiet there (our choice: within it no reed
/// stops).
const AT_END_S: f64 = 0.02;

/// What sounds this near to a crow may go on under it, or hold another.
const BESIDE_S: f64 = 1.5;

/// How loud something is at the microphone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loud {
    /// Too faint for some of the figures.
    Far,
    /// As it should be.
    Right,
    /// Near to overload.
    Hot,
}

/// How loud a level is at the microphone.
///
/// * `dbfs`: in decibels relative to a full-scale sine.
pub fn how_loud(dbfs: f64) -> Loud {
    if dbfs > HOT_DBFS {
        Loud::Hot
    } else if dbfs < QUIET_DBFS {
        Loud::Far
    } else {
        Loud::Right
    }
}

/// One doubt with what its sentence tells.
#[derive(Debug, Clone, Copy)]
pub struct Doubt<'a> {
    /// Which.
    pub code: WarningCode,
    /// What it was judged on.
    pub evidence: &'a Evidence<'a>,
}

impl Evidence<'_> {
    /// How far the room lies under the crow, in decibels.
    pub fn room_under_db(&self) -> Option<f64> {
        Some(self.summary.figures.level_dbfs? - self.floor_dbfs?)
    }

    /// How loud the room is where no crow was found and it would hide one.
    pub fn drowning_dbfs(&self) -> Option<f64> {
        let none = self.summary.crow_count == 0 && !self.silent;
        self.floor_dbfs.filter(|level| none && *level > NOISY_DBFS)
    }

    /// Whether nothing sounded but noise that goes on.
    pub fn is_steady(&self) -> bool {
        let goes_on =
            |crow: &Crow| crow.kind == Kind::Breath && crow.end_s - crow.start_s > STEADY_S;
        self.crows.iter().all(goes_on) && self.others.is_empty()
    }

    /// Where the take's figures end, in hertz.
    pub fn highest_hz(&self) -> f64 {
        USABLE * f64::from(self.sample_rate_hz)
    }

    /// Whether a voice or an instrument sounds up to a crow, or from it on: what of it falls within the crow
    /// is not told from the crow's own.
    fn has_others_beside(&self) -> bool {
        // What is too short or too much hidden to be named may be words or notes all the same.
        let is_of_somebody = |other: &&Other| match other.what {
            What::Speech | What::Instrument => true,
            What::Unknown => !matches!(other.why, Why::OutOfRange | Why::GoesOn | Why::Breathless),
            What::Hum | What::Machine | What::Struck => false,
        };
        let crows = || self.crows.iter().filter(|crow| crow.kind != Kind::Breath);
        self.others.iter().filter(is_of_somebody).any(|other| {
            crows().any(|crow| {
                other.from_s < crow.end_s + BESIDE_S && other.to_s > crow.start_s - BESIDE_S
            })
        })
    }

    /// Whether a crow sounds as the take begins, and whether one does as it ends.
    pub fn cut_at_ends(&self) -> [bool; 2] {
        let crows = || self.crows.iter().filter(|crow| crow.kind != Kind::Breath);
        [
            crows().any(|crow| crow.start_s <= 0.0),
            crows().any(|crow| crow.end_s > self.duration_s - AT_END_S),
        ]
    }

    fn has_pitches_apart(&self) -> bool {
        let crows: Vec<&Crow> = self.crows.iter().collect();
        none_agree(&crows)
            || (0..crows.len()).any(|index| is_apart(crows[index], &about(&crows, index)))
    }

    fn has_short_crow(&self) -> bool {
        self.crows.iter().filter(|crow| crow.kind != Kind::Breath).any(|crow| {
            crow.end_s - crow.start_s < SHORT_S
                || crow.figures.fundamental.hz.is_none() && crow.kind != Kind::Unsettled
        })
    }
}

/// The warnings of a take, the gravest first.
pub fn warnings(evidence: &Evidence<'_>) -> Vec<Warning> {
    let no_crow = evidence.summary.crow_count == 0;
    let level = evidence.summary.figures.level_dbfs;
    let Evidence { faults, recorder, .. } = evidence;
    let is_noisy = evidence.room_under_db().is_some_and(|under| under < NOISY_DB)
        || evidence.drowning_dbfs().is_some();
    let all = [
        (evidence.silent && no_crow, WarningCode::Silent),
        (no_crow, WarningCode::NoCrow),
        (evidence.overload.is_some(), WarningCode::Overload),
        // What is cut flat is told by that already.
        (recorder.distorted && evidence.overload.is_none(), WarningCode::Distorted),
        (faults.lost > 0, WarningCode::LostSamples),
        (faults.cut_off, WarningCode::CutOff),
        (faults.not_finite > 0, WarningCode::NotFinite),
        (level.is_some_and(|level| level < QUIET_DBFS), WarningCode::Quiet),
        (is_noisy, WarningCode::NoisyRoom),
        (evidence.hum_hz.is_some(), WarningCode::Hum),
        (evidence.has_short_crow(), WarningCode::Short),
        (f64::from(evidence.sample_rate_hz) < FULL_RATE_HZ, WarningCode::LowRate),
        (recorder.gain_control, WarningCode::GainControl),
        (recorder.gated, WarningCode::Gated),
        (recorder.noise_suppressed, WarningCode::NoiseSuppressed),
        (evidence.wrong_rate, WarningCode::WrongRate),
        (recorder.dropouts, WarningCode::Dropouts),
        (evidence.edge_hz.is_some(), WarningCode::LowPassed),
        (evidence.spliced, WarningCode::Spliced),
        (evidence.cut_at_ends().contains(&true), WarningCode::CrowCut),
        (evidence.has_others_beside(), WarningCode::OthersBeside),
        (evidence.has_pitches_apart(), WarningCode::PitchesApart),
        (evidence.cut, WarningCode::LongCrow),
    ];
    let there = all.into_iter().filter(|(is_there, _)| *is_there);
    there.map(|(_, code)| Warning { code, text: Doubt { code, evidence }.to_string() }).collect()
}
