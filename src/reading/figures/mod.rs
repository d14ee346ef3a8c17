//! The figures of a reading, under the names and in the units they have everywhere.

pub mod balance;
pub mod breath;
pub mod kind;
pub mod steadiness;
pub mod voices;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::profile::Heard;
use crate::reading::find::no_crow::Other;

pub use balance::{Balance, Band};
pub use breath::Breath;
pub use kind::Kind;
pub use steadiness::Steadiness;
pub use voices::{Above, Faint, Voices};

/// Version of the line of JSON.
pub const SCHEMA: u32 = 1;

/// What a take says, without advice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// Version of this form.
    pub schema: u32,
    /// Path, `-`, or device.
    pub source: String,
    /// Samples per second.
    pub sample_rate_hz: u32,
    /// Channels of the recording.
    pub channels: u16,
    /// The channel read, counted from 1.
    pub channel: u16,
    /// Length of the take in seconds.
    pub duration_s: f64,
    /// The pitch of A4 that notes and targets are counted from, in hertz.
    pub a4_hz: f64,
    /// Name of the profile.
    pub profile: String,
    /// The crows of the take in order of time, breath sounds among them.
    pub crows: Vec<Crow>,
    /// What sounded and was not taken for a crow, in order of time.
    #[serde(default)]
    pub others: Vec<Other>,
    /// Whether its maker said that tones which would be set aside were the reed: they are crows then.
    #[serde(default, skip_serializing_if = "is_not")]
    pub tones_kept: bool,
    /// Medians over the crows that sound.
    pub summary: Summary,
    /// What makes the reading doubtful.
    pub warnings: Vec<Warning>,
    /// What the last check before the take said of its microphone; absent for recordings, and where
    /// it was not checked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub microphone: Option<CheckedMicrophone>,
}

/// What a check (`devices --check`) said of a microphone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckedMicrophone {
    /// Its name in `reedcrow devices`.
    pub device: String,
    /// The day on which it was checked, YYYY-MM-DD.
    pub at: String,
    /// Whether it would do.
    pub fit: bool,
    /// What was to be changed: the codes of `devices --check --json`.
    pub found: Vec<String>,
    /// Noise of the room, in decibels relative to a full-scale sine.
    pub floor_dbfs: Option<f64>,
    /// Loudest 50 ms of the trial crows, in the same.
    pub loudest_dbfs: Option<f64>,
}

/// Whether a mark that is seldom there is not.
fn is_not(mark: &bool) -> bool {
    !mark
}

/// One unbroken sounding of the reed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Crow {
    /// Where the sound, breath included, rises 6 dB above the noise floor, in seconds.
    pub start_s: f64,
    /// Where it falls back to the noise floor, in seconds.
    pub end_s: f64,
    /// How it sounds.
    pub kind: Kind,
    /// Its figures.
    #[serde(flatten)]
    pub figures: Figures,
}

/// The figures of one crow.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Figures {
    /// The lowest sustained rung.
    pub fundamental: Fundamental,
    /// The octave levels that sound, lowest first.
    pub rungs: Vec<Rung>,
    /// Which octaves are heard as tones of their own.
    #[serde(default)]
    pub voices: Voices,
    /// How the two lowest sustained tones stand to 2:1.
    pub alignment: Alignment,
    /// How the power is spread over frequency.
    pub balance: Balance,
    /// How steady pitch and level are.
    pub steadiness: Steadiness,
    /// How readily it speaks.
    pub response: Response,
    /// Its noise.
    pub breath: Breath,
    /// RMS over the steady part; a full-scale sine is 0 dBFS (AES17).
    pub level_dbfs: Option<f64>,
}

impl Figures {
    /// What of it tells one tone from octaves; `None` where there is no pair to tell of.
    pub fn heard(&self) -> Option<Heard> {
        let low = self.rungs.iter().find(|rung| rung.sustained)?;
        Some(Heard {
            stand_out_db: self.voices.stand_out_db?,
            ci95_db: self.voices.ci95_db?,
            lead_ms: self.voices.lead_ms,
            low_db: low.level_db,
            off_cents: self.alignment.cents.unwrap_or(0.0),
            spread_cents: self.steadiness.spread_cents.unwrap_or(0.0),
        })
    }
}

/// The lowest sustained rung: mean frequency over the steady part.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Fundamental {
    /// In hertz.
    pub hz: Option<f64>,
    /// Half width of the 95 % interval of that mean within one crow, in cents; of a take the median
    /// of its crows' own. How far the crows differ is `spread_between_crows_cents`, and it is from
    /// that that the card's ± comes.
    pub ci95_cents: Option<f64>,
    /// Nearest equal-tempered note.
    pub note: Option<String>,
    /// Distance above that note, −50 … +50 cents.
    pub note_cents: Option<f64>,
    /// Distance from the target's pitch class, −600 … +600 cents, negative is flat; `None` without
    /// a target.
    pub target_cents: Option<f64>,
    /// Octaves above the target's; `None` without a target.
    pub register: Option<i32>,
    /// In a summary: sample standard deviation between the crows, in cents; `None` under two.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread_between_crows_cents: Option<f64>,
}

/// One octave level that sounds.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Rung {
    /// Frequency in hertz.
    pub hz: f64,
    /// Power of its partials up to 10 kHz relative to all partials, while it sounds, in decibels.
    pub level_db: f64,
    /// Share of the steady part in which it sounds, 0 … 1.
    pub present: f64,
    /// How often per second it goes out and comes back in the steady part.
    pub switches_per_s: f64,
    /// From `start_s` to the first moment after which it sounds for at least 50 ms, in seconds.
    pub entry_s: Option<f64>,
    /// Whether it is sustained: sounding in half of the steady part or more, within ±50 cents of a
    /// straight line.
    pub sustained: bool,
}

/// How the two lowest sustained tones stand to 2:1, wherever both are sustained.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Alignment {
    /// 1200·log2(f_upper / (2·f_lower)).
    pub cents: Option<f64>,
    /// Half width of its 95 % interval, in cents.
    pub ci95_cents: Option<f64>,
    /// Within ±5 cents of 2:1, or not distinguishable from it.
    pub locked: Option<bool>,
}

/// How readily the reed speaks.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Response {
    /// From `start_s` to the first tone.
    pub onset_s: Option<f64>,
    /// From the first tone to the entry of the lowest sustained rung.
    pub low_delay_s: Option<f64>,
}

/// Medians over the crows that sound; the same paths as one crow.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Summary {
    /// Crows that sound (breath is not counted).
    pub crow_count: usize,
    /// The commonest kind, the less organised one on a tie; `None` with no crow.
    pub kind: Option<Kind>,
    /// The medians.
    #[serde(flatten)]
    pub figures: Figures,
}

/// Something that makes a reading doubtful.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Warning {
    /// Which.
    pub code: WarningCode,
    /// What it is and what to do, in one line.
    pub text: String,
}

/// What makes a reading doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WarningCode {
    /// Samples at full scale.
    Overload,
    /// Loud moments were cut or bent, and the level was changed after that.
    Distorted,
    /// Too little level over the recorder's own noise.
    Quiet,
    /// A crow too short for some figures.
    Short,
    /// Room noise close under the crow.
    NoisyRoom,
    /// Mains hum in the room noise.
    Hum,
    /// No sound at all from beginning to end: a muted or unplugged microphone.
    Silent,
    /// No crow was found.
    NoCrow,
    /// The sample rate is too low for some figures.
    LowRate,
    /// Samples that the program could not keep.
    LostSamples,
    /// The file ends before its header says.
    CutOff,
    /// Samples that are not numbers.
    NotFinite,
    /// A crow longer than the program keeps whole.
    LongCrow,
    /// The recorder turned its gain up and down.
    GainControl,
    /// The recorder took noise off, and some of the crow with it.
    NoiseSuppressed,
    /// The recorder shut off what was quiet.
    Gated,
    /// The upper part of the spectrum was cut off, as codecs and telephones do.
    LowPassed,
    /// Moments that are missing, as where packets were lost.
    Dropouts,
    /// The recording runs at another rate than it says.
    WrongRate,
    /// Samples are missing or doubled within a crow, as where a recording was cut and joined.
    Spliced,
    /// A voice, an instrument or another tone sounded right beside the crows.
    OthersBeside,
    /// A crow lies a semitone and more from the others.
    PitchesApart,
    /// A crow sounds as the take begins, or still as it ends.
    CrowCut,
}
