//! What each kind of cut did, over every reed in the log.

use std::sync::LazyLock;

use super::card::{Card, is_practice};
use super::facts::{Changed, Facts, folded};
use super::history::History;
use crate::advice::{Stage as StoryStage, Story};
use crate::comparison::{Effect, Effects, PastCut, Whose, pitch_change};
use crate::dsp::statistics::median;
use crate::profile::{Blowing, Profile};
use crate::reading::{Kind, Reading};
use crate::reed::Cut;

/// What past cuts did on the median, over all reeds.
///
/// A cut counts where the reed was crowed right before it and blown right after it: one after which
/// it no longer crows lost the octaves. Reeds for practice teach nothing.
pub fn effects(reeds: &[Facts]) -> Effects {
    let of_reeds = reeds.iter().filter(|facts| !is_practice(&facts.card.label));
    let pairs: Vec<Pair> = of_reeds.flat_map(pairs).collect();
    let kinds: std::collections::BTreeSet<Cut> = pairs.iter().map(|pair| pair.cut).collect();
    let past = pairs.iter().filter_map(Pair::taught).collect();
    Effects { cuts: kinds.into_iter().map(|cut| effect(cut, &pairs)).collect(), past }
}

/// By whom and of what a reed is made: whose past cuts say most of its next one.
pub fn whose(history: &History) -> Whose {
    whose_card(&history.reed.card, &history.reed.uid)
}

fn whose_card(card: &Card, uid: &str) -> Whose {
    // Makers write one name now with capitals, now without.
    let name = |text: &Option<String>| text.clone().unwrap_or_default().trim().to_lowercase();
    Whose { maker: name(&card.maker), cane: name(&card.cane), reed: uid.to_owned() }
}

/// How far one crow's pitch usually lies from the next, in cents (standard deviation): that of the usual
/// profile, since these cuts are of reeds of any profile, some of them files that are gone.
static USUAL_CENTS: LazyLock<f64> = LazyLock::new(|| Profile::default().advice.usual_spread_cents);

/// One cut between takes.
struct Pair {
    cut: Cut,
    changed: Changed,
    clipped_mm: Option<f64>,
    /// Crows before and after.
    crows: (usize, usize),
    whose: Whose,
}

impl Pair {
    /// What it says of what such a cut does to the pitch; `None` where that was not heard.
    fn taught(&self) -> Option<(Cut, PastCut)> {
        past_cut(self.cut, self.clipped_mm, self.changed.cents?, self.crows, self.whose.clone())
    }
}

/// * `crows`: before and after.
fn past_cut(
    cut: Cut,
    amount_mm: Option<f64>,
    cents: f64,
    crows: (usize, usize),
    whose: Whose,
) -> Option<(Cut, PastCut)> {
    let amount = if cut == Cut::Clip { amount_mm? } else { 1.0 };
    let Whose { maker, cane, reed } = whose;
    let share = |crows: usize| 1.0 / crows.max(1) as f64;
    let cents_sd = *USUAL_CENTS * (share(crows.0) + share(crows.1)).sqrt();
    Some((cut, PastCut { maker, cane, reed, amount, cents, cents_sd }))
}

/// What the cuts of one reed say of what such cuts do to the pitch.
///
/// * `blowing`: what it does to the pitch in the crows of the whole log.
pub(super) fn of_story(story: &Story, blowing: Option<Blowing>) -> Vec<(Cut, PastCut)> {
    let sounding = |takes: &[Reading]| {
        let crows = takes.iter().flat_map(|take| &take.crows);
        crows.filter(|crow| crow.kind != Kind::Breath).count()
    };
    let of_pair = |pair: &[StoryStage]| {
        let [before, after] = pair else { return None };
        let (cut, amount_mm) = before.work?;
        let cents = pitch_change(&before.takes, &after.takes, blowing)?.cents;
        let crows = (sounding(&before.takes), sounding(&after.takes));
        past_cut(cut, amount_mm, folded(cents), crows, story.whose.clone())
    };
    story.stages.windows(2).filter_map(of_pair).collect()
}

fn pairs(facts: &Facts) -> impl Iterator<Item = Pair> {
    facts.way.windows(2).filter_map(|pair| {
        let [before, after] = pair else { return None };
        let (cut, changed) = (after.cut()?, after.changed?);
        Some(Pair {
            cut,
            changed,
            clipped_mm: after.amount_mm().filter(|_| cut == Cut::Clip),
            crows: (before.stage.crows, after.stage.crows),
            whose: whose_card(&facts.card, &facts.uid),
        })
    })
}

fn effect(cut: Cut, pairs: &[Pair]) -> Effect {
    let of_kind = || pairs.iter().filter(move |pair| pair.cut == cut);
    let cents: Vec<f64> = of_kind().filter_map(|pair| pair.changed.cents).collect();
    let per_mm: Vec<f64> = of_kind()
        .filter_map(|pair| Some(pair.changed.cents? / pair.clipped_mm?))
        .filter(|cents| cents.is_finite())
        .collect();
    let share = |count: usize, of: usize| (of > 0).then(|| count as f64 / of as f64);
    let octaves = |before: bool, after: bool| {
        let is_so = |pair: &&Pair| {
            (pair.changed.octaves_before, pair.changed.octaves_after) == (Some(before), Some(after))
        };
        of_kind().filter(is_so).count()
    };
    let (came, stayed_away) = (octaves(false, true), octaves(false, false));
    let (lost, stayed) = (octaves(true, false), octaves(true, true));
    Effect {
        cut,
        count: cents.len(),
        pitch_cents: median(cents.iter().copied()),
        pitch_cents_per_mm: median(per_mm),
        pitch_rose: cents.iter().filter(|cents| **cents > 0.0).count(),
        level_adjusted: of_kind().filter(|pair| pair.changed.level_adjusted).count(),
        octaves_came: share(came, came + stayed_away),
        without_octaves: came + stayed_away,
        octaves_lost: share(lost, lost + stayed),
        with_octaves: lost + stayed,
    }
}
