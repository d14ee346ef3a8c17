//! Whether rows hold what they can hold: what this program wrote, it understands; what came from an
//! export, or was changed by other hands, may be anything.

use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::exported::{ExportedReed, ExportedRow};
use super::rows::{Kept, Row, Table};
use crate::log::card::is_day;
use crate::log::heard::LoggedHeard;
use crate::log::history::{
    LoggedInspection, LoggedMeasurement, LoggedReading, LoggedReed, LoggedStep, LoggedTake, PROGRAM,
};
use crate::log::rating::LoggedRating;
use crate::log::{LogError, Senseless};

/// Columns that hold a moment.
const MOMENTS: [&str; 3] = ["at", "ended_at", "conditions_at"];

/// Whether a row's fields are of their types. A reading of another version may have any form: it
/// can be made again.
///
/// Errors: which field is not, and what it holds.
pub fn types(table: &Table, row: &Row) -> Result<(), Senseless> {
    let own = row.get("program").and_then(Value::as_str) == Some(PROGRAM);
    match table.name {
        "reed" => fits::<LoggedReed>(row, json!({ "uid": "", "at": "", "label": "" })),
        "step" => fits::<LoggedStep>(row, json!({ "at": "", "cut": "note" })),
        "measurement" => {
            fits::<LoggedMeasurement>(row, json!({ "after_step": 0, "at": "", "measurements": {} }))
        }
        "inspection" => {
            fits::<LoggedInspection>(row, json!({ "after_step": 0, "at": "", "inspection": {} }))
        }
        "heard" => fits::<LoggedHeard>(
            row,
            json!({ "at": "", "profile": "", "crow": 1, "heard": "low", "kind": "single" }),
        ),
        "rating" => fits::<LoggedRating>(row, json!({ "after_step": 0, "at": "", "rating": {} })),
        "take" => fits::<LoggedTake>(
            row,
            json!({ "number": 1, "after_step": 0, "at": "", "sha256": "", "bytes": 0, "source": "" }),
        ),
        _ => {
            fits::<ReadingHead>(row, json!({ "at": "", "program": "", "reading": {} }))?;
            let whole = || serde_json::from_value::<LoggedReading>(Value::Object(row.clone()));
            if own && whole().is_err() {
                return Err(Senseless::Reading);
            }
            Ok(())
        }
    }
}

/// What every version's readings have.
#[derive(Deserialize)]
#[expect(dead_code, reason = "only whether they can be read is asked")]
struct ReadingHead {
    at: String,
    program: String,
    reading: Row,
}

/// Whether `row` is a `T`.
///
/// * `least`: a row that is one, with as little in it as can be; fields are tried in it one by one.
fn fits<T: DeserializeOwned>(row: &Row, least: Value) -> Result<(), Senseless> {
    let is = |value: Value| serde_json::from_value::<T>(value).is_ok();
    if is(Value::Object(row.clone())) {
        return Ok(());
    }
    let with = |column: &str, value: Value| {
        let mut tried = least.clone();
        tried[column] = value;
        is(tried)
    };
    let at_fault = row.iter().find(|(column, value)| !with(column, (*value).clone()));
    if let Some((column, value)) = at_fault {
        let mut inside = value.as_object().into_iter().flatten();
        let wrong = inside.find(|(key, value)| {
            let alone = Row::from_iter([((*key).clone(), (*value).clone())]);
            !with(column, Value::Object(alone))
        });
        return Err(match wrong {
            Some((key, value)) => holds(&format!("{column}.{key}"), value),
            None => holds(column, value),
        });
    }
    let lacks = least.as_object().into_iter().flatten().find(|(name, _)| !row.contains_key(*name));
    Err(match lacks {
        Some((name, _)) => Senseless::Lacks(name.clone()),
        None => Senseless::Contradicts,
    })
}

fn holds(field: &str, value: &Value) -> Senseless {
    let text = value.to_string();
    let mut shown: String = text.chars().take(30).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    Senseless::Holds { field: field.to_owned(), shown }
}

/// Whether a row could have been written down by the maker: its types, and its values.
fn values(table: &Table, row: &Row) -> Result<(), Senseless> {
    types(table, row)?;
    // A whole number that the database would keep as another, rounded.
    let too_large = |value: &Value| value.is_u64() && value.as_i64().is_none();
    if let Some((column, value)) = row.iter().find(|(_, value)| too_large(value)) {
        return Err(holds(column, value));
    }
    for moment in MOMENTS {
        let day = |text: &str| text.get(..10).is_some_and(is_day);
        if let Some(value) = row.get(moment).filter(|value| !value.is_null())
            && !value.as_str().is_some_and(day)
        {
            return Err(holds(moment, value));
        }
    }
    let said = |result: Result<(), LogError>| {
        result.map_err(|error| Senseless::Refused(error.to_string()))
    };
    match table.name {
        "reed" => {
            let reed: LoggedReed = typed(row)?;
            said(reed.card.check())?;
            reed.conditions.map_or(Ok(()), |conditions| said(conditions.check()))
        }
        "step" => {
            let logged = typed::<LoggedStep>(row)?;
            let is_return = logged.number.is_some() && logged.step.is_return();
            if is_return { Ok(()) } else { said(logged.step.check()) }
        }
        "rating" => said(typed::<LoggedRating>(row)?.rating.check()),
        "take" => {
            let take: LoggedTake = typed(row)?;
            let is_hash = take.sha256.len() == 64
                && take.sha256.bytes().all(|digit| digit.is_ascii_hexdigit());
            if !is_hash {
                return Err(holds("sha256", &take.sha256.into()));
            }
            take.conditions.map_or(Ok(()), |conditions| said(conditions.check()))
        }
        _ => Ok(()),
    }
}

fn typed<T: DeserializeOwned>(row: &Row) -> Result<T, Senseless> {
    serde_json::from_value(Value::Object(row.clone())).map_err(|_| Senseless::NotUnderstood)
}

/// Whether every row a reed ever had is of its types.
///
/// Errors: which is not.
pub fn reed_types(reed: &ExportedReed) -> Result<(), Senseless> {
    each_row(reed, types)
}

/// Whether a reed is one that this program could have written: types, values, and each number once.
///
/// Errors: what is not so.
pub fn reed_values(reed: &ExportedReed) -> Result<(), Senseless> {
    if let Some(name) = reed.tables.keys().find(|name| Table::named(name).is_none()) {
        return Err(Senseless::NoTable(name.clone()));
    }
    each_row(reed, values)?;
    let rows = |name: &str| reed.tables.get(name).into_iter().flatten();
    match rows("reed").map(|kept| kept.row.get("uid").and_then(Value::as_str)).collect::<Vec<_>>()[..]
    {
        [] => return Err(Senseless::NoReed),
        [Some(uid)] if uid == reed.uid => {}
        _ => return Err(Senseless::SeveralReeds),
    }
    for table in ["step", "take"] {
        let mut numbers: Vec<i64> = rows(table)
            .filter(|kept| !kept.gone)
            .filter_map(|kept| kept.row.get("number").and_then(Value::as_i64))
            .collect();
        numbers.sort_unstable();
        if let Some(twice) = numbers.windows(2).find(|pair| pair[0] == pair[1]) {
            return Err(Senseless::Twice { table, number: twice[0] });
        }
    }
    Ok(())
}

fn each_row(
    reed: &ExportedReed,
    makes_sense: impl Fn(&Table, &Row) -> Result<(), Senseless>,
) -> Result<(), Senseless> {
    for table in Table::ALL {
        for (kept, place) in reed.tables.get(table.name).into_iter().flatten().zip(1..) {
            makes_sense(table, &kept.row).map_err(|what| Senseless::InRow {
                table: table.name,
                place,
                what: Box::new(what),
            })?;
        }
    }
    for (change, number) in reed.changes.iter().zip(1..) {
        for audit in &change.rows {
            let Some(table) = Table::named(&audit.table) else {
                let what = Box::new(Senseless::NoTable(audit.table.clone()));
                return Err(Senseless::InChange { number, table: None, what });
            };
            let sides: [Option<&ExportedRow>; 2] = [audit.before.as_ref(), Some(&audit.after)];
            for side in sides.into_iter().flatten() {
                makes_sense(table, &side.row).map_err(|what| Senseless::InChange {
                    number,
                    table: Some(table.name),
                    what: Box::new(what),
                })?;
            }
        }
    }
    Ok(())
}

/// A row as a typed record.
pub fn from_row<T: DeserializeOwned>(table: &Table, kept: &Kept) -> Result<T, LogError> {
    serde_json::from_value(Value::Object(kept.row.clone())).map_err(|_| {
        let what = types(table, &kept.row).err();
        table.bad_row(kept.id, what.unwrap_or(Senseless::NotUnderstood))
    })
}
