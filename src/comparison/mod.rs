//! Crows before and after: what changed, and whether it is more than the spread between crows.
//!
//! Readings of both sides enter; for each figure that both sides support, one [`Change`] leaves,
//! and [`Note`]s about what could not be compared.
//!
//! # Which statistic
//!
//! `before` and `after` are medians over crows, since one odd crow among five is common and must
//! not move them; `difference` is after minus before. Its 95 % interval is Welch's (unequal
//! variances, Student's t with Satterthwaite's degrees of freedom). From five crows a side on, that
//! side's variance of the mean is multiplied by the variance of a median relative to a mean (1.29
//! to π/2 by count): the interval of the means would be too narrow for a difference of medians.
//! With fewer crows Welch's interval is wide enough as it is. Where the crows' own intervals are
//! wider, those count.
//!
//! Pitch moves with blowing strength. Where the crows differ in level by a decibel or more, pitch is
//! compared at one level: analysis of covariance, one slope in cents per dB, known a little before any
//! crow and better by the crows within the sides; both sides' means are moved to the mean level of all
//! crows. The interval holds the slope's doubt, and a decibel by which gain and distance may have moved
//! between the sides. Where the sides' mean levels differ by more than half the wider side's range, the
//! microphone may as well have been moved: the interval then holds both what is found at one level and
//! what is found as crowed, `difference` is its middle, and a note says so.

mod estimate;
mod figures;
mod level;
mod notes;
mod rates;
mod sides;
mod verdict;
mod welch;
mod worth;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub(crate) use estimate::{Estimate, NORMAL_95, pitch_estimate};
pub(crate) use notes::{About, Which};
pub use notes::{Note, NoteCode};
pub use rates::{Effect, Effects, PastCut, Whose};
pub(crate) use rates::{Rate, Spread, rate};
pub use verdict::Verdict;
pub(crate) use worth::{Worth, turn};

use crate::dsp::statistics::median;
use crate::profile::{Blowing, Profile};
use crate::reading::{Kind, Reading};
use crate::units::CENTS_PER_E;

/// Version of the line of JSON.
pub const SCHEMA: u32 = 1;

/// What changed between two sides.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "reedcrow comparison")]
pub struct Comparison {
    /// Version of this form.
    pub schema: u32,
    /// The crows before.
    pub before: Side,
    /// The crows after.
    pub after: Side,
    /// One entry for each figure that both sides support.
    pub changes: Vec<Change>,
    /// What to know about it, and what was left out.
    pub notes: Vec<Note>,
}

/// One side of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Side {
    /// Where its takes come from.
    pub source: Vec<String>,
    /// Crows that sound, over all its takes.
    pub crow_count: usize,
    /// The commonest kind among them, the less organised one on a tie; `None` with no crow.
    pub kind: Option<Kind>,
    /// How many of them are of that kind.
    pub kind_count: usize,
    /// Which octave the lowest tone of most of those is in, counted from the target, the lower one on a
    /// tie; `None` without a target.
    pub register: Option<i32>,
}

/// One figure on both sides.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// Its JSON path in the reading.
    pub figure: String,
    /// Of a figure of a rung, where that rung is: its median frequency over all crows, in hertz.
    pub octave_hz: Option<f64>,
    /// Median over the crows before, as measured.
    pub before: f64,
    /// Median over the crows after, as measured.
    pub after: f64,
    /// After minus before; of pitch at one level where `level_adjusted`.
    pub difference: f64,
    /// Half width of its 95 % interval; `None` with one crow on a side.
    pub ci95: Option<f64>,
    /// What that says.
    pub verdict: Verdict,
    /// Whether the difference is the one at the mean level of all crows.
    pub level_adjusted: bool,
    /// Crows a side that would settle what is unclear; `None` where it is clear, where one crow
    /// gives no spread to plan by, and where more than 200 would be needed.
    pub crows_needed: Option<usize>,
}

impl Change {
    /// Whether the figure moved, and by the smallest change that matters or more.
    pub fn matters(&self, profile: &Profile) -> bool {
        let least = profile.smallest_change(&self.figure).unwrap_or_default();
        matches!(self.verdict, Verdict::Rose | Verdict::Fell) && self.difference.abs() >= least
    }
}

/// What changed from `before` to `after`.
///
/// Each side may be several takes of one reed in one state; their crows are pooled. Crows of only
/// breath do not count. A figure that is absent in a crow is compared over the other crows; one
/// that is absent on a whole side is left out.
pub fn compare(before: &[Reading], after: &[Reading], profile: &Profile) -> Comparison {
    let sides = sides::Sides::new(before, after);
    let mut notes = notes::Notes::of(&sides);
    let mut changes = Vec::new();
    for figure in figures::of(&sides, profile) {
        if notes.rule_out(&figure.path) {
            continue;
        }
        changes.extend(change(&figure, &sides, profile, &mut notes));
    }
    Comparison {
        schema: SCHEMA,
        before: sides.before.described(),
        after: sides.after.described(),
        notes: notes.finished(&changes),
        changes,
    }
}

fn change(
    figure: &figures::Figure,
    sides: &sides::Sides,
    profile: &Profile,
    notes: &mut notes::Notes,
) -> Option<Change> {
    let smallest = profile.smallest_change(&figure.path)?;
    let Moved { before, after, found, level_adjusted } = moved(figure, sides, profile, notes)?;
    let (verdict, crows_needed) = verdict::of(&found, smallest);
    Some(Change {
        figure: figure.path.clone(),
        octave_hz: figure.octave_hz,
        before: figure.folded(before),
        after: figure.folded(after),
        difference: found.difference,
        ci95: found.ci95,
        verdict,
        level_adjusted,
        crows_needed,
    })
}

/// A figure's medians and the difference.
struct Moved {
    before: f64,
    after: f64,
    found: welch::Difference,
    level_adjusted: bool,
}

fn moved(
    figure: &figures::Figure,
    sides: &sides::Sides,
    profile: &Profile,
    notes: &mut notes::Notes,
) -> Option<Moved> {
    let before = median(figure.before.values())?;
    let after = median(figure.after.values())?;
    let adjusted = if figure.is_pitch && sides.levels_compare() {
        // Near f, one hertz is 1200 / (ln 2 · f) cents.
        let in_hertz = figure.path.ends_with("hz");
        let middle_hz = f64::midpoint(before, after);
        let cents = if in_hertz { CENTS_PER_E / middle_hz } else { 1.0 };
        let prior = level::Slope::of_pitch(profile).per(cents);
        notes.of_level(level::adjusted(&figure.before, &figure.after, prior), cents)
    } else {
        None
    };
    let level_adjusted = adjusted.is_some();
    let found = adjusted.unwrap_or_else(|| welch::of_medians(&figure.before, &figure.after));
    Some(Moved { before, after, found, level_adjusted })
}

/// A change of pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PitchChange {
    /// After minus before, in cents.
    pub cents: f64,
    /// Half width of its 95 % interval, in cents; `None` with one crow on a side.
    pub ci95_cents: Option<f64>,
    /// Whether it is the one at the mean level of all crows.
    pub level_adjusted: bool,
}

/// The change of pitch that [`compare`] tells: against the target where both sides have one, else
/// of the frequency. `None` where a side holds no tone.
///
/// * `blowing`: what blowing does to the pitch, where this maker's crows tell it.
pub fn pitch_change(
    before: &[Reading],
    after: &[Reading],
    blowing: Option<Blowing>,
) -> Option<PitchChange> {
    let sides = sides::Sides::new(before, after);
    let mut notes = notes::Notes::of(&sides);
    let profile = Profile { blowing, ..Profile::default() };
    let figures = figures::plain(&sides);
    let in_cents = |path: &str, notes: &mut notes::Notes| {
        let figure = figures.iter().find(|figure| figure.path == path)?;
        let moved =
            if notes.rule_out(path) { None } else { moved(figure, &sides, &profile, notes) }?;
        let Moved { before, found, level_adjusted, .. } = moved;
        let in_cents = |by: f64| match path.ends_with("hz") {
            true => 1200.0 * ((before + by) / before).log2(),
            false => by,
        };
        let cents = in_cents(found.difference);
        let ci95_cents =
            found.ci95.map(|half| in_cents(half).abs()).filter(|half| half.is_finite());
        cents.is_finite().then_some(PitchChange { cents, ci95_cents, level_adjusted })
    };
    in_cents("fundamental.target_cents", &mut notes)
        .or_else(|| in_cents("fundamental.hz", &mut notes))
}

#[cfg(test)]
mod tests;
