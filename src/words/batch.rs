//! What is said of whole folders of recordings.

use crate::dsp::statistics::Distribution;
use crate::words::files::NO_FOLDER;
use crate::words::format::{cents, counted, from_to, number, percent, seconds, signed};
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

/// How far it is: `120 of 2000 files, 0:32:10 of sound, 310 x, 0:00:40 left`.
///
/// * `files`: how many are done, of how many; 0 while those are not counted.
/// * `speed`: seconds of sound read in one.
pub fn progress(files: (u64, u64), sound: &str, speed: f64, left: Option<String>) -> String {
    let (done, all) = files;
    let of_all = if all > 0 { format!(" of {all}") } else { String::new() };
    let left = left.map(|left| format!(", {left} left")).unwrap_or_default();
    format!("{done}{of_all} files, {sound} of sound, {speed:.0} x{left}")
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

/// How many takes are of each kind.
pub fn kinds(kinds: &str) -> String {
    format!("Kinds: {kinds}")
}

/// Over where the bars of the distribution lie.
pub const CENTS: &str = "cents";
/// Over the bars.
pub const TAKES: &str = "takes";
/// From where to where a bar reaches, in cents; `None` where it has no end.
pub fn bar(from: Option<f64>, to: Option<f64>) -> String {
    match (from.map(|from| signed(from, 0)), to.map(|to| signed(to, 0))) {
        (Some(from), Some(to)) => from_to(from, to),
        (None, Some(to)) => format!("under {to}"),
        (Some(from), None) => format!("over {from}"),
        (None, None) => String::new(),
    }
}

/// Over the takes that need attention.
pub const NEED_ATTENTION: &str = "Needs attention first";

/// Why takes need attention: what is wrong, short enough for the narrow column in which it stands over
/// its takes, so not always as a kind is named elsewhere.
pub mod reason {
    use crate::reading::Kind;
    use crate::words::voices::kind_word;

    pub(crate) const NOT_READ: &str = "not read";
    pub(crate) const NO_CROW: &str = "no crow in it";
    pub(crate) const UNSETTLED: &str = "wild: no tone holds";
    pub(crate) const SPLIT: &str = "two tones, not an octave apart";
    pub(crate) const SINGLE: &str = kind_word(Kind::Single, false);
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

/// Of the upper octave alone: what is wrong with it, beside [`reason::SINGLE`].
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
/// What is wrong with such a line; its number stands in front.
pub mod spoilt {
    pub(crate) const NOT_TEXT: &str = "is damaged: it is not text";
    pub(crate) const OPEN_QUOTE: &str = "has a quotation mark without its partner, or is cut off";
    pub(crate) const HEADINGS: &str = "has the headings once more";
    pub(crate) const NOT_JSON: &str = "is cut off or damaged: it is not a line of JSON";
    pub(crate) const NO_READING: &str = "holds no reading of this version of the program";
    pub(crate) const NO_ROW: &str = "holds no row of this version of the program";
    pub(crate) const END: &str = "is cut off or damaged at its end";
    pub(crate) const NO_SOURCE: &str = "names no recording";

    /// It has not as many columns as it should.
    pub(crate) fn columns(columns: usize) -> String {
        format!("is cut off or damaged: it has not the {columns} columns of a row")
    }

    /// Something else than a number.
    pub(crate) fn no_number(column: &str, text: &str) -> String {
        format!("has no number in column {column}: {text}")
    }
}
/// A table that holds nothing.
pub const NO_ROWS: &str = "holds no rows; make this table again, or leave it out";
/// A table that cannot be joined.
pub const OTHER_FORM: &str =
    "is in another format than the table to be made; give both the same ending";
/// A table that is missing.
pub const NO_SUCH_TABLE: &str = "there is no such table; check its name";

/// A folder for pictures that could not be made.
pub fn no_folder_for_pictures(why: &str) -> String {
    format!("no folder for pictures: {why}")
}

/// The picture of a recording could not be made.
pub fn no_picture(picture: &str, why: &str) -> String {
    format!("its picture {picture}: {why}")
}

/// Recordings that are too long for a picture.
pub fn too_long_for_pictures(takes: u64, longest_s: f64) -> String {
    format!(
        "No picture of {} over {longest_s} s: a picture is drawn from samples held in memory; cut out the \
         part to see",
        counted(usize::try_from(takes).unwrap_or(usize::MAX), "take")
    )
}

/// Somebody ended it.
///
/// * `has_name`: the table is a file, which can be gone on with.
pub fn stopped(has_name: bool) -> &'static str {
    match has_name {
        true => "stopped; the table holds what was read, and --resume goes on with it",
        false => "stopped; the table holds what was read",
    }
}

/// One of several lists may have nothing to do.
pub const EMPTY_LIST: &str = "the list names no recordings, so no table was made";
/// There is nothing to read.
pub const NO_RECORDINGS: &str =
    "no recordings found; name files or folders of them, with --recursive for deeper ones";
/// A slip of the keys.
pub const NOTHING_THERE: &str = "there is no such file or folder; check the name";
/// Before why a list of recordings could not be read.
pub const THE_LIST: &str = "the list";

/// Rows that stay without their recordings.
pub fn kept(count: u64, of_other_making: bool) -> String {
    let rows = counted(usize::try_from(count).unwrap_or(usize::MAX), "row");
    let other = match of_other_making {
        true => "; another version or other settings made some, whose figures may not compare",
        false => "",
    };
    format!(
        "kept {rows} of recordings that were not named now or are not there{other}; a new table \
         without them is made with --replace"
    )
}

/// Rows that several of the joined tables hold.
pub fn left_out_twice(rows: u64) -> String {
    format!("left out {rows} that were there twice")
}

/// Tables were joined that were not made alike.
pub const MADE_DIFFERENTLY: &str =
    "the parts were made by different versions or settings; their figures may not compare";

/// Rows of a joined table that hold no figures.
pub fn unread_in_joined(recordings: u64) -> String {
    format!(
        "{} of the joined table could not be read; column 'error' says why: put that right, and read them \
         again",
        counted(usize::try_from(recordings).unwrap_or(usize::MAX), "recording")
    )
}

/// A table of crows of another form.
pub const CROWS_ARE_CSV: &str = "crows go to a table of CSV; name it with .csv";
/// The table of takes holds no single crows.
pub const CROWS_NEED_JSON: &str =
    "--crows needs every crow of each take: name the takes' table TABLE.jsonl with --out";

/// A link in a folder that would be gone round in.
pub fn loops(path: &str) -> String {
    format!("{path}: is a link to a folder it lies in; left out")
}

/// A folder that cannot be looked through.
pub const NOT_LOOKED_THROUGH: &str = "cannot be looked through";

/// Something that is left out of the table.
pub fn left_out(path: &str, why: &str) -> String {
    format!("{path}: left out: {why}")
}

/// Reading a recording broke the program.
pub const BROKE_THE_PROGRAM: &str =
    "stopped the reading by a fault in this program: please report it with the recording";

/// A table that could not be written.
pub fn not_written(cause: &std::io::Error) -> String {
    match cause.kind() {
        std::io::ErrorKind::NotFound => NO_FOLDER.to_owned(),
        _ => format!("{}; then go on with --resume", refusal(cause)),
    }
}
