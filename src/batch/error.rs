//! Why a batch cannot go on. A recording that cannot be read is no such reason.

use std::io;

use crate::text::refusal;

/// Why a batch cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// The name of the table does not say which form it has.
    #[error("{0}: name the table with .csv or .jsonl at its end")]
    Ending(String),
    /// A table of that name is there, and nobody said what is to become of it.
    #[error(
        "{0}: already exists; go on with it with --resume, write it again with --replace, or give \
         another name"
    )]
    Exists(String),
    /// The unfinished table of another run is in the way.
    #[error("{0}: is left from a run that was killed; go on from it with --resume, or delete it")]
    LeftOver(String),
    /// The unfinished table of a run that goes on.
    #[error(
        "{0}: another batch writes this table just now; wait until it is done, or give another name"
    )]
    InUse(String),
    /// The table cannot be written.
    #[error("{table}: {}", not_written(.cause))]
    Table {
        /// Its path.
        table: String,
        /// What the system says.
        cause: io::Error,
    },
    /// A table, or a part of one, cannot be read.
    #[error("{table}: {}", not_read(.cause))]
    Unread {
        /// Its path.
        table: String,
        /// What the system says.
        cause: io::Error,
    },
    /// Standard output cannot be written to.
    #[error("the table cannot be printed")]
    Print(#[source] io::Error),
    /// A table with other columns.
    #[error(
        "{0}: is not a table that this version of the program wrote; give another name to the table, \
         or leave this one out"
    )]
    OtherTable(String),
    /// A row of a table is damaged.
    #[error("{table}: line {line} {what}; make this table again, or take that line out of it")]
    Row {
        /// Its path.
        table: String,
        /// Counted from 1.
        line: u64,
        /// What is wrong.
        what: String,
    },
    /// A table to be joined holds nothing, or ends in its headings.
    #[error("{0}: holds no rows; make this table again, or leave it out")]
    NoRows(String),
    /// Tables of two forms.
    #[error("{0}: is in another format than the table to be made; give both the same ending")]
    OtherForm(String),
}

fn not_written(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "its folder is not there; make the folder first".to_owned(),
        _ => format!("{}; then go on with --resume", refusal(error)),
    }
}

fn not_read(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such table; check its name".to_owned(),
        _ => refusal(error),
    }
}
