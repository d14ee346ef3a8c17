//! Sentences for reasons.

use crate::pitch::octaves_away;
use crate::profile::Profile;
use crate::reading::Kind;
use crate::reed::Fault;

/// "38 cents flat of C5, past the 15 that count as in tune"; the target is named in the octave in
/// which the crow sounds.
pub(super) fn against_target(cents: f64, profile: &Profile, register: Option<i32>) -> String {
    let target = profile
        .note_in(register.unwrap_or(0))
        .map_or_else(|| "the target".to_owned(), |note| note.to_string());
    let limit = profile.tolerance.target_cents;
    let side = if cents < 0.0 { "flat" } else { "sharp" };
    let lowest = profile.lowest_register();
    if let Some(register) = register
        && register != lowest
    {
        let away = octaves_away(register.saturating_sub(lowest));
        return format!("{:.0} cents {side} of {target}, {away} what is expected", cents.abs());
    }
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

/// Where a crow's lowest tone lies: `the lowest tone is near C7, two octaves above the target C5`.
pub(super) fn of_register(register: i32, profile: &Profile) -> String {
    let lowest = profile.lowest_register();
    let away = octaves_away(register.saturating_sub(lowest));
    let named = if lowest == 0 { "the target" } else { "the expected" };
    let note = |register: i32| {
        profile.note_in(register).map_or_else(String::new, |note| format!(" {note}"))
    };
    format!("the lowest tone is near{}, {away} {named}{}", note(register), note(lowest))
}

/// How fast the pitch glides, and which way: `the pitch falls by 210 cents a second while it sounds`.
///
/// * `each`: the drift of each crow, in cents per second.
pub(super) fn glide(size: f64, each: &[f64]) -> String {
    let way = match (each.iter().any(|drift| *drift < 0.0), each.iter().any(|drift| *drift > 0.0)) {
        (true, false) => "falls",
        (false, true) => "rises",
        _ => "rises or falls",
    };
    format!("the pitch {way} by {size:.0} cents a second while it sounds")
}

/// How octaves that are true sound together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Together {
    /// From beginning to end.
    Throughout,
    /// The low one comes late, is weak or not always there.
    OnceBothSound,
    /// One of them goes out and comes back now and then.
    OneGoesOut {
        /// How often a second.
        per_s: f64,
    },
    /// They go out and come back more often than the profile allows.
    Turns {
        /// How often a second.
        per_s: f64,
    },
}

/// What a kind means to the ear, and how many crows agree.
pub(super) fn of_kind(
    kind: Kind,
    alike: usize,
    all: usize,
    alignment: Option<f64>,
    together: Together,
) -> String {
    let what = match kind {
        Kind::Octaves => match together {
            Together::Turns { per_s } => {
                format!("the octaves are true, but take turns, {per_s:.1} times a second")
            }
            Together::OneGoesOut { per_s } => format!(
                "the octaves are locked, but one goes out and comes back {per_s:.1} times a second"
            ),
            Together::OnceBothSound => "the octaves lock once both sound".to_owned(),
            Together::Throughout => "the octaves sound together and locked".to_owned(),
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
