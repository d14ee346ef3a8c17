//! What stands at the prompt besides what the bench answers: the lines that stay, the live line, what
//! `?` shows, and what is said when listening begins and ends.

use crate::capture::Listening;
use crate::log::Card;
use crate::pitch::A4;
use crate::reading::Loud;
use crate::words::format::{counted, seconds};

/// What may be typed, longest first: the first that fits stands there.
pub const HINTS: [&str; 2] = [
    "clip 0.3 · tip sides · leak low · length 70.2 · u undo · p pause · y why · ? all",
    "clip 0.3 · leak low · length 70.2 · u undo · ? all",
];
/// Nothing is listened to.
pub const PAUSED: &str = "PAUSED: not listening; g goes on";
/// A microphone that gives nothing.
pub const SILENT: &str = "silent";

/// Loudness in a word.
pub fn loud(loud: Loud) -> &'static str {
    match loud {
        Loud::Far => "far",
        Loud::Right => "right",
        Loud::Hot => "loud!",
    }
}

/// How far listening is.
///
/// * `room`: columns there are: 0 few, 1 some, 2 enough.
pub fn state(listening: &Listening, room: usize) -> String {
    let crows = counted(listening.crows, "crow");
    if listening.muted {
        return if room == 2 { "the input is silent: muted?" } else { "silent: muted?" }.to_owned();
    }
    let Some(take) = listening.take else {
        return match (listening.now.armed, room) {
            (true, _) => "ready: crow",
            (false, 0) => "hearing room",
            (false, _) => "listening to the room",
        }
        .to_owned();
    };
    let take = if room == 2 { format!("take {take}, ") } else { String::new() };
    match (listening.closes_in_s, room) {
        (None, 0) => format!("{crows}, sounds"),
        (None, _) => format!("{take}{crows}, sounding"),
        (Some(left_s), 0) => format!("{crows}, {left_s:.0} s left"),
        (Some(left_s), _) => format!("{take}{crows}, ends in {left_s:.0} s"),
    }
}

/// What is listened to, as listening begins.
pub fn listening_to(name: &str, rate_hz: u32) -> String {
    format!("Listening to {name} at {rate_hz} samples per second.")
}
/// What to do.
pub const CROW_WHEN_READY: &str = "Crow when it says ready; Ctrl-C ends.";
/// The same where a reed is on the bench.
pub const TYPE_WHAT_YOU_DID: &str =
    "Type what you did and Enter: clip 0.3, leak low, length 70.2; u takes it back, ? shows all.";
/// What a reed is compared with.
pub fn held_to(label: &str, profile: &str, a4: A4) -> String {
    format!("{label} is read as {profile}, A4 = {} Hz", a4.hz())
}
/// That its card says so.
///
/// * `overruled`: options that were typed and do not count.
pub fn by_its_card(card: &Card, held: &str, overruled: &[&str]) -> String {
    match (card.profile.is_some() || card.a4_hz.is_some(), overruled) {
        (false, _) => format!("{held}."),
        (true, []) => format!("{held}, by its card."),
        (true, typed) => format!(
            "{held}, by its card: {} does not count ('reedcrow reed edit' changes the card).",
            typed.join(" ")
        ),
    }
}
/// A take of a program that was killed.
pub fn unfinished(path: &str) -> String {
    format!(
        "{path}: a take that was cut off while it was recorded; 'reedcrow analyse' reads it, and once \
         it is renamed to .wav it counts as a take"
    )
}
/// The microphone failed.
pub fn lost(why: &str, is_kept: bool) -> String {
    let is = if is_kept { "kept" } else { "read" };
    format!("{why}; what it recorded until then is {is}")
}
/// What a session brought.
pub fn session(takes: usize, crows: usize) -> String {
    format!("{}, {}.", counted(takes, "take"), counted(crows, "crow"))
}
/// No sound came at all.
pub const SILENT_THROUGHOUT: &str =
    "The input was silent throughout: muted? 'reedcrow devices --check' tells whether it hears.";
/// Samples were lost.
pub fn samples_lost(samples: u64, of_s: f64) -> String {
    format!(
        "{} ({}) were lost while listening, in takes or between them; close programs that keep the \
         computer busy.",
        counted(samples as usize, "sample"),
        seconds(of_s),
    )
}

/// What `?` shows over each part of it.
pub mod help {
    use std::fmt::Display;

    pub(crate) const CUTS: &str = "What you did:";
    pub(crate) const LOOKS: &str = "What you saw:";
    pub(crate) const SIZES: &str =
        "What you measured, in mm from the bottom of the staple (or 2.76in):";
    pub(crate) const HEARD: &str = "What you heard: heard";
    /// What may be said of how good a reed is.
    pub(crate) fn rating(sides: &str, grades: &str) -> String {
        format!(
            "How good it is:\n  {sides}\n  each with {grades}\n  lived 12   hours of playing for which \
             it was good\n"
        )
    }
    pub(crate) const ELSE: &str = "\
Also:
  u undo   r redo   w the way so far   y why   p pause   g go on   q end
  play 2 3   tone   keep (what was set aside)   note WORDS
  owner NAME   cane TEXT   complaint TEXT   due 2026-03-17   kind bassoon   a4 442
                                                                       (to its card)
  reed NAME   next   new NAME   like NAME   model   model this
  account   account with notes
  close done | sent back | given up   open again
  rate pitch good low fair high good stability good tone fine lived 12 by NAME
  Words of your own follow a colon: tip sides: left more than right
";
    /// What is put right further back than by taking back or measuring again.
    pub(crate) const CORRECT: &str = "what was wrong before the last cut is put right with the command \
                                      'reedcrow reed correct', whose --help shows how";
    /// Where all that may be said is shown, at the prompt and on the page.
    pub(crate) const SHOWN_BY: &str = "? shows what may be typed";

    /// Why a line was not obeyed.
    pub(crate) fn nothing_written(why: &impl Display) -> String {
        format!("{why}; nothing was written down")
    }

    /// A line is none of the grammar.
    pub(crate) fn not_understood(said: &str, meant: &str) -> String {
        format!("'{said}' is not understood, and nothing was written down{meant}")
    }
    /// A phrase is not a kind of work.
    pub(crate) fn no_such_work(said: &str, meant: &str) -> String {
        format!("'{said}' is not a kind of work{meant}")
    }
    /// Where the kinds of work are shown.
    pub(crate) const WORK_SHOWN_BY: &str = "'reedcrow reed step --help' lists them";
    /// A form that wants a number of the maker's own, with one for example.
    pub(crate) fn such_as(form: &str) -> String {
        format!(
            ". Type it with your own figure, a decimal number in mm (or inches: 2.76in), such as '{form}'"
        )
    }
    /// What may be meant by it.
    pub(crate) fn meant(phrases: &[String], shown_by: &str) -> String {
        match phrases {
            [] => format!("; {shown_by}"),
            [one] => format!(". Did you mean '{one}'? Type that"),
            [first @ .., last] => {
                format!(". Did you mean '{}' or '{last}'? Type one of them", first.join("', '"))
            }
        }
    }
}

/// What is missing from a line, or stands in it twice.
pub mod incomplete {
    use crate::log::CardField;

    pub(crate) const PLAY: &str = "play wants the number of a take, or of two: play 2 3";
    pub(crate) const NOTE: &str = "a note wants its words: note dull below";
    pub(crate) const REED: &str = "reed wants the name on a card: reed mirek-12";
    pub(crate) const NEW: &str = "new wants the new reed's name: new mirek-13";
    pub(crate) const LIKE: &str = "like wants the new reed's name: like mirek-13";
    pub(crate) const PRACTICE: &str = "practice wants the name of a practice take";
    pub(crate) const RATE: &str = "rate wants pitch, low, high, stability or tone, each with poor, weak, \
                                   fair, good or fine (or 1 to 5), or the hours it lived: rate pitch good \
                                   low fair lived 12; by NAME at the end says who";
    pub(crate) const CLIP: &str = "clip wants millimetres and nothing more: clip 0.3";
    pub(crate) const MEASURE: &str = "measure wants what and how long: length 70.2";
    /// What of a card is said without its words.
    pub(crate) fn card(field: CardField) -> &'static str {
        match field {
            CardField::Owner => "owner wants a name: owner Mirek",
            CardField::Cane => "cane wants its source or batch: cane batch B",
            CardField::Complaint => "complaint wants its words: complaint low octave comes late",
            CardField::Due => "due wants a day: due 2026-03-17",
            CardField::Kind => "kind wants a kind of reed: kind bassoon",
            CardField::A4 => "a4 wants the pitch of A4 in Hz: a4 442",
        }
    }
    pub(crate) const RATED_TWICE: &str = "one thing is rated twice in this line";
    pub(crate) const SEEN_TWICE: &str = "one part is looked at twice in this line";
    pub(crate) const MEASURED_TWICE: &str = "one thing is measured twice in this line";
}
