//! The log as tables: one of reeds, one of steps, one of measurements, one of looks, one of takes, one of
//! ratings. A table has one column for each field that any row has, in the order in which they turn up. So
//! its rows are told twice: first as the cells they have, reed by reed, put by outside, and once all are
//! seen as lines of the table.

use std::collections::{HashMap, HashSet};
use std::io;

use serde_json::Value;

use crate::log::History;
use crate::text::inert;

/// File names of the tables, in the order in which they are told.
const NAMES: [&str; 6] =
    ["reeds.csv", "steps.csv", "measurements.csv", "inspections.csv", "takes.csv", "ratings.csv"];

/// The fields of the tables, so far as the reeds seen have them.
#[derive(Debug, Default)]
pub struct Columns([Fields; NAMES.len()]);

/// The tables, their columns known.
#[derive(Debug)]
pub struct Tables([Standing; NAMES.len()]);

impl Columns {
    /// Sees a reed and tells its rows in each table, a line each, as [`Tables::row`] wants them.
    pub fn see(&mut self, history: &History) -> [String; NAMES.len()] {
        let mut told: [String; NAMES.len()] = Default::default();
        for ((lines, fields), rows) in told.iter_mut().zip(&mut self.0).zip(rows_of(history)) {
            for row in rows {
                *lines += &(serde_json::json!(fields.see(&row)).to_string() + "\n");
            }
        }
        told
    }

    /// All reeds were seen.
    pub fn tables(self) -> Tables {
        Tables(self.0.map(Fields::standing))
    }
}

impl Tables {
    /// Name and first line of each table; the line is empty where there is no row.
    ///
    /// Errors: none but those of the CSV writer on memory, which has none.
    pub fn begun(&self) -> Result<[(&'static str, String); NAMES.len()], csv::Error> {
        let mut begun = NAMES.map(|name| (name, String::new()));
        for ((_, line), columns) in begun.iter_mut().zip(&self.0) {
            *line = columns.head()?;
        }
        Ok(begun)
    }

    /// The line of a table for a row that was told.
    ///
    /// * `table`: its place among the tables.
    ///
    /// Errors: it is no line that [`Columns::see`] gave.
    pub fn row(&self, table: usize, told: &str) -> io::Result<String> {
        let cells: Vec<String> = serde_json::from_str(told)?;
        let columns = self.0.get(table).ok_or(io::ErrorKind::InvalidInput)?;
        Ok(columns.line(&cells)?)
    }
}

/// Any rows as CSV: one column for each field that any of them has.
///
/// Errors: none but those of the CSV writer on memory, which has none.
pub(super) fn of_rows(rows: &[impl serde::Serialize]) -> Result<String, csv::Error> {
    let mut fields = Fields::default();
    let rows: Vec<Vec<String>> = rows.iter().map(|row| fields.see(&vec![value(row)])).collect();
    let columns = fields.standing();
    rows.iter().try_fold(columns.head()?, |text, cells| Ok(text + &columns.line(cells)?))
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
    places: HashMap<String, usize>,
}

impl Fields {
    /// The cells of a row by the places of their fields, empty where it has none.
    fn see(&mut self, row: &Row) -> Vec<String> {
        let mut named = Vec::new();
        row.iter().for_each(|value| flatten("", value, &mut named));
        let mut cells = Vec::new();
        for (name, cell) in named {
            let place = *self.places.entry(name).or_insert_with_key(|name| {
                self.names.push(name.clone());
                self.names.len() - 1
            });
            cells.resize(cells.len().max(place + 1), String::new());
            cells[place] = cell;
        }
        cells
    }

    /// Where some rows have fields within a field and others have nothing there, the latter are empty in
    /// each of them.
    fn standing(self) -> Standing {
        let parents: HashSet<&str> = self
            .names
            .iter()
            .flat_map(|name| name.match_indices('.').map(|(at, _)| &name[..at]))
            .collect();
        let columns = self.names.iter().enumerate();
        let columns = columns.filter(|(_, name)| !parents.contains(name.as_str()));
        Standing(columns.map(|(place, name)| (place, name.clone())).collect())
    }
}

/// The columns of a table: place of the field, and name.
#[derive(Debug)]
struct Standing(Vec<(usize, String)>);

impl Standing {
    fn head(&self) -> Result<String, csv::Error> {
        match self.0[..] {
            [] => Ok(String::new()),
            _ => line(self.0.iter().map(|(_, name)| name.as_str())),
        }
    }

    fn line(&self, cells: &[String]) -> Result<String, csv::Error> {
        line(self.0.iter().map(|(place, _)| cells.get(*place).map_or("", String::as_str)))
    }
}

fn line<'a>(cells: impl Iterator<Item = &'a str>) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(cells)?;
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
