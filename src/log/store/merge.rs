//! A reed that was worked on in two logs, on the bench's machine and on a laptop, made one again.

use serde_json::Value;

use super::change::{Did, Writing};
use super::exported::{ExportedChange, ExportedReed, ExportedRow};
use super::reeds::kept_again;
use super::rows::{Kept, REED, Row, TAKE, Table, of};
use crate::log::LogError;

/// How the work on a reed here and elsewhere belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kin {
    /// The same in everything.
    Same,
    /// Everything from there is here, and more.
    HereIsLater,
    /// Everything from here is there, and more.
    ThereIsLater,
    /// Each has what the other lacks.
    Parted,
}

/// Compares both by their changes, each of which holds the rows it wrote.
pub fn kin(here: &ExportedReed, there: &ExportedReed) -> Kin {
    let shared = here.changes.iter().zip(&there.changes).take_while(|(a, b)| a == b).count();
    match (shared == here.changes.len(), shared == there.changes.len()) {
        (true, true) => Kin::Same,
        (false, true) => Kin::HereIsLater,
        (true, false) => Kin::ThereIsLater,
        (false, false) => Kin::Parted,
    }
}

/// A row of both, with where it is here.
struct One {
    table: &'static Table,
    /// Its key here; `None` where it comes from there.
    key: Option<i64>,
    row: Row,
    /// Its take, of a reading and of what was heard.
    take: Option<Take>,
}

/// Where a take is.
#[derive(Clone, Copy)]
enum Take {
    /// Here already, under that key.
    Key(i64),
    /// Among the rows of both, at that place.
    Row(usize),
}

impl One {
    fn at(&self) -> &str {
        self.row.get("at").and_then(Value::as_str).unwrap_or_default()
    }

    fn is_cut(&self) -> bool {
        self.table.name == "step" && self.row.get("number").is_some_and(|n| !n.is_null())
    }
}

/// Adds what was done there to what was done here, in order of time: cuts and takes are counted anew,
/// and what was measured, seen and crowed stands after the cuts that were made before it. One change,
/// which undo takes back.
///
/// * `here`: the reed as it stands, read in this very transaction.
pub fn merge(
    writing: &Writing<'_>,
    reed: i64,
    here: &ExportedReed,
    there: &ExportedReed,
) -> Result<(), LogError> {
    let connection = writing.connection();
    let mut rows = Vec::new();
    let mut known = Vec::new();
    for table in Table::ALL.into_iter().filter(|table| table.name != "reed") {
        let kept = table.select(connection, "reed_id = ?1", [reed])?;
        known.extend(kept.iter().map(|kept| {
            let (name, row) = identity(table, &kept.row);
            (name, row, kept.id)
        }));
        rows.extend(kept.into_iter().filter(|kept| !kept.gone).map(|kept| One {
            table,
            key: Some(kept.id),
            row: kept.row,
            take: None,
        }));
    }
    let here_already = |name: &str, row: &Row, known: &[(&'static str, Row, i64)]| {
        let wanted = identity(Table::named(name)?, row);
        known.iter().find(|(name, row, _)| (*name, row) == (wanted.0, &wanted.1)).map(|one| one.2)
    };
    let mut takes: Vec<Option<Take>> = Vec::new();
    for table in Table::ALL.into_iter().filter(|table| table.name != "reed") {
        for exported in there.tables.get(table.name).into_iter().flatten() {
            let key = here_already(table.name, &exported.row, &known);
            let is_new = !exported.gone && key.is_none();
            if table.name == TAKE.name {
                takes.push(match (key, is_new) {
                    (Some(key), _) => Some(Take::Key(key)),
                    (None, true) => Some(Take::Row(rows.len())),
                    (None, false) => None,
                });
            }
            let of_take = table.columns.iter().any(|(name, _)| *name == "take_id");
            let nth = exported.row.get("take_id").and_then(Value::as_u64);
            let nth = nth.and_then(|nth| usize::try_from(nth).ok()?.checked_sub(1));
            let take = nth.and_then(|nth| *takes.get(nth)?);
            if is_new && (!of_take || take.is_some()) {
                rows.push(One { table, key: None, row: exported.row.clone(), take });
            }
        }
    }
    count_anew(&mut rows);
    write(writing, reed, here, there, rows)
}

/// What makes a row itself: its table, its moment and what it says, without the numbers by which it is
/// counted.
fn identity(table: &Table, row: &Row) -> (&'static str, Row) {
    let mut row = row.clone();
    for counted in ["reed_id", "take_id", "number", "after_step"] {
        row.remove(counted);
    }
    row.retain(|_, value| !value.is_null());
    let name = Table::named(table.name).map_or("", |table| table.name);
    (name, row)
}

fn count_anew(rows: &mut [One]) {
    let mut cuts: Vec<String> =
        rows.iter().filter(|one| one.is_cut()).map(|one| one.at().to_owned()).collect();
    cuts.sort();
    let mut numbered: Vec<(usize, String)> = Vec::new();
    for kind in ["step", "take"] {
        numbered.clear();
        let of_kind = rows.iter().enumerate().filter(|(_, one)| match kind {
            "step" => one.is_cut(),
            _ => one.table.name == "take",
        });
        numbered.extend(of_kind.map(|(place, one)| (place, one.at().to_owned())));
        numbered.sort_by(|a, b| a.1.cmp(&b.1));
        for ((place, _), number) in numbered.iter().zip(1_u32..) {
            if let Some(one) = rows.get_mut(*place) {
                one.row.insert("number".into(), number.into());
            }
        }
    }
    for one in rows.iter_mut().filter(|one| one.row.contains_key("after_step")) {
        let before = cuts.iter().filter(|cut| cut.as_str() <= one.at()).count();
        one.row.insert("after_step".into(), before.into());
    }
}

fn write(
    writing: &Writing<'_>,
    reed: i64,
    here: &ExportedReed,
    there: &ExportedReed,
    mut rows: Vec<One>,
) -> Result<(), LogError> {
    let change = writing.change(Some(reed), &Did::Merged, None)?;
    if card_changed(there) > card_changed(here)
        && let Some(ExportedRow { row, .. }) =
            there.tables.get("reed").and_then(|rows| rows.first())
    {
        let now = kept_again(writing.connection(), reed)?;
        // Its label is the one it has here.
        let mut row = row.clone();
        row.insert("label".into(), now.row.get("label").cloned().unwrap_or_default());
        change.update(&REED, &Kept { row, ..now })?;
    }
    // Numbers only grow: the highest first leaves each free for the one below.
    let number = |one: &One| one.row.get("number").and_then(Value::as_i64).unwrap_or(0);
    let order: Vec<usize> = {
        let mut order: Vec<usize> = (0..rows.len()).filter(|n| rows[*n].key.is_some()).collect();
        order.sort_by_key(|n| std::cmp::Reverse(number(&rows[*n])));
        order
    };
    for place in order {
        let Some(One { table, key: Some(key), row, .. }) = rows.get(place) else { continue };
        let Some(now) = table.get(writing.connection(), *key)? else { continue };
        if now.row != *row {
            change.update(table, &Kept { row: row.clone(), ..now })?;
        }
    }
    for place in 0..rows.len() {
        let take = rows[place].take.and_then(|take| match take {
            Take::Key(key) => Some(key),
            Take::Row(place) => rows.get(place)?.key,
        });
        let One { table, key, row, .. } = &mut rows[place];
        if key.is_some() {
            continue;
        }
        if let Some(take) = take {
            row.insert("take_id".into(), take.into());
        }
        *key = Some(change.insert(table, &of(reed, row.clone()))?);
    }
    debug_assert!(rows.iter().all(|one| one.key.is_some() || one.table.name != TAKE.name));
    Ok(())
}

/// When the card was last written.
fn card_changed(reed: &ExportedReed) -> Option<&str> {
    let of_card = |change: &&ExportedChange| change.rows.iter().any(|audit| audit.table == "reed");
    reed.changes.iter().rfind(of_card).map(|change| change.at.as_str())
}
