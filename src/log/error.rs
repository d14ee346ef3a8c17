//! What can go wrong with the log, each in one line that says what to do.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use crate::reed::MeasurementError;

/// What was tried with a file or folder, and failed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tried {
    /// Opening it, as a log.
    Opened,
    /// Reading it.
    Read,
    /// Writing it.
    Written,
    /// Making it.
    Made,
    /// Listing what lies in it.
    Listed,
    /// Building a damaged log anew.
    Rebuilt,
    /// Putting a damaged log aside.
    PutAside,
    /// Waiting until it is on the disk.
    Synced,
    /// Taking a recording into the log's folder.
    TookIn,
}

/// What a row, or a reed of an export, holds that cannot be there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Senseless {
    /// A field, and the beginning of what it holds.
    Holds {
        /// The field.
        field: String,
        /// What it holds.
        shown: String,
    },
    /// A field of the database that is of the wrong form, and which.
    Unreadable {
        /// The field.
        field: &'static str,
        /// The form it has.
        form: BadForm,
    },
    /// A field is missing.
    Lacks(String),
    /// Fields that contradict each other.
    Contradicts,
    /// A reading that this version wrote and does not understand.
    Reading,
    /// It is not what such rows are.
    NotUnderstood,
    /// A value that no maker could have written down, and why.
    Refused(String),
    /// A table that there is not.
    NoTable(String),
    /// The reed's own row is missing.
    NoReed,
    /// Rows of more than one reed.
    SeveralReeds,
    /// Two cuts or takes of one number.
    Twice {
        /// The table.
        table: &'static str,
        /// The number.
        number: i64,
    },
    /// Any of these in a row, counted from 1.
    InRow {
        /// Its table.
        table: &'static str,
        /// Which.
        place: usize,
        /// What is wrong.
        what: Box<Senseless>,
    },
    /// The same in what a change, counted from 1, wrote.
    InChange {
        /// Which.
        number: usize,
        /// Its table, where there is such a one.
        table: Option<&'static str>,
        /// What is wrong.
        what: Box<Senseless>,
    },
}

/// How a field of the database is of the wrong form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadForm {
    /// Text was expected.
    NoText,
    /// JSON was expected.
    BrokenJson,
}

/// How the database is damaged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Damage {
    /// In the words of SQLite, or of what reads and writes JSON.
    Says(String),
    /// It cannot be rebuilt, having this earlier form.
    EarlierForm(i64),
    /// A row that must be there is not.
    NoRow {
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
    },
    /// A table took no row.
    TookNone(&'static str),
    /// What was to be written into a column cannot be.
    Value {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// What it would hold.
        form: BadValue,
    },
    /// What was to be written is no row, but this.
    NotARow(String),
    /// A change is about a row that is not there, or is not what it was.
    Change {
        /// Its key.
        change: i64,
        /// The row's table.
        table: String,
        /// The row's key.
        row: i64,
    },
    /// A row points to one that is not there.
    Pointer {
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
        /// The column that points.
        column: &'static str,
    },
}

/// Why a value cannot be kept in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadValue {
    /// A number that the database has no form for.
    OutOfRange,
    /// Neither text nor a number.
    OtherKind,
}

/// Why a folder is not an export that can be read in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum NoExport {
    Empty,
    NotThere,
    NoMark,
    DamagedLine(usize),
    /// It ends before the last reed that it names.
    Lacks {
        read: usize,
        named: usize,
    },
}

/// Why the log refused.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// No file there, and the command only reads.
    Missing(PathBuf),
    /// A file that is not a reed log.
    NotALog(PathBuf),
    /// Written by a later program.
    Newer {
        /// The file.
        path: PathBuf,
        /// Its schema version.
        found: i64,
        /// The highest version this program knows.
        known: i64,
    },
    /// No reed of that label.
    NoReed(String),
    /// A label that another reed has.
    LabelTaken(String),
    /// A value that cannot be kept.
    Invalid(String),
    /// A change to a reed that is closed.
    Closed(String),
    /// It may be read, not written; its file, where that is known.
    NotWritable(Option<PathBuf>),
    /// Another program keeps it to itself.
    Held(PathBuf),
    /// It may not be written, and what a program wrote last is not in it yet.
    Unsettled(PathBuf),
    /// Nothing left to undo.
    NothingToUndo(String),
    /// Nothing left to redo.
    NothingToRedo(String),
    /// Undo would overwrite something that was not written by the change.
    NotAsWritten(String),
    /// The disk or quota is full; the file that did not fit, where that is known.
    Full(Option<PathBuf>),
    /// Another program kept the log locked.
    Busy,
    /// The database file is damaged.
    Damaged(Damage),
    /// A row holds what this program cannot have written.
    Row {
        /// Label of its reed, where that is known.
        reed: Option<String>,
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
        /// What is wrong with it.
        what: Senseless,
    },
    /// A file or folder could not be used.
    File {
        /// Which.
        path: PathBuf,
        /// What was tried.
        tried: Tried,
        /// Why it failed; told in the line, hence not as its source too.
        cause: std::io::Error,
    },
    /// The file system refused.
    Disk(rusqlite::Error),
    /// Anything else the database refuses.
    Database(rusqlite::Error),
}

impl LogError {
    /// A failed file operation; a full disk or file-size limit is told as such.
    pub(crate) fn file(
        path: impl Into<PathBuf>,
        tried: Tried,
    ) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |cause| match cause.kind() {
            std::io::ErrorKind::StorageFull
            | std::io::ErrorKind::QuotaExceeded
            | std::io::ErrorKind::FileTooLarge => Self::Full(Some(path)),
            _ => Self::File { path, tried, cause },
        }
    }
}

impl LogError {
    /// The same, naming the log's file where the database could not.
    pub(crate) fn in_file(self, path: &std::path::Path) -> Self {
        match self {
            Self::Full(_) => Self::Full(Some(path.to_owned())),
            Self::NotWritable(_) => Self::NotWritable(Some(path.to_owned())),
            other => other,
        }
    }
}

impl LogError {
    /// Whether the system does not let the database write, or make its notes beside the file.
    pub(crate) fn is_refusal(&self) -> bool {
        match self {
            Self::NotWritable(_) => true,
            Self::Database(error) => error.sqlite_error_code() == Some(ErrorCode::CannotOpen),
            _ => false,
        }
    }

    /// The same, naming the reed whose row it is.
    pub(crate) fn of_reed(self, label: &str) -> Self {
        match self {
            Self::Row { table, row, what, .. } => {
                Self::Row { reed: Some(label.to_owned()), table, row, what }
            }
            other => other,
        }
    }
}

impl From<rusqlite::Error> for LogError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full(None),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                Self::Damaged(Damage::Says(error.to_string()))
            }
            // No room for the index of the write-ahead log.
            Some(ErrorCode::SystemIoFailure)
                if error
                    .sqlite_error()
                    .is_some_and(|e| e.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE) =>
            {
                Self::Full(None)
            }
            Some(ErrorCode::ReadOnly) => Self::NotWritable(None),
            Some(ErrorCode::SystemIoFailure) => Self::Disk(error),
            _ => Self::Database(error),
        }
    }
}

/// Why what was entered cannot be kept, before it is worded.
#[derive(Debug)]
pub(crate) enum Unfit<'a> {
    Label {
        label: &'a str,
        wrong: WrongLabel,
    },
    NotADay(&'a str),
    /// A gouge out of range.
    Gouge {
        mm: f64,
        least_mm: f64,
        most_mm: f64,
    },
    /// A condition out of range.
    Condition {
        of: Limited,
        value: f64,
        least: f64,
        most: f64,
    },
    Lived(f64),
    NothingRated,
    ClipWithoutAmount,
    ClipTooLong {
        mm: f64,
        most_mm: f64,
    },
    /// A clip that would reach the staple.
    ClipToStaple {
        mm: f64,
        left_mm: f64,
        staple_mm: f64,
    },
    /// An amount of a cut out of range.
    Amount {
        mm: f64,
        least_mm: f64,
        most_mm: f64,
    },
    EmptyNote,
    /// What contradicts earlier measurements.
    Contradicts(MeasurementError),
    /// A value that JSON has no form for.
    NotKept(serde_json::Error),
}

/// What is asked of a reed's card and is not there.
#[derive(Debug)]
pub(crate) enum NotOnCard<'a> {
    NeverCrowed(&'a str),
    /// A take, and how many there are.
    NoTake {
        label: &'a str,
        take: u32,
        takes: usize,
    },
    NoTakeYet(&'a str),
    NoReading {
        label: &'a str,
        take: u32,
    },
    NothingCrows {
        label: &'a str,
        take: u32,
    },
    NoCrow {
        label: &'a str,
        take: u32,
        crow: u32,
        crows: u32,
    },
    /// A row of a table by its number.
    NoSuch {
        label: &'a str,
        what: &'a str,
        number: u32,
    },
    CutIsNoNote(u32),
    OnlyCuts {
        label: &'a str,
        cuts: u32,
    },
    /// Nothing was measured after so many cuts, ...
    NotMeasured {
        label: &'a str,
        after_step: u32,
    },
    /// ... or just what is given.
    MeasuredSo {
        label: &'a str,
        after_step: u32,
    },
}

/// Why a file or folder is not written, or an export not read in.
#[derive(Debug)]
pub(crate) enum Refused<'a> {
    /// A file, or a folder, that is there.
    FileExists(&'a Path),
    FolderExists(&'a Path),
    /// A new log whose recordings would lie among those of another.
    SharesFolder {
        path: &'a Path,
        other: &'a Path,
        folder: &'a Path,
    },
    BackupStopped(&'a Path),
    NothingReadable(&'a Path),
    NotAnExport {
        path: &'a Path,
        why: NoExport,
    },
    /// A reed of an export makes no sense.
    SenselessExport {
        folder: &'a Path,
        label: &'a str,
        what: Senseless,
        /// The file of the export to put right.
        lines: &'a str,
    },
    /// A change of an export is about a row that it lacks.
    BrokenChange(&'a str),
    /// A row of an export points to one that it lacks.
    BrokenPointer {
        table: &'a str,
        column: &'a str,
    },
}

/// Conditions of a take that are numbers within limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Limited {
    Soaking,
    Temperature,
    Humidity,
    DaysPlayed,
    HoursPlayed,
}

/// What is wrong with a label.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WrongLabel {
    Empty,
    Spaces,
    Long,
    Letters,
    Dash,
}

impl From<Unfit<'_>> for LogError {
    fn from(why: Unfit<'_>) -> Self {
        Self::Invalid(why.to_string())
    }
}

impl From<NotOnCard<'_>> for LogError {
    fn from(why: NotOnCard<'_>) -> Self {
        Self::Invalid(why.to_string())
    }
}

impl From<Refused<'_>> for LogError {
    fn from(why: Refused<'_>) -> Self {
        Self::Invalid(why.to_string())
    }
}
