//! What the maker saw, as findings.

use super::super::{Corners, Heart, Inspection, Leak, Overlap, Symmetry, TipSides};
use super::{Fault, Finding, PRACTICE};

pub(super) fn seen(seen: &Inspection, found: &mut Vec<Finding>) {
    let mut saw = |fault, says: &str, on_this_reed: &str, on_the_next: &str, from: &str| {
        found.push(Finding {
            fault,
            sure: 1.0,
            figure: looked_at(fault).into(),
            value_mm: None,
            usual_mm: None,
            says: says.into(),
            on_this_reed: on_this_reed.into(),
            on_the_next: on_the_next.into(),
            from: from.into(),
        });
    };
    match seen.leak {
        Some(Leak::Low) => saw(
            Fault::LeakLow,
            "it leaks low on the sides, by the winding",
            "tape or wrap over the leak usually holds",
            "close the sides fully before tying, and look at the shape's edges",
            PRACTICE,
        ),
        Some(Leak::Heart) => saw(
            Fault::LeakByHeart,
            "it leaks beside the heart",
            "it can rarely be sealed: a sealer there stiffens what should move",
            "look at the shape's edges and at how the blades close",
            PRACTICE,
        ),
        Some(Leak::None) | None => {}
    }
    if seen.overlap == Some(Overlap::Backwards) {
        saw(
            Fault::BackwardsOverlap,
            "the blades overlap backwards",
            "a finished reed keeps its overlap; slipping the blades by hand lasts rarely",
            "slip the blades the usual way before the last turns of thread",
            PRACTICE,
        );
    }
    if seen.tip_sides == Some(TipSides::Thick) {
        saw(
            Fault::TipSidesThick,
            "the tip is not thinnest at its sides",
            "thin the sides of the tip, towards the corners, all four alike",
            "scrape the tip outwards from its middle",
            PRACTICE,
        );
    }
    match seen.corners {
        Some(Corners::Thick) => saw(
            Fault::CornersThick,
            "the corners of the tip are thick",
            "thin the corners, all four alike",
            "finish the corners before the first crow",
            PRACTICE,
        ),
        Some(Corners::Chipped) => saw(
            Fault::CornerChipped,
            "a corner of the tip is chipped",
            "a clip past the damage mends it if the length allows",
            "keep the plaque under the corner while scraping it",
            PRACTICE,
        ),
        Some(Corners::Thin) | None => {}
    }
    match seen.heart {
        Some(Heart::Thick) => saw(
            Fault::HeartThick,
            "the heart is thick",
            "thin its sides lightly, leaving the spine",
            "gouge or profile it thinner there",
            "oboeinsight.com: hard and sharp, take cane off, sides of the heart among the places",
        ),
        Some(Heart::Thin) => saw(
            Fault::HeartThin,
            "the heart is too thin",
            "cane cannot be put back; only a clip can still help",
            "stop earlier at the heart",
            PRACTICE,
        ),
        Some(Heart::Good) | None => {}
    }
    if seen.symmetry == Some(Symmetry::Uneven) {
        saw(
            Fault::Uneven,
            "the blades or their sides are uneven",
            "take from the heavier side only, a little at a time",
            "hold the reed against the light after every few strokes",
            "oboeinsight.com: one place at a time, all four quadrants",
        );
    }
}

/// What was looked at to see it.
fn looked_at(fault: Fault) -> &'static str {
    match fault {
        Fault::BackwardsOverlap => "overlap",
        Fault::TipSidesThick => "tip_sides",
        Fault::CornersThick | Fault::CornerChipped => "corners",
        Fault::HeartThick | Fault::HeartThin => "heart",
        Fault::Uneven => "symmetry",
        _ => "leak",
    }
}
