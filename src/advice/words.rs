//! Sentences for reasons.

use crate::pitch::Note;
use crate::profile::Profile;
use crate::reading::Kind;
use crate::reed::Fault;

/// "38 cents flat of C5, past the 15 that count as in tune"; the target is named in the octave in
/// which the crow sounds.
pub(super) fn against_target(cents: f64, profile: &Profile, register: Option<i32>) -> String {
    let octaves = register.unwrap_or(0).saturating_mul(12);
    let target = profile.target.map_or_else(
        || "the target".to_owned(),
        |note| Note::from_midi(note.midi().saturating_add(octaves)).to_string(),
    );
    let limit = profile.tolerance.target_cents;
    let side = if cents < 0.0 { "flat" } else { "sharp" };
    if cents.abs() <= limit {
        format!(
            "{:.0} cents {side} of {target}, within the {limit:.0} that count as in tune",
            cents.abs()
        )
    } else {
        format!(
            "{:.0} cents {side} of {target}, past the {limit:.0} that count as in tune",
            cents.abs()
        )
    }
}

/// What a kind means to the ear, and how many crows agree.
pub(super) fn of_kind(
    kind: Kind,
    alike: usize,
    all: usize,
    alignment: Option<f64>,
    turns: Option<f64>,
) -> String {
    let what = match kind {
        Kind::Octaves => match turns {
            Some(per_s) => {
                format!("the octaves are true but take turns, {per_s:.1} times a second")
            }
            None => "the octaves sound together and locked".to_owned(),
        },
        Kind::Single => "one tone sounds, without its octave".to_owned(),
        Kind::Split => match alignment {
            Some(cents) => format!("two tones sound {:.0} cents off the octave", cents.abs()),
            None => "two tones sound that make no octave".to_owned(),
        },
        Kind::Unsettled => "it sounds, but no tone holds".to_owned(),
        Kind::Breath => "only breath is heard".to_owned(),
    };
    if all > 1 { format!("{what} ({alike} of {all} crows)") } else { what }
}

/// The measurement or sight that shows a fault.
pub(super) fn measurement(fault: Fault) -> &'static str {
    match fault {
        Fault::WoundPastStaple => "wound_to_mm",
        Fault::SetTooHigh | Fault::TipStartHigh | Fault::TipStartLow => "tip_start_mm",
        Fault::HeartHigh => "heart_bottom_mm",
        Fault::TooShort => "length_mm",
        Fault::BarkGone => "bark",
        Fault::BackwardsOverlap => "overlap",
        Fault::TipSidesThick => "tip_sides",
        Fault::CornersThick | Fault::CornerChipped => "corners",
        Fault::HeartThick | Fault::HeartThin => "heart",
        Fault::Uneven => "symmetry",
        Fault::LeakLow | Fault::LeakByHeart => "leak",
        Fault::OpeningClosed | Fault::OpeningWide => "opening_mm",
    }
}
