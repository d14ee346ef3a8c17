//! What is said of whole folders of recordings.

use crate::dsp::statistics::Distribution;
use crate::words::format::{cents, counted, number, percent, seconds, signed};
use crate::words::keeping::NO_FOLDER;
use crate::words::system::refusal;

/// A recording whose content an earlier row of the table has already.
pub fn same_recording(name: &str, first_row: u64) -> String {
    format!(
        "{name}: is the same recording as in row {first_row} of the table, so its crows count twice; leave \
         one of the two out"
    )
}

/// How many more of them there are.
pub fn more_same_recordings(more: u64) -> String {
    let recordings = counted(usize::try_from(more).unwrap_or(usize::MAX), "recording");
    format!(
        "{recordings} more are in the table more than once: column 'sha256' tells which are the same"
    )
}

/// How many takes were read, how many not, and how much sound they hold.
///
/// * `earlier`: of those that were read, in an earlier run.
/// * `others`: files that are not recordings.
pub fn counts(read: u64, failed: u64, earlier: u64, others: u64, length: &str) -> String {
    let mut about = vec![format!("{} read", counted(read as usize, "take"))];
    if failed > 0 {
        about.push(format!("{failed} not read"));
    }
    if earlier > 0 {
        about.push(format!("{earlier} of them earlier"));
    }
    if others > 0 {
        about.push(format!("{} passed over", counted(others as usize, "other file")));
    }
    about.push(format!("{length} of sound"));
    about.join(", ")
}

/// Folders in folders that were not asked for.
pub fn folders_inside(folders: u64) -> String {
    let folders = counted(usize::try_from(folders).unwrap_or(usize::MAX), "folder");
    format!("{folders} inside not read: --recursive reads them")
}

/// Where the takes' pitches lie.
pub fn pitch(target: &str, pitch: &Distribution) -> String {
    format!(
        "Pitch against {target}: median {}, half of the takes from {} to {}",
        cents(pitch.median),
        signed(pitch.lower_quartile, 0),
        signed(pitch.upper_quartile, 0)
    )
}

/// Over the takes that need attention.
pub const NEED_ATTENTION: &str = "Needs attention first";

/// Why takes need attention.
pub mod reason {
    pub(crate) const NOT_READ: &str = "not read";
    pub(crate) const NO_CROW: &str = "no crow in it";
    pub(crate) const UNSETTLED: &str = "unsettled: no tone holds";
    pub(crate) const SPLIT: &str = "split: not an octave apart";
    pub(crate) const SINGLE: &str = "single: one tone";
    pub(crate) const TURNS: &str = "octaves that take turns";
    pub(crate) const LATE: &str = "low octave late";
    pub(crate) const RATTLE: &str = "wild rattle";
    pub(crate) const DOUBTFUL: &str = "read with doubt";
    pub(crate) const OFF_TARGET: &str = "off the target";
}

/// How many are off the target among the takes that an earlier reason names; `too`: beside some that
/// are nothing else.
pub fn off_target_above(above: u64, too: bool) -> String {
    let and = if too { ", and " } else { "" };
    format!("{and}{above} of the takes above{}", if too { " too" } else { "" })
}

/// How many more there are of one reason.
pub fn more(more: u64) -> String {
    format!("and {more} more")
}

/// Of the upper octave alone.
pub const PEEP: &str = "a peep, without the low octave";

/// How often octaves take turns.
pub fn turns(per_s: f64) -> String {
    format!("{} times a second", number(per_s, 1))
}

/// How late the low octave comes.
pub fn late(delay_s: f64) -> String {
    format!("{} late", seconds(delay_s))
}

/// How deep the rattle is, 0 to 1.
pub fn deep(depth: f64) -> String {
    format!("{} deep", percent(depth))
}

/// Its ending says which form a table has.
pub const NAME_THE_TABLE: &str = "name the table with .csv or .jsonl at its end";
/// A table that is there.
pub const EXISTS: &str = "already exists; go on with it with --resume, write it again with --replace, \
                          or give another name";
/// An unfinished table.
pub const LEFT_OVER: &str =
    "is left from a run that was killed; go on from it with --resume, or delete it";
/// A table that somebody writes.
pub const IN_USE: &str =
    "another batch is writing this table; wait until it is done, or give another name";
/// Standard output is closed.
pub const NOT_PRINTED: &str = "the table cannot be printed";
/// A table of another form.
pub const OTHER_TABLE: &str = "is not a table that this version of the program wrote; give another \
                               name to the table, or leave this one out";
/// What to do about a line that is damaged.
pub const SPOILT_ROW: &str = "make this table again, or take that line out of it";
/// A table that holds nothing.
pub const NO_ROWS: &str = "holds no rows; make this table again, or leave it out";
/// A table that cannot be joined.
pub const OTHER_FORM: &str =
    "is in another format than the table to be made; give both the same ending";
/// A table that is missing.
pub const NO_SUCH_TABLE: &str = "there is no such table; check its name";

/// A table that could not be written.
pub fn not_written(cause: &std::io::Error) -> String {
    match cause.kind() {
        std::io::ErrorKind::NotFound => NO_FOLDER.to_owned(),
        _ => format!("{}; then go on with --resume", refusal(cause)),
    }
}
