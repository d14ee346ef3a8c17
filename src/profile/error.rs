//! What can be wrong with a profile.

use crate::pitch::{Note, PitchError};

/// Why there is no profile. Each message names the thing, what is wrong, and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ProfileError {
    /// Neither built in nor a file.
    NotFound {
        /// What was asked for.
        asked: String,
        /// The built-in names.
        names: String,
    },
    /// A file that cannot be read.
    File {
        /// As given.
        path: String,
        /// What the system says.
        cause: std::io::Error,
    },
    /// A file too large to be a profile.
    Size {
        /// As given.
        path: String,
        /// Its size.
        bytes: u64,
        /// The allowed size.
        most: u64,
    },
    /// A line that is wrong.
    Line {
        /// As given.
        path: String,
        /// Counted from 1.
        line: usize,
        /// What is wrong and what would be right.
        what: String,
    },
}

/// What is wrong with a line, before it is worded.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Wrong<'a> {
    /// Not in UTF-8.
    NotUtf8,
    /// A name that a built-in profile has.
    BuiltIn(&'a str),
    /// Nested too deep.
    Nested,
    /// Not a line of a profile, with what the reader of TOML says; whether a comma stands where a point
    /// should.
    NotALine { says: String, has_comma: bool },
    /// A section that is something else.
    NotASection(&'a str),
    /// A key that is not known: under a section or not, and those that are.
    UnknownKey { key: &'a str, section: Option<&'a str>, known: Vec<&'a str> },
    /// A word beside a value that is not known.
    UnknownWord { word: &'a str, key: &'a str },
    /// What no profile can be without.
    Missing(Missing),
    /// A key without its value.
    NoValue(&'a str),
    /// Text that is empty or too long.
    Length(&'a str),
    /// Something else than text.
    NotText { key: &'a str, is: &'static str },
    /// A name that is not one word.
    NotAWord(&'a str),
}

/// What is wrong with what a crow is held to: its target, other notes, its octaves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum WrongCrow<'a> {
    /// A target that is not text.
    NotATarget,
    /// Notes that are not text.
    NotNotes(&'a str),
    /// Text that is not a note.
    NotANote { key: &'a str, why: PitchError },
    /// A note that is not read.
    OutOfReach { key: &'a str, note: &'a str },
    /// Too few or too many other notes.
    Also,
    /// Other notes without a target.
    AlsoAlone,
    /// Other notes that are the target again.
    AlsoTarget(Note),
    /// A limit of peeps beside a target.
    PeepWithTarget,
    /// Registers that are none.
    Registers,
}

/// What is wrong with a number, or with where it stands.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum WrongNumber<'a> {
    /// Something else than a number; of millimetres or not.
    NotANumber { key: &'a str, in_mm: bool, is: &'static str },
    /// A number that should be whole.
    NotWhole { key: &'a str, number: f64, least: f64, most: f64 },
    /// A number out of range.
    OutOfRange { key: &'a str, number: f64, least: f64, most: f64, unit: &'a str },
    /// The name of a figure that is none, and those that are.
    NotAFigure { name: &'a str, known: Vec<&'a str> },
    /// A position over one that lies higher.
    Beyond { lower: (&'a str, f64), upper: (&'a str, f64) },
    /// The smallest clip is longer than the first.
    Clips { smallest_mm: f64, first_mm: f64 },
}

/// What no profile can be without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Missing {
    Name,
    Target,
    Registers,
}
