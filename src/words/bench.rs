//! What the bench says: page and prompt.

use std::path::Path;

use crate::advice::Advice;
use crate::capture::{CROWS, CaptureError, Check, Fitness, SourceTold, Stands};
use crate::log::{CardField, Ending, Rating, Step};
use crate::pitch::Note;
use crate::profile::Profile;
use crate::reading::{Loud, how_loud};
use crate::reed::{Inspection, Sizes};
use crate::words::advice as advice_words;
use crate::words::card::NO_TONE;
use crate::words::format::{LengthUnit, counted, counted_number, millimetres, number};
use crate::words::stage::stage_name;
use crate::words::{reed, sheet, stage};

/// Where the page is.
pub fn served_at(url: &str) -> String {
    format!("The bench is at {url}")
}
/// How it ends.
pub const CTRL_C_ENDS: &str = "Ctrl-C ends it; nothing is lost by that.";
/// It did not open by itself.
pub const NO_BROWSER: &str = "No browser could be opened; open that address yourself.";

/// Nothing is listened to for now.
pub const PAUSED: &str = "Paused. The program does not listen now.";
/// It is again.
pub const GOES_ON: &str = "Listening again.";
/// The check of the microphone begins.
pub const CHECK_BEGINS: &str = "A little quiet first, please.";
/// It is over.
pub const CHECK_PUT_AWAY: &str = "The check is closed.";
/// There is nothing to be checked.
pub const NOTHING_TO_CHECK: &str = "no microphone is open that could be checked";
/// There is no reed to put on the bench.
pub const NO_REED: &str = "no reed is on the bench; choose one, or enter a new one";
/// There is no other one.
pub const NO_OTHER_REED: &str = "No other reed is waiting.";
/// Nothing was crowed yet.
pub const NOT_CROWED: &str = "Not crowed since the last cut; crow three times.";
/// There is nothing to sound.
pub const NO_TARGET: &str = "This kind of reed has no target note.";
/// What a reed for practice is there for.
pub const FOR_TRYING: &str = "none; it is there for trying the program";
/// What its owner complains of.
pub fn complaint(complaint: &str) -> String {
    format!("Complaint: {complaint}")
}

/// What is done with a button of the page, not in its line.
pub const ON_THE_PAGE: &str = "That has a button on this page.";
/// Where the page shows the reasons: `heading` stands over them.
pub fn why_is_under(heading: &str) -> String {
    format!("Why: under \"{heading}\".")
}
/// What may be typed on the page, beside its buttons.
pub const MAY_BE_TYPED: &str = "Type what you did (clip 0.3, tip sides), saw (leak low, heart thin), measured (length \
                                70.2), heard (heard octaves), or: note WORDS, undo, redo, reed NAME, new NAME, \
                                close done.";
/// A microphone that gave sound before gives none.
pub const SILENT_NOW: &str = "no sound from the microphone at the moment";
/// Nothing that was set aside is at hand.
pub const NOTHING_ASIDE: &str = "nothing has been set aside that could be kept";
/// What was set aside is nothing that can be read.
pub const NO_TONE_ASIDE: &str = "no tone in it lasts long enough to be read as a crow";
/// A crow that ended a moment ago.
const FIRST_LOOK: &str = "at first look";

/// What was set aside counts as crows from now on.
pub fn kept(take: u32) -> String {
    format!("Counted as crows of the reed: take {take}.")
}

/// The work on a reed has ended, or goes on after all.
pub fn closed(label: &str, ending: Option<Ending>) -> String {
    match ending {
        Some(ending) => format!("{label} is closed: {}.", ending.words()),
        None => format!("{label} is open again."),
    }
}

/// The same, where another reed must be named by typing.
pub fn closed_at_the_prompt(label: &str, ending: Ending) -> String {
    format!(
        "{} {HOW_GOOD}: 'rate pitch good low fair'. 'next', 'reed NAME' or 'new NAME' puts another reed \
         on the bench; 'open again' goes on with this one.",
        closed(label, Some(ending))
    )
}

/// Asked when the work on a reed is over.
pub const HOW_GOOD: &str = "How good is it";
/// Asked when a reed comes back.
pub const HOW_WAS_IT: &str = "How good was it, and how long";

/// The same, where one command follows another.
///
/// * `ending`: `None` where it was opened again: it came back.
pub fn rate_it(label: &str, ending: Option<Ending>) -> String {
    let (asked, lived) = match ending {
        Some(_) => (HOW_GOOD, ""),
        None => (HOW_WAS_IT, " lived 12"),
    };
    let label = quoted(label);
    format!(
        "{asked}? 'reedcrow reed rate {label} pitch good low fair{lived}'; --help shows the words"
    )
}

/// A label as it must be typed in a shell.
pub fn quoted(label: &str) -> String {
    match label.contains(char::is_whitespace) {
        true => format!("'{label}'"),
        false => label.to_owned(),
    }
}

/// How good it is, is written down.
pub fn rated(label: &str, rating: &Rating) -> String {
    format!("Written down of {label}: {}.", sheet::rating(rating))
}

/// What the card says now.
pub fn on_the_card(field: CardField, words: &str) -> String {
    format!("On the card: {} {words}.", field.code())
}

/// Something was heard that counts for nothing, unless its maker says otherwise.
pub fn set_aside(heard: &str) -> String {
    format!("Set aside, not counted: {heard}. If it was the reed, 'keep' counts it as crows.")
}

/// No reed is there to tell others against.
pub const NO_MODEL: &str =
    "There is no model yet. Put a good reed of this kind on the bench and say 'model this'.";
/// The reed on the bench is it.
pub const MODEL_THIS: &str = "this reed is the model";

/// A reed is what others of its kind are told against.
pub fn is_model(label: &str, profile: &Profile) -> String {
    format!("{label} is the model from now on: each {} is compared with it.", profile.title)
}

/// What stands over the figures of a reed beside the model.
pub fn beside(model: &str, is_compared: bool) -> String {
    match is_compared {
        false => format!("The model is {model}. Nothing has been compared with it yet."),
        true => format!("Beside the model, {model}:"),
    }
}

/// An ending, on its button.
pub fn ending(ending: Ending) -> &'static str {
    match ending {
        Ending::Done => "done: it plays",
        Ending::SentBack => "sent back to its owner",
        Ending::GivenUp => "given up",
    }
}

/// The same cut was written down twice with no crow between.
pub const ONCE_MORE: &str = "It is the same cut as the one before, with no crow between: if it was entered twice, take \
    one back with 'undo'.";

/// A step is written down.
///
/// * `doubts`: what is doubtful about it, a sentence each.
pub fn done(step: &Step, number: Option<u32>, doubts: &[String], unit: LengthUnit) -> String {
    let step = stage::step(step, unit);
    match number {
        Some(number) if !doubts.is_empty() => {
            format!("Written down: cut {number}, {step}. {}", doubts.join(" "))
        }
        Some(number) => format!("Written down: cut {number}, {step}. Now crow three times."),
        None => format!("Written down: {step}."),
    }
}

/// What was seen is written down.
pub fn seen(seen: &Inspection) -> String {
    format!("Written down: {}.", reed::inspection(seen))
}

/// What was measured is written down.
///
/// * `doubts`: what is doubtful about it, a sentence each.
pub fn measured(sizes: &Sizes, doubts: &[String], unit: LengthUnit) -> String {
    let written = format!("Written down: {}.", reed::measurements(sizes, unit));
    match doubts {
        [] => written,
        doubts => format!("{written} But {}", doubts.join(" But ")),
    }
}

/// Something was taken back.
pub fn undone(what: &str) -> String {
    format!("Undone: {what}.")
}

/// Something was made again.
pub fn made_again(what: &str) -> String {
    format!("Redone: {what}.")
}

/// Which reed is on the bench.
pub fn on_the_bench(label: Option<&str>, ending: Option<Ending>) -> String {
    match (label, ending) {
        (Some(label), None) => format!("{label} is on the bench."),
        (Some(label), Some(ending)) => format!(
            "{label} is on the bench. It is closed, {}: rate it or open it again under Reeds.",
            ending.words()
        ),
        (None, _) => "No reed is on the bench.".to_owned(),
    }
}

/// A take that could not be put on the card.
pub fn not_on_card(why: &str, file: &Path) -> String {
    format!("{why}; the take is in {}: add it with 'reedcrow reed take'", file.display())
}

/// A recording was read.
pub fn recording_read(name: &str, take: Option<u32>) -> String {
    match take {
        Some(take) => format!("{name} is read and on the card, as take {take}."),
        None => format!("{name} is read. No reed is on the bench, so it is on no card."),
    }
}

/// Of a recording that the card had already.
pub fn recording_known(name: &str, take: u32, after_step: u32) -> String {
    format!("{name} is on the card already, as take {take}, {}.", stage_name(after_step))
}

/// What is listened to.
pub fn source(source: &SourceTold) -> String {
    match source {
        SourceTold::Nothing => "Nothing is listened to.".to_owned(),
        SourceTold::Lost(why) => why.clone(),
        SourceTold::Microphone(name) => format!("Listening to {name}."),
        SourceTold::Practice(name) => format!("You hear nothing, but the bench hears the {name}."),
    }
}

/// Why there is no microphone, and what to do, for somebody who has the page alone.
pub fn no_microphone(error: &CaptureError) -> String {
    match error {
        CaptureError::NoDefault(_) => {
            "No microphone was found. Plug one in: it is found by itself. Or drop a recording on this \
             page, or choose one."
                .to_owned()
        }
        CaptureError::NoSoundSystem(_) => {
            "The sound of this computer does not answer. Check its sound settings; the program tries \
             again by itself."
                .to_owned()
        }
        CaptureError::UnknownDevice { name, .. } => {
            format!("There is no microphone called {name} now. Plug it in: it is found by itself.")
        }
        CaptureError::Vanished { device, .. } => format!(
            "The microphone ({device}) went away. Plug it in again: the program goes on by itself."
        ),
        CaptureError::Silent { device, .. } => format!(
            "The microphone ({device}) sends nothing. Check that it is switched on and that no other \
             program holds it."
        ),
        other => format!("No microphone is open. {other}."),
    }
}

/// A microphone is there again.
pub fn microphone_is_back(name: &str) -> String {
    format!("The microphone is back: {name}.")
}

/// What is heard in place of a microphone.
pub fn practice_take(name: &str) -> String {
    format!("practice take '{name}'")
}

/// There is no such practice take.
pub fn no_practice_take(name: &str) -> String {
    format!("There is no practice take '{name}'.")
}

/// A practice take does not decode.
pub fn damaged_practice_take(name: &str) -> String {
    format!("The practice take '{name}' is damaged.")
}

/// The same in a word or two; `None` of nothing.
pub fn source_in_short(source: &SourceTold) -> Option<String> {
    match source {
        SourceTold::Nothing | SourceTold::Lost(_) => None,
        SourceTold::Microphone(name) => Some(format!("Microphone: {name}")),
        SourceTold::Practice(name) => Some(format!("Hearing the {name}")),
    }
}

/// Whether a tone is off its note by less than is told.
fn is_in_tune(cents: f64) -> bool {
    // Halves are rounded to the even number.
    cents.abs() <= 0.5
}

/// How far a tone is from its note, large: `22 cents flat`.
pub fn off(cents: f64) -> String {
    let distance = counted_number(&number(cents.abs(), 0), "cent");
    match (is_in_tune(cents), cents < 0.0) {
        (true, _) => "in tune".to_owned(),
        (false, true) => format!("{distance} flat"),
        (false, false) => format!("{distance} sharp"),
    }
}

/// What the maker is to do while nothing sounds.
pub fn waiting(is_armed: bool, is_silent: bool, crows: usize) -> &'static str {
    match (is_silent, is_armed, crows) {
        (true, ..) => "No sound at all: is the microphone muted?",
        (_, false, _) => "Quiet, please: listening to the room",
        (_, true, 0) => "Ready: crow",
        (_, true, 1 | 2) => "And again",
        _ => "Enough crows: go on, or cut",
    }
}

/// How loud it is at the microphone, with the number behind it.
pub fn level_with_number(dbfs: f64) -> String {
    let loud = match how_loud(dbfs) {
        Loud::Far => "far from the microphone",
        Loud::Right => "level right",
        Loud::Hot => "too loud: move away",
    };
    format!("{loud} ({} dB)", number(dbfs, 0))
}

/// When the crows so far become a take.
pub fn summed_up_in(left_s: f64) -> String {
    format!("Summed up in {} s", number(left_s.ceil(), 0))
}

/// What was heard, in the line that stays: `57 cents flat of C5 ±8.6 · In octaves, 3 crows`.
///
/// * `cents`: how far off, and the note it is held to, if any.
/// * `known`: how far that may be off, as it is shown.
/// * `kind`: as it is shown large.
/// * `crows`: how many are of this kind, and how many there are.
pub fn standing(
    cents: Option<(f64, Option<Note>)>,
    known: Option<String>,
    kind: &str,
    crows: (usize, usize),
) -> String {
    let pitch = cents.map_or_else(
        || NO_TONE.to_owned(),
        |(cents, note)| {
            let of = note.map_or_else(String::new, |note| match is_in_tune(cents) {
                true => format!(" with {note}"),
                false => format!(" of {note}"),
            });
            format!(
                "{}{of}{}",
                off(cents),
                known.map_or_else(String::new, |known| format!(" {known}"))
            )
        },
    );
    let counted = counted(crows.1, "crow");
    match crows.0 == crows.1 {
        true => format!("{pitch} · {kind}, {counted}"),
        false => format!("{pitch} · {kind}, {} of {counted}", crows.0),
    }
}

/// The next move, in the line that stays.
pub fn next(advice: &Advice) -> String {
    let amount = advice.told_mm().map_or_else(String::new, |mm| format!(", {}", millimetres(mm)));
    let place = advice_words::place(advice.next, &advice.r#where);
    let place = place.map_or_else(String::new, |place| format!(": {place}"));
    format!("Next: {}{amount}{place}", advice_words::order(advice.next, &advice.r#where))
}

/// How many crows stand behind what is shown.
pub fn by_crows(count: usize, stands: Stands) -> String {
    let crows = counted(count, "crow");
    match (stands, count) {
        (Stands::Seen, _) => format!("{crows}, {FIRST_LOOK}"),
        (Stands::GoesOn, 0) => "no crow yet".to_owned(),
        (Stands::GoesOn, 1 | 2) => format!("{crows} so far"),
        _ => format!("by {crows}"),
    }
}

/// How far the check of the microphone is, large and small.
pub fn check(check: &Check) -> (String, String) {
    match check {
        Check::Quiet => {
            ("Quiet, please".to_owned(), "listening to the room for three seconds".to_owned())
        }
        Check::Crows(0) => (
            "Now crow three times".to_owned(),
            "as loud as you like, with a pause after each".to_owned(),
        ),
        Check::Crows(heard) => (format!("{heard} of {CROWS}"), "and again".to_owned()),
        Check::QuietAgain => {
            ("Quiet once more".to_owned(), "three seconds, to hear what the gain does".to_owned())
        }
        Check::Done(fitness) if fitness.crows == 0 => (
            "No crow was heard".to_owned(),
            "Come closer, or raise the microphone's level, and check again.".to_owned(),
        ),
        Check::Done(fitness) if fitness.crows < CROWS => (
            format!("{} of {CROWS} crows were heard", fitness.crows),
            "Leave a second between them, and check again.".to_owned(),
        ),
        Check::Done(fitness) if fitness.is_fit() => {
            ("This microphone will do".to_owned(), heard_at(fitness))
        }
        Check::Done(fitness) => ("Change something first".to_owned(), heard_at(fitness)),
    }
}

/// The levels that a check found.
fn heard_at(fitness: &Fitness) -> String {
    let dbfs = |level: Option<f64>| {
        level.map_or("silent".to_owned(), |db| format!("{} dB", number(db, 0)))
    };
    format!("room {}, crow {} of full scale", dbfs(fitness.floor_dbfs), dbfs(fitness.loudest_dbfs))
}

/// There is no such take.
pub fn no_take(number: u32) -> String {
    format!("there is no take {number} of this reed")
}

/// A take is on its reed's card.
pub fn take_kept(label: &str, number: u32) -> String {
    format!("Take {number} is on the card of {label}.")
}

/// What the practice takes are.
pub mod practice {
    use crate::reading::Kind;
    use crate::words::voices::means;

    pub(crate) const FLAT: &str = "three crows in octaves, some 40 cents flat";
    pub(crate) const GOOD: &str = "three crows, in tune";
    pub(crate) const SPLIT: &str = means(Kind::Split, false);
    pub(crate) const PEEP: &str = means(Kind::Single, true);
}
