//! What was seen, measured and done, in sentences for somebody who was not there.

use crate::log::{Contradicted, Contradiction};
use crate::reed::{
    Bark, Corners, Cut, Fault, Heart, Inspection, Leak, Overlap, Sizes, Symmetry, TipSides,
};
use crate::report::format::LengthUnit;
use crate::report::stage::stage_name;

/// What was looked at and found in order, each a clause; faults are told by the findings.
pub(super) fn in_order(seen: &Inspection) -> Vec<&'static str> {
    let overlap = matches!(seen.overlap, Some(Overlap::Even | Overlap::Usual));
    [
        overlap.then_some("the blades overlapped as they should"),
        (seen.leak == Some(Leak::None)).then_some("it did not leak"),
        (seen.bark == Some(Bark::Kept)).then_some("the bark below the heart was there"),
        (seen.symmetry == Some(Symmetry::Even)).then_some("both blades and both sides were alike"),
        (seen.heart == Some(Heart::Good)).then_some("the heart was good"),
        (seen.corners == Some(Corners::Thin)).then_some("the corners of the tip were thin"),
        (seen.tip_sides == Some(TipSides::Thinnest)).then_some("the tip was thinnest at its sides"),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Whether somebody looked at the part again and found the fault gone.
pub(super) fn is_found_mended(fault: Fault, now: &Inspection) -> bool {
    match fault {
        Fault::LeakLow | Fault::LeakByHeart => now.leak == Some(Leak::None),
        Fault::CornersThick | Fault::CornerChipped => now.corners == Some(Corners::Thin),
        Fault::TipSidesThick => now.tip_sides == Some(TipSides::Thinnest),
        Fault::HeartThick | Fault::HeartThin => now.heart == Some(Heart::Good),
        Fault::Uneven => now.symmetry == Some(Symmetry::Even),
        Fault::BackwardsOverlap => matches!(now.overlap, Some(Overlap::Even | Overlap::Usual)),
        Fault::BarkGone => now.bark == Some(Bark::Kept),
        _ => false,
    }
}

/// A fault that was seen, as it was before the work on it; `None` of one that was measured.
pub(super) fn as_it_was(fault: Fault) -> Option<&'static str> {
    Some(match fault {
        Fault::LeakLow => "it leaked low on the sides, by the winding",
        Fault::LeakByHeart => "it leaked beside the heart",
        Fault::BackwardsOverlap => "the blades overlapped backwards",
        Fault::TipSidesThick => "the tip was not thinnest at its sides",
        Fault::CornersThick => "the corners of the tip were thick",
        Fault::CornerChipped => "a corner of the tip was chipped",
        Fault::HeartThick => "the heart was thick",
        Fault::HeartThin => "the heart was too thin",
        Fault::Uneven => "the blades or their sides were uneven",
        _ => return None,
    })
}

/// A fault by its name, where it has been told in full before.
pub(super) fn short(fault: Fault) -> &'static str {
    match fault {
        Fault::WoundPastStaple => "the winding that goes past the staple",
        Fault::SetTooHigh => "tip and heart, set too high",
        Fault::TipStartHigh => "the tip that begins too high",
        Fault::TipStartLow => "the tip that begins too low",
        Fault::HeartHigh => "the heart that ends too high",
        Fault::HeartLow => "the heart that ends too low",
        Fault::WindowLow => "the windows that begin too low",
        Fault::WindowHigh => "the windows that begin too high",
        Fault::StapleLong => "the long staple",
        Fault::StapleShort => "the short staple",
        Fault::WoundShort => "the winding that stops short",
        Fault::LengthLong => "the great length",
        Fault::LengthShort | Fault::TooShort => "the short length",
        Fault::ThroatWide => "the wide throat",
        Fault::ThroatNarrow => "the narrow throat",
        Fault::BarkGone => "the bark that is gone",
        Fault::BackwardsOverlap => "the backward overlap",
        Fault::TipSidesThick => "the sides of the tip",
        Fault::CornersThick => "the thick corners of the tip",
        Fault::CornerChipped => "the chipped corner",
        Fault::HeartThick => "the thick heart",
        Fault::HeartThin => "the thin heart",
        Fault::Uneven => "the uneven blades or sides",
        Fault::LeakLow => "the leak by the winding",
        Fault::LeakByHeart => "the leak beside the heart",
        Fault::OpeningClosed => "the narrow opening",
        Fault::OpeningWide => "the wide opening",
        Fault::Doubtful => "the doubtful measurement",
    }
}

/// Two measurements that contradict each other: `length 70 mm as it came, 71.5 mm after step 1`.
pub(super) fn apart(found: &Contradiction, unit: LengthUnit) -> String {
    let what = match found.about {
        Contradicted::LongerThanBeforeClip | Contradicted::Longer | Contradicted::Shorter => {
            "length"
        }
        Contradicted::Staple => "staple",
        Contradicted::Winding => "wound to",
        Contradicted::TipLower | Contradicted::TipHigher => "tip from",
    };
    let at = |mm: f64, stage: u32| format!("{} {}", unit.text(mm), stage_name(stage));
    let (before, after) = (at(found.before, found.stages.0), at(found.after, found.stages.1));
    format!("{what} {before}, {after}")
}

/// What was measured, in a sentence's words: `70.6 mm long, staple 47 mm, wound to 46.8 mm`. Empty
/// where nothing was.
pub(super) fn sizes(measured: &Sizes, unit: LengthUnit) -> String {
    let length = measured.length_mm.map(|mm| format!("{} long", unit.text(mm)));
    let parts = [
        ("staple", measured.staple_mm),
        ("wound to", measured.wound_to_mm),
        ("windows from", measured.window_bottom_mm),
        ("heart from", measured.heart_bottom_mm),
        ("tip from", measured.tip_start_mm),
        ("opening", measured.opening_mm),
        ("throat", measured.throat_width_mm),
    ];
    let parts =
        parts.into_iter().filter_map(|(name, mm)| Some(format!("{name} {}", unit.text(mm?))));
    length.into_iter().chain(parts).collect::<Vec<_>>().join(", ")
}

/// What was done, to somebody who was not there.
pub(super) fn done(cut: Cut, amount_mm: Option<f64>, unit: LengthUnit) -> String {
    let amount = amount_mm.map(|mm| format!(" by {}", unit.text(mm))).unwrap_or_default();
    let what = match cut {
        Cut::Clip => {
            let amount = amount_mm.map(|mm| unit.text(mm)).unwrap_or_default();
            return format!("clipped {amount} off the end");
        }
        Cut::TipSides => "thinned the sides of the tip",
        Cut::TipCorners => "thinned the corners of the tip",
        Cut::TipSurface => "thinned the whole tip",
        Cut::TipStep => "worked on the step from heart to tip",
        Cut::HeartSurface => "scraped the heart",
        Cut::HeartSides => "scraped the sides of the heart",
        Cut::BackWindows => "scraped the back",
        Cut::BackRails => "scraped the rails",
        Cut::OpeningWider => "pressed the opening wider",
        Cut::OpeningNarrower => "pressed the opening narrower",
        Cut::Opening => "pressed the opening into shape",
        Cut::SealLow => "sealed a leak by the winding",
        Cut::SealHeart => "sealed a leak beside the heart",
        Cut::Seal => "sealed a leak",
        Cut::Retie => "tied the blades again",
    };
    format!("{what}{amount}")
}
