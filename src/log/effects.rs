//! What each kind of cut did, over every reed in the log.

use super::history::{History, LoggedStep};
use super::timeline::{Stage, timeline};
use crate::comparison::{Cut, Effect, Effects, median};
use crate::reading::Kind;

/// What past cuts did on the median, over all reeds.
///
/// A cut counts where the reed was crowed right before and right after it. `last` is left empty:
/// [`last_cut`] says it of one reed.
pub fn effects(histories: &[History]) -> Effects {
    let pairs: Vec<Pair> = histories.iter().flat_map(pairs).collect();
    let kinds: std::collections::BTreeSet<Cut> = pairs.iter().map(|pair| pair.cut).collect();
    Effects { cuts: kinds.into_iter().map(|cut| effect(cut, &pairs)).collect(), last: None }
}

/// What was done last to a reed; `None` where nothing was.
pub fn last_cut(history: &History) -> Option<Cut> {
    history.cut(history.stage())?.step.cut
}

/// One cut between crows.
struct Pair {
    cut: Cut,
    pitch_cents: Option<f64>,
    clipped_mm: Option<f64>,
    /// Whether octaves were in order before and after.
    octaves: (bool, bool),
}

fn pairs(history: &History) -> Vec<Pair> {
    let stages = timeline(history);
    stages
        .windows(2)
        .filter_map(|pair| match pair {
            [before, after] => crowed_pair(before, after),
            _ => None,
        })
        .collect()
}

fn crowed_pair(before: &Stage, after: &Stage) -> Option<Pair> {
    let LoggedStep { step, .. } = after.step.as_ref()?;
    let cut = step.cut?;
    let octaves = (before.kind? == Kind::Octaves, after.kind? == Kind::Octaves);
    let pitch_cents = match (before.target_cents, after.target_cents, before.hz, after.hz) {
        // From the target, so that a crow that lost or found its low octave counts as one note.
        (Some(before), Some(after), ..) => Some(folded(after - before)),
        (_, _, Some(before), Some(after)) => Some(folded(1200.0 * (after / before).log2())),
        _ => None,
    };
    let clipped_mm = step.amount_mm.filter(|_| cut == Cut::Clip);
    Some(Pair { cut, pitch_cents, clipped_mm, octaves })
}

/// To the nearest octave: −600 … +600 cents.
fn folded(cents: f64) -> f64 {
    cents - 1200.0 * (cents / 1200.0).round()
}

fn effect(cut: Cut, pairs: &[Pair]) -> Effect {
    let of_kind = || pairs.iter().filter(move |pair| pair.cut == cut);
    let pitch: Vec<f64> = of_kind().filter_map(|pair| pair.pitch_cents).collect();
    let per_mm: Vec<f64> = of_kind()
        .filter_map(|pair| Some(pair.pitch_cents? / pair.clipped_mm?))
        .filter(|cents| cents.is_finite())
        .collect();
    let without: Vec<bool> =
        of_kind().filter(|pair| !pair.octaves.0).map(|pair| pair.octaves.1).collect();
    let came = without.iter().filter(|came| **came).count();
    Effect {
        cut,
        count: pitch.len(),
        pitch_cents: median(&pitch),
        pitch_cents_per_mm: median(&per_mm),
        octaves_came: (!without.is_empty()).then(|| came as f64 / without.len() as f64),
    }
}
