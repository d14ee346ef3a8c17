//! What is wrong with the log and how it is mended; what mending did, and what is lost.

use std::fmt::{self, Display, Formatter};
use std::path::Path;

use crate::log::{Fault, Found, Lost, LostCard, Mend, RowOf};
use crate::words::format::counted;
use crate::words::system::refusal;

impl Display for LostCard {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "card lost {}", self.0)
    }
}

/// What a check of the log looked at and found.
pub fn looked_at(reeds: usize, recordings: usize, faults: usize) -> String {
    let found = if faults == 0 { "all whole".to_owned() } else { counted(faults, "fault") };
    let (reeds, recordings) = (counted(reeds, "reed"), counted(recordings, "recording"));
    format!("{reeds}, {recordings} looked at: {found}")
}
/// Before how a fault is mended.
pub const MEND: &str = "mend:";

/// A take that could not be read again.
pub fn not_reread(label: &str, take: u32, why: &impl Display) -> String {
    format!("{label} take {take}: not read: {why}")
}
/// A take that reads otherwise than it did: `earlier` version read it, `None` where it had no reading; `now`
/// another does, or the same one knows more.
pub fn reread(label: &str, take: u32, earlier: Option<&str>, now: &str) -> String {
    let why = match earlier {
        None => "there was no reading".to_owned(),
        Some(by) if by == now => {
            "what you said you heard, or the reed's sheet, has changed since".to_owned()
        }
        Some(by) => format!("was read by {by}"),
    };
    format!("{label} take {take}: changed ({why})")
}
/// What changed is below the figures of the take.
pub const ONLY_CROWS_CHANGED: &str = "its summary is the same, single crows are not";
/// How many takes were read again, and how many of them read as they did.
pub fn as_before(takes: usize, same: usize) -> String {
    format!("{}, {same} as before", counted(takes, "take"))
}

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

impl From<Found> for Fault {
    fn from(found: Found) -> Self {
        let row = |RowOf { label, table, id }| format!("{label}, table {table}, row {id}");
        let (what, mend) = match found {
            Found::Database(what) => (format!("the database is damaged: {what}"), REBUILD.into()),
            Found::Dangling(table) => {
                (format!("a row of table {table} points to one that is not there"), REBUILD.into())
            }
            Found::Unreadable { row: of, what } => (
                format!("{}: {what}", row(of)),
                "'reedcrow log check --mend' puts back what this program wrote last; until then this \
                 reed cannot be read, and all others can"
                    .into(),
            ),
            Found::Altered(of) => (
                format!("{}: was changed by something other than this program", row(of)),
                "undo stops there; if the value is wrong, 'reedcrow log check --mend' puts back what \
                 this program wrote last"
                    .into(),
            ),
            Found::Recording { whose, is_undone, path, why } => {
                let note = if is_undone { " (an undone take)" } else { "" };
                let shown = path.display();
                let what = match why {
                    Lost::Changed => format!("was changed or damaged: {shown}"),
                    Lost::Missing => format!("is missing: {shown}"),
                    Lost::Unreadable(error) => {
                        format!("cannot be read: {shown}: {}", refusal(&error))
                    }
                };
                let mend = format!(
                    "'reedcrow log check --mend --from FOLDER' takes it from a copy of the log's \
                     folder, an export or wherever it came from ('reedcrow log backup' holds no \
                     recordings), as {shown}; or undo the take; its reading stays"
                );
                (format!("{whose}{note}: its recording {what}"), mend)
            }
            Found::NoReading { whose } => (
                format!("{whose}: has no reading that this program understands"),
                "'reedcrow log reread' makes it again from the recording".into(),
            ),
            Found::HalfWritten(path) => (
                format!("{}: a program was ended while it wrote this", path.display()),
                "the recording it copied is where it was; delete this file".into(),
            ),
            Found::Unnamed { path, other } => {
                let shown = path.display();
                let mend = match other {
                    None => format!("add it with 'reedcrow reed take LABEL {shown}', or delete it"),
                    Some(other) => format!(
                        "leave it: it may be of {}, which kept its recordings here too",
                        other.display()
                    ),
                };
                (format!("{shown}: no take names this recording"), mend)
            }
            Found::OnNoCard(path) => {
                let shown = path.display();
                let mend = format!(
                    "if no program is recording now, add it with 'reedcrow reed take LABEL {shown}', \
                     then delete it"
                );
                (format!("{shown}: recorded, and never put on a card"), mend)
            }
        };
        Self { what, mend }
    }
}

/// How a damaged database is mended.
const REBUILD: &str = "'reedcrow log check --mend' rebuilds it from what can be read, keeps the damaged \
                       file, and says what is lost";
