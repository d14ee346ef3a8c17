//! The table with one row per crow. It is made from the table of takes, of which it says nothing
//! that is not there, so the two agree however that came about: read at once, gone on with, or
//! joined of parts.

use std::io::{BufWriter, Write};
use std::path::Path;

use super::BatchError;
use super::form::Form;
use super::table::{Ending, for_each_row};
use crate::files::{Unfinished, folder_of};
use crate::reading::Reading;
use crate::report::crow_csv;

/// Writes the crows of the takes in `table`, lines of JSON, to `path`: whole or not at all, one
/// take in memory at a time. Takes that could not be read have no rows.
///
/// Errors: the table cannot be read, or the crows not be written.
pub fn crow_table(table: &Path, path: &Path) -> Result<(), BatchError> {
    let failed = |error| BatchError::Table { table: path.display().to_string(), cause: error };
    let file = Unfinished::begin(folder_of(path)).map_err(failed)?;
    let mut out = BufWriter::new(file);
    out.write_all(crow_csv::header().as_bytes()).map_err(failed)?;
    for_each_row(table, Form::JsonLines, Ending::Whole, |_, row, entry| {
        if entry.error.is_some() {
            return Ok(());
        }
        let reading: Reading = serde_json::from_str(row)
            .map_err(|_| BatchError::OtherTable(table.display().to_string()))?;
        out.write_all(crow_csv::rows(&reading).as_bytes()).map_err(failed)
    })?;
    let mut file = out.into_inner().map_err(|error| failed(error.into_error()))?;
    file.becomes(path).map_err(failed)
}
