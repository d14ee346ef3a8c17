//! What a comparison says: figure by figure, and of pitch first.

pub mod names;

use std::fmt::{self, Display, Formatter};

use crate::comparison::{Change, Comparison, NoteCode, Side, Verdict, Worth, turn};
use crate::log::Difference;
use crate::profile::Profile;
use crate::reading::catalogue;
use crate::words::card::{self, kind};
use crate::words::format::{capital, counted, number, plus_minus, signed};
use names::{Name, name};

/// The side before.
pub const BEFORE: &str = "Before";
/// The side after.
pub const AFTER: &str = "After";
/// Before what makes the first line doubtful.
pub const BUT: &str = "But";
/// Before what else is to be known.
pub const NOTE: &str = "Note";
/// Both sides are one recording.
pub const SAME_RECORDING: &str = "This is the same recording: there is nothing to compare.";
/// Over figures of which nothing can be told.
pub const CANNOT_TELL: &str = "Cannot tell: one crow on a side gives no spread";
/// The same, where more crows would tell.
pub const CANNOT_TELL_YET: &str =
    "Cannot tell yet: at the end, how many crows a side would settle it";
/// Over what changed.
pub const CHANGED: &str = "Changed";
/// Over what changed for sure, and is no matter.
pub const CHANGED_LITTLE: &str = "Changed, by too little to matter";
/// Over what stayed, each with its limit.
pub const NO_LARGER_THAN: &str = "No change larger than";

/// It went up for sure.
pub const ROSE: &str = "rose";
/// It went down for sure.
pub const FELL: &str = "fell";
/// How many crows on a side would tell.
pub fn crows_needed(crows: usize) -> String {
    format!("{crows} crows")
}
/// The same where that is more than anybody blows.
pub const MANY_CROWS: &str = "over 200";
/// Beside a difference that is not reckoned for one blowing strength.
pub const AS_CROWED: &str = "as crowed";

/// Figures that are not shown.
pub fn more(hidden: usize) -> String {
    format!("{} with --json.", counted(hidden, "more figure"))
}

/// A change in one short sentence: "pitch against the target rose by 26 ±6 cents". Where it is
/// reckoned for crows blown alike, the sentence says so, and what the crows themselves differ by.
pub fn sentence(change: &Change, profile: &Profile) -> String {
    let Name { text, unit, scale } = name(change, profile);
    let places = places(change, scale);
    let by = || {
        let by = number(change.difference.abs() * scale, places);
        format!("{by}{}{unit}", half(change, profile))
    };
    let by_crows = signed(as_crowed(change) * scale, places);
    let plain = format!("{by_crows} {AS_CROWED}");
    let (strength, aside, doubt) = match change.level_adjusted {
        true => (
            format!(" {ONE_STRENGTH}"),
            format!(" ({plain})"),
            format!("{}; the crows as they were differ by {by_crows}", doubt(change)),
        ),
        false => (String::new(), String::new(), doubt(change)),
    };
    match change.verdict {
        Verdict::Rose | Verdict::Fell => {
            let way = if change.verdict == Verdict::Rose { ROSE } else { FELL };
            let less = match change.matters(profile) {
                true => String::new(),
                false => format!(", less than the {} that matter", smallest(change, profile)),
            };
            format!("{text} {way} by {}{strength}{less}{aside}", by())
        }
        Verdict::Same => {
            let limit = smallest(change, profile);
            format!("{text}: no change larger than {limit}{strength}{aside}")
        }
        Verdict::Unclear => format!("{text}: cannot tell yet{strength} ({doubt})"),
    }
}

/// The same, and whether it is for the better, where that is known.
pub fn told(change: &Change, profile: &Profile) -> String {
    format!("{}{}", sentence(change, profile), worth(change.worth(profile)))
}

fn worth(worth: Option<Worth>) -> &'static str {
    match worth {
        Some(Worth::Better) => ", for the better",
        Some(Worth::Worse) => ", for the worse",
        None => "",
    }
}

/// How a reed stands beside another in one figure: "pitch against the target: 26 ±6 cents lower".
pub fn beside(change: &Change, profile: &Profile) -> String {
    let Name { text, unit, scale } = name(change, profile);
    let by = number(change.difference.abs() * scale, places(change, scale));
    let by = format!("{by}{}{unit}", half(change, profile));
    match change.verdict {
        Verdict::Rose => format!("{text}: {by} higher"),
        Verdict::Fell => format!("{text}: {by} lower"),
        Verdict::Same => format!("{text}: alike, within {}", smallest(change, profile)),
        Verdict::Unclear => format!("{text}: cannot tell yet ({})", doubt(change)),
    }
}

/// What a side is and how its crows sound: `take.wav: 3 crows, all in octaves`.
pub fn described(side: &Side, name: Option<&str>, profile: &Profile) -> String {
    let takes = match name {
        Some(name) => name.to_owned(),
        None if side.source.len() > 3 => format!("{} takes", side.source.len()),
        None => side.source.join(", "),
    };
    match side.kind {
        None => format!("{takes}: no crow"),
        Some(kind) => {
            let is_upper = is_upper(side, profile);
            format!("{takes}: {}", card::crows(side.crow_count, side.kind_count, kind, is_upper))
        }
    }
}

/// Pitch in one sentence, since it is what most cuts are for.
pub fn headline(comparison: &Comparison, profile: &Profile) -> String {
    let of = |path: &str| comparison.changes.iter().find(|change| change.figure == path);
    let pitch = of("fundamental.target_cents").or_else(|| of("fundamental.hz"));
    match pitch {
        Some(change) => format!("{}.", capital(&sentence(change, profile))),
        None => match (comparison.before.crow_count, comparison.after.crow_count) {
            (0, 0) => "No crow sounds on either side.".into(),
            (0, _) => "It crows now, and did not before.".into(),
            (_, 0) => "It does not crow any more.".into(),
            _ if comparison.notes.iter().any(|note| note.code == NoteCode::DifferentOctave) => {
                "They sound in different octaves: their pitch cannot be compared.".into()
            }
            _ => "No tone is held on both sides: pitch cannot be compared.".into(),
        },
    }
}

/// "pitch wander: 3 cents"
pub fn limit(change: &Change, profile: &Profile) -> String {
    format!("{}: {}", name(change, profile).text, smallest(change, profile))
}

/// The smallest change that matters, with its unit.
fn smallest(change: &Change, profile: &Profile) -> String {
    let Name { unit, scale, .. } = name(change, profile);
    let limit = profile.smallest_change(&change.figure).unwrap_or_default();
    let text = format!("{:.4}", limit * scale);
    format!("{}{unit}", text.trim_end_matches('0').trim_end_matches('.'))
}

/// How a difference is told that is reckoned for crows blown alike.
pub const ONE_STRENGTH: &str = "at one blowing strength";

/// After minus before, of the medians as they were crowed.
pub fn as_crowed(change: &Change) -> f64 {
    let plain = change.after - change.before;
    match change.figure.as_str() {
        // Over the tritone and back is no way.
        "fundamental.target_cents" => plain - 1200.0 * (plain / 1200.0).round(),
        _ => plain,
    }
}

/// " ±5.7"; empty where one crow gives no interval.
pub fn half(change: &Change, profile: &Profile) -> String {
    let scale = name(change, profile).scale;
    let places = places(change, scale);
    change.ci95.map(|half| format!(" {}", plus_minus(half * scale, places))).unwrap_or_default()
}

fn doubt(change: &Change) -> String {
    match (change.ci95, change.crows_needed) {
        (None, _) => "one crow on a side gives no spread".into(),
        (Some(_), Some(needed)) => format!("{needed} crows on each side would settle it"),
        (Some(_), None) => "not even 200 crows on each side would settle it".into(),
    }
}

/// Decimals that show two digits of the interval, or of the difference where there is none; of cents one at
/// most.
pub fn places(change: &Change, scale: f64) -> usize {
    if change.figure == "fundamental.register" && change.difference.fract() == 0.0 {
        return 0;
    }
    let size = change.ci95.filter(|half| *half > 0.0).unwrap_or(change.difference.abs().max(0.1));
    let is_cents = catalogue::about(&change.figure).is_some_and(|about| about.unit == "cents");
    match size * scale {
        size if size >= 10.0 => 0,
        size if size >= 1.0 || is_cents => 1,
        size if size >= 0.1 => 2,
        _ => 3,
    }
}

/// That a reed crows otherwise than it did, and whether that is for the better; `None` where it does not, or
/// where one side has no crow.
pub fn turned(before: &Side, after: &Side, profile: &Profile) -> Option<String> {
    let (was, is) = (kind_of_side(before, profile)?, kind_of_side(after, profile)?);
    let worth = worth(turn(before, after));
    (was != is).then(|| format!("it was {was}, now it is {is}{worth}"))
}

/// How the crows of a side sound; `None` without any.
pub fn kind_of_side(side: &Side, profile: &Profile) -> Option<String> {
    Some(kind(side.kind?, is_upper(side, profile)))
}

fn is_upper(side: &Side, profile: &Profile) -> bool {
    side.register.is_some_and(|register| profile.is_peep(register))
}
/// A reed that crowed before gives no crow.
pub const SILENT_NOW: &str = "it does not crow any more";
/// No figure stands on both sides.
pub const NOTHING_TO_COMPARE: &str =
    "nothing can be compared yet: no figure was read both before and after; crow again";

/// One side is not named.
pub const NAME_BOTH: &str = "name what was before and what is after";

/// Files of a folder that were passed over.
pub fn skipped(files: usize) -> String {
    let are = if files == 1 { "that is not a recording" } else { "that are not recordings" };
    format!("skipped {} {are}", counted(files, "file"))
}

/// A recording of a folder that cannot be read.
pub fn passed_over(why: &str) -> String {
    format!("{why}; passed over")
}

/// A folder without a recording.
pub const NOTHING_IN_IT: &str =
    "holds no recording that can be read; name a file or another folder";

/// A reed has had fewer cuts.
pub fn no_step(label: &str, number: u32, last: u32) -> String {
    format!("{label}: has no step {number}; its last is {last}")
}

/// A reed was not crowed then.
pub fn not_crowed_at(label: &str, number: u32) -> String {
    format!("{label}: was not crowed at step {number}; 'reedcrow reed show' says where it was")
}

/// There is nothing to compare a reed's last cut by.
pub fn not_crowed_both(label: &str) -> String {
    format!(
        "{label}: was not crowed both before and after its last cut; crow it, or name two steps with \
         --steps"
    )
}

/// Before what else differed between two sides.
pub const BEWARE: &str = "beware:";

impl Display for Difference {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        match self {
            Self::Wetness => f.write_str("one side was crowed wet, the other dry"),
            Self::Temperature(a, b) => write!(f, "it was {a} °C before and {b} °C after"),
            Self::Humidity(a, b) => {
                write!(f, "the air held {a} % humidity before and {b} % humidity after")
            }
            Self::Soaked(a, b) => write!(f, "it was soaked {a} min before and {b} min after"),
            Self::Played(a, b) => write!(f, "it had been played {a} h before and {b} h after"),
            Self::Player(a, b) => write!(f, "{a} crowed before, {b} after"),
            Self::How(a, b) => write!(f, "crowed differently: before {a}, after {b}"),
        }
    }
}
