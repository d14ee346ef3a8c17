//! What can go wrong with the log, each in one line that says what to do.

use std::path::PathBuf;

use rusqlite::ErrorCode;

use crate::text::refusal;
use crate::words::system::LOG_HELD;

/// Why the log refused.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// No file there, and the command only reads.
    #[error("{0}: no log there yet; begin one with 'reedcrow reed new LABEL'")]
    Missing(PathBuf),
    /// A file that is no reed log.
    #[error("{0}: not a reed log; name another file with --log")]
    NotALog(PathBuf),
    /// Written by a later program.
    #[error(
        "{path}: made by a newer reedcrow (form {found}, this program knows {known}); \
         use the newer program"
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its schema version.
        found: i64,
        /// The highest version this program knows.
        known: i64,
    },
    /// No reed of that label.
    #[error("{0}: no reed of that label; 'reedcrow reed list' shows them all")]
    NoReed(String),
    /// A label that another reed has.
    #[error("{0}: another reed has that label; choose another")]
    LabelTaken(String),
    /// A value that cannot be kept.
    #[error("{0}")]
    Invalid(String),
    /// A change to a reed that is closed.
    #[error("{0}: is closed; open it again with 'reedcrow reed close {0} --reopen'")]
    Closed(String),
    /// It may be read, not written.
    #[error(
        "{0}: the log may only be read here; ask its owner for permission, or copy it and its folder \
         of recordings to a place of your own"
    )]
    NotWritable(PathBuf),
    /// Another program keeps it to itself.
    #[error("{0}: {LOG_HELD}")]
    Held(PathBuf),
    /// It may not be written, and what a program wrote last is not in it yet.
    #[error(
        "{0}: a program was ended while it wrote the log, and it may not be put in order here; copy it \
         with all files of its name to a place of your own, and read it there"
    )]
    Unsettled(PathBuf),
    /// Nothing left to undo.
    #[error("{0}: nothing to undo")]
    NothingToUndo(String),
    /// Nothing left to redo.
    #[error("{0}: nothing to redo")]
    NothingToRedo(String),
    /// Undo would overwrite something that was not written by the change.
    #[error(
        "{0}: the log no longer holds what that change wrote, so it cannot be undone; \
         run 'reedcrow log check'"
    )]
    NotAsWritten(String),
    /// The disk or quota is full.
    #[error("{0}: the disk is full; nothing was changed: make room and do it again")]
    Full(PathBuf),
    /// Another program kept the log locked.
    #[error("the log is in use by another program; wait a moment and do it again")]
    Busy,
    /// The database file is damaged.
    #[error(
        "the log is damaged; 'reedcrow log check --mend' rebuilds it from what can be read, and keeps the \
         damaged file ({0})"
    )]
    Damaged(String),
    /// A row holds what this program cannot have written.
    #[error(
        "{}table {table}, row {row}: {what}; 'reedcrow log check' says how to mend",
        .reed.as_ref().map(|reed| format!("{reed}: ")).unwrap_or_default()
    )]
    Row {
        /// Label of its reed, where that is known.
        reed: Option<String>,
        /// Its table.
        table: &'static str,
        /// Its key.
        row: i64,
        /// Which field, and what is wrong with it.
        what: String,
    },
    /// A file or folder could not be used.
    #[error("{path}: {}", why(.what, .cause))]
    File {
        /// Which.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// Why it failed; told in the line, hence not as its source too.
        cause: std::io::Error,
    },
    /// The file system refused.
    #[error(
        "the log's file could not be read or written, and nothing was changed: see whether the disk \
         is full or failing ({0})"
    )]
    Disk(rusqlite::Error),
    /// Anything else the database refuses.
    #[error(
        "the log does not allow that, and nothing was changed; 'reedcrow log check' says whether it \
         is whole ({0})"
    )]
    Database(rusqlite::Error),
}

/// What was tried and why it failed.
fn why(what: &str, cause: &std::io::Error) -> String {
    match (what, cause.kind()) {
        ("could not be written", std::io::ErrorKind::NotFound) => {
            "its folder is not there; make the folder first".into()
        }
        _ => format!("{what}: {}", refusal(cause)),
    }
}

impl LogError {
    /// A failed file operation; a full disk or file-size limit is told as such.
    pub(crate) fn file(
        path: impl Into<PathBuf>,
        what: &'static str,
    ) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.into();
        move |cause| match cause.kind() {
            std::io::ErrorKind::StorageFull
            | std::io::ErrorKind::QuotaExceeded
            | std::io::ErrorKind::FileTooLarge => Self::Full(path),
            _ => Self::File { path, what, cause },
        }
    }
}

impl LogError {
    /// The same, naming the log's file where the database could not.
    pub(crate) fn in_file(self, path: &std::path::Path) -> Self {
        match self {
            Self::Full(_) => Self::Full(path.to_owned()),
            Self::NotWritable(_) => Self::NotWritable(path.to_owned()),
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
            Some(ErrorCode::DiskFull) => Self::Full("the log".into()),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                Self::Damaged(error.to_string())
            }
            // No room for the index of the write-ahead log.
            Some(ErrorCode::SystemIoFailure)
                if error
                    .sqlite_error()
                    .is_some_and(|e| e.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE) =>
            {
                Self::Full("the log".into())
            }
            Some(ErrorCode::ReadOnly) => Self::NotWritable("the log".into()),
            Some(ErrorCode::SystemIoFailure) => Self::Disk(error),
            _ => Self::Database(error),
        }
    }
}
