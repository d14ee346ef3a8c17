//! The log as tables: one of reeds, one of steps, one of measurements, one of takes, one of ratings.

use serde_json::Value;

use crate::log::History;
use crate::text::inert;

/// The tables by file name.
///
/// Errors: none but those of the CSV writer on memory, which has none.
pub fn tables(histories: &[History]) -> Result<Vec<(&'static str, String)>, csv::Error> {
    let reeds = histories.iter().map(|history| vec![value(&history.reed)]);
    let steps = of_each(histories, |history| history.steps.iter().map(value).collect());
    let measured = of_each(histories, |history| history.measurements.iter().map(value).collect());
    let seen = of_each(histories, |history| history.inspections.iter().map(value).collect());
    let takes = of_each(histories, |history| {
        history
            .takes
            .iter()
            .map(|take| {
                let mut row = value(&take.take);
                if let (Some(row), Some(logged)) = (row.as_object_mut(), &take.reading) {
                    row.insert("read_by".into(), logged.program.clone().into());
                    row.insert("summary".into(), value(&logged.reading.summary));
                }
                row
            })
            .collect()
    });
    let ratings = of_each(histories, |history| history.ratings.iter().map(value).collect());
    Ok(vec![
        ("reeds.csv", table(reeds.collect())?),
        ("steps.csv", table(steps)?),
        ("measurements.csv", table(measured)?),
        ("inspections.csv", table(seen)?),
        ("takes.csv", table(takes)?),
        ("ratings.csv", table(ratings)?),
    ])
}

/// Any rows as CSV: one column for each field that any of them has.
pub(super) fn of_rows(rows: &[impl serde::Serialize]) -> Result<String, csv::Error> {
    table(rows.iter().map(|row| vec![value(row)]).collect())
}

/// A row as the objects whose fields are its cells.
type Row = Vec<Value>;

fn of_each(histories: &[History], rows: impl Fn(&History) -> Vec<Value>) -> Vec<Row> {
    histories
        .iter()
        .flat_map(|history| {
            let label = serde_json::json!({ "reed": history.reed.card.label });
            rows(history).into_iter().map(move |row| vec![label.clone(), row])
        })
        .collect()
}

fn value(record: &impl serde::Serialize) -> Value {
    serde_json::to_value(record).unwrap_or_default()
}

/// One column for each field that any row has, in the order in which they turn up.
fn table(rows: Vec<Row>) -> Result<String, csv::Error> {
    let mut columns: Vec<String> = Vec::new();
    let mut known = std::collections::HashSet::new();
    let cells: Vec<std::collections::HashMap<String, String>> = rows
        .iter()
        .map(|row| {
            let mut cells = Vec::new();
            row.iter().for_each(|value| flatten("", value, &mut cells));
            for (name, _) in &cells {
                if known.insert(name.clone()) {
                    columns.push(name.clone());
                }
            }
            cells.into_iter().collect()
        })
        .collect();
    // Where some rows have fields within a field and others have nothing there, the latter are empty in
    // each of them.
    let parents: std::collections::HashSet<&str> = columns
        .iter()
        .flat_map(|name| name.match_indices('.').map(|(at, _)| &name[..at]))
        .collect();
    let columns: Vec<&String> =
        columns.iter().filter(|name| !parents.contains(name.as_str())).collect();
    let mut writer = csv::Writer::from_writer(Vec::new());
    if !columns.is_empty() {
        writer.write_record(columns.iter().map(|name| name.as_str()))?;
    }
    for row in &cells {
        let record = columns.iter().map(|name| row.get(*name).map_or("", String::as_str));
        writer.write_record(record)?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Fields within fields are named by their path; an absent value is an empty cell; a list of
/// rungs or bands is left to the JSON.
fn flatten(path: &str, value: &Value, cells: &mut Vec<(String, String)>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let path = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                flatten(&path, value, cells);
            }
        }
        Value::Array(_) => {}
        Value::Null => cells.push((path.to_owned(), String::new())),
        Value::String(text) => cells.push((path.to_owned(), inert(text.clone()))),
        other => cells.push((path.to_owned(), other.to_string())),
    }
}
