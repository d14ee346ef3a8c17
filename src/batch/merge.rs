//! Tables made on several machines, joined.

use std::collections::{BTreeSet, HashSet};
use std::hash::{BuildHasher, RandomState};
use std::path::PathBuf;

use super::form::{Form, Made};
use super::table::{Table, for_each_row};
use super::{BatchError, Summary};

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
}

/// Writes the rows of `parts`, in their order, to `table`: each row once.
///
/// Errors: a part cannot be read or has other columns; the table cannot be written.
pub fn merge(
    parts: &[PathBuf],
    form: Form,
    mut table: Table,
    mut summary: Summary,
) -> Result<Merged, BatchError> {
    let hasher = RandomState::new();
    let mut seen = HashSet::new();
    let mut repeated = 0;
    let mut made_by = BTreeSet::new();
    for part in parts {
        if Form::of(part)? != form {
            return Err(BatchError::OtherForm(part.display().to_string()));
        }
        for_each_row(part, form, |_, row, entry| {
            if !seen.insert(hasher.hash_one(row)) {
                repeated += 1;
                return Ok(());
            }
            table.push(row)?;
            let Made { version, settings, .. } = entry.made.clone();
            made_by.insert((version, settings));
            summary.add(entry);
            Ok(())
        })?;
    }
    table.finish()?;
    Ok(Merged { summary, repeated, made_by })
}
