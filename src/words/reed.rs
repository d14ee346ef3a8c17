//! What is seen and measured on a reed.

use crate::reed::{Inspection, LOOKS, Sizes};
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
