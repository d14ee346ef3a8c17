//! What the maker saw, as findings.

use super::super::{Corners, Heart, Inspection, Leak, Overlap, Symmetry, TipSides};
use super::{About, Fault, Finding, Found, PRACTICE};

pub(super) fn seen(seen: &Inspection, found: &mut Vec<Finding>) {
    let saw = [
        (seen.leak == Some(Leak::Low), Fault::LeakLow),
        (seen.leak == Some(Leak::Heart), Fault::LeakByHeart),
        (seen.overlap == Some(Overlap::Backwards), Fault::BackwardsOverlap),
        (seen.tip_sides == Some(TipSides::Thick), Fault::TipSidesThick),
        (seen.corners == Some(Corners::Thick), Fault::CornersThick),
        (seen.corners == Some(Corners::Chipped), Fault::CornerChipped),
        (seen.heart == Some(Heart::Thick), Fault::HeartThick),
        (seen.heart == Some(Heart::Thin), Fault::HeartThin),
        (seen.symmetry == Some(Symmetry::Uneven), Fault::Uneven),
    ];
    found.extend(saw.into_iter().filter(|(is_there, _)| *is_there).map(|(_, fault)| {
        let (figure, about, from) = (looked_at(fault), About::Itself, source(fault).into());
        Found { fault, sure: 1.0, figure, value_mm: None, usual_mm: None, about, from }.into()
    }));
}

/// Who says so.
fn source(fault: Fault) -> &'static str {
    match fault {
        Fault::HeartThick => {
            "oboeinsight.com: hard and sharp, take cane off, sides of the heart among the places"
        }
        Fault::Uneven => "oboeinsight.com: one place at a time, all four quadrants",
        _ => PRACTICE,
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
