//! Why a batch cannot go on. A recording that cannot be read is no such reason.

use std::io;

use crate::words::batch::{
    EXISTS, IN_USE, LEFT_OVER, NAME_THE_TABLE, NO_ROWS, NO_SUCH_TABLE, NOT_PRINTED, OTHER_FORM,
    OTHER_TABLE, SPOILT_ROW, not_written,
};
use crate::words::system::refusal;

/// Why a batch cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// The name of the table does not say which form it has.
    #[error("{0}: {NAME_THE_TABLE}")]
    Ending(String),
    /// A table of that name is there, and nobody said what is to become of it.
    #[error("{0}: {EXISTS}")]
    Exists(String),
    /// The unfinished table of another run is in the way.
    #[error("{0}: {LEFT_OVER}")]
    LeftOver(String),
    /// The unfinished table of a run that goes on.
    #[error("{0}: {IN_USE}")]
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
    #[error("{NOT_PRINTED}")]
    Print(#[source] io::Error),
    /// A table with other columns.
    #[error("{0}: {OTHER_TABLE}")]
    OtherTable(String),
    /// A row of a table is damaged.
    #[error("{table}: line {line} {what}; {SPOILT_ROW}")]
    Row {
        /// Its path.
        table: String,
        /// Counted from 1.
        line: u64,
        /// What is wrong.
        what: String,
    },
    /// A table to be joined holds nothing, or ends in its headings.
    #[error("{0}: {NO_ROWS}")]
    NoRows(String),
    /// Tables of two forms.
    #[error("{0}: {OTHER_FORM}")]
    OtherForm(String),
}

fn not_read(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => NO_SUCH_TABLE.to_owned(),
        _ => refusal(error),
    }
}
