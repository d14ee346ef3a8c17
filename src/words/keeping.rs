//! That something could not be kept or said, and what becomes of it.

use std::path::Path;

use crate::capture::CaptureError;
use crate::take::TakeError;

/// A take cannot be written now.
pub fn waits_in_memory(error: &CaptureError) -> String {
    format!(
        "{}; this take stays in memory and is tried again while you go on: make room, and let \
         reedcrow run",
        why(error)
    )
}

/// A take is on the disk now, and another reed is on the bench.
pub fn of_another_reed(label: &str, file: &Path) -> String {
    let file = file.display();
    format!("a take of {label} is in {file} now: add it with 'reedcrow reed take {label} {file}'")
}

/// A take could not be written to the end.
pub fn lost(error: &CaptureError) -> String {
    format!("{}; a take could not be kept and is lost: record it again", why(error))
}

/// Without the advice to save it again: it is tried again without being asked.
fn why(error: &CaptureError) -> String {
    match error {
        CaptureError::Keep { path, cause: TakeError::DiskFull } => {
            format!("{}: the disk is full", path.display())
        }
        other => other.to_string(),
    }
}

/// Something was done and is in the log, and saying so failed.
///
/// * `first`: the first line of what was to be printed.
pub fn done_but_not_said(first: &str, why: &str) -> String {
    format!("this is in the log; only printing it failed ({why}): {first}: do not enter it again")
}
