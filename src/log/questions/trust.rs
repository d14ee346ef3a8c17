//! Whether the adviser is to be trusted: what was foretold of each move that was then made, against what
//! came.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::{Middle, Share};
use crate::advice::Advice;
use crate::dsp::statistics::median;
use crate::log::History;
use crate::profile::Profile;
use crate::reading::{Crow, Kind, Reading};
use crate::reed::Cut;

/// One move that was advised, made, and crowed after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Foretold {
    /// Label of the reed.
    pub reed: String,
    /// Which of its cuts.
    pub number: u32,
    /// What was done.
    pub cut: Cut,
    /// The chance that was said, 0 … 1.
    pub said: f64,
    /// Whether it did what it is for: of a clip, the pitch came nearer; of other work, more crows are in
    /// octaves, or as many and the pitch is less far out of tune.
    pub came: bool,
    /// Where the pitch was to be, in cents from the target: its 95 % interval.
    pub foretold_cents: Option<(f64, f64)>,
    /// Where it was.
    pub came_cents: Option<f64>,
}

/// One kind of move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrustInMove {
    /// Which.
    pub cut: Cut,
    /// Mean of the chances that were said, 0 … 1.
    pub said: f64,
    /// How often it did what it is for.
    pub came: Share,
    /// How often the pitch lay where it was foretold; `None` where none was.
    pub pitch_held: Option<Share>,
    /// How far it lay from the middle of that, in cents.
    pub pitch_off_cents: Option<Middle>,
}

/// Moves that were said to be about as sure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AsSure {
    /// From this chance, 0 … 1 …
    pub from: f64,
    /// … to this.
    pub to: f64,
    /// Mean of what was said.
    pub said: f64,
    /// How often it came.
    pub came: Share,
}

/// The answer.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrustAnswer {
    /// By kind of move, the commonest first.
    pub moves: Vec<TrustInMove>,
    /// By how sure it was said to be.
    pub sure: Vec<AsSure>,
    /// Brier score: mean square of what was said less what came (1 or 0); 0.25 is a coin's. `None` of
    /// none.
    pub brier: Option<f64>,
    /// Each move.
    pub all: Vec<Foretold>,
}

/// What was foretold, and what came.
///
/// A cut counts where the last take before it advised that very cut, and the reed was blown after it.
///
/// * `profile`: of a reed; one whose profile cannot be read counts without a pitch.
pub fn trust(histories: &[History], profile: impl Fn(&History) -> Option<Profile>) -> TrustAnswer {
    let all: Vec<Foretold> =
        histories.iter().flat_map(|history| of_reed(history, profile(history).as_ref())).collect();
    let mut by_cut: BTreeMap<Cut, Vec<&Foretold>> = BTreeMap::new();
    all.iter().for_each(|one| by_cut.entry(one.cut).or_default().push(one));
    let mut moves: Vec<TrustInMove> =
        by_cut.into_iter().filter_map(|(cut, of)| in_move(cut, &of)).collect();
    moves.sort_by_key(|one| std::cmp::Reverse(one.came.of));
    let square = |one: &Foretold| (one.said - if one.came { 1.0 } else { 0.0 }).powi(2);
    let count = all.len() as f64;
    TrustAnswer {
        moves,
        sure: (0..5).filter_map(|fifth| as_sure(&all, fifth)).collect(),
        brier: (!all.is_empty()).then(|| all.iter().map(square).sum::<f64>() / count),
        all,
    }
}

fn in_move(cut: Cut, of: &[&Foretold]) -> Option<TrustInMove> {
    let pitch: Vec<(f64, f64, f64)> = of
        .iter()
        .filter_map(|one| {
            let (low, high) = one.foretold_cents?;
            Some((low, high, one.came_cents?))
        })
        .collect();
    let off: Vec<f64> =
        pitch.iter().map(|(low, high, came)| (came - f64::midpoint(*low, *high)).abs()).collect();
    Some(TrustInMove {
        cut,
        said: of.iter().map(|one| one.said).sum::<f64>() / of.len() as f64,
        came: Share::of(of.iter().map(|one| one.came))?,
        pitch_held: Share::of(pitch.iter().map(|(low, high, came)| low <= came && came <= high)),
        pitch_off_cents: Middle::of(&off),
    })
}

fn as_sure(all: &[Foretold], fifth: u8) -> Option<AsSure> {
    let (from, to) = (0.2 * f64::from(fifth), 0.2 * f64::from(fifth + 1));
    let is_last = fifth == 4;
    let of = || all.iter().filter(|one| one.said >= from && (one.said < to || is_last));
    let came = Share::of(of().map(|one| one.came))?;
    let said = of().map(|one| one.said).sum::<f64>() / came.of as f64;
    Some(AsSure { from, to, said, came })
}

fn of_reed(history: &History, profile: Option<&Profile>) -> Vec<Foretold> {
    (1..=history.stage()).filter_map(|number| of_cut(history, number, profile)).collect()
}

fn of_cut(history: &History, number: u32, profile: Option<&Profile>) -> Option<Foretold> {
    let cut = history.cut(number)?.step.cut?;
    let advice = last_advice(history, number - 1)?;
    if Cut::at(advice.next, advice.r#where.place()) != Some(cut) {
        return None;
    }
    let before = State::of(&history.readings_at(number - 1))?;
    let after = State::of(&history.readings_at(number))?;
    let limit = profile.map_or(0.0, |profile| profile.tolerance.target_cents);
    let foretold = advice.expected.iter().find(|one| one.figure == "fundamental.target_cents");
    Some(Foretold {
        reed: history.reed.card.label.clone(),
        number,
        cut,
        said: advice.chance.helps,
        came: after.is_better_than(&before, cut, limit),
        foretold_cents: foretold.map(|one| (one.low, one.high)),
        came_cents: after.cents,
    })
}

fn last_advice(history: &History, stage: u32) -> Option<&Advice> {
    let takes = history.takes.iter().rev().filter(|take| take.take.after_step == stage);
    takes.filter_map(|take| take.reading.as_ref()?.advice.as_ref()).next()
}

/// What was heard of one state of the reed.
struct State {
    /// Share of the crows that are in octaves, puffs alone counting as crows that did not come.
    octaves: f64,
    cents: Option<f64>,
}

impl State {
    /// `None` where it was not blown.
    fn of(readings: &[&Reading]) -> Option<Self> {
        if readings.is_empty() {
            return None;
        }
        let crows: Vec<&Crow> = readings.iter().flat_map(|reading| &reading.crows).collect();
        let octaves = crows.iter().filter(|crow| crow.kind == Kind::Octaves).count();
        let tones = crows.iter().filter_map(|crow| crow.figures.fundamental.target_cents);
        Some(Self {
            octaves: octaves as f64 / crows.len().max(1) as f64,
            cents: median(tones.filter(|cents| cents.is_finite())),
        })
    }

    fn is_better_than(&self, before: &Self, cut: Cut, limit: f64) -> bool {
        let off = |state: &Self| state.cents.map(f64::abs);
        let out = |state: &Self| off(state).map(|off| (off - limit).max(0.0));
        if let (Cut::Clip, Some(was), Some(is)) = (cut, off(before), off(self)) {
            let is_for_pitch = before.cents.is_some_and(|cents| cents < -limit);
            if is_for_pitch {
                return is < was;
            }
        }
        // One crow in three may go either way by chance: as many is no more.
        self.octaves > before.octaves
            || (self.octaves == before.octaves
                && matches!((out(self), out(before)), (Some(is), Some(was)) if is < was))
    }
}
