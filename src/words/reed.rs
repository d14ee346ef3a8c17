//! What is seen and measured on a reed, and what is wrong with how it is made.

use crate::reed::{About, Fault, Finding, Found, Inspection, LOOKS, Sizes};
use crate::units::Millimetres;
use crate::words::format::LengthUnit;

/// What was measured, in words: `length 70.6 mm, tip from 66.2 mm`. Empty where nothing was.
pub fn measurements(measured: &Sizes, unit: LengthUnit) -> String {
    let parts = [
        ("length", measured.length_mm),
        ("staple", measured.staple_mm),
        ("wound to", measured.wound_to_mm),
        ("windows from", measured.window_bottom_mm),
        ("heart from", measured.heart_bottom_mm),
        ("tip from", measured.tip_start_mm),
        ("opening", measured.opening_mm),
        ("throat", measured.throat_width_mm),
    ];
    let given =
        parts.into_iter().filter_map(|(name, mm)| Some(format!("{name} {}", unit.text(mm?))));
    given.collect::<Vec<_>>().join(", ")
}

/// What was seen: `leak low, corners thick`. Empty where nothing was looked at.
pub fn inspection(seen: &Inspection) -> String {
    let each = LOOKS.iter().filter(|look| look.seen.over(*seen) == *seen);
    each.map(|look| look.words()).collect::<Vec<_>>().join(", ")
}

impl From<Found> for Finding {
    fn from(found: Found) -> Self {
        let usual = found.usual_mm.map_or_else(String::new, |mm| Millimetres(mm).to_string());
        let [on_this_reed, on_the_next] = remedies(&found, &usual);
        Self {
            says: says(&found, &usual),
            fault: found.fault,
            sure: found.sure,
            figure: found.figure.to_owned(),
            value_mm: found.value_mm,
            usual_mm: found.usual_mm.filter(|_| found.fault != Fault::Doubtful),
            on_this_reed,
            on_the_next,
            from: found.from,
        }
    }
}

/// A staple that was not measured.
const ASSUMED: &str = " (the usual one; measure it)";

/// What is wrong.
fn says(found: &Found, usual: &str) -> String {
    let (mm, usual_mm) = (found.value_mm.unwrap_or_default(), found.usual_mm.unwrap_or_default());
    let is = Millimetres(mm);
    let assumed = match found.about {
        About::AssumedStaple
        | About::FarFromStaple { assumed: true }
        | About::UnderTheStaple { assumed: true } => ASSUMED,
        _ => "",
    };
    let against_usual = || {
        let (by, way) =
            (Millimetres((mm - usual_mm).abs()), if mm < usual_mm { "less" } else { "more" });
        format!("{} {is}, {by} {way} than the usual {usual}", subject(found.figure))
    };
    let so = match (found.fault, found.about) {
        (Fault::Doubtful, about) => {
            let what = match about {
                About::FarFromStaple { .. } => format!(
                    "the winding goes to {is}, far from the end of the {usual} staple{assumed}"
                ),
                About::UnderTheWinding => {
                    format!("the windows begin at {is}, below the winding's end at {usual}")
                }
                About::UnderTheStaple { .. } => {
                    format!("the windows begin at {is}, below the staple's end at {usual}{assumed}")
                }
                _ => against_usual() + ", more than reeds of this kind differ by",
            };
            return format!("{what}: measure it again, from the bottom of the staple");
        }
        (Fault::WoundPastStaple, _) => {
            return format!(
                "the winding goes to {is}, past the end of the {usual} staple{assumed}, which \
                 usually chokes a reed"
            );
        }
        (Fault::WoundShort, _) => {
            return format!(
                "the winding stops at {is}, {} short of the end of the {usual} staple{assumed}: \
                 nothing holds the blades there",
                Millimetres(usual_mm - mm)
            );
        }
        (Fault::SetTooHigh, About::Heart { mm: heart, usual_mm: usual_heart }) => {
            return format!(
                "everything sits about {:.0} mm too high: the tip begins at {is} (usually {usual}) and \
                 the heart ends at {} (usually {})",
                f64::midpoint(mm - usual_mm, heart - usual_heart),
                Millimetres(heart),
                Millimetres(usual_heart)
            );
        }
        (Fault::TooShort, About::Clip { mm: clip }) => {
            return format!(
                "{is} long: the smallest clip, {}, leaves {}, and {usual} or more must surely be left",
                Millimetres(clip),
                Millimetres(mm - clip)
            );
        }
        (Fault::OpeningClosed, _) => {
            return format!("the opening is {is}, usually about {usual}: nearly closed");
        }
        (Fault::OpeningWide, _) => {
            return format!("the opening is {is}, usually about {usual}: wide");
        }
        (Fault::BarkGone, _) => "the bark below the heart is gone: the reed has lost its support",
        (Fault::LeakLow, _) => "it leaks low on the sides, by the winding",
        (Fault::LeakByHeart, _) => "it leaks beside the heart",
        (Fault::BackwardsOverlap, _) => "the blades overlap backwards",
        (Fault::TipSidesThick, _) => "the tip is not thinnest at its sides",
        (Fault::CornersThick, _) => "the corners of the tip are thick",
        (Fault::CornerChipped, _) => "a corner of the tip is chipped",
        (Fault::HeartThick, _) => "the heart is thick",
        (Fault::HeartThin, _) => "the heart is too thin",
        (Fault::Uneven, _) => "the blades or their sides are uneven",
        (fault, _) => return format!("{}: {}", against_usual(), off_usual(fault)),
    };
    so.to_owned()
}

/// Before the value of a measurement.
fn subject(figure: &str) -> &'static str {
    match figure {
        "tip_start_mm" => "the tip begins at",
        "heart_bottom_mm" => "the heart ends at",
        "window_bottom_mm" => "the windows begin at",
        "staple_mm" => "the staple is",
        "throat_width_mm" => "where it leaves the winding the cane is",
        _ => "the reed is",
    }
}

/// What a measurement off the usual means.
fn off_usual(fault: Fault) -> &'static str {
    match fault {
        Fault::TipStartHigh => "the tip is short",
        Fault::TipStartLow => "the tip is long",
        Fault::HeartHigh => "the windows reach high",
        Fault::HeartLow => "the heart is long",
        Fault::WindowHigh => "more bark is left than usual",
        Fault::WindowLow => "little bark is left",
        Fault::LengthShort => "it is short, and few clips are left",
        Fault::ThroatWide => "it is wide",
        Fault::ThroatNarrow => "it is narrow",
        Fault::StapleShort => "it is short",
        _ => "it is long",
    }
}

/// What can be done about it on this reed, and what to change on the next.
fn remedies(found: &Found, usual: &str) -> [String; 2] {
    let fixed = |now: &str, next: &str| [now.to_owned(), next.to_owned()];
    match found.fault {
        Fault::Doubtful => fixed(
            "measure it again; it is not used until then",
            "measure each reed from its bottom, with the zero of the ruler at its edge",
        ),
        Fault::WoundPastStaple => [
            "no scraping frees it; only tying again can, and a finished reed seldom survives that"
                .to_owned(),
            format!("stop the winding at {usual} or just below"),
        ],
        Fault::WoundShort => [
            "some turns of thread up to the staple's end, and no further, hold it".to_owned(),
            format!("wind to {usual}"),
        ],
        Fault::SetTooHigh => {
            let heart = match found.about {
                About::Heart { usual_mm, .. } => Millimetres(usual_mm).to_string(),
                _ => String::new(),
            };
            [
                format!(
                    "the step can be moved down towards {usual} in light passes, and the heart's end \
                     after it; clipping only shortens the tip further"
                ),
                format!("mark {usual} and {heart} from the bottom before the first scrape"),
            ]
        }
        Fault::TooShort => fixed(
            "no clip; pressing the opening a little closed raises the pitch without one",
            "tie it longer, or stop scraping the tip earlier",
        ),
        Fault::OpeningClosed => {
            fixed("soak it, then open it with gentle pressure on its sides", TUBE_AND_SHAPE)
        }
        Fault::OpeningWide => fixed(
            "press it a little closed while wet and crow again before any cut",
            TUBE_AND_SHAPE,
        ),
        Fault::BarkGone => fixed(
            "no scraping makes it better; a clip may still serve if it is flat",
            "leave the bark on the rails below the heart, about 3 mm above the staple",
        ),
        Fault::LeakLow => fixed(
            "tape or wrap over the leak usually holds",
            "close the sides fully before tying, and look at the shape's edges",
        ),
        Fault::LeakByHeart => fixed(
            "it can rarely be sealed: a sealer there stiffens what should move",
            "look at the shape's edges and at how the blades close",
        ),
        Fault::BackwardsOverlap => fixed(
            "a finished reed keeps its overlap; slipping the blades by hand rarely lasts",
            "slip the blades the usual way before the last turns of thread",
        ),
        Fault::TipSidesThick => fixed(
            "thin the sides of the tip, towards the corners, all four alike",
            "scrape the tip outwards from its middle",
        ),
        Fault::CornersThick => {
            fixed("thin the corners, all four alike", "finish the corners before the first crow")
        }
        Fault::CornerChipped => fixed(
            "a clip past the damage mends it if the length allows",
            "keep the plaque under the corner while scraping it",
        ),
        Fault::HeartThick => {
            fixed("thin its sides lightly, leaving the spine", "gouge or profile it thinner there")
        }
        Fault::HeartThin => {
            fixed("cane cannot be put back; only a clip can still help", "stop earlier at the heart")
        }
        Fault::Uneven => fixed(
            "take from the heavier side only, a little at a time",
            "hold the reed against the light after every few strokes",
        ),
        Fault::TipStartHigh => [
            format!("move its step down towards {usual} in light passes"),
            format!("mark the tip at {usual}"),
        ],
        Fault::TipStartLow => [
            "cane cannot be put back; clips shorten the tip if the length allows".to_owned(),
            format!("mark the tip at {usual}"),
        ],
        Fault::HeartHigh => [
            "cane taken from the windows cannot be put back; leave them alone".to_owned(),
            format!("end the windows at {usual}"),
        ],
        Fault::HeartLow => [
            format!(
                "where the reed is hard or sharp, the windows may reach up towards {usual}, in light \
                 strokes"
            ),
            format!("end the windows at {usual}"),
        ],
        Fault::WindowHigh => [
            format!(
                "where the reed is hard or sharp, the windows may reach down towards {usual}, in light \
                 strokes"
            ),
            format!("begin the windows at {usual}"),
        ],
        Fault::WindowLow => [
            "bark cannot be put back; leave the back alone".to_owned(),
            format!("begin the windows at {usual}"),
        ],
        Fault::StapleLong | Fault::StapleShort => [
            "a finished reed keeps its staple; each millimetre moves the instrument by 5 to 6 cents, \
             shorter is sharper (a staple supplier, 2022)"
                .to_owned(),
            format!("take a staple of {usual}, or shift all other positions with it"),
        ],
        Fault::LengthLong => [
            format!("if it is flat, clips bring it down to {usual}"),
            format!("finish it at {usual}"),
        ],
        Fault::LengthShort => [
            "clip it only where nothing else helps".to_owned(),
            format!("tie it so that it is finished at {usual}"),
        ],
        Fault::ThroatWide | Fault::ThroatNarrow => [
            "a finished reed keeps its shape".to_owned(),
            format!("take a shape of {usual} there"),
        ],
    }
}

const TUBE_AND_SHAPE: &str = "look at the diameter of the tube cane and at the shape";
