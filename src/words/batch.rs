//! What is said of whole folders of recordings.

/// A recording whose content an earlier row of the table has already.
pub fn same_recording(name: &str, first_row: u64) -> String {
    format!(
        "{name}: is the same recording as in row {first_row} of the table, so its crows count twice; leave \
         one of the two out"
    )
}
