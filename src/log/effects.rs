//! What each kind of cut did, over every reed in the log.

use super::history::{History, LoggedStep};
use super::timeline::{Stage, timeline};
use crate::comparison::{Effect, Effects, PitchChange, pitch_change};
use crate::dsp::statistics::median;
use crate::reading::{Kind, Reading};
use crate::reed::Cut;

/// What past cuts did on the median, over all reeds.
///
/// A cut counts where the reed was crowed right before it and blown right after it: one after which
/// it no longer crows lost the octaves. `last` is left empty:
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

/// One cut between takes.
struct Pair {
    cut: Cut,
    pitch: Option<PitchChange>,
    clipped_mm: Option<f64>,
    /// Whether octaves were in order before and after.
    octaves: (bool, bool),
}

fn pairs(history: &History) -> Vec<Pair> {
    let stages = timeline(history);
    stages
        .windows(2)
        .filter_map(|pair| match pair {
            [before, after] => blown_pair(history, before, after),
            _ => None,
        })
        .collect()
}

fn blown_pair(history: &History, before: &Stage, after: &Stage) -> Option<Pair> {
    let LoggedStep { step, .. } = after.step.as_ref()?;
    let cut = step.cut?;
    if before.crows == 0 || after.takes == 0 {
        return None;
    }
    let readings = |stage: &Stage| -> Vec<Reading> {
        history.readings_at(stage.number).into_iter().cloned().collect()
    };
    let pitch = pitch_change(&readings(before), &readings(after))
        .map(|change| PitchChange { cents: folded(change.cents), ..change });
    let in_octaves = |stage: &Stage| stage.kind == Some(Kind::Octaves);
    let clipped_mm = step.amount_mm.filter(|_| cut == Cut::Clip);
    Some(Pair { cut, pitch, clipped_mm, octaves: (in_octaves(before), in_octaves(after)) })
}

/// To the nearest octave: −600 … +600 cents. A crow that lost or found its low octave counts as
/// one note.
fn folded(cents: f64) -> f64 {
    cents - 1200.0 * (cents / 1200.0).round()
}

fn effect(cut: Cut, pairs: &[Pair]) -> Effect {
    let of_kind = || pairs.iter().filter(move |pair| pair.cut == cut);
    let pitch: Vec<PitchChange> = of_kind().filter_map(|pair| pair.pitch).collect();
    let cents: Vec<f64> = pitch.iter().map(|change| change.cents).collect();
    let per_mm: Vec<f64> = of_kind()
        .filter_map(|pair| Some(pair.pitch?.cents / pair.clipped_mm?))
        .filter(|cents| cents.is_finite())
        .collect();
    let share = |count: usize, of: usize| (of > 0).then(|| count as f64 / of as f64);
    let octaves = |before: bool, after: bool| {
        of_kind().filter(|pair| pair.octaves == (before, after)).count()
    };
    let (came, stayed_away) = (octaves(false, true), octaves(false, false));
    let (lost, stayed) = (octaves(true, false), octaves(true, true));
    Effect {
        cut,
        count: pitch.len(),
        pitch_cents: median(cents.iter().copied()),
        pitch_cents_per_mm: median(per_mm),
        pitch_rose: cents.iter().filter(|cents| **cents > 0.0).count(),
        level_adjusted: pitch.iter().filter(|change| change.level_adjusted).count(),
        octaves_came: share(came, came + stayed_away),
        without_octaves: came + stayed_away,
        octaves_lost: share(lost, lost + stayed),
        with_octaves: lost + stayed,
    }
}
