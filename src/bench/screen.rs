//! What is shown after a take or a command.

use crate::advice::Advice;
use crate::comparison::{Change, Comparison, NoteCode, pitch_estimate};
use crate::log::{Difference, History, Step, timeline};
use crate::profile::Profile;
use crate::reading::Reading;
use crate::report::terminal::Style;
use crate::report::timeline as course;
use crate::words::bench as bench_words;
use crate::words::card::{self as words, is_upper};
use crate::words::comparison as words_of;
use crate::words::format::{LengthUnit, interval};
use crate::words::stage::steps;
use crate::words::voices::kind_large;

/// The figures that a maker asks for after a cut, the first ones first.
const ASKED: [&str; 6] = [
    "fundamental.target_cents",
    "alignment.cents",
    "response.onset_s",
    "response.low_delay_s",
    "steadiness.spread_cents",
    "breath.noise_db",
];

/// How text is shown: on what terminal, with lengths in what.
#[derive(Debug, Clone, Copy, Default)]
pub struct Paper {
    /// What the terminal can show.
    pub style: Style,
    /// In what lengths are told.
    pub unit: LengthUnit,
}

/// What the last cut did.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// The crows before it and after it.
    pub comparison: &'a Comparison,
    /// The cuts between the two.
    pub since: &'a [Step],
    /// What else differed, one line each.
    pub beware: &'a [Difference],
}

impl Told<'_> {
    /// One line per figure asked for, and the way so far.
    pub fn text(&self, history: &History, profile: &Profile, paper: &Paper) -> String {
        let style = &paper.style;
        let mut lines = Vec::new();
        for different in self.beware {
            let label = format!("{} ", words_of::BEWARE);
            lines.extend(style.wrapped(&label, &different.to_string()));
        }
        lines.extend(style.wrapped("since ", &format!("{}:", steps(self.since, paper.unit))));
        let sides = (&self.comparison.before, &self.comparison.after);
        let mut told: Vec<String> =
            words_of::turned(sides.0, sides.1, profile).into_iter().collect();
        let figures = asked(self.comparison, profile).into_iter();
        told.extend(figures.map(|change| words_of::told(change, profile)));
        let notes = self.comparison.notes.iter().filter(|note| is_for_the_bench(note.code));
        let notes: Vec<String> = notes.map(|note| note.text.clone()).collect();
        if told.is_empty() && notes.is_empty() {
            told.push(match sides.1.crow_count {
                0 => words_of::SILENT_NOW.into(),
                _ => words_of::NOTHING_TO_COMPARE.into(),
            });
        }
        told.extend(notes);
        lines.extend(told.iter().flat_map(|words| style.wrapped("  ", words)));
        style.letters(lines.join("\n") + "\n") + &way(history, profile, paper)
    }
}

/// The figures that a maker asks for after a cut: pitch, and of the others what moved. Without a target,
/// pitch is told in hertz. A recording against itself tells nothing.
pub(super) fn asked<'a>(comparison: &'a Comparison, profile: &Profile) -> Vec<&'a Change> {
    let Comparison { changes, notes, .. } = comparison;
    if notes.iter().any(|note| note.code == NoteCode::SameRecording) {
        return Vec::new();
    }
    let find = |path: &str| changes.iter().find(|change| change.figure == path);
    let pitch = find(ASKED[0]).or_else(|| find("fundamental.hz"));
    let others = ASKED.iter().skip(1).filter_map(|path| find(path));
    // Of the figures besides pitch only what moved is worth a line at the bench.
    let moved = others.filter(|change| change.matters(profile));
    pitch.into_iter().chain(moved).collect()
}

/// Not what is said otherwise, nor what is about figures that are not shown here.
fn is_for_the_bench(code: NoteCode) -> bool {
    use NoteCode::{Chance, MicrophoneUnknown, NoCrow};
    !matches!(code, Chance | MicrophoneUnknown | NoCrow)
}

/// The two lines that stay in sight: pitch and kind, and the next move. They fit in 60 columns; `why`
/// tells the rest.
pub fn standing(reading: &Reading, advice: &Advice, profile: &Profile) -> [String; 2] {
    let heard = match reading.summary.kind {
        None => words::no_crow(reading),
        Some(kind) => {
            let same = reading.crows.iter().filter(|crow| crow.kind == kind).count();
            let known = pitch_estimate(reading, profile.advice.usual_spread_cents)
                .map(|known| interval(known.half_width(), 1));
            let pitch = &reading.summary.figures.fundamental;
            let cents = pitch.target_cents.map(|cents| (cents, profile.lowest_note()));
            let cents = cents.or(pitch.note_cents.map(|cents| (cents, None)));
            let kind = kind_large(kind, is_upper(&reading.summary.figures, profile));
            bench_words::standing(cents, known, &kind, (same, reading.summary.crow_count))
        }
    };
    [heard, bench_words::next(advice)]
}

/// Pitch, octaves and length at one glance.
pub fn way(history: &History, profile: &Profile, paper: &Paper) -> String {
    paper.style.letters(course::glance(
        &timeline(history),
        profile.lowest_note(),
        paper.unit,
        paper.style.width,
    ))
}
