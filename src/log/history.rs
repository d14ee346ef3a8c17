//! Everything the log holds of one reed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::card::{Card, Wetness};
use super::conditions::Conditions;
use super::heard::LoggedHeard;
use super::rating::{LoggedRating, RatedBy, Rating, rated};
use super::step::{Advised, Step, to_micrometres};
use super::{LogError, Unfit};
use crate::advice::Advice;
use crate::profile::Blowing;
use crate::reading::Reading;
use crate::reed::{Cut, Inspection, Measurements, Move, Sizes};

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

/// The version of the program, as kept beside changes and readings.
pub const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// A step as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedStep {
    /// When (UTC, ISO 8601).
    pub at: String,
    /// 1 for the first cut; a return of the reed is counted with them; `None` for a note.
    pub number: Option<u32>,
    /// What was done.
    #[serde(flatten)]
    pub step: Step,
    /// What the program advised last before it; `None` of what an earlier version wrote down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub advised: Option<Advised>,
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
    /// What the maker said they hear of its crows, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<LoggedHeard>,
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
    /// How good it is said to be.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ratings: Vec<LoggedRating>,
    /// What blowing does to the pitch in the crows of the whole log, which every change of pitch rests on.
    #[serde(skip)]
    pub blowing: Option<Blowing>,
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
    /// Whether the last cut is the one before it once more, with no crow between: it may have been entered
    /// twice.
    pub fn last_cut_again(&self) -> bool {
        let mut cuts = self.steps.iter().rev().filter(|step| step.number.is_some());
        let (Some(last), Some(before)) = (cuts.next(), cuts.next()) else { return false };
        let is_between = |take: &ReadTake| Some(take.take.after_step) == before.number;
        let (one, other) = (&last.step, &before.step);
        one.cut == other.cut
            && one.amount_mm == other.amount_mm
            && !self.takes.iter().any(is_between)
    }

    /// How many cuts have been made, and how often it came back: the number of the stage the reed is in.
    /// Stage 0 is the reed as it came.
    pub fn stage(&self) -> u32 {
        self.steps.iter().filter_map(|step| step.number).max().unwrap_or(0)
    }

    /// The stage in which the work of which `stage` is a part began: 0, or the last return up to it. What
    /// was crowed and measured before a return says nothing of the reed after it: it was played meanwhile.
    pub fn began(&self, stage: u32) -> u32 {
        let returns = self.steps.iter().filter(|logged| logged.step.is_return());
        returns.filter_map(|logged| logged.number).filter(|n| *n <= stage).max().unwrap_or(0)
    }

    /// The cut or return of that number.
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

    /// The latest of each measurement, the length less the clips since; nothing of what was worked on
    /// after it was measured.
    pub fn measured_now(&self) -> Measurements {
        self.measured_since(0)
    }

    /// The same of what was measured at `stage` and since.
    pub(super) fn measured_since(&self, stage: u32) -> Measurements {
        // Measurements of different days may contradict each other; the last ones then stand alone.
        let mut since = self.measurements.iter().filter(|logged| logged.after_step >= stage);
        let last = || since.next_back().map(|logged| logged.measurements);
        Measurements::new(self.sizes_since(stage)).ok().or_else(last).unwrap_or_default()
    }

    /// The same, whether or not they contradict each other.
    pub(super) fn sizes_now(&self) -> Sizes {
        self.sizes_since(0)
    }

    fn sizes_since(&self, stage: u32) -> Sizes {
        let since = self.measurements.iter().filter(|logged| logged.after_step >= stage);
        let each = since.map(|logged| {
            let mut sizes = *logged.measurements;
            self.cuts_after(logged.after_step).for_each(|cut| match cut {
                Cut::TipStep => sizes.tip_start_mm = None,
                cut if cut.of() == Move::Opening => sizes.opening_mm = None,
                Cut::Retie => sizes.wound_to_mm = None,
                _ => {}
            });
            sizes
        });
        let sizes = each.fold(Sizes::default(), |earlier, later| later.over(earlier));
        Sizes { length_mm: self.length_at(self.stage()).map(|length| length.mm), ..sizes }
    }

    /// Of each size what was measured first, as it was corrected before the next cut; the length as it is now.
    pub fn first_measured(&self) -> Sizes {
        let each = self.measured().into_iter().rev().map(|measured| measured.now);
        let first = each.fold(Sizes::default(), |later, earlier| earlier.over(later));
        Sizes { length_mm: self.sizes_now().length_mm, ..first }
    }

    /// Of each thing what was seen first, as it was corrected before the next cut.
    pub fn first_seen(&self) -> Inspection {
        let each = self.seen().into_iter().map(|seen| seen.now);
        each.fold(Inspection::default(), Inspection::over)
    }

    /// The latest of each thing seen; nothing of what was worked on after it was seen, until it is
    /// looked at again.
    pub fn seen_now(&self) -> Inspection {
        let each = self.inspections.iter().map(|logged| {
            let cuts = self.cuts_after(logged.after_step);
            cuts.fold(logged.inspection, Inspection::after)
        });
        each.fold(Inspection::default(), |earlier, later| later.over(earlier))
    }

    fn cuts_after(&self, stage: u32) -> impl Iterator<Item = Cut> {
        let later = self.steps.iter().filter(move |logged| logged.number > Some(stage));
        later.filter_map(|logged| logged.step.cut)
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
        let mm = to_micrometres(clipped);
        Err(Unfit::ClipToStaple { mm, left_mm: left, staple_mm: staple }.into())
    }

    /// The length after `stage` cuts: measured there, or reckoned from the last measured one and
    /// the clips since, all since the reed came last.
    pub fn length_at(&self, stage: u32) -> Option<Length> {
        let began = self.began(stage);
        let (measured_at, mm) = self
            .measurements
            .iter()
            .filter(|logged| (began..=stage).contains(&logged.after_step))
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

impl History {
    /// What was said of the reed, in order of time.
    pub fn rated(&self) -> Vec<RatedBy> {
        rated(&self.ratings)
    }

    /// The last word of one person on each side; of the maker's own where nobody is named.
    pub fn last_rating(&self, by: Option<&str>) -> Rating {
        let theirs = self.ratings.iter().filter(|logged| logged.rated_by.as_deref() == by);
        theirs.fold(Rating::default(), |earlier, logged| logged.rating.over(earlier))
    }
}
