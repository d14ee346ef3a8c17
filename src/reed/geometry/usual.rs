//! Lengths and positions against the usual ones of the profile, each with what follows when it is
//! more or less.

use super::super::{Measurements, Sizes};
use super::{FAR_MM, Fault, Finding, OPINIONS_MM, PRACTICE, doubtful, over, set_too_high};
use crate::profile::{Dimensions, Profile};
use crate::units::Millimetres;

/// One thing that is measured.
struct Row {
    /// Its name on the card.
    figure: &'static str,
    /// Its name in a profile, under `dimensions_mm`.
    key: &'static str,
    /// How its value is told.
    told: &'static str,
    of: fn(&Sizes) -> Option<f64>,
    usual: fn(&Dimensions) -> Option<f64>,
    more: Side,
    less: Side,
}

/// What follows where it is more, or less, than usual; `{}` stands for the usual value.
struct Side {
    fault: Fault,
    so: &'static str,
    on_this_reed: &'static str,
    on_the_next: &'static str,
}

const KEPT_STAPLE: &str = "a finished reed keeps its staple; each millimetre moves the instrument \
                           by 5 to 6 cents, shorter is sharper (a staple supplier, 2022)";
const KEPT_SHAPE: &str = "a finished reed keeps its shape";

const ROWS: &[Row] = &[
    Row {
        figure: "tip_start_mm",
        key: "tip_start",
        told: "the tip begins at",
        of: |sizes| sizes.tip_start_mm,
        usual: |usual| usual.tip_start,
        more: Side {
            fault: Fault::TipStartHigh,
            so: "the tip is short",
            on_this_reed: "move its step down towards {} in light passes",
            on_the_next: "mark the tip at {}",
        },
        less: Side {
            fault: Fault::TipStartLow,
            so: "the tip is long",
            on_this_reed: "cane cannot be put back; clips shorten the tip if the length allows",
            on_the_next: "mark the tip at {}",
        },
    },
    Row {
        figure: "heart_bottom_mm",
        key: "heart_bottom",
        told: "the heart ends at",
        of: |sizes| sizes.heart_bottom_mm,
        usual: |usual| usual.heart_bottom,
        more: Side {
            fault: Fault::HeartHigh,
            so: "the windows reach high",
            on_this_reed: "cane taken from the windows cannot be put back; leave them alone",
            on_the_next: "end the windows at {}",
        },
        less: Side {
            fault: Fault::HeartLow,
            so: "the heart is long",
            on_this_reed: "where the reed is hard or sharp, the windows may reach up towards {}, in \
                           light strokes",
            on_the_next: "end the windows at {}",
        },
    },
    Row {
        figure: "window_bottom_mm",
        key: "window_bottom",
        told: "the windows begin at",
        of: |sizes| sizes.window_bottom_mm,
        usual: |usual| usual.window_bottom,
        more: Side {
            fault: Fault::WindowHigh,
            so: "more bark is left than usual",
            on_this_reed: "where the reed is hard or sharp, the windows may reach down towards {}, \
                           in light strokes",
            on_the_next: "begin the windows at {}",
        },
        less: Side {
            fault: Fault::WindowLow,
            so: "little bark is left",
            on_this_reed: "bark cannot be put back; leave the back alone",
            on_the_next: "begin the windows at {}",
        },
    },
    Row {
        figure: "staple_mm",
        key: "staple",
        told: "the staple is",
        of: |sizes| sizes.staple_mm,
        usual: |usual| usual.staple,
        more: Side {
            fault: Fault::StapleLong,
            so: "it is long",
            on_this_reed: KEPT_STAPLE,
            on_the_next: "take a staple of {}, or shift all other positions with it",
        },
        less: Side {
            fault: Fault::StapleShort,
            so: "it is short",
            on_this_reed: KEPT_STAPLE,
            on_the_next: "take a staple of {}, or shift all other positions with it",
        },
    },
    Row {
        figure: "length_mm",
        key: "length",
        told: "the reed is",
        of: |sizes| sizes.length_mm,
        usual: |usual| usual.length,
        more: Side {
            fault: Fault::LengthLong,
            so: "it is long",
            on_this_reed: "if it is flat, clips bring it down to {}",
            on_the_next: "finish it at {}",
        },
        less: Side {
            fault: Fault::LengthShort,
            so: "it is short, and few clips are left",
            on_this_reed: "clip it only where nothing else helps",
            on_the_next: "tie it so that it is finished at {}",
        },
    },
    Row {
        figure: "throat_width_mm",
        key: "throat_width",
        told: "where it leaves the winding the cane is",
        of: |sizes| sizes.throat_width_mm,
        usual: |usual| usual.throat_width,
        more: Side {
            fault: Fault::ThroatWide,
            so: "it is wide",
            on_this_reed: KEPT_SHAPE,
            on_the_next: "take a shape of {} there",
        },
        less: Side {
            fault: Fault::ThroatNarrow,
            so: "it is narrow",
            on_this_reed: KEPT_SHAPE,
            on_the_next: "take a shape of {} there",
        },
    },
];

/// What lies outside the usual by more than the profile's tolerance.
pub(super) fn compared(measured: &Measurements, profile: &Profile, found: &mut Vec<Finding>) {
    let together = set_too_high(measured, profile).is_some();
    let told_together = |row: &Row| together && ["tip_start", "heart_bottom"].contains(&row.key);
    for row in ROWS.iter().filter(|row| !told_together(row)) {
        let (Some(mm), Some(usual)) = ((row.of)(measured), (row.usual)(&profile.dimensions)) else {
            continue;
        };
        if (mm - usual).abs() <= profile.tolerance.position_mm + 1e-9 {
            continue;
        }
        found.push(row.against(mm, usual, profile));
        // Nothing to clip says more than that it is short.
        let shortest = profile.dimensions.shortest_length;
        let at_its_end = |shortest| mm < shortest + profile.advice.smallest_clip_mm + 1e-9;
        if row.key == "length" && mm >= usual - FAR_MM && shortest.is_some_and(at_its_end) {
            found.pop();
        }
    }
}

impl Row {
    fn against(&self, mm: f64, usual: f64, profile: &Profile) -> Finding {
        let off = mm - usual;
        let (side, way) =
            if off < 0.0 { (&self.less, "less than") } else { (&self.more, "more than") };
        let (value, usually, by) = (Millimetres(mm), Millimetres(usual), Millimetres(off.abs()));
        let what = format!("{} {value}, {by} {way} the usual {usually}", self.told);
        if off.abs() > FAR_MM {
            let what = what + ", more than reeds of this kind differ by";
            return doubtful(self.figure, mm, &what);
        }
        let sd = profile.tolerance.measuring_mm.hypot(OPINIONS_MM);
        let of_usual = |text: &str| text.replace("{}", &usually.to_string());
        let key = format!("dimensions_mm.{}", self.key);
        let from = match profile.origin(&key) {
            "" => PRACTICE,
            origin => origin,
        };
        Finding {
            fault: side.fault,
            sure: over(off.abs(), profile.tolerance.position_mm, sd),
            figure: self.figure.into(),
            value_mm: Some(mm),
            usual_mm: Some(usual),
            says: format!("{what}: {}", side.so),
            on_this_reed: of_usual(side.on_this_reed),
            on_the_next: of_usual(side.on_the_next),
            from: from.into(),
        }
    }
}
