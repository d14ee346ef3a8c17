//! What the commands for reeds and the log say: what was done, and why something cannot be done.

use std::path::Path;

use crate::log::{Conditions, Ending};
use crate::words::bench::quoted;
use crate::words::format::counted;
use crate::words::stage::conditions;

/// Two ways of saying one thing.
pub const EITHER: &str = "say it in words or as options, not both; nothing was written down";

/// Nothing was given that could be written down.
pub fn nothing_given(example: &str) -> String {
    format!("nothing to write down; give at least one, such as: {example}")
}

/// Nothing was given that could be put right.
pub fn nothing_to_correct(example: &str) -> String {
    format!("nothing to put right; say what it is, such as: {example}")
}

/// It was not said which entry is to be put right.
pub const CORRECT_WHICH: &str = "say which entry is wrong: a cut with --step NUMBER, a take with --take \
                                 NUMBER, a measurement with --after-step NUMBER (0: as it came)";
/// How a reed was crowed is put right of a take only.
pub const CROWED_IN_WHICH_TAKE: &str =
    "how it was crowed is put right take by take; say of which with --take NUMBER";

/// Where the words of a command are shown.
pub fn shown_by(command: &str) -> String {
    format!("'reedcrow reed {command} --help' shows the words")
}

/// Words that belong behind another command.
pub fn not_of(said: &str, command: &str) -> String {
    format!("'{said}' does not belong here, and nothing was written down; {}", shown_by(command))
}

/// What was written down, and instead of what; `corrected` is empty where it was new.
pub fn written(given: &str, corrected: &str) -> String {
    match corrected {
        "" => given.to_owned(),
        before => format!("{given} ({})", it_said(before)),
    }
}

/// What stood there before it was corrected.
pub fn it_said(before: &str) -> String {
    format!("corrected; before, it said {before}")
}

/// Before the words of a step that was written down.
pub fn step_head(label: &str, number: Option<u32>) -> String {
    match number {
        Some(number) => format!("{label}: step {number}, "),
        None => format!("{label}: "),
    }
}

/// A change was taken back.
///
/// * `is_gone`: there is no such reed any more.
pub fn undone(label: &str, what: &str, is_gone: bool) -> String {
    let gone = match is_gone {
        true => format!("; its card is taken back; 'reedcrow reed redo {label}' brings it back"),
        false => String::new(),
    };
    format!("{label}: undone: {what}{gone}")
}

/// A change was made again.
pub fn redone(label: &str, what: &str) -> String {
    format!("{label}: redone: {what}")
}

/// No reed whose card another could begin with.
pub const NOTHING_TO_BE_LIKE: &str =
    "there is no reed yet to be like; leave --like out for the first one";

/// A reed is in the log.
pub fn entered(label: &str) -> String {
    format!("{label}: entered")
}

/// A reed that is wanted by a day which is over.
pub fn due_is_past(day: &str) -> String {
    format!("due {day}: that day is past; is it the right year?")
}

/// A card that would stay as it is.
pub fn card_says_so(label: &str) -> String {
    format!(
        "{label}: the card says so already; give what it is to say instead, such as --owner NAME"
    )
}

/// A card was changed; so many of its takes were read by what it said before.
pub fn card_changed(label: &str, otherwise: usize) -> String {
    let changed = format!("{label}: card changed\n");
    let were = if otherwise == 1 { "was" } else { "were" };
    match otherwise {
        0 => changed,
        _ => format!(
            "{changed}  {} of it {were} read before that; 'reedcrow log reread {}' reads them by the new \
             card\n",
            counted(otherwise, "take"),
            quoted(label)
        ),
    }
}

/// How the work on a reed stands, after its name.
pub fn stands(ending: Option<Ending>) -> String {
    match ending {
        Some(ending) => format!("closed, {}", ending.words()),
        None => "open again".to_owned(),
    }
}

/// How the takes to come are crowed.
pub fn crowed_from_now(label: &str, how: &Conditions) -> String {
    format!("{label}: takes of the next 12 hours: {}", conditions(how))
}

/// A number that is none.
pub const NO_NUMBER: &str = "that is not a number; write one such as 3.5";
/// A name whose ending is not that of what is written.
pub fn other_ending(better: &Path) -> String {
    let ending = better.extension().unwrap_or_default().display();
    format!("write a name that ends in .{ending}, such as {}", better.display())
}

/// A day that is none.
pub const NO_DAY: &str = "write year, month and day: 2024-03-17";
/// Words after an option that begin as another one does.
pub const LOOKS_LIKE_AN_OPTION: &str = "looks like another option; put the words before it";

/// A take comes as a file.
pub const TAKE_IS_A_FILE: &str =
    "-: a take is kept with its reed, so it must be a file; save the recording first";

/// A take is on the card.
///
/// * `stage`: the stage that it counts at.
/// * `is_new`: it was not there before.
/// * `is_corrected`: it was, and how it was crowed is put right.
pub fn take(label: &str, number: u32, stage: &str, is_new: bool, is_corrected: bool) -> String {
    let already = if is_new { "" } else { " already" };
    let corrected = if is_corrected { ", its conditions corrected" } else { "" };
    format!("{label}: take {number}{already}, {stage}{corrected}")
}

/// Reeds of several owners in one account.
pub fn several_owners(owners: &[&str]) -> String {
    format!(
        "these reeds belong to different owners ({}), who would read of each other's; write one account \
         for each",
        owners.join(", ")
    )
}

/// An account that says nothing of who sends it.
pub const NO_SENDER: &str = "no sender is named on it; 'reedcrow log sender NAME --line ADDRESS' says it \
                             once for all accounts";
/// Nobody is named yet who sends the accounts.
pub const NOBODY_NAMED: &str = "nobody is named yet";
/// Who sends them is written down.
pub const SENDER_NAMED: &str = "written down; it stands on every account from now on";

/// An account was written to a file.
pub fn account_written(path: &Path) -> String {
    format!("{}: the account", path.display())
}

/// Letters that the PDF's font lacks.
pub fn letters_missing(letters: &str) -> String {
    format!(
        "the PDF's font does not have these letters, and shows boxes for them: {letters}; the page \
         (--html) shows them"
    )
}

/// A log whose folder is missing, and is not made: it may lie on a disk that is not connected.
pub fn no_folder_of_log(path: &Path) -> String {
    format!(
        "{}: its folder is not there; make the folder first, or connect its disk",
        path.display()
    )
}

/// The system names no place for a log.
pub const NO_PLACE: &str = "this system has no data folder for you; name the log with --log FILE";

/// A log of an earlier program was brought up to this one.
pub fn upgraded(from: i64, backup: &Path) -> String {
    format!(
        "the log was brought from form {from} to this program's; the log as it was is kept in {}",
        backup.display()
    )
}

/// A folder in which missing recordings were to be looked for.
pub fn no_folder_to_mend_from(folder: &Path) -> String {
    format!("{}: no such folder; name an export, or a copy of the log's folder", folder.display())
}

/// How many faults a check found.
pub fn faults(log: &Path, count: usize) -> String {
    format!(
        "{}: {}; each is told above with how to mend it",
        log.display(),
        counted(count, "fault")
    )
}

/// A copy of the log was made.
pub fn backed_up(copy: &Path, recordings: &Path, log: &Path) -> String {
    format!(
        "{}: a copy of the log: cards, cuts and readings. It holds no recordings: copy the folder {} too, \
         or let 'reedcrow log export FOLDER' write both. To restore it, copy it over {} while no reedcrow \
         runs.",
        copy.display(),
        recordings.display(),
        log.display()
    )
}

/// Takes that could not be read again.
pub fn not_reread(count: usize) -> String {
    format!(
        "{} not read again, as told above; 'reedcrow log check' says how to mend",
        counted(count, "take")
    )
}

/// Crows were written to be given away.
pub fn shared(folder: &Path, crows: usize, reeds: usize) -> String {
    format!("{}: {} of {}", folder.display(), counted(crows, "crow"), counted(reeds, "reed"))
}

/// Takes that are not among them.
pub fn not_shared(takes: usize) -> String {
    format!(
        "the recordings of {} could not be read and are not in it; 'reedcrow log check' says which",
        counted(takes, "take")
    )
}

/// Reeds were exported.
pub fn exported(folder: &Path, reeds: usize, recordings: usize) -> String {
    let (reeds, recordings) = (counted(reeds, "reed"), counted(recordings, "recording"));
    format!("{}: {reeds}, {recordings}", folder.display())
}

/// A recording that an export should hold and the log has not.
pub fn missing_from_log(hash: &str) -> String {
    format!("recording {hash}: is missing from the log or damaged; {WHICH_TAKE}")
}

/// A recording that an import should bring and the export has not.
pub fn missing_from_export(hash: &str) -> String {
    format!("recording {hash}: is missing from the export or damaged; {WHICH_TAKE}")
}

const WHICH_TAKE: &str = "'reedcrow log check' says which take";

/// A folder to be imported that is none.
pub fn no_folder_to_import(folder: &Path) -> String {
    format!(
        "{}: no such folder; name one with the log.jsonl that 'reedcrow log export' wrote",
        folder.display()
    )
}

/// What an import did.
///
/// * `added`, `known`: how many reeds are new, and were here already.
/// * `merged`: those that were here, and to which work was added.
pub fn imported(added: usize, merged: &[String], known: usize) -> String {
    let mut told = format!("{} added", counted(added, "reed"));
    if !merged.is_empty() {
        let were = if merged.len() == 1 { "was" } else { "were" };
        told += &format!(
            ", work added to {} that {were} here: {}",
            counted(merged.len(), "reed"),
            merged.join(", ")
        );
    }
    if known > 0 {
        told += &format!(", {} here already", counted(known, "reed"));
    }
    told
}

/// An imported reed whose label another one has.
pub fn renamed(label: &str, named: &str) -> String {
    format!("{label}: another reed is called so here; the imported one is called {named}")
}

/// A picture of an answer that holds nothing.
pub const NOTHING_TO_DRAW: &str = "nothing to draw yet, so no picture was made; see above";
