//! What to know about a comparison: what differs between the sides besides the reed, and which
//! figures are left out for it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::level::Levelled;
use super::sides::{Sides, Takes, channel};
use super::welch::Difference;
use super::{Change, Verdict};
use crate::dsp::statistics::median;
use crate::reading::{Kind, Reading, catalogue};

/// One thing to know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Note {
    /// Which.
    pub code: NoteCode,
    /// What it is and what follows, in one line.
    pub text: String,
}

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum NoteCode {
    /// A side holds no crow that sounds.
    NoCrow,
    /// A side holds one crow.
    OneCrow,
    /// Both sides are the same recordings.
    SameRecording,
    /// Takes with different A4.
    DifferentA4,
    /// Takes read with different profiles.
    DifferentProfile,
    /// The lowest octave that is held is another one before than after.
    DifferentOctave,
    /// Takes with different sample rates.
    DifferentSampleRate,
    /// Takes from different channels.
    DifferentChannel,
    /// Nothing tells whether one microphone made all takes.
    MicrophoneUnknown,
    /// Pitch is compared at one level.
    LevelAdjusted,
    /// The sides differ in level by more than their crows do.
    LevelsApart,
    /// How many of the verdicts chance alone would give.
    Chance,
}

/// One thing to know, with what its sentence tells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum About {
    NoCrow(Which),
    OneCrow(Which),
    SameRecording,
    /// In hertz.
    DifferentA4(Vec<String>),
    /// Their names.
    DifferentProfile(Vec<String>),
    DifferentOctave,
    DifferentSampleRate {
        rates_hz: Vec<String>,
        /// Whether figures are left out for it.
        left_out: bool,
    },
    DifferentChannel(Vec<String>),
    MicrophoneUnknown,
    LevelAdjusted {
        cents_per_db: f64,
    },
    LevelsApart {
        step_db: f64,
    },
    Chance {
        /// Figures that are judged.
        judged: usize,
        /// Of which so many seem to move by chance.
        expected: f64,
    },
}

/// One of the sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Which {
    Before,
    After,
}

impl About {
    fn code(&self) -> NoteCode {
        match self {
            Self::NoCrow(_) => NoteCode::NoCrow,
            Self::OneCrow(_) => NoteCode::OneCrow,
            Self::SameRecording => NoteCode::SameRecording,
            Self::DifferentA4(_) => NoteCode::DifferentA4,
            Self::DifferentProfile(_) => NoteCode::DifferentProfile,
            Self::DifferentOctave => NoteCode::DifferentOctave,
            Self::DifferentSampleRate { .. } => NoteCode::DifferentSampleRate,
            Self::DifferentChannel(_) => NoteCode::DifferentChannel,
            Self::MicrophoneUnknown => NoteCode::MicrophoneUnknown,
            Self::LevelAdjusted { .. } => NoteCode::LevelAdjusted,
            Self::LevelsApart { .. } => NoteCode::LevelsApart,
            Self::Chance { .. } => NoteCode::Chance,
        }
    }
}

/// Sample rate from which all figures, which end at 10 kHz or in the 8 kHz octave, are measured
/// alike whatever the recorder's filter does near its end. (One take has all its figures
/// from `reading::FULL_RATE_HZ` on.)
const ALIKE_FROM_HZ: u32 = 32_000;

/// Notes as they come up.
pub(super) struct Notes {
    notes: Vec<Note>,
    left_out: Vec<&'static str>,
}

impl Notes {
    /// What the takes themselves tell.
    pub fn of(sides: &Sides) -> Self {
        let mut found = Self { notes: Vec::new(), left_out: Vec::new() };
        found.counts(sides);
        found.same_recording(sides);
        found.pitch_scale(sides);
        found.octave(sides);
        found.recorder(sides);
        found
    }

    fn add(&mut self, about: &About) {
        let code = about.code();
        if self.notes.iter().all(|note| note.code != code) {
            self.notes.push(Note { code, text: about.to_string() });
        }
    }

    fn counts(&mut self, sides: &Sides) {
        let counts = [
            (Which::Before, sides.before.crows().count()),
            (Which::After, sides.after.crows().count()),
        ];
        for (side, count) in counts {
            if count == 0 {
                self.add(&About::NoCrow(side));
            }
        }
        if counts.iter().all(|(_, count)| *count > 0) {
            for (side, count) in counts {
                if count == 1 {
                    self.add(&About::OneCrow(side));
                }
            }
        }
    }

    /// Two recordings never agree to the last bit.
    fn same_recording(&mut self, sides: &Sides) {
        let is_in = |reading: &Reading, others: &[Reading]| {
            others
                .iter()
                .any(|other| other.crows == reading.crows && other.duration_s == reading.duration_s)
        };
        let (before, after) = (sides.before.readings, sides.after.readings);
        if sides.before.crows().count() > 0
            && before.iter().all(|reading| is_in(reading, after))
            && after.iter().all(|reading| is_in(reading, before))
        {
            self.add(&About::SameRecording);
        }
    }

    fn pitch_scale(&mut self, sides: &Sides) {
        let a4 = sides.different(|reading| reading.a4_hz.to_string());
        if a4.len() > 1 {
            self.left_out.extend(["fundamental.target_cents", "fundamental.register"]);
            self.left_out.push("fundamental.note_cents");
            self.add(&About::DifferentA4(a4.into_iter().collect()));
        }
        let profiles = sides.different(|reading| reading.profile.clone());
        if profiles.len() > 1 {
            self.left_out.extend(["fundamental.target_cents", "fundamental.register"]);
            self.add(&About::DifferentProfile(profiles.into_iter().collect()));
        }
    }

    /// A peep's only octave is there at once: that it comes later once there is one below it is no
    /// change for the worse; and it is no sharper or flatter low octave. Nor has it an octave to be aligned.
    fn octave(&mut self, sides: &Sides) {
        // The overtones of one tone are there at once as well.
        let has_octaves = |takes: &Takes| {
            let two = takes.crows().filter(|crow| crow.kind != Kind::Single).count();
            2 * two > takes.crows().count()
        };
        if has_octaves(&sides.before) != has_octaves(&sides.after) {
            self.left_out.extend(["response.low_delay_s", "alignment.cents"]);
        }
        let octave = |takes: &Takes| {
            let hz: Vec<f64> =
                takes.crows().filter_map(|crow| crow.figures.fundamental.hz).collect();
            median(hz).map(f64::log2)
        };
        if let (Some(before), Some(after)) = (octave(&sides.before), octave(&sides.after))
            && (after - before).abs() > 0.5
        {
            self.left_out.extend(["fundamental.target_cents", "fundamental.hz"]);
            self.left_out.extend(["fundamental.note_cents", "response.low_delay_s"]);
            self.add(&About::DifferentOctave);
        }
    }

    fn recorder(&mut self, sides: &Sides) {
        let of_recorder =
            || catalogue::all().filter(|about| about.of_recorder).map(|about| about.path);
        let rates = sides.different(|reading| reading.sample_rate_hz.to_string());
        if rates.len() > 1 {
            let least = sides.readings().map(|reading| reading.sample_rate_hz).min().unwrap_or(0);
            if least < ALIKE_FROM_HZ {
                // A level is a level at any rate.
                self.left_out.extend(of_recorder().filter(|path| *path != "level_dbfs"));
            }
            let rates_hz = rates.into_iter().collect();
            self.add(&About::DifferentSampleRate { rates_hz, left_out: least < ALIKE_FROM_HZ });
        }
        let channels = sides.different(channel);
        if channels.len() > 1 {
            self.left_out.extend(of_recorder());
            self.add(&About::DifferentChannel(channels.into_iter().collect()));
        }
        if sides.readings().any(is_a_file) {
            self.add(&About::MicrophoneUnknown);
        }
    }

    /// Whether this figure cannot be compared.
    pub fn rule_out(&self, path: &str) -> bool {
        catalogue::about(path).is_some_and(|about| self.left_out.contains(&about.path))
    }

    /// Notes what was done about level, and gives the difference at one level where there is one.
    ///
    /// * `cents_per_unit`: of the figure, for telling its slope.
    pub fn of_level(&mut self, levelled: Levelled, cents_per_unit: f64) -> Option<Difference> {
        match levelled {
            Levelled::NotNeeded => None,
            Levelled::Apart { found, step_db } => {
                self.add(&About::LevelsApart { step_db });
                Some(found)
            }
            Levelled::At { found, slope_per_db } => {
                let cents_per_db = slope_per_db * cents_per_unit;
                self.add(&About::LevelAdjusted { cents_per_db });
                Some(found)
            }
        }
    }

    /// All notes, with what chance would do to so many figures.
    pub fn finished(mut self, changes: &[Change]) -> Vec<Note> {
        let judged = changes.iter().filter(|change| change.ci95.is_some()).count();
        let moved =
            changes.iter().any(|change| matches!(change.verdict, Verdict::Rose | Verdict::Fell));
        // 95 % intervals: one figure in twenty seems to move with nothing behind it.
        if moved && judged >= 20 {
            self.add(&About::Chance { judged, expected: judged as f64 * 0.05 });
        }
        self.notes
    }
}

/// Sources are paths, `-`, or devices; a path ends in what a recording's name ends in.
fn is_a_file(reading: &Reading) -> bool {
    reading.source == "-" || std::path::Path::new(&reading.source).extension().is_some()
}
