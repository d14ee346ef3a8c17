//! What stands on the page over many takes.

use crate::words::format::{counted, signed};

/// How many takes there are, hold a crow, and could not be read.
pub fn takes(count: usize, with_crow: usize, failed: usize) -> String {
    let takes = counted(count, "take");
    format!("{takes}, {with_crow} with a crow, {failed} that could not be read.")
}
/// What cents count from.
pub fn cents_count_from(note: &str) -> String {
    format!("Cents count from {note}; negative is flat.")
}
/// Without a target.
pub const NEAREST_NOTE: &str = "the nearest note";
/// Before the folder that names leave out.
pub const NAMED_FROM: &str = "The names of the takes leave out their folder,";
/// Names are links.
pub const LINKED: &str = "A take’s name leads to its picture.";
/// How many takes are of each kind.
pub fn kinds(kinds: &str) -> String {
    format!("Kinds: {kinds}.")
}
/// Among the kinds: takes without a crow.
pub const WITHOUT_CROW: &str = "without a crow";
/// What is left out of a list.
pub fn and_more(count: u64) -> String {
    format!("and {count} more")
}

/// The table.
pub const TAKES: &str = "Takes";
/// What narrows it.
pub const FILTER: &str = "Show only rows that contain";
/// It is wider than the page.
pub const SCROLL: &str = "Scroll sideways for the rest of the columns.";
/// Its columns: heading, and what it means.
pub const COLUMNS: [(&str, &str); 12] = [
    ("Take", "The file; point at it to see its whole path"),
    ("Kind", "How most of its crows sound"),
    ("Pitch", "Nearest note and cents from it"),
    (
        "Off target (cents)",
        "From the target, negative is flat, as on the take's card. Without a target from the nearest note",
    ),
    ("Octaves off (cents)", "How far the upper octave is from a true one"),
    (
        "Octaves and crows",
        "Level of each octave, the target's first; pitch of each crow against the target",
    ),
    ("Next move", "What to do next"),
    ("Wander (cents)", "How far the pitch wanders within a crow"),
    ("Onset (s)", "Breath before the first tone"),
    ("Level (dB)", "How loud it was recorded, against full scale"),
    ("Crows", "Crows that sound"),
    ("Doubts", "What makes the reading doubtful, or why there is none"),
];
/// A take that could not be read.
pub const NOT_READ: &str = "not read";
/// A take without a crow.
pub const NO_CROW: &str = "no crow";
/// How far the octaves are off.
pub fn alignment(cents: &str, is_locked: bool) -> String {
    format!("{cents}{}", if is_locked { " locked" } else { "" })
}

/// The small picture of a take for who cannot see it.
pub fn small_picture(octaves: &str, crows: &str) -> String {
    format!("Octaves: {octaves}. Cents of the crows: {crows}.")
}
/// An octave in it.
pub fn at(hz: &str, level: &str) -> String {
    format!("{hz} Hz at {level}")
}
/// A crow without a pitch.
pub const NONE: &str = "none";

/// The chart of pitches.
pub const DISTRIBUTION: &str = "Pitch of the takes";
/// Its upright axis.
pub const TAKES_AXIS: &str = "takes";
/// From where to where a bar of it reaches; `None` where it has no end.
pub fn bar(from: Option<f64>, to: Option<f64>) -> String {
    match (from, to) {
        (Some(from), Some(to)) => format!("{} to {} cents", signed(from, 0), signed(to, 0)),
        (None, Some(to)) => format!("under {} cents", signed(to, 0)),
        (Some(from), None) => format!("over {} cents", signed(from, 0)),
        (None, None) => String::new(),
    }
}
/// There is nothing to show in it.
pub const NO_PITCHES: &str = "No take holds a pitch.";
/// What it shows.
///
/// * `takes`: how many are flat, in tune, sharp.
/// * `middle`: median and quartiles, in cents.
pub fn distribution(takes: [usize; 3], tolerance: f64, middle: [String; 3]) -> String {
    let ([flat, within, sharp], [median, lower, upper]) = (takes, middle);
    format!(
        "{} with a pitch: {flat} flat, {within} within {tolerance} cents, {sharp} sharp; the median is \
         {median} cents. Half of the takes lie from {lower} to {upper} cents.",
        counted(flat + within + sharp, "take"),
    )
}
/// Pitches that its bars do not reach.
pub const BEYOND: &str = "The outermost bar holds what lies beyond it too.";

/// The chart of octaves.
pub const OCTAVES: &str = "Octaves against pitch";
/// Its upright axis.
pub const OCTAVES_AXIS: &str = "octaves off 2:1 (cents)";
/// What it shows.
pub fn octaves(count: usize, locked: usize, locked_cents: f64, missing: usize) -> String {
    let shown = format!(
        "{} whose two octaves are measured against each other; {locked} within {locked_cents} cents of \
         2:1.",
        counted(count, "take")
    );
    match missing {
        0 => shown,
        1 => format!(
            "{shown} 1 more take, in octaves or two tones, is not shown: its octaves do not sound together \
             long enough to be measured."
        ),
        _ => format!(
            "{shown} {missing} more takes, in octaves or two tones, are not shown: their octaves do not sound \
             together long enough to be measured."
        ),
    }
}
/// A take in it.
pub fn mark(name: &str, pitch: &str, octaves: &str) -> String {
    format!("{name}: {pitch} cents, octaves {octaves} cents off")
}
