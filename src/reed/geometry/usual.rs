//! Lengths and positions against the usual ones of the profile.

use super::super::{Measurements, Sizes};
use super::{
    About, FAR_MM, Fault, Finding, Found, OPINIONS_MM, PRACTICE, doubtful, over, set_too_high,
};
use crate::profile::{Dimensions, Profile};

/// One thing that is measured.
struct Row {
    /// Its name on the card.
    figure: &'static str,
    /// Its name in a profile, under `dimensions_mm`.
    key: &'static str,
    of: fn(&Sizes) -> Option<f64>,
    usual: fn(&Dimensions) -> Option<f64>,
    /// What is wrong where it is more than usual, and where it is less.
    more: Fault,
    less: Fault,
}

const ROWS: &[Row] = &[
    Row {
        figure: "tip_start_mm",
        key: "tip_start",
        of: |sizes| sizes.tip_start_mm,
        usual: |usual| usual.tip_start,
        more: Fault::TipStartHigh,
        less: Fault::TipStartLow,
    },
    Row {
        figure: "heart_bottom_mm",
        key: "heart_bottom",
        of: |sizes| sizes.heart_bottom_mm,
        usual: |usual| usual.heart_bottom,
        more: Fault::HeartHigh,
        less: Fault::HeartLow,
    },
    Row {
        figure: "window_bottom_mm",
        key: "window_bottom",
        of: |sizes| sizes.window_bottom_mm,
        usual: |usual| usual.window_bottom,
        more: Fault::WindowHigh,
        less: Fault::WindowLow,
    },
    Row {
        figure: "staple_mm",
        key: "staple",
        of: |sizes| sizes.staple_mm,
        usual: |usual| usual.staple,
        more: Fault::StapleLong,
        less: Fault::StapleShort,
    },
    Row {
        figure: "length_mm",
        key: "length",
        of: |sizes| sizes.length_mm,
        usual: |usual| usual.length,
        more: Fault::LengthLong,
        less: Fault::LengthShort,
    },
    Row {
        figure: "throat_width_mm",
        key: "throat_width",
        of: |sizes| sizes.throat_width_mm,
        usual: |usual| usual.throat_width,
        more: Fault::ThroatWide,
        less: Fault::ThroatNarrow,
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
        if off.abs() > FAR_MM {
            return doubtful(self.figure, mm, Some(usual), About::FarFromUsual);
        }
        let sd = profile.tolerance.measuring_mm.hypot(OPINIONS_MM);
        let key = format!("dimensions_mm.{}", self.key);
        let from = match profile.origin(&key) {
            "" => PRACTICE,
            origin => origin,
        };
        Found {
            fault: if off < 0.0 { self.less } else { self.more },
            sure: over(off.abs(), profile.tolerance.position_mm, sd),
            figure: self.figure,
            value_mm: Some(mm),
            usual_mm: Some(usual),
            about: About::Itself,
            from: from.into(),
        }
        .into()
    }
}
