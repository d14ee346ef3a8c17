//! What stands on the bench's page: headings, buttons, labels and what screen readers say. What the
//! bench answers stands in [`super::bench`].

use crate::log::{Card, CardField, LogError, Rated};
use crate::pitch::{A4, Note};
use crate::words::card::label;

/// What the page is called in the browser.
pub const TITLE: &str = "The bench";
/// The same, behind the name of a reed.
pub const IN_TITLE: &str = "the bench";
/// What leads past everything to the buttons.
pub const SKIP: &str = "Skip to what you can write down";
/// What each part of the page is, for who cannot see it.
pub mod part {
    pub(crate) const BEGIN: &str = "To begin with";
    pub(crate) const LIVE: &str = "What sounds now";
    pub(crate) const CROW: &str = "The last crow";
    pub(crate) const CHANGE: &str = "What the last cut did";
    pub(crate) const REED: &str = "The reed";
    pub(crate) const ENTRIES: &str = "Write down";
    pub(crate) const ENTRY_KINDS: &str = "Kinds of entries";
    pub(crate) const WAY: &str = "The way so far";
    pub(crate) const FINE: &str = "Small print";
}
/// What opens everything else about a crow.
pub const ALL_FIGURES: &str = "All figures and cautions";
/// The line in which anything can be typed.
pub const OR_TYPE: &str = "Or type it";
/// What stands in it until something is typed.
pub const TYPE_SUCH_AS: &str = "tip corners";
/// The button beside whatever was typed.
pub const WRITE_DOWN: &str = "Write down";
/// What switches the short sounds.
pub const SHORT_SOUNDS: &str = "Short sounds: one when a crow is heard, another for anything else";
/// Without a script nothing comes by itself.
pub const LOAD_AGAIN: &str = "Load again to see what is new";
/// What the script says where the program is gone.
pub const NO_ANSWER: &str = "The program does not answer. Everything written down is safe; start it again, then load this \
                             page.";
/// The same, where something was said to it.
pub const NOT_WRITTEN: &str = "The program does not answer; nothing was written down.";
/// Read a recording from the disk.
pub const CHOOSE_RECORDING: &str = "Choose a recording";
/// While a recording is held over the page.
pub const LET_GO: &str = "Let go: the recording is read like a take";
/// While a recording is read; its name follows.
pub const READING: &str = "Reading";
/// Where a recording did not get through; its name stands before it.
pub const NOT_SENT: &str = "could not be sent.";

/// Nobody's reed is on the bench.
pub const NO_REED: &str = "No reed on the bench";
/// What that means.
pub const ON_NO_CARD: &str = "Crows are read and shown, but saved to no card.";
/// Of a reed whose work is over: how it ended.
pub fn closed(ending: &str) -> String {
    format!("Closed: {ending}. Crows are read, but saved to no card.")
}
/// Whose it is.
pub fn owner(owner: &str) -> String {
    format!("for {owner}")
}
/// What its cane is, and by when it is wanted; `None` where the card says neither.
pub fn cane_and_due(card: &Card) -> Option<String> {
    let cane = card.cane.as_ref().map(|cane| format!("cane {cane}"));
    let due = card.due_on.as_ref().map(|due| format!("wanted by {due}"));
    let told: Vec<String> = [cane, due].into_iter().flatten().collect();
    (!told.is_empty()).then(|| told.join(", "))
}
/// The note that crows are told against.
pub fn target(note: Option<Note>, a4: A4) -> String {
    match note {
        Some(note) => format!("target {note}, A = {} Hz", a4.hz()),
        None => format!("no target note, A = {} Hz", a4.hz()),
    }
}
/// Stop hearing for a while.
pub const PAUSE: &str = "Pause";
/// Hear again.
pub const GO_ON: &str = "Go on listening";
/// What is shown large meanwhile, and what ends it.
pub const PAUSED: (&str, &str) = ("Paused", "Press P to go on");
/// Hear the target note.
pub fn sound(note: Note) -> String {
    format!("Sound {note}")
}
/// Check the microphone.
pub const CHECK: &str = "Check the microphone";
/// What opens how that goes.
pub const HOW_TO_CHECK: &str = "How the check goes";
/// There is none.
pub const NO_MICROPHONE: &str = "No microphone";
/// What an undo would take back.
pub const UNDO: &str = "Undo:";
/// What a redo would bring back.
pub const REDO: &str = "Redo:";
/// There is nothing to take back.
pub const NOTHING_TO_UNDO: &str = "Nothing to undo";

/// Headings of the first start.
pub const BEGIN: [&str; 3] = ["The microphone", "The reed", "Or try it out first"];
/// The check, at the first start.
pub const CHECK_FIRST: &str = "Check it: some quiet, then three crows";
/// Look for a microphone that is not there.
pub const LOOK_AGAIN: &str = "Look for it again";
/// The same, where the microphone is not the subject.
pub const LOOK_FOR_MICROPHONE: &str = "Look for the microphone";
/// A reed is there; what to do.
pub fn crow_it(label: &str) -> String {
    format!("{label} is on the bench. Crow it three times.")
}
/// The field for a first reed's name.
pub const WHAT_CALLED: &str = "What is it called?";
/// A name as it might be.
pub const NAME_SUCH_AS: &str = "mirek-12";
/// The button beside a new reed's name.
pub const PUT_ON_BENCH: &str = "Put it on the bench";
/// What practice is.
pub const PRACTICE: &str =
    "The bench hears a practice take instead of the microphone, on a practice reed of its own.";
/// A practice take, on a small button.
pub fn practice(name: &str) -> String {
    format!("practice: {name}")
}
/// A check that is over is closed.
pub const PUT_CHECK_AWAY: &str = "Close this";
/// A check that goes on is ended.
pub const STOP_CHECK: &str = "Stop the check";

/// Headings of the three answers.
pub const ANSWER: [&str; 3] = [label::PITCH, label::CROW, label::NEXT];
/// In place of what is not known yet.
pub const NOT_YET: &str = "–";
/// What to do for a pitch.
pub const CROW_THREE_TIMES: &str = "crow three times";
/// The order where there is no other.
pub const CROW: (&str, &str) = ("Crow", "three crows before each cut");
/// In place of a move, of a reed whose work is over.
pub const OVER: &str = "Closed";
/// What a move rests on, where it is more than the take that is shown.
pub fn by_all(crows: usize) -> String {
    format!("by all {crows} crows since the last cut")
}
/// Nothing was heard of the reed as it is.
pub const NOT_CROWED: &str = "not crowed since the last cut";
/// Something was heard that has no pitch.
pub const NO_PITCH: (&str, &str) = ("No pitch", "no tone was held");
/// What was heard is not a crow.
pub const NO_CROW: &str = "No crow";
/// How many crows are of the kind that is shown.
pub fn so_many_of(same: usize, all: usize) -> String {
    format!("{same} of {all} crows")
}
/// Which take it is.
pub fn take(number: u32) -> String {
    format!("take {number}")
}
/// How sure the next move is.
pub fn sure(percent: &str) -> String {
    format!("{percent} sure")
}
/// What was heard and does not count.
pub fn set_aside(heard: &str) -> String {
    format!("Set aside, not counted: {heard}.")
}
/// The same beside crows.
pub fn not_the_reed(heard: &str) -> String {
    format!("Not the reed, and not counted: {heard}.")
}
/// It counts after all.
pub const KEEP: &str = "It was the reed: keep it";
/// There are no figures yet.
pub const NOTHING_CROWED: &str = "Nothing has been crowed yet.";
/// Headings behind *all figures*.
pub const DETAIL: [&str; 4] = ["Why", "Figures", label::BEWARE, "All cautions"];

/// Words on the pitch line.
pub const PITCH_LINE: [&str; 2] = ["sharp", "flat"];
/// In place of the target on it.
pub const NEAREST_NOTE: &str = "nearest note";
/// How much of it is shown.
pub fn last_seconds(seconds: &str) -> String {
    format!("the last {seconds} seconds")
}
/// The pitch line for who cannot see it.
///
/// * `off`: how far off the last tone was; `None` where nothing sounded.
pub fn pitch_line(off: Option<&str>) -> String {
    match off {
        Some(off) => format!("The pitch of the last seconds; at the end it was {off}"),
        None => "Nothing sounded in the last seconds".to_owned(),
    }
}
/// One octave sounds.
pub const ALONE: &str = "alone";
/// Several do.
pub const TOGETHER: &str = "sound together";

/// What is above and below in the drawing of the reed.
pub fn drawing(usual: &str, is_measured: bool) -> String {
    if !is_measured {
        return format!(
            "Nothing of this reed is measured yet. This is the usual {usual}, in mm from the bottom of \
             the staple; lengths are to scale."
        );
    }
    format!(
        "Above, this reed, in mm from the bottom of the staple, as usual where it was not measured; \
         below, the usual {usual}. Lengths are to scale."
    )
}
/// The drawing for who cannot see it.
pub fn drawn(measured: &str, usual: &str) -> String {
    let measured = if measured.is_empty() { "nothing measured yet" } else { measured };
    format!("The reed: {measured}. Usual: {usual}.")
}
/// Lengths on the drawing: whole reed, tip, windows, heart, winding, staple.
pub const LENGTHS: [&str; 6] = ["length", "tip", "window", "heart", "wound", "staple"];
/// What was seen on it.
pub fn seen(seen: &str) -> String {
    format!("Seen: {seen}")
}

/// What is told of the last cut.
pub fn since(cut: &str) -> String {
    format!("Since {cut}")
}
/// Nothing can be told of it.
pub const NOT_COMPARED: &str = "Nothing can be compared yet; crow again.";
/// Takes before and after the last cut.
pub const IN_TURN: &str = "Hear before and after in turn";
/// The reed before its first cut.
pub const AS_IT_CAME: &str = "as it came";
/// A stage without a pitch.
pub const WITHOUT_PITCH: &str = "no pitch";

/// The groups of buttons.
pub mod group {
    /// Work on the reed.
    pub const CUT: &str = "Cut";
    /// What is seen.
    pub const LOOK: &str = "Look";
    /// What is measured.
    pub const MEASURE: &str = "Measure";
    /// What the maker hears.
    pub const HEARD: &str = "Heard";
    /// Another reed, and the card of this one.
    pub const REEDS: &str = "Reeds";
}
/// Why nothing can be written down of a reed.
pub fn is_closed(label: &str, ending: &str) -> String {
    format!(
        "{label} is closed ({ending}): nothing is cut, seen or measured on it until it is open again."
    )
}
/// Over what its card says.
pub fn card_of(label: &str) -> String {
    format!("The card of {label}")
}
/// A field of the card.
pub fn card_field(field: CardField) -> &'static str {
    match field {
        CardField::Owner => "whose it is",
        CardField::Cane => "cane: source, batch",
        CardField::Complaint => "what the player complains of",
        CardField::Due => "day by which it is wanted, for example 2026-03-17",
        CardField::Kind => "kind of reed: a built-in profile, or a profile file of your own",
        CardField::A4 => "pitch of A4 it is made for, in Hz",
    }
}
/// A clip of another amount than the buttons have, which is typed.
pub const OTHER_CLIP: &str = "clip: type how much";
/// What the program would do.
pub const ADVISED: &str = "advised";
/// A clip, on its button.
pub fn clip(mm: &str) -> String {
    format!("clip {mm} mm")
}
/// Over what may be heard.
pub const WHAT_HEARD: &str =
    "What do you hear in the last crow? Your answer teaches the program your ear.";
/// A length's unit.
pub const MM: &str = "mm";
/// Over the ways in which the work on a reed ends.
pub fn end_of_work(label: &str) -> String {
    format!("{label}: the end of the work")
}
/// The work goes on after all.
pub const OPEN_AGAIN: &str = "open it again";
/// Other reeds are to be told against this one.
pub const MAKE_MODEL: &str = "make it the model";
/// Which reed is the model.
pub fn model(model: &str, is_this: bool) -> String {
    match is_this {
        true => super::bench::MODEL_THIS.to_owned(),
        false => format!("The model is {model}."),
    }
}
/// Before the same with the maker's notes in it.
pub const ACCOUNT_WITH_NOTES: &str = "The same with your notes:";

/// Before the two forms of the account.
pub const ACCOUNT: &str = "The account for its owner:";
/// The two forms.
pub const ACCOUNT_AS: [&str; 2] = ["as PDF", "as a page"];
/// The reed that waits longest.
pub const NEXT_REED: &str = "next reed";
/// New reeds: one without anything, and one with the card of the one on the bench.
pub const NEW_REEDS: [&str; 3] = [
    "a new reed",
    "one like this: same cane, shape, gouge, staple, owner",
    "one that was here before",
];
/// In the field for its name.
pub const ITS_NAME: &str = "its name";

/// A question over buttons that answer it.
pub fn asked(question: &str) -> String {
    format!("{question}?")
}

/// A side of a reed that is rated.
pub fn side(side: Rated) -> &'static str {
    match side {
        Rated::Pitch => "pitch",
        Rated::Low => "low notes speak",
        Rated::High => "high notes speak",
        Rated::Stability => "holds still",
        Rated::Tone => "tone",
    }
}

/// How long a reed was good for.
pub const LIVED: &str = "was good for, in hours of playing";

/// Over moves that are worth nearly as much.
pub const OR_ELSE: &str = "Nearly as good";

/// Why the log refused, for somebody who has the page alone.
pub fn refusal(error: &LogError) -> String {
    let reeds = group::REEDS;
    match error {
        LogError::NoReed(label) => format!(
            "There is no reed called {label}. Open ones stand under {reeds}; a new one begins there too."
        ),
        LogError::Closed(label) => format!(
            "{label} is closed, and nothing was written down; open it again first, under {reeds}."
        ),
        other => other.to_string(),
    }
}

/// Why the page is not given what it asks for.
pub mod refused {
    use std::io;

    use crate::words::system::refusal;

    pub(crate) const NOTHING_HERE: &str = "there is nothing here";
    pub(crate) const NO_ACCOUNT: &str = "there is no account";
    pub(crate) const NO_PICTURE: &str = "there is no picture";
    pub(crate) const NO_SOUND: &str = "there is no such sound";
    pub(crate) const ONE_AT_A_TIME: &str = "one recording at a time";
    pub(crate) const BROKE_OFF: &str = "the recording broke off";
    pub(crate) const LOAD_AGAIN: &str = "too much at once; load it again";
    pub(crate) const WAIT: &str = "too much at once; wait a moment";
    pub(crate) const ENDING: &str = "the program is ending";
    pub(crate) const TOO_MANY_PAGES: &str = "too many pages are open";
    pub(crate) const TOO_LONG: &str = "that is too long";
    pub(crate) const OTHER_HOST: &str = "the request names another machine than this one";
    pub(crate) const OTHER_PAGE: &str = "the request comes from another page";
    pub(crate) const EARLIER_PAGE: &str =
        "this page is of an earlier start of the program; load it again";

    /// A recording that could not be put down.
    pub(crate) fn not_kept(error: &io::Error) -> String {
        format!("the recording could not be kept: {}", refusal(error))
    }

    /// A recording that is longer than anybody crows.
    pub(crate) fn too_large(most_mb: u64) -> String {
        format!("that is more than {most_mb} MB; read long recordings with 'reedcrow analyse'")
    }

    /// The page's port is taken.
    pub(crate) fn no_port(port: u16, error: &io::Error) -> String {
        format!("port {port} cannot be served on ({error}); choose another with --port")
    }

    /// Without chance no page could be told from a stranger's.
    pub(crate) fn no_chance(why: &str) -> String {
        format!("this system gives no random numbers: {why}")
    }
}
