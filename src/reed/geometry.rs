//! Measurements and inspection against the profile's dimensions: what is wrong, how sure that is,
//! and what can and cannot be done about it on this reed and on the next.
//!
//! Makers differ by 1 to 2 mm over nearly every dimension, so a finding carries how sure it is:
//! the probability, over the error of a bench ruler, that the limit is passed; for a position also
//! over half a millimetre by which makers part ways. What the maker saw is taken as seen.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::{Bark, Corners, Heart, Inspection, Leak, Measurements, Overlap, Symmetry, TipSides};
use crate::profile::Profile;

/// What can be wrong with how a reed is made.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// The winding goes past the end of the staple.
    WoundPastStaple,
    /// Tip and heart are both set too far from the bottom.
    SetTooHigh,
    /// The tip begins too high: it is too short.
    TipStartHigh,
    /// The tip begins too low: it is too long.
    TipStartLow,
    /// The heart ends too high.
    HeartHigh,
    /// Nothing is left to clip.
    TooShort,
    /// The bark below the heart is gone.
    BarkGone,
    /// The blades overlap the wrong way.
    BackwardsOverlap,
    /// The tip is not the thinnest at its sides.
    TipSidesThick,
    /// The corners of the tip are too thick.
    CornersThick,
    /// A corner of the tip is damaged.
    CornerChipped,
    /// The heart is too thick.
    HeartThick,
    /// The heart is too thin.
    HeartThin,
    /// One side or blade is heavier.
    Uneven,
    /// A leak by the winding.
    LeakLow,
    /// A leak beside the heart.
    LeakByHeart,
    /// The opening is nearly closed.
    OpeningClosed,
    /// The opening is too wide.
    OpeningWide,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Which.
    pub fault: Fault,
    /// How sure, 0.5 … 1.
    pub sure: f64,
    /// The measurement it rests on, in millimetres; `None` where it was seen.
    pub value_mm: Option<f64>,
    /// What is wrong, in one sentence.
    pub says: String,
    /// What can and cannot be done about it on this reed.
    pub on_this_reed: String,
    /// What to change on the next.
    pub on_the_next: String,
    /// Where the expectation comes from.
    pub from: String,
}

/// Spread of makers' opinions about a position, in millimetres (standard deviation): sources for
/// one kind of reed differ by 1 to 2 mm in all.
const OPINIONS_MM: f64 = 0.5;

/// A winding this far past the staple is past it and not merely on its edge, in millimetres.
const PAST_THE_STAPLE_MM: f64 = 0.25;

const PRACTICE: &str = "common practice, no source";

/// What is wrong with a reed by its measurements and looks, surest first; empty where nothing
/// shows, also where nothing was measured.
pub fn findings(measured: &Measurements, seen: &Inspection, profile: &Profile) -> Vec<Finding> {
    let mut found = Vec::new();
    winding(measured, profile, &mut found);
    positions(measured, profile, &mut found);
    length(measured, profile, &mut found);
    opening(measured, profile, &mut found);
    looks(seen, &mut found);
    bark(measured, seen, profile, &mut found);
    found.retain(|finding| finding.sure >= 0.5);
    found.sort_by(|a, b| b.sure.total_cmp(&a.sure));
    found
}

/// Probability that a quantity known to be about `value` with standard deviation `sd` lies over
/// `limit`.
fn over(value: f64, limit: f64, sd: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(0.5, |normal| normal.cdf((value - limit) / sd.max(1e-6)))
}

fn winding(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let ruler = profile.tolerance.measuring_mm;
    let Some(wound_to) = measured.wound_to_mm else { return };
    // A staple that was not measured may be another model than the usual one.
    let (staple, sd, assumed) = match (measured.staple_mm, profile.dimensions.staple) {
        (Some(staple), _) => (staple, ruler * std::f64::consts::SQRT_2, ""),
        (None, Some(staple)) => (staple, ruler.hypot(OPINIONS_MM), " (the usual one; measure it)"),
        (None, None) => return,
    };
    found.push(Finding {
        fault: Fault::WoundPastStaple,
        sure: over(wound_to - staple, PAST_THE_STAPLE_MM, sd),
        value_mm: Some(wound_to),
        says: format!(
            "the winding goes to {wound_to} mm, past the end of the {staple} mm staple{assumed}: \
             this chokes the reed"
        ),
        on_this_reed: "no scraping frees it; only tying again can, and a finished reed seldom \
                       survives that"
            .into(),
        on_the_next: format!("stop the winding at {staple} mm or just below"),
        from: PRACTICE.into(),
    });
}

fn positions(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let tolerance = profile.tolerance.position_mm;
    let sd = profile.tolerance.measuring_mm.hypot(OPINIONS_MM);
    let usual = &profile.dimensions;
    let above = |at: Option<f64>, usual: Option<f64>| Some(at? - usual?);
    let tip = above(measured.tip_start_mm, usual.tip_start);
    let heart = above(measured.heart_bottom_mm, usual.heart_bottom);
    let name = |key: &str| profile.origin(&format!("dimensions_mm.{key}")).to_owned();
    if let (Some(tip), Some(heart), Some(tip_at), Some(heart_at)) =
        (tip, heart, measured.tip_start_mm, measured.heart_bottom_mm)
        && tip > tolerance
        && heart > tolerance
    {
        let (tip_usual, heart_usual) = (tip_at - tip, heart_at - heart);
        found.push(Finding {
            fault: Fault::SetTooHigh,
            sure: over(tip.min(heart), tolerance, sd),
            value_mm: Some(tip_at),
            says: format!(
                "everything sits about {:.0} mm too high: the tip begins at {tip_at} mm (usually \
                 {tip_usual}) and the heart ends at {heart_at} mm (usually {heart_usual})",
                f64::midpoint(tip, heart)
            ),
            on_this_reed: format!(
                "the step can be moved down towards {tip_usual} mm in light passes, and the \
                 heart's end after it; clipping only shortens the tip further"
            ),
            on_the_next: format!(
                "mark {tip_usual} and {heart_usual} mm from the bottom before the first scrape"
            ),
            from: name("tip_start"),
        });
        return;
    }
    if let (Some(tip), Some(at)) = (tip, measured.tip_start_mm) {
        let usual = at - tip;
        found.push(Finding {
            fault: Fault::TipStartHigh,
            sure: over(tip, tolerance, sd),
            value_mm: Some(at),
            says: format!("the tip begins at {at} mm, usually {usual}: it is short"),
            on_this_reed: format!("move its step down towards {usual} mm in light passes"),
            on_the_next: format!("mark the tip at {usual} mm"),
            from: name("tip_start"),
        });
        found.push(Finding {
            fault: Fault::TipStartLow,
            sure: over(-tip, tolerance, sd),
            value_mm: Some(at),
            says: format!("the tip begins at {at} mm, usually {usual}: it is long"),
            on_this_reed: "cane cannot be put back; clips shorten the tip if the length allows"
                .into(),
            on_the_next: format!("mark the tip at {usual} mm"),
            from: name("tip_start"),
        });
    }
    if let (Some(heart), Some(at)) = (heart, measured.heart_bottom_mm) {
        let usual = at - heart;
        found.push(Finding {
            fault: Fault::HeartHigh,
            sure: over(heart, tolerance, sd),
            value_mm: Some(at),
            says: format!("the heart ends at {at} mm, usually {usual}: the windows reach high"),
            on_this_reed: "cane taken from the windows cannot be put back; leave them alone".into(),
            on_the_next: format!("end the windows at {usual} mm"),
            from: name("heart_bottom"),
        });
    }
}

fn length(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let (Some(length), Some(shortest)) = (measured.length_mm, profile.dimensions.shortest_length)
    else {
        return;
    };
    let least = shortest + profile.advice.smallest_clip_mm;
    found.push(Finding {
        fault: Fault::TooShort,
        sure: 1.0 - over(length, least, profile.tolerance.measuring_mm),
        value_mm: Some(length),
        says: format!(
            "{length} mm long: the smallest clip, {} mm, leaves {:.1}, and {shortest} mm counts as \
             the shortest",
            profile.advice.smallest_clip_mm,
            length - profile.advice.smallest_clip_mm
        ),
        on_this_reed: "no clip; pressing the opening a little closed raises the pitch without one"
            .into(),
        on_the_next: "tie it longer, or stop scraping the tip earlier".into(),
        from: profile.origin("dimensions_mm.shortest_length").to_owned(),
    });
}

fn opening(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let (Some(opening), Some(usual)) = (measured.opening_mm, profile.dimensions.opening) else {
        return;
    };
    // A gauge at the opening reads to about a tenth; half and one and a half times the usual is
    // our choice, beyond what makers differ by.
    let sd = 0.1;
    let from = profile.origin("dimensions_mm.opening").to_owned();
    found.push(Finding {
        fault: Fault::OpeningClosed,
        sure: 1.0 - over(opening, usual / 2.0, sd),
        value_mm: Some(opening),
        says: format!("the opening is {opening} mm, usually about {usual}: nearly closed"),
        on_this_reed: "soak it, then open it with gentle pressure on its sides".into(),
        on_the_next: "look at the diameter of the tube cane and at the shape".into(),
        from: from.clone(),
    });
    found.push(Finding {
        fault: Fault::OpeningWide,
        sure: over(opening, usual * 1.5, sd),
        value_mm: Some(opening),
        says: format!("the opening is {opening} mm, usually about {usual}: wide"),
        on_this_reed: "press it a little closed while wet and crow again before any cut".into(),
        on_the_next: "look at the diameter of the tube cane and at the shape".into(),
        from,
    });
}

fn bark(measured: &Measurements, seen: &Inspection, profile: &Profile, found: &mut Vec<Finding>) {
    let wound_to = measured.wound_to_mm.or(measured.staple_mm);
    let left = measured.window_bottom_mm.zip(wound_to).map(|(bottom, wound)| bottom - wound);
    // Half a millimetre of bark over the winding holds nothing together (our choice).
    let measured_sure =
        left.map(|left| 1.0 - over(left, 0.5, profile.tolerance.measuring_mm * 1.5));
    let sure = match seen.bark {
        Some(Bark::Gone) => 1.0,
        Some(Bark::Kept) => return,
        None => measured_sure.unwrap_or(0.0),
    };
    found.push(Finding {
        fault: Fault::BarkGone,
        sure,
        value_mm: measured.window_bottom_mm.filter(|_| seen.bark.is_none()),
        says: "the bark below the heart is gone: the reed has lost its support".into(),
        on_this_reed: "no scraping makes it better; a clip may still serve if it is flat".into(),
        on_the_next: "leave the bark on the rails below the heart, about 3 mm above the staple"
            .into(),
        from: PRACTICE.into(),
    });
}

fn looks(seen: &Inspection, found: &mut Vec<Finding>) {
    let mut saw = |fault, says: &str, on_this_reed: &str, on_the_next: &str, from: &str| {
        found.push(Finding {
            fault,
            sure: 1.0,
            value_mm: None,
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

#[cfg(test)]
mod tests;
