//! What each kind of cut did, over every reed in the log.

use super::history::{History, LoggedStep};
use super::timeline::{Stage, timeline};
use crate::comparison::{Effect, Effects, PastCut, PitchChange, Whose, pitch_change};
use crate::dsp::statistics::median;
use crate::reading::{Kind, Reading};
use crate::reed::Cut;

/// What past cuts did on the median, over all reeds.
///
/// A cut counts where the reed was crowed right before it and blown right after it: one after which
/// it no longer crows lost the octaves.
pub fn effects(histories: &[History]) -> Effects {
    let pairs: Vec<Pair> = histories.iter().flat_map(pairs).collect();
    let kinds: std::collections::BTreeSet<Cut> = pairs.iter().map(|pair| pair.cut).collect();
    let past = pairs.iter().filter_map(Pair::taught).collect();
    Effects { cuts: kinds.into_iter().map(|cut| effect(cut, &pairs)).collect(), past }
}

/// By whom and of what a reed is made: whose past cuts say most of its next one.
pub fn whose(history: &History) -> Whose {
    let card = &history.reed.card;
    // Makers write one name now with capitals, now without.
    let name = |text: &Option<String>| text.clone().unwrap_or_default().trim().to_lowercase();
    Whose { maker: name(&card.maker), cane: name(&card.cane), reed: history.reed.uid.clone() }
}

/// How far one crow's pitch usually lies from the next, in cents (standard deviation; our choice, as in
/// the profiles).
const USUAL_CENTS: f64 = 8.0;

/// One cut between takes.
struct Pair {
    cut: Cut,
    pitch: Option<PitchChange>,
    clipped_mm: Option<f64>,
    /// Whether octaves were in order before and after.
    octaves: (bool, bool),
    /// Crows before and after.
    crows: (usize, usize),
    whose: Whose,
}

impl Pair {
    /// What it says of what such a cut does to the pitch; `None` where that was not heard.
    fn taught(&self) -> Option<(Cut, PastCut)> {
        let amount = if self.cut == Cut::Clip { self.clipped_mm? } else { 1.0 };
        let Whose { maker, cane, reed } = self.whose.clone();
        let share = |crows: usize| 1.0 / crows.max(1) as f64;
        let cents_sd = USUAL_CENTS * (share(self.crows.0) + share(self.crows.1)).sqrt();
        let cents = self.pitch?.cents;
        Some((self.cut, PastCut { maker, cane, reed, amount, cents, cents_sd }))
    }
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
    Some(Pair {
        cut,
        pitch,
        clipped_mm,
        octaves: (in_octaves(before), in_octaves(after)),
        crows: (before.crows, after.crows),
        whose: whose(history),
    })
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
