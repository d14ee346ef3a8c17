//! Measurements and inspection against the profile's dimensions: what is wrong, how sure that is,
//! and what can and cannot be done about it on this reed and on the next.
//!
//! Makers differ by 1 to 2 mm over nearly every dimension, so a finding carries how sure it is:
//! the probability, over the error of a bench ruler, that the limit is passed; for a position also
//! over half a millimetre by which makers part ways. One reading or sight may be a slip, so none is
//! ever quite sure. What lies outside the usual by more than the profile's tolerance is named,
//! whether or not a move follows from it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::{Bark, Corners, Heart, Inspection, Leak, Measurements, Overlap, Symmetry, TipSides};
use crate::profile::Profile;

mod usual;

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
    /// The heart ends too low.
    HeartLow,
    /// The windows begin too low.
    WindowLow,
    /// The windows begin too high.
    WindowHigh,
    /// The staple is longer than usual.
    StapleLong,
    /// The staple is shorter than usual.
    StapleShort,
    /// The winding stops short of the staple's end.
    WoundShort,
    /// The reed is longer than usual.
    LengthLong,
    /// The reed is shorter than usual, with some cane left to clip.
    LengthShort,
    /// The cane is wider than usual where it leaves the winding.
    ThroatWide,
    /// The cane is narrower than usual there.
    ThroatNarrow,
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
    /// A measurement that no reed of this kind is likely to have, or that contradicts another.
    Doubtful,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Finding {
    /// Which.
    pub fault: Fault,
    /// How sure, 0.5 … 0.9.
    pub sure: f64,
    /// The measurement or sight it rests on, by its name on the card: `length_mm`, `leak`.
    pub figure: String,
    /// The measurement it rests on, in millimetres; `None` where it was seen.
    pub value_mm: Option<f64>,
    /// What it is held against, in millimetres: the usual value, the staple's end, the least length.
    #[serde(default)]
    pub usual_mm: Option<f64>,
    /// What is wrong, in one sentence, lengths in millimetres.
    pub says: String,
    /// What else that sentence tells.
    pub about: About,
    /// Where the expectation comes from.
    pub from: String,
}

/// One thing that is wrong, before it is worded.
#[derive(Debug)]
pub(crate) struct Found {
    pub fault: Fault,
    pub sure: f64,
    pub figure: &'static str,
    pub value_mm: Option<f64>,
    pub usual_mm: Option<f64>,
    pub about: About,
    pub from: String,
}

/// What else the sentence of a finding tells, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// Nothing.
    Itself,
    /// The staple's end, which was not measured.
    AssumedStaple,
    /// Where the heart ends, and where it usually does.
    Heart {
        /// Where it ends.
        mm: f64,
        /// Where it usually ends.
        usual_mm: f64,
    },
    /// The smallest clip.
    Clip {
        /// How much it takes off.
        mm: f64,
    },
    /// A winding far from the staple's end.
    FarFromStaple {
        /// Whether the staple was not measured.
        assumed: bool,
    },
    /// What differs from the usual by more than reeds of its kind do.
    FarFromUsual,
    /// Windows under the end of the winding.
    UnderTheWinding,
    /// Windows under the end of the staple.
    UnderTheStaple {
        /// Whether the staple was not measured.
        assumed: bool,
    },
}

/// Spread of makers' opinions about a position, in millimetres (standard deviation): sources for
/// one kind of reed differ by 1 to 2 mm in all.
const OPINIONS_MM: f64 = 0.5;

/// Windows this far below the end of winding or staple cannot be, in millimetres (our choice: more
/// than a ruler is off by).
const BELOW_THE_END_MM: f64 = 0.5;

/// A winding this far past the staple is past it and not merely on its edge, in millimetres.
const PAST_THE_STAPLE_MM: f64 = 0.25;

const OURS: &str = "our choice, no source";
const PRACTICE: &str = "common practice, no source";

/// How sure a single sight or reading of a ruler can be at most (our choice: about one in ten is a
/// slip: the wrong end of the ruler, a shadow taken for thin cane, a word mistyped).
const SURE_AT_MOST: f64 = 0.9;

/// A position or length this far from the usual is sooner a slip of the ruler, or another kind of
/// reed, than a reed, in millimetres (our choice: makers differ by 1 to 2 mm over most of them).
const FAR_MM: f64 = 5.0;

/// What is wrong with a reed by its measurements and looks, surest first; empty where nothing
/// shows, also where nothing was measured.
pub fn findings(measured: &Measurements, seen: &Inspection, profile: &Profile) -> Vec<Finding> {
    let mut found = Vec::new();
    winding(measured, profile, &mut found);
    positions(measured, profile, &mut found);
    usual::compared(measured, profile, &mut found);
    length(measured, profile, &mut found);
    opening(measured, profile, &mut found);
    looks(seen, &mut found);
    bark(measured, seen, profile, &mut found);
    found.retain(|finding| finding.sure >= 0.5);
    found.sort_by(|a, b| b.sure.total_cmp(&a.sure));
    found.iter_mut().for_each(|finding| finding.sure = finding.sure.min(SURE_AT_MOST));
    found
}

/// A measurement that asks to be made again.
fn doubtful(figure: &'static str, value_mm: f64, usual_mm: Option<f64>, about: About) -> Finding {
    let (fault, value_mm, from) = (Fault::Doubtful, Some(value_mm), OURS.into());
    Found { fault, sure: 1.0, figure, value_mm, usual_mm, about, from }.into()
}

/// Probability that a quantity known to be about `value` with standard deviation `sd` lies over
/// `limit`.
fn over(value: f64, limit: f64, sd: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(0.5, |normal| normal.cdf((value - limit) / sd.max(1e-6)))
}

fn winding(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let Some(wound_to) = measured.wound_to_mm else { return };
    let Some(End { mm, sd, assumed }) = staple_end(measured, profile) else { return };
    if (wound_to - mm).abs() > FAR_MM {
        let about = About::FarFromStaple { assumed };
        found.push(doubtful("wound_to_mm", wound_to, Some(mm), about));
        return;
    }
    let about = if assumed { About::AssumedStaple } else { About::Itself };
    let short = mm - wound_to;
    for (fault, sure) in [
        (Fault::WoundPastStaple, over(-short, PAST_THE_STAPLE_MM, sd)),
        (Fault::WoundShort, over(short, profile.tolerance.position_mm, sd)),
    ] {
        let (figure, value_mm, usual_mm) = ("wound_to_mm", Some(wound_to), Some(mm));
        let from = PRACTICE.into();
        found.push(Found { fault, sure, figure, value_mm, usual_mm, about, from }.into());
    }
}

/// Where the staple ends.
struct End {
    mm: f64,
    /// Standard deviation of its distance from a position that was measured.
    sd: f64,
    /// Whether it was not measured.
    assumed: bool,
}

/// A staple that was not measured may be another model than the usual one.
fn staple_end(measured: &Measurements, profile: &Profile) -> Option<End> {
    let ruler = profile.tolerance.measuring_mm;
    match (measured.staple_mm, profile.dimensions.staple) {
        (Some(mm), _) => Some(End { mm, sd: ruler * std::f64::consts::SQRT_2, assumed: false }),
        (None, Some(mm)) => {
            let sd = ruler.hypot(OPINIONS_MM);
            Some(End { mm, sd, assumed: true })
        }
        (None, None) => None,
    }
}

/// Tip and heart together too high; one of them alone is told by [`usual`].
fn positions(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let Some(high) = set_too_high(measured, profile) else { return };
    let sd = profile.tolerance.measuring_mm.hypot(OPINIONS_MM);
    let found_high = Found {
        fault: Fault::SetTooHigh,
        sure: over(high.least(), profile.tolerance.position_mm, sd),
        figure: "tip_start_mm",
        value_mm: Some(high.tip),
        usual_mm: Some(high.usual_tip),
        about: About::Heart { mm: high.heart, usual_mm: high.usual_heart },
        from: profile.origin("dimensions_mm.tip_start").to_owned(),
    };
    found.push(found_high.into());
}

/// Tip and heart as measured and as usual, in millimetres.
struct High {
    tip: f64,
    heart: f64,
    usual_tip: f64,
    usual_heart: f64,
}

impl High {
    /// The lesser of the distances by which they are too high.
    fn least(&self) -> f64 {
        (self.tip - self.usual_tip).min(self.heart - self.usual_heart)
    }
}

/// Both lie above the usual by more than counts, and not absurdly so.
fn set_too_high(measured: &Measurements, profile: &Profile) -> Option<High> {
    let usual = &profile.dimensions;
    let high = High {
        tip: measured.tip_start_mm?,
        heart: measured.heart_bottom_mm?,
        usual_tip: usual.tip_start?,
        usual_heart: usual.heart_bottom?,
    };
    let most = (high.tip - high.usual_tip).max(high.heart - high.usual_heart);
    (high.least() > profile.tolerance.position_mm && most <= FAR_MM).then_some(high)
}

fn length(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let (Some(length), Some(shortest)) = (measured.length_mm, profile.dimensions.shortest_length)
    else {
        return;
    };
    if is_far(Some(length), profile.dimensions.length) {
        return;
    }
    let clip = profile.advice.smallest_clip_mm;
    let too_short = Found {
        fault: Fault::TooShort,
        sure: 1.0 - over(length, shortest + clip, profile.tolerance.measuring_mm),
        figure: "length_mm",
        value_mm: Some(length),
        usual_mm: Some(shortest),
        about: About::Clip { mm: clip },
        from: profile.origin("dimensions_mm.shortest_length").to_owned(),
    };
    found.push(too_short.into());
}

/// So far from the usual that it is sooner a slip.
fn is_far(measured: Option<f64>, usual: Option<f64>) -> bool {
    measured.zip(usual).is_some_and(|(mm, usual)| (mm - usual).abs() > FAR_MM)
}

fn opening(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let (Some(opening), Some(usual)) = (measured.opening_mm, profile.dimensions.opening) else {
        return;
    };
    // A gauge at the opening reads to about a tenth; half and one and a half times the usual is
    // our choice, beyond what makers differ by.
    let sd = 0.1;
    for (fault, sure) in [
        (Fault::OpeningClosed, 1.0 - over(opening, usual / 2.0, sd)),
        (Fault::OpeningWide, over(opening, usual * 1.5, sd)),
    ] {
        let (figure, value_mm, usual_mm) = ("opening_mm", Some(opening), Some(usual));
        let (about, from) = (About::Itself, profile.origin("dimensions_mm.opening").to_owned());
        found.push(Found { fault, sure, figure, value_mm, usual_mm, about, from }.into());
    }
}

fn bark(measured: &Measurements, seen: &Inspection, profile: &Profile, found: &mut Vec<Finding>) {
    let ruler = profile.tolerance.measuring_mm;
    let wound_to = measured.wound_to_mm.or(measured.staple_mm);
    let left = measured.window_bottom_mm.zip(wound_to).map(|(bottom, wound)| bottom - wound);
    // Nobody scrapes the thread: windows that begin well below where it ends were measured wrong.
    let end = staple_end(measured, profile).map(|end| (end.mm, end.assumed));
    if let (Some(bottom), Some((end, assumed))) =
        (measured.window_bottom_mm, wound_to.map(|wound| (wound, false)).or(end))
        && end - bottom > BELOW_THE_END_MM
    {
        let about = match measured.wound_to_mm {
            Some(_) => About::UnderTheWinding,
            None => About::UnderTheStaple { assumed },
        };
        found.retain(|finding| finding.figure != "window_bottom_mm");
        found.push(doubtful("window_bottom_mm", bottom, Some(end), about));
    }
    // Half a millimetre of bark over the winding holds nothing together (our choice).
    let measured_sure = left
        .filter(|left| *left >= -BELOW_THE_END_MM)
        .map(|left| 1.0 - over(left, 0.5, ruler * 1.5));
    let sure = match seen.bark {
        Some(Bark::Gone) => 1.0,
        Some(Bark::Kept) => return,
        None => measured_sure.unwrap_or(0.0),
    };
    let by_ruler = seen.bark.is_none();
    if by_ruler && sure >= 0.5 {
        // That it is gone says more than that it is little.
        found.retain(|finding| finding.fault != Fault::WindowLow);
    }
    let gone = Found {
        fault: Fault::BarkGone,
        sure,
        figure: if by_ruler { "window_bottom_mm" } else { "bark" },
        value_mm: measured.window_bottom_mm.filter(|_| by_ruler),
        usual_mm: None,
        about: About::Itself,
        from: PRACTICE.into(),
    };
    found.push(gone.into());
}

/// What the maker saw.
fn looks(seen: &Inspection, found: &mut Vec<Finding>) {
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

#[cfg(test)]
mod tests;
