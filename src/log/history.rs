//! Everything the log holds of one reed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::LogError;
use super::card::{Card, Wetness};
use super::conditions::Conditions;
use super::step::{Step, to_micrometres};
use crate::advice::Advice;
use crate::comparison::Cut;
use crate::reading::Reading;
use crate::reed::{Inspection, Measurements, Sizes};

/// A card as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedReed {
    /// Names the reed for good, also in another log.
    pub uid: String,
    /// When it was entered (UTC, ISO 8601).
    pub at: String,
    /// The card.
    #[serde(flatten)]
    pub card: Card,
    /// When it was closed.
    pub ended_at: Option<String>,
    /// How it is crowed, as last said.
    #[serde(default)]
    pub conditions: Option<Conditions>,
    /// When that was said (UTC, ISO 8601).
    #[serde(default)]
    pub conditions_at: Option<String>,
}

/// A step as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedStep {
    /// When (UTC, ISO 8601).
    pub at: String,
    /// 1 for the first cut; `None` for a note.
    pub number: Option<u32>,
    /// What was done.
    #[serde(flatten)]
    pub step: Step,
}

/// Measurements as the log keeps them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedMeasurement {
    /// How many cuts had been made.
    pub after_step: u32,
    /// When (UTC, ISO 8601).
    pub at: String,
    /// Whether the cane was wet or dry.
    pub state: Option<Wetness>,
    /// In millimetres.
    pub measurements: Measurements,
}

/// What was seen, as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedInspection {
    /// How many cuts had been made.
    pub after_step: u32,
    /// When (UTC, ISO 8601).
    pub at: String,
    /// What was seen.
    pub inspection: Inspection,
}

/// A take as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedTake {
    /// 1 for the reed's first take.
    pub number: u32,
    /// How many cuts had been made.
    pub after_step: u32,
    /// When it was added (UTC, ISO 8601).
    pub at: String,
    /// Hash of the recording, which is its name.
    pub sha256: String,
    /// Its size.
    pub bytes: u64,
    /// Where it came from: a path or a device.
    pub source: String,
    /// How it was crowed.
    #[serde(default)]
    pub conditions: Option<Conditions>,
}

/// A reading as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedReading {
    /// When it was made (UTC, ISO 8601).
    pub at: String,
    /// The version of the program that made it.
    pub program: String,
    /// What the take says.
    pub reading: Reading,
    /// What was advised then.
    pub advice: Option<Advice>,
}

/// A take with its latest reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadTake {
    /// The take.
    #[serde(flatten)]
    pub take: LoggedTake,
    /// Its latest reading.
    pub reading: Option<LoggedReading>,
}

/// Everything the log holds of one reed, each list in order of time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct History {
    /// Its card.
    pub reed: LoggedReed,
    /// What was measured.
    pub measurements: Vec<LoggedMeasurement>,
    /// What was seen.
    pub inspections: Vec<LoggedInspection>,
    /// What was done.
    pub steps: Vec<LoggedStep>,
    /// What was recorded.
    pub takes: Vec<ReadTake>,
}

/// A length at one point of the work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Length {
    /// In millimetres.
    pub mm: f64,
    /// Measured there; else the last measured one less the clips since.
    pub measured: bool,
}

impl History {
    /// How many cuts have been made: the number of the stage the reed is in. Stage 0 is the reed
    /// as it came.
    pub fn stage(&self) -> u32 {
        self.steps.iter().filter_map(|step| step.number).max().unwrap_or(0)
    }

    /// The cut of that number.
    pub fn cut(&self, number: u32) -> Option<&LoggedStep> {
        self.steps.iter().find(|step| step.number == Some(number))
    }

    /// The latest readings of the takes made after `stage` cuts and before the next.
    pub fn readings_at(&self, stage: u32) -> Vec<&Reading> {
        self.takes
            .iter()
            .filter(|take| take.take.after_step == stage)
            .filter_map(|take| take.reading.as_ref())
            .map(|logged| &logged.reading)
            .collect()
    }

    /// The latest of each measurement, the length less the clips since.
    pub fn measured_now(&self) -> Measurements {
        // Measurements of different days may contradict each other; the last ones then stand alone.
        let last = || self.measurements.last().map(|logged| logged.measurements);
        Measurements::new(self.sizes_now()).ok().or_else(last).unwrap_or_default()
    }

    /// The same, whether or not they contradict each other.
    pub(super) fn sizes_now(&self) -> Sizes {
        let each = self.measurements.iter().map(|logged| *logged.measurements);
        let sizes = each.fold(Sizes::default(), |earlier, later| later.over(earlier));
        Sizes { length_mm: self.length_at(self.stage()).map(|length| length.mm), ..sizes }
    }

    /// The latest of each thing seen.
    pub fn seen_now(&self) -> Inspection {
        let each = self.inspections.iter().map(|logged| logged.inspection);
        each.fold(Inspection::default(), |earlier, later| later.over(earlier))
    }

    /// Whether the reed as it is now is long enough for a step.
    ///
    /// Errors: a clip that would leave less than the staple. Where length or staple is not known,
    /// nothing is refused.
    pub(super) fn check_room(&self, step: &Step) -> Result<(), LogError> {
        let now = self.measured_now();
        let (Some(Cut::Clip), Some(clipped), Some(length), Some(staple)) =
            (step.cut, step.amount_mm, now.length_mm, now.staple_mm)
        else {
            return Ok(());
        };
        let left = to_micrometres(length - clipped);
        if left >= staple {
            return Ok(());
        }
        Err(LogError::Invalid(format!(
            "a clip of {} mm would leave {left} mm, less than the staple of {staple} mm; measure the \
             length anew, or clip less",
            to_micrometres(clipped)
        )))
    }

    /// The length after `stage` cuts: measured there, or reckoned from the last measured one and
    /// the clips since.
    pub fn length_at(&self, stage: u32) -> Option<Length> {
        let (measured_at, mm) = self
            .measurements
            .iter()
            .filter(|logged| logged.after_step <= stage)
            .filter_map(|logged| Some((logged.after_step, logged.measurements.length_mm?)))
            .next_back()?;
        let clipped: f64 = self
            .steps
            .iter()
            .filter(|logged| {
                logged.step.cut == Some(Cut::Clip)
                    && logged.number.is_some_and(|n| n > measured_at && n <= stage)
            })
            .filter_map(|logged| logged.step.amount_mm)
            .sum();
        // Clips are typed in tenths: a sum such as 0.30000000000000004 is not meant.
        Some(Length { mm: to_micrometres(mm - clipped), measured: measured_at == stage })
    }
}
