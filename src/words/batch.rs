//! What is said of whole folders of recordings.

use crate::report::format::counted;

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
        "{recordings} more are in the table twice or oftener: column 'sha256' tells which are the same"
    )
}
