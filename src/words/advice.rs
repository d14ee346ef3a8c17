//! The next move in words: what to do, where, and what to take care of.

use crate::advice::{Wanted, Where};
use crate::reed::{Move, Place};

/// A move in one or two words, for a cell of a table.
pub fn short(next: Move) -> &'static str {
    match next {
        Move::Clip => "clip",
        Move::Tip => "tip",
        Move::Heart => "heart",
        Move::Back => "back",
        Move::Opening => "opening",
        Move::Seal => "seal",
        Move::Retie => "retie",
        Move::Measure => "measure",
        Move::Look => "look",
        Move::Recrow => "crow again",
        Move::Leave => "leave it",
        Move::Stop => "stop",
    }
}

/// A move as an order, as it begins a headline.
pub fn order(next: Move) -> &'static str {
    match next {
        Move::Clip => "Clip the end",
        Move::Tip => "Work on the tip",
        Move::Heart => "Scrape the heart",
        Move::Back => "Scrape the back",
        Move::Opening => "Press the opening, cut nothing",
        Move::Seal => "Seal the leak",
        Move::Retie => "Tie it again",
        Move::Measure => "Measure it, cut nothing",
        Move::Look => "Look at it, cut nothing",
        Move::Recrow => "Crow it again, cut nothing",
        Move::Leave => "Leave it alone",
        Move::Stop => "Stop, and give this reed up",
    }
}

/// Where a move is made; `None` where it has no place, or where the order says it already.
pub fn place(next: Move, at: &Where) -> Option<String> {
    match at {
        Where::Nowhere => None,
        Where::At(place) => of_place(next, *place).map(str::to_owned),
        Where::Wanted(wanted) => {
            let each: Vec<&str> = wanted.iter().map(|one| asked(next, *one)).collect();
            match each.as_slice() {
                [] => None,
                [first @ .., last] if !first.is_empty() => {
                    Some(format!("{} and {last}", first.join(", ")))
                }
                [only] => Some((*only).to_owned()),
                _ => None,
            }
        }
    }
}

fn of_place(next: Move, place: Place) -> Option<&'static str> {
    Some(match (next, place) {
        (Move::Clip, _) => "a sliver straight across",
        (Move::Tip, Place::Sides) => "the sides of the tip, all four alike",
        (Move::Tip, Place::Corners) => "the corners of the tip, all four alike",
        (Move::Tip, Place::Surface) => "the whole tip, evenly",
        (Move::Tip, _) => "the step from tip to heart, clear and alike on both blades",
        (Move::Heart, Place::Sides) => "the sides of the heart, leaving the spine",
        (Move::Heart, _) => "the heart all over, lightly",
        (Move::Back, Place::Rails) => "the rails, lightly",
        (Move::Back, _) => "the windows, leaving rails, spine and the bark below",
        (Move::Opening, Place::Wider) => "a little wider, by its edges",
        (Move::Opening, _) => "a little narrower, flat between finger and thumb",
        (Move::Seal, Place::Heart) => "beside the heart",
        (Move::Seal, _) => "low on the sides, by the winding",
        _ => return None,
    })
}

fn asked(next: Move, wanted: Wanted) -> &'static str {
    match (next, wanted) {
        (Move::Look, Wanted::Heart) => "the heart against the light",
        (_, Wanted::Length) => "the length",
        (_, Wanted::Staple) => "the staple",
        (_, Wanted::Winding) => "where the winding ends",
        (_, Wanted::Window) => "where the windows begin",
        (_, Wanted::Heart) => "where the heart ends",
        (_, Wanted::Tip) => "where the tip begins",
        (_, Wanted::Opening) => "the opening",
        (_, Wanted::Leak) => "leaks (close the tip and blow)",
        (_, Wanted::TipSides) => "the sides of the tip",
        (_, Wanted::Corners) => "the corners of the tip",
        (_, Wanted::Bark) => "the bark on the rails",
        (_, Wanted::Symmetry) => "both blades, whether they are alike",
        (_, Wanted::Overlap) => "how the blades overlap",
        (_, Wanted::Ear) => "what you hear: octaves, or one tone?",
    }
}
