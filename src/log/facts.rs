//! What questions over many reeds rest on: each reed's way with its times, how it was crowed, and what
//! each cut changed.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::card::Card;
use super::conditions::Conditions;
use super::heard::as_heard;
use super::history::{History, ReadTake};
use super::step::Advised;
use super::timeline::{Stage, timeline};
use crate::comparison::pitch_change;
use crate::dsp::statistics::median;
use crate::reading::{Kind, Reading};
use crate::reed::Cut;

/// One reed as questions see it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Facts {
    /// Names the reed for good, also in another log.
    pub uid: String,
    /// Its card.
    #[serde(flatten)]
    pub card: Card,
    /// When it was entered (UTC, ISO 8601).
    pub at: String,
    /// When it was closed.
    pub ended_at: Option<String>,
    /// When anything was last written down of it.
    pub last_at: String,
    /// The reed as it came, and after each cut.
    pub way: Vec<Phase>,
}

/// A reed between two cuts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Phase {
    /// What it was like.
    #[serde(flatten)]
    pub stage: Stage,
    /// When the cut that led here was made, or the reed was entered.
    pub at: String,
    /// The takes made here, in order of time.
    pub heard: Vec<Heard>,
    /// What the cut that led here changed; `None` where the reed was not crowed right before it and
    /// blown right after.
    pub changed: Option<Changed>,
    /// What was advised here last, if anything was.
    pub advised: Option<Advised>,
}

/// What one cut changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Changed {
    /// Pitch after less pitch before, in cents, as a comparison of the crows tells it, folded to the
    /// nearest octave; `None` where a side holds no tone.
    pub cents: Option<f64>,
    /// Half width of its 95 % interval; `None` with one crow on a side.
    pub ci95_cents: Option<f64>,
    /// Whether it is told at one blowing strength.
    pub level_adjusted: bool,
    /// Whether octaves were in order before; `None` where the sound does not tell.
    pub octaves_before: Option<bool>,
    /// Whether they are after.
    pub octaves_after: Option<bool>,
}

impl Facts {
    /// Of everything the log holds of a reed; its outline is enough.
    pub fn of(history: &History) -> Self {
        let stages = timeline(history);
        let mut way: Vec<Phase> = Vec::with_capacity(stages.len());
        for stage in stages {
            let changed = way.last().and_then(|before| changed(history, &before.stage, &stage));
            let takes = history.takes.iter().filter(|t| t.take.after_step == stage.number);
            way.push(Phase {
                at: stage.step.as_ref().map_or(&history.reed.at, |step| &step.at).clone(),
                heard: takes.map(heard).collect(),
                advised: advised(history, stage.number),
                changed,
                stage,
            });
        }
        let reed = &history.reed;
        let moments = [&reed.at].into_iter().chain(&reed.ended_at).chain(&reed.conditions_at);
        let entries = (history.steps.iter().map(|step| &step.at))
            .chain(history.takes.iter().map(|take| &take.take.at))
            .chain(history.measurements.iter().map(|measured| &measured.at))
            .chain(history.inspections.iter().map(|seen| &seen.at));
        Self {
            uid: reed.uid.clone(),
            card: reed.card.clone(),
            at: reed.at.clone(),
            ended_at: reed.ended_at.clone(),
            last_at: moments.chain(entries).max().cloned().unwrap_or_default(),
            way,
        }
    }

    /// The last phase in which it was blown.
    pub fn last_blown(&self) -> Option<&Phase> {
        self.way.iter().rev().find(|phase| phase.stage.takes > 0)
    }

    /// How many cuts were made.
    pub fn cuts(&self) -> usize {
        self.way.iter().filter(|phase| phase.cut().is_some()).count()
    }

    /// The phases since the reed came last.
    pub fn since_it_came(&self) -> &[Phase] {
        let last = self.way.iter().rposition(Phase::is_return);
        self.way.get(last.unwrap_or(0)..).unwrap_or_default()
    }

    /// The longest it is said to have been played, in hours.
    pub fn hours_played(&self) -> Option<f64> {
        let takes = self.way.iter().flat_map(|phase| &phase.heard);
        takes.filter_map(|take| take.conditions.as_ref()?.hours_played).reduce(f64::max)
    }
}

/// A step after which the reed was worse off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Misstep {
    /// Its number.
    pub step: u32,
    /// Whether octaves were lost; else the pitch went further from the target than counts as in tune.
    pub lost_octaves: bool,
}

impl Facts {
    /// Where it went wrong: steps after which octaves that had been in order were not, or the pitch was
    /// out of tune and surely further off than before.
    ///
    /// * `tolerance_cents`: what counts as in tune.
    pub fn missteps(&self, tolerance_cents: f64) -> Vec<Misstep> {
        let pairs = self.way.windows(2).filter_map(|pair| match pair {
            [before, after] => Some((before, after, after.changed?)),
            _ => None,
        });
        pairs
            .filter_map(|(before, after, changed)| {
                let step = after.stage.number;
                if (changed.octaves_before, changed.octaves_after) == (Some(true), Some(false)) {
                    return Some(Misstep { step, lost_octaves: true });
                }
                let (was, is) = (before.stage.target_cents?.abs(), after.stage.target_cents?.abs());
                let surely = is - was > changed.ci95_cents?;
                (surely && is > tolerance_cents).then_some(Misstep { step, lost_octaves: false })
            })
            .collect()
    }
}

impl Phase {
    /// What the cuts since an earlier phase changed together; `None` where the reed was not crowed there or
    /// not blown here.
    pub fn changed_from(&self, earlier: &Self, history: &History) -> Option<Changed> {
        changed(history, &earlier.stage, &self.stage)
    }

    /// Whether it began with the reed's return.
    pub fn is_return(&self) -> bool {
        self.stage.step.as_ref().is_some_and(|logged| logged.step.is_return())
    }

    /// The cut that led here.
    pub fn cut(&self) -> Option<Cut> {
        self.stage.step.as_ref()?.step.cut
    }

    /// How much of it, in millimetres.
    pub fn amount_mm(&self) -> Option<f64> {
        self.stage.step.as_ref()?.step.amount_mm
    }
}

fn heard(take: &ReadTake) -> Heard {
    let reading = take.reading.as_ref().map(|logged| as_heard(&logged.reading, &take.heard));
    let crows: Vec<_> = reading.iter().flat_map(|reading| &reading.crows).collect();
    let sounding = || crows.iter().filter(|crow| crow.kind != Kind::Breath);
    let cents = sounding().filter_map(|crow| crow.figures.fundamental.target_cents);
    let octaves = sounding().filter(|crow| crow.kind == Kind::Octaves).count();
    let count = sounding().count();
    Heard {
        at: take.take.at.clone(),
        cents: median(cents),
        in_octaves: (count > 0).then_some(2 * octaves > count),
        conditions: take.take.conditions.clone(),
    }
}

/// What was advised last at a stage: as it stood when the next cut was made, of a cut that was written
/// down without it as the last take told it.
fn advised(history: &History, stage: u32) -> Option<Advised> {
    if let Some(stood) = history.cut(stage + 1).and_then(|cut| cut.advised) {
        return Some(stood);
    }
    let takes = history.takes.iter().rev().filter(|take| take.take.after_step == stage);
    let advice = takes.filter_map(|take| take.reading.as_ref()?.advice.as_ref()).next()?;
    Some(Advised::of(advice))
}

/// What the cuts between two stages changed.
fn changed(history: &History, before: &Stage, after: &Stage) -> Option<Changed> {
    after.step.as_ref()?.step.cut?;
    if before.crows == 0 || after.takes == 0 {
        return None;
    }
    let readings = |stage: &Stage| -> Vec<Reading> {
        history.readings_at(stage.number).into_iter().cloned().collect()
    };
    let pitch = pitch_change(&readings(before), &readings(after), history.blowing);
    // What may be octaves or one tone has neither lost nor found them.
    let in_octaves = |stage: &Stage| match stage.kind {
        Some(Kind::Blended) => None,
        kind => Some(kind == Some(Kind::Octaves)),
    };
    Some(Changed {
        cents: pitch.map(|change| folded(change.cents)),
        ci95_cents: pitch.and_then(|change| change.ci95_cents),
        level_adjusted: pitch.is_some_and(|change| change.level_adjusted),
        octaves_before: in_octaves(before),
        octaves_after: in_octaves(after),
    })
}

/// To the nearest octave: −600 … +600 cents. A crow that lost or found its low octave counts as one
/// note.
pub(super) fn folded(cents: f64) -> f64 {
    cents - 1200.0 * (cents / 1200.0).round()
}

/// What one take says, in short.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Heard {
    /// When it was added (UTC, ISO 8601).
    pub at: String,
    /// Median pitch of its crows, in cents from the target.
    pub cents: Option<f64>,
    /// Whether its crows are mostly in octaves; `None` where nothing crows.
    pub in_octaves: Option<bool>,
    /// How it was crowed.
    pub conditions: Option<Conditions>,
}
