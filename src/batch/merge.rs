//! Tables made on several machines, joined.

use std::collections::{BTreeSet, HashSet};
use std::hash::{BuildHasher, RandomState};
use std::path::PathBuf;

use super::form::{Form, Made};
use super::table::{Ending, Table, for_each_row};
use super::{BatchError, Summary, page_row};
use crate::report::page::PageRow;

/// What came of joining.
#[derive(Debug)]
pub struct Merged {
    /// Of all rows.
    pub summary: Summary,
    /// Rows left out because the very same one was there.
    pub repeated: u64,
    /// The versions and settings that made the rows; more than one makes figures that do not
    /// compare.
    pub made_by: BTreeSet<(String, String)>,
    /// Rows for the page, if they were asked for.
    pub page_rows: Vec<PageRow>,
}

/// Writes the rows of `parts`, in their order, to `table`: each row once.
///
/// * `summary`: of nothing yet.
/// * `page`: whether rows for the page are kept.
///
/// Errors: a part cannot be read, has other columns, or holds a row that is damaged; the table cannot be written.
pub fn merge(
    parts: &[PathBuf],
    form: Form,
    mut table: Table,
    summary: Summary,
    page: bool,
) -> Result<Merged, BatchError> {
    let mut merged =
        Merged { summary, repeated: 0, made_by: BTreeSet::new(), page_rows: Vec::new() };
    match append(parts, form, &mut table, page, &mut merged) {
        Ok(()) => table.finish()?,
        Err(error) => {
            table.discard();
            return Err(error);
        }
    }
    Ok(merged)
}

fn append(
    parts: &[PathBuf],
    form: Form,
    table: &mut Table,
    page: bool,
    merged: &mut Merged,
) -> Result<(), BatchError> {
    let hasher = RandomState::new();
    let mut seen = HashSet::new();
    for part in parts {
        if Form::of(part)? != form {
            return Err(BatchError::OtherForm(part.display().to_string()));
        }
        for_each_row(part, form, Ending::Whole, |_, row, entry| {
            if !seen.insert(hasher.hash_one(row)) {
                merged.repeated += 1;
                return Ok(());
            }
            table.push(row)?;
            if page {
                merged.page_rows.extend(page_row(form, row));
            }
            let Made { version, settings, .. } = entry.made.clone();
            merged.made_by.insert((version, settings));
            merged.summary.add(entry);
            Ok(())
        })?;
    }
    Ok(())
}
