//! What is shown after a take or a command.

use crate::comparison::{Change, Comparison, Verdict};
use crate::log::{History, timeline};
use crate::profile::Profile;
use crate::report::terminal::Style;
use crate::report::{comparison as report, timeline as course};

/// The figures that a maker asks for after a cut, the first ones first.
const ASKED: [&str; 6] = [
    "fundamental.target_cents",
    "alignment.cents",
    "response.onset_s",
    "response.low_delay_s",
    "steadiness.spread_cents",
    "breath.noise_db",
];

/// What the last cut did, one line per figure asked for, and the way so far.
///
/// * `since`: the cuts between the two sides, in words.
pub fn change(
    comparison: &Comparison,
    since: &str,
    history: &History,
    profile: &Profile,
    style: &Style,
) -> String {
    let mut text = format!("since {since}:\n");
    let mut told = 0;
    for change in asked(comparison) {
        text += &format!("  {}\n", report::sentence(change, profile));
        told += 1;
    }
    if let (Some(before), Some(after)) = (comparison.before.kind, comparison.after.kind)
        && before != after
    {
        use crate::report::terminal::words;
        text += &format!("  it was {}, now it is {}\n", words::kind(before), words::kind(after));
        told += 1;
    }
    if told == 0 {
        text += "  nothing that both sides support can be compared yet; crow again\n";
    }
    for note in &comparison.notes {
        text += &format!("  {}\n", note.text);
    }
    style.letters(text + &way(history, profile, style))
}

/// Without a target, pitch is told in hertz.
fn asked(comparison: &Comparison) -> Vec<&Change> {
    let find = |path: &str| comparison.changes.iter().find(|change| change.figure == path);
    let pitch = find(ASKED[0]).or_else(|| find("fundamental.hz"));
    let others = ASKED.iter().skip(1).filter_map(|path| find(path));
    // Of the figures besides pitch only what moved is worth a line at the bench.
    let moved = others.filter(|change| matches!(change.verdict, Verdict::Rose | Verdict::Fell));
    pitch.into_iter().chain(moved).collect()
}

/// Pitch, octaves and length at one glance.
pub fn way(history: &History, profile: &Profile, style: &Style) -> String {
    style.letters(course::glance(&timeline(history), profile.target, style.width))
}
