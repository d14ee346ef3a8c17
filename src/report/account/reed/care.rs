//! What to take care of with knives, mouths and sealed reeds.

use super::Reed;
use crate::reed::{Corners, Cut, Move};
use crate::report::account::letter::Item;
use crate::words::account::Words;

/// What to take care of, once for all reeds.
pub fn care(reeds: &[Reed<'_>], words: &Words) -> Vec<Item> {
    let any = |is: &dyn Fn(&Reed<'_>) -> bool| reeds.iter().any(is);
    let cuts = |reed: &Reed<'_>, is: fn(Cut) -> bool| {
        reed.history().steps.iter().any(|logged| logged.step.cut.is_some_and(is))
    };
    let of_use = |reed: &Reed<'_>| !reed.is_given_up();
    // By the last look, whatever was cut since: a clip may leave a splinter.
    let chipped = |reed: &Reed<'_>| {
        let corners = reed.history().seen().into_iter().rev().find_map(|seen| seen.now.corners);
        corners == Some(Corners::Chipped)
    };
    let crowed = any(&|reed| !reed.history().takes.is_empty());
    let keys = [
        Some(if crowed { "care-mouth-crowed" } else { "care-mouth" }),
        any(&chipped).then_some("care-chipped"),
        any(&|reed| of_use(reed) && cuts(reed, Cut::takes_cane)).then_some("care-fresh"),
        any(&of_use).then_some("care-scraping"),
        any(&|reed| cuts(reed, |cut| cut.of() == Move::Seal)).then_some("care-sealed"),
    ];
    keys.into_iter().flatten().map(|key| words.say(key, &[]).into()).collect()
}
