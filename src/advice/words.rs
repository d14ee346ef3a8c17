//! Sentences for reasons.

use crate::pitch::octaves_away;
use crate::profile::Profile;
use crate::reading::Kind;
use crate::reed::Finding;

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
        return format!("{} {side} of {target}, {away} what is expected", self::cents(cents));
    }
    if cents.abs() < 0.5 {
        return format!("on {target}, as near as a cent");
    }
    let (told, past) =
        (of_limit(cents, limit), if cents.abs() <= limit { "within" } else { "past" });
    format!("{told} {side} of {target}, {past} the {limit:.0} that count as in tune")
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
    format!("the pitch {way} by {} a second while it sounds", cents(size))
}

/// How octaves that are true sound together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Together {
    /// From beginning to end.
    Throughout,
    /// From beginning to end, the low one hardly.
    LowWeak,
    /// The low one comes late or is not always there.
    OnceBothSound,
    /// One of them goes out and comes back now and then.
    OneGoesOut {
        /// How often a second.
        per_s: f64,
    },
    /// They go out and come back more often than the profile allows; how often is told apart.
    Turns,
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
            Together::Turns => "the octaves are true where both sound".to_owned(),
            Together::OneGoesOut { per_s } => format!(
                "the octaves are locked, but one goes out and comes back {per_s:.1} times a second"
            ),
            Together::OnceBothSound => "the octaves lock once both sound".to_owned(),
            Together::LowWeak => "the octaves are locked".to_owned(),
            Together::Throughout => "the octaves sound together and locked".to_owned(),
        },
        Kind::Blended => "the low tone sounds, and the octave in it true".to_owned(),
        Kind::Single => "one tone sounds, without its octave".to_owned(),
        Kind::Split => match alignment {
            Some(off) => format!("two tones sound {} off the octave", cents(off)),
            None => "two tones sound that make no octave".to_owned(),
        },
        Kind::Unsettled => "it sounds, but no tone holds".to_owned(),
        Kind::Breath => "only breath is heard".to_owned(),
    };
    if all > 1 { format!("{what} ({alike} of {all} crows)") } else { what }
}

/// A finding that is named and does not lead to the move.
pub(super) fn beside(finding: &Finding) -> String {
    let how = if finding.value_mm.is_some() { "measured" } else { "seen" };
    format!("also {how}: {}", finding.says)
}

/// `15 cents`, `1 cent`; without its sign.
pub(super) fn cents(value: f64) -> String {
    match format!("{:.0}", value.abs()).as_str() {
        "1" => "1 cent".into(),
        text => format!("{text} cents"),
    }
}

/// As [`cents`], with as many decimals as show on which side of `limit` it lies.
pub(super) fn of_limit(value: f64, limit: f64) -> String {
    let size = value.abs();
    let hides = |text: &str| text.parse::<f64>().is_ok_and(|told| (told > limit) != (size > limit));
    let text = format!("{size:.0}");
    if !hides(&text) {
        return cents(size);
    }
    let mut finer = (1..=3).map(|places| format!("{size:.places$}"));
    format!("{} cents", finer.find(|text| !hides(text)).unwrap_or(text))
}

/// A whole number with its sign, the minus being U+2212; what rounds to zero has none.
pub(super) fn signed(value: f64) -> String {
    match format!("{:.0}", value.abs()) {
        text if text == "0" => text,
        text if value < 0.0 => format!("−{text}"),
        text => format!("+{text}"),
    }
}

/// A share in per cent, rounded down: it never looks surer than it is.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0 + 1e-9).floor())
}

/// Nothing of what is past its limit; of what is not, what it is near to.
pub(super) fn near(past: bool, counts_as: &str) -> String {
    if past { String::new() } else { format!(", near what counts as {counts_as}") }
}

/// How deep a rattle is, against the depth that counts as wild.
pub(super) fn rattle(depth: f64, wild: f64, over: bool) -> String {
    let side = if over { "past" } else { "still under" };
    format!(
        "it rattles, {:.0} % deep, {side} the {:.0} % that count as wild",
        depth * 100.0,
        wild * 100.0
    )
}
