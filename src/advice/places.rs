//! Where on the reed a move is made, as rules name it.

use super::case::Facts;
use super::{Place, Where};
use crate::reed::Fault;

/// The move has no place.
pub(super) fn nowhere(_: &Facts) -> Where {
    Where::Nowhere
}

/// What a clip takes.
pub(super) fn the_end(_: &Facts) -> Where {
    Where::At(Place::End)
}

/// What was found that leads to a place of [`tip`] work.
pub(super) const OF_THE_TIP: [Fault; 4] =
    [Fault::Uneven, Fault::CornerChipped, Fault::CornersThick, Fault::TipSidesThick];

/// The places of tip work, the ones found wanting first; never a corner that is chipped.
pub(super) fn tip(facts: &Facts) -> Where {
    let chipped = facts.found(Fault::CornerChipped).holds;
    let place = if facts.found(Fault::Uneven).holds || chipped {
        Place::Sides
    } else if facts.tip_seen_thin() {
        return blend(facts);
    } else if facts.found(Fault::CornersThick).holds {
        Place::Corners
    } else {
        Place::Sides
    };
    Where::At(place)
}

/// Where tip and heart meet.
pub(super) fn blend(_: &Facts) -> Where {
    Where::At(Place::Step)
}

/// The heart without its spine.
pub(super) fn heart_sides(_: &Facts) -> Where {
    Where::At(Place::Sides)
}

/// The back without rails, spine and bark.
pub(super) fn windows(_: &Facts) -> Where {
    Where::At(Place::Windows)
}
