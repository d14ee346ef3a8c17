//! Where on the reed a move is made, as rules name it.

use super::case::Facts;
use crate::reed::{Corners, Fault};
use crate::units::Millimetres;

/// The move has no place.
pub(super) fn nowhere(_: &Facts) -> Option<String> {
    None
}

/// What is done to the opening before anything is cut.
pub(super) fn free_move(facts: &Facts) -> Option<String> {
    if facts.found(Fault::OpeningWide).holds {
        Some("first press the blades a little closed".into())
    } else if facts.found(Fault::OpeningClosed).holds {
        Some("first open the tip gently".into())
    } else {
        None
    }
}

/// What a clip takes.
pub(super) fn the_end(_: &Facts) -> Option<String> {
    Some("the end, straight across".into())
}

/// What was found that leads to a place of [`tip`] work.
pub(super) const OF_THE_TIP: [Fault; 4] =
    [Fault::Uneven, Fault::CornerChipped, Fault::CornersThick, Fault::TipSidesThick];

/// The places of tip work, the ones found wanting first; never a corner that is chipped.
pub(super) fn tip(facts: &Facts) -> Option<String> {
    let chipped = facts.found(Fault::CornerChipped).holds;
    let place = if facts.found(Fault::Uneven).holds {
        "the heavier side of the tip only"
    } else if chipped {
        "the sides of the tip, all four alike, clear of its corners"
    } else if facts.tip_seen_thin() {
        return blend(facts);
    } else if facts.found(Fault::CornersThick).holds {
        "the corners of the tip, all four alike"
    } else if facts.case.seen.corners == Some(Corners::Thin) {
        "the sides of the tip only, all four alike; the corners were seen thin"
    } else if facts.found(Fault::TipSidesThick).holds {
        "the sides of the tip, all four alike"
    } else {
        "the sides and corners of the tip, all four alike, and the step to the heart"
    };
    Some(place.into())
}

/// Where tip and heart meet.
pub(super) fn blend(_: &Facts) -> Option<String> {
    Some("the step from tip to heart, so that it is clear and alike on both blades".into())
}

/// Where the tip should begin.
pub(super) fn lower_step(facts: &Facts) -> Option<String> {
    let usual = facts.profile().dimensions.tip_start;
    Some(usual.map_or_else(
        || "the start of the tip, moved down".into(),
        |usual| {
            let usual = Millimetres(usual);
            format!("the start of the tip, moved down towards {usual} from the bottom")
        },
    ))
}

/// The heart without its spine.
pub(super) fn heart_sides(_: &Facts) -> Option<String> {
    Some("the sides of the heart, leaving the spine".into())
}

/// The back without rails, spine and bark.
pub(super) fn windows(_: &Facts) -> Option<String> {
    Some("the windows, leaving rails, spine and the bark below".into())
}
