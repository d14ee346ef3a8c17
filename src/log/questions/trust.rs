//! Whether the adviser is to be trusted: what was foretold of each move that was then made, against what
//! came.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::{Middle, Share};
use crate::log::card::Card;
use crate::log::facts::{Facts, Phase};
use crate::log::timeline::Stage;
use crate::reading::Kind;
use crate::reed::Cut;

/// Of fewer moves no share and no score is told (our choice: two that helped are no proof).
pub const FEWEST_MOVES: usize = 10;

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
    /// octaves, or as many and the pitch is less far out of tune. No fault gave way to another.
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
    /// fewer than [`FEWEST_MOVES`].
    pub brier: Option<f64>,
    /// Each move.
    pub all: Vec<Foretold>,
}

/// What was foretold, and what came.
///
/// A cut counts where that very cut was what was advised last before it was made, and the reed was blown
/// after it.
///
/// * `tolerance_cents`: what counts as in tune on a reed; 0 where its profile cannot be read.
pub fn trust(reeds: &[Facts], mut tolerance_cents: impl FnMut(&Card) -> f64) -> TrustAnswer {
    let all: Vec<Foretold> =
        reeds.iter().flat_map(|facts| of_reed(facts, tolerance_cents(&facts.card))).collect();
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
        brier: (all.len() >= FEWEST_MOVES).then(|| all.iter().map(square).sum::<f64>() / count),
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

fn of_reed(facts: &Facts, tolerance_cents: f64) -> Vec<Foretold> {
    let pairs = facts.way.windows(2).filter_map(|pair| match pair {
        [before, after] => of_cut(facts, before, after, tolerance_cents),
        _ => None,
    });
    pairs.collect()
}

fn of_cut(facts: &Facts, before: &Phase, after: &Phase, tolerance_cents: f64) -> Option<Foretold> {
    let cut = after.cut()?;
    let advised = before.advised.filter(|advised| advised.cut == Some(cut))?;
    if before.stage.takes == 0 || after.stage.takes == 0 {
        return None;
    }
    Some(Foretold {
        reed: facts.card.label.clone(),
        number: after.stage.number,
        cut,
        said: advised.helps,
        came: is_better(cut, &before.stage, &after.stage, tolerance_cents),
        foretold_cents: advised.target_cents,
        came_cents: after.stage.target_cents,
    })
}

/// Whether a reed is better after a cut than before.
fn is_better(cut: Cut, before: &Stage, after: &Stage, tolerance_cents: f64) -> bool {
    // What did not crow and now does is better, however it crows.
    if before.crows == 0 {
        return after.crows > 0;
    }
    // A peep that became two tones is a fault as before.
    let is_fault = |kind: Kind| !matches!(kind, Kind::Octaves | Kind::Blended);
    if after.kind.is_some_and(is_fault) && after.kind != before.kind {
        return false;
    }
    let off = |stage: &Stage| stage.target_cents.map(f64::abs);
    let out = |stage: &Stage| off(stage).map(|off| (off - tolerance_cents).max(0.0));
    if let (Cut::Clip, Some(was), Some(is)) = (cut, off(before), off(after)) {
        let is_for_pitch = before.target_cents.is_some_and(|cents| cents < -tolerance_cents);
        if is_for_pitch {
            return is < was;
        }
    }
    // One crow in three may go either way by chance: as many is no more.
    let (had, has) = (before.in_octaves.unwrap_or(0.0), after.in_octaves.unwrap_or(0.0));
    has > had
        || (has == had && matches!((out(after), out(before)), (Some(is), Some(was)) if is < was))
}
