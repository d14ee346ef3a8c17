//! The log as tables: one of reeds, one of steps, one of measurements, one of looks, one of takes, one of
//! ratings. A table has one column for each field that any row has, in the order in which they turn up, so
//! all reeds are seen before the first is told, one after the other both times.

use std::collections::{HashMap, HashSet};

use serde_json::Value;

use crate::log::History;
use crate::text::inert;

/// File names of the tables, in the order in which they are told.
const NAMES: [&str; 6] =
    ["reeds.csv", "steps.csv", "measurements.csv", "inspections.csv", "takes.csv", "ratings.csv"];

/// The columns of the tables, so far as the reeds seen have them.
#[derive(Debug, Default)]
pub struct Columns([Fields; NAMES.len()]);

/// The tables, their columns known.
#[derive(Debug)]
pub struct Tables([Vec<String>; NAMES.len()]);

impl Columns {
    /// Sees what columns a reed has.
    pub fn see(&mut self, history: &History) {
        for (fields, rows) in self.0.iter_mut().zip(rows_of(history)) {
            rows.iter().for_each(|row| fields.see(row));
        }
    }

    /// All reeds were seen.
    pub fn tables(self) -> Tables {
        Tables(self.0.map(Fields::columns))
    }
}

impl Tables {
    /// Name and first line of each table; the line is empty where there is no row.
    ///
    /// Errors: none but those of the CSV writer on memory, which has none.
    pub fn begun(&self) -> Result<[(&'static str, String); NAMES.len()], csv::Error> {
        let mut begun = NAMES.map(|name| (name, String::new()));
        for ((_, line), columns) in begun.iter_mut().zip(&self.0) {
            *line = head(columns)?;
        }
        Ok(begun)
    }

    /// The rows of one reed in each table, as lines. It must have been seen.
    ///
    /// Errors: as [`Self::begun`].
    pub fn rows(&self, history: &History) -> Result<[String; NAMES.len()], csv::Error> {
        let mut lines: [String; NAMES.len()] = Default::default();
        for ((lines, columns), rows) in lines.iter_mut().zip(&self.0).zip(rows_of(history)) {
            *lines = body(columns, &rows)?;
        }
        Ok(lines)
    }
}

/// Any rows as CSV: one column for each field that any of them has.
///
/// Errors: none but those of the CSV writer on memory, which has none.
pub(super) fn of_rows(rows: &[impl serde::Serialize]) -> Result<String, csv::Error> {
    let rows: Vec<Row> = rows.iter().map(|row| vec![value(row)]).collect();
    let mut fields = Fields::default();
    rows.iter().for_each(|row| fields.see(row));
    let columns = fields.columns();
    Ok(head(&columns)? + &body(&columns, &rows)?)
}

/// A row as the objects whose fields are its cells.
type Row = Vec<Value>;

/// The rows of a reed in each table.
fn rows_of(history: &History) -> [Vec<Row>; NAMES.len()] {
    let label = serde_json::json!({ "reed": history.reed.card.label });
    let labelled = |row: Value| vec![label.clone(), row];
    let takes = history.takes.iter().map(|take| {
        let mut row = value(&take.take);
        if let (Some(row), Some(logged)) = (row.as_object_mut(), &take.reading) {
            row.insert("read_by".into(), logged.program.clone().into());
            row.insert("summary".into(), value(&logged.reading.summary));
        }
        row
    });
    [
        vec![vec![value(&history.reed)]],
        history.steps.iter().map(value).map(labelled).collect(),
        history.measurements.iter().map(value).map(labelled).collect(),
        history.inspections.iter().map(value).map(labelled).collect(),
        takes.map(labelled).collect(),
        history.ratings.iter().map(value).map(labelled).collect(),
    ]
}

fn value(record: &impl serde::Serialize) -> Value {
    serde_json::to_value(record).unwrap_or_default()
}

/// Fields that rows have, in the order in which they turn up.
#[derive(Debug, Default)]
struct Fields {
    names: Vec<String>,
    known: HashSet<String>,
}

impl Fields {
    fn see(&mut self, row: &Row) {
        for (name, _) in cells(row) {
            if self.known.insert(name.clone()) {
                self.names.push(name);
            }
        }
    }

    /// Where some rows have fields within a field and others have nothing there, the latter are empty in
    /// each of them.
    fn columns(self) -> Vec<String> {
        let dots = |name: &str| name.match_indices('.').map(|(at, _)| at).collect::<Vec<_>>();
        let parents: HashSet<&str> = self
            .names
            .iter()
            .flat_map(|name| dots(name).into_iter().map(|at| &name[..at]))
            .collect();
        let stands = |name: &&String| !parents.contains(name.as_str());
        self.names.iter().filter(stands).cloned().collect()
    }
}

fn head(columns: &[String]) -> Result<String, csv::Error> {
    match columns {
        [] => Ok(String::new()),
        _ => lines(|writer| writer.write_record(columns)),
    }
}

fn body(columns: &[String], rows: &[Row]) -> Result<String, csv::Error> {
    lines(|writer| {
        rows.iter().try_for_each(|row| {
            let cells: HashMap<String, String> = cells(row).into_iter().collect();
            writer
                .write_record(columns.iter().map(|name| cells.get(name).map_or("", String::as_str)))
        })
    })
}

fn lines(
    write: impl FnOnce(&mut csv::Writer<Vec<u8>>) -> Result<(), csv::Error>,
) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    write(&mut writer)?;
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// The cells of a row, each with the name of its column.
fn cells(row: &Row) -> Vec<(String, String)> {
    let mut cells = Vec::new();
    row.iter().for_each(|value| flatten("", value, &mut cells));
    cells
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
