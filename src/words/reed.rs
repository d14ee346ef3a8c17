//! What is seen and measured on a reed, and what is wrong with how it is made.

use crate::reed::{About, Fault, Finding, Found, Inspection, LOOKS, Sizes};
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
        let mut told = Self {
            fault: found.fault,
            sure: found.sure,
            figure: found.figure.to_owned(),
            value_mm: found.value_mm,
            usual_mm: found.usual_mm,
            says: String::new(),
            about: found.about,
            from: found.from,
        };
        told.says = finding(&told, LengthUnit::Millimetres);
        told
    }
}

/// A staple that was not measured.
const ASSUMED: &str = " (the usual one; measure it)";

/// What is wrong, in one sentence.
pub fn finding(found: &Finding, unit: LengthUnit) -> String {
    let told = Told::of(found, unit);
    let Told { mm, usual_mm, is, usual, assumed } = &told;
    let so = match (found.fault, found.about) {
        (Fault::Doubtful, about) => return told.doubtful(&found.figure, about, unit),
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
                unit.told(usual_mm - mm)
            );
        }
        (Fault::SetTooHigh, About::Heart { mm: heart, usual_mm: usual_heart }) => {
            return format!(
                "everything sits about {} too high: the tip begins at {is} (usually {usual}) and \
                 the heart ends at {} (usually {})",
                unit.told(f64::midpoint(mm - usual_mm, heart - usual_heart).round()),
                unit.told(heart),
                unit.told(usual_heart)
            );
        }
        (Fault::TooShort, About::Clip { mm: clip }) => {
            return format!(
                "{is} long: the smallest clip, {}, leaves {}, and {usual} or more must surely be left",
                unit.told(clip),
                unit.told(mm - clip)
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
        (fault, _) => {
            return format!("{}: {}", told.off(&found.figure, unit), off_usual(fault));
        }
    };
    so.to_owned()
}

/// The lengths of a finding as they are told.
struct Told {
    /// What was measured, …
    mm: f64,
    /// … and what is usual.
    usual_mm: f64,
    is: String,
    usual: String,
    /// Said of a staple that was not measured.
    assumed: &'static str,
}

impl Told {
    fn of(found: &Finding, unit: LengthUnit) -> Self {
        let (mm, usual_mm) =
            (found.value_mm.unwrap_or_default(), found.usual_mm.unwrap_or_default());
        let assumed = match found.about {
            About::AssumedStaple
            | About::FarFromStaple { assumed: true }
            | About::UnderTheStaple { assumed: true } => ASSUMED,
            _ => "",
        };
        Self { mm, usual_mm, is: unit.told(mm), usual: unit.told(usual_mm), assumed }
    }

    /// How far a measurement is off the usual.
    fn off(&self, figure: &str, unit: LengthUnit) -> String {
        let Self { mm, usual_mm, is, usual, .. } = self;
        let (by, way) =
            (unit.told((mm - usual_mm).abs()), if mm < usual_mm { "less" } else { "more" });
        format!("{} {is}, {by} {way} than the usual {usual}", subject(figure))
    }

    /// What the ruler most likely told wrongly.
    fn doubtful(&self, figure: &str, about: About, unit: LengthUnit) -> String {
        let Self { is, usual, assumed, .. } = self;
        let what = match about {
            About::FarFromStaple { .. } => {
                format!("the winding goes to {is}, far from the end of the {usual} staple{assumed}")
            }
            About::UnderTheWinding => {
                format!("the windows begin at {is}, below the winding's end at {usual}")
            }
            About::UnderTheStaple { .. } => {
                format!("the windows begin at {is}, below the staple's end at {usual}{assumed}")
            }
            _ => self.off(figure, unit) + ", more than reeds of this kind differ by",
        };
        format!("{what}: measure it again, from the bottom of the staple")
    }
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
