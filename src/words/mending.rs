//! What mending the log did, and what is lost.

use std::path::Path;

use crate::log::Mend;
use crate::report::format::counted;

/// There was nothing to do.
pub const NOTHING_TO_MEND: &str = "nothing is wrong that could be mended";

/// The damaged file is kept.
pub fn put_aside(damaged: &Path) -> String {
    format!(
        "the log was damaged and has been rebuilt from what could be read; the damaged file is kept as {}",
        damaged.display()
    )
}

/// More was mended than is told.
pub fn more(count: usize) -> String {
    format!("mended: {count} more; --json lists them all")
}

/// One thing that was put right, or lost.
pub fn mend(mend: &Mend) -> String {
    match mend {
        Mend::Row { label, table, row, held } => {
            let held: Vec<String> =
                held.iter().map(|(field, held)| format!("{field} was {}", shown(held))).collect();
            let held = held.join("; ");
            format!(
                "mended: {label}, table {table}, row {row}: as this program wrote it last ({held})"
            )
        }
        Mend::RowAgain { label, table, row, from: None } => {
            format!("mended: {label}, table {table}, row {row}: from the record of changes")
        }
        Mend::RowAgain { label, table, row, from: Some(copy) } => format!(
            "mended: {label}, table {table}, row {row}: from the copy {}; changed since, it is as it \
             was then",
            copy.display()
        ),
        Mend::Recording { take, from } => {
            format!("mended: {take}: its recording, from {}", from.display())
        }
        Mend::Leftovers { files } => format!(
            "mended: {} removed that a program left half written when it was ended",
            counted(*files, "file")
        ),
        Mend::CardLost { label } => format!(
            "lost: a reed's card, which no copy has either; its cuts and takes stand under '{label}': \
             'reedcrow reed edit' writes it again"
        ),
        Mend::RowsLost { table, rows } if matches!(table.as_str(), "change" | "change_row") => {
            format!(
                "lost: {} of the record of changes: undo does not reach back past them",
                counted(*rows, "line")
            )
        }
        Mend::RowsLost { table, rows } => {
            format!(
                "lost: {} of the table {table}, which no copy has either",
                counted(*rows, "row")
            )
        }
        Mend::RecordLost { rows } => format!(
            "lost: how {} came to be: they are taken as they stand, and undo cannot go back past that",
            counted(*rows, "row")
        ),
        Mend::RecordingLost { take, sha256 } => format!(
            "lost: {take}: its recording ({sha256}): neither here, nor where it came from, nor in the \
             folders given with --from; its reading stays"
        ),
    }
}

fn shown(held: &str) -> String {
    let mut shown: String = held.chars().take(40).collect();
    if shown.len() < held.len() {
        shown.push('…');
    }
    if shown.is_empty() { "empty".into() } else { shown }
}
