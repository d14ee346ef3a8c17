//! Why a batch cannot go on. A recording that cannot be read is no such reason.

use std::io;

use crate::words::batch::{
    EXISTS, IN_USE, LEFT_OVER, NAME_THE_TABLE, NO_ROWS, NO_SUCH_TABLE, NOT_PRINTED, OTHER_FORM,
    OTHER_TABLE, SPOILT_ROW, not_written, spoilt,
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
        what: RowFault,
    },
    /// A table to be joined holds nothing, or ends in its headings.
    #[error("{0}: {NO_ROWS}")]
    NoRows(String),
    /// Tables of two forms.
    #[error("{0}: {OTHER_FORM}")]
    OtherForm(String),
}

/// What is wrong with a row of a table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RowFault {
    /// Not in UTF-8.
    #[error("{}", spoilt::NOT_TEXT)]
    NotText,
    /// Within quotes at its end.
    #[error("{}", spoilt::OPEN_QUOTE)]
    OpenQuote,
    /// The header line, a second time.
    #[error("{}", spoilt::HEADINGS)]
    Headings,
    /// Not JSON.
    #[error("{}", spoilt::NOT_JSON)]
    NotJson,
    /// JSON of something else than a reading.
    #[error("{}", spoilt::NO_READING)]
    NoReading,
    /// Without what every row has.
    #[error("{}", spoilt::NO_ROW)]
    NoRow,
    /// Too few columns or too many; how many there should be.
    #[error("{}", spoilt::columns(*.0))]
    Columns(usize),
    /// Something else in a column of numbers.
    #[error("{}", spoilt::no_number(.column, .text))]
    NoNumber {
        /// The column.
        column: &'static str,
        /// How it begins.
        text: String,
    },
    /// What closes every row is not whole.
    #[error("{}", spoilt::END)]
    End,
    /// No path.
    #[error("{}", spoilt::NO_SOURCE)]
    NoSource,
}

fn not_read(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => NO_SUCH_TABLE.to_owned(),
        _ => refusal(error),
    }
}
