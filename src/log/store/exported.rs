//! What an export holds, and the JSON Schema of its lines, made from the types that the log reads.

use std::collections::BTreeMap;
use std::io::{self, Write};

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::rows::{Form, Row, Table};
use super::schema::VERSION;
use crate::log::LogError;
use crate::log::heard::LoggedHeard;
use crate::log::history::{
    LoggedInspection, LoggedMeasurement, LoggedReed, LoggedStep, LoggedTake, PROGRAM,
};
use crate::log::rating::LoggedRating;

/// The JSON Schema (draft 2020-12) of each line: the head, or a reed.
pub fn schema() -> Value {
    let mut generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let head = of::<ExportHead>(&mut generator);
    let rows: Vec<(&str, Value)> =
        Table::ALL.iter().map(|table| (table.name, exported_row(table, &mut generator))).collect();
    let audit = |(table, row): &(&str, Value)| {
        let audit = with(whole::<ExportedAudit>(), "/properties/table", json!({ "const": table }));
        let before = json!({ "anyOf": [row, { "type": "null" }] });
        with(with(audit, "/properties/before", before), "/properties/after", row.clone())
    };
    let audits: Vec<Value> = rows.iter().map(audit).collect();
    let tables: serde_json::Map<String, Value> = rows
        .into_iter()
        .map(|(table, row)| (table.to_owned(), json!({ "type": "array", "items": row })))
        .collect();
    let tables = json!({ "type": "object", "properties": tables, "additionalProperties": false });
    let reed = with(whole::<ExportedReed>(), "/properties/tables", tables);
    let written = "/properties/changes/items/properties/rows/items";
    let reed = with(reed, written, json!({ "oneOf": audits }));
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A line of reedcrow's log.jsonl",
        "description": "The first line is the head, each line after it a reed. Keys that point to \
                        another row are its place in its table within the reed, counted from 1; \
                        recordings lie in the folder audio, named by the SHA-256 of what they hold.",
        "anyOf": [head, reed],
        "$defs": generator.take_definitions(true),
    })
}

/// The schema of a type, with those of what it holds inside it.
fn whole<T: JsonSchema>() -> Value {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    let settings = settings.with(|settings| settings.inline_subschemas = true);
    settings.into_generator().subschema_for::<T>().to_value()
}

/// The same where more is known of one part.
fn with(mut schema: Value, part: &str, holds: Value) -> Value {
    *schema.pointer_mut(part).expect("the type has it") = holds;
    schema
}

/// A row of that table: whether it is gone, and what it holds.
fn exported_row(table: &Table, generator: &mut SchemaGenerator) -> Value {
    let holds = match table.name {
        "reed" => of::<LoggedReed>(generator),
        "step" => of::<LoggedStep>(generator),
        "measurement" => of::<LoggedMeasurement>(generator),
        "inspection" => of::<LoggedInspection>(generator),
        "take" => of::<LoggedTake>(generator),
        "heard" => of::<LoggedHeard>(generator),
        "rating" => of::<LoggedRating>(generator),
        // A reading may be of any version of the program, so of any form.
        _ => json!({
            "type": "object",
            "properties": {
                "at": { "type": "string" },
                "program": { "type": "string", "description": "The version that read the take." },
                "reading": {
                    "type": "object",
                    "description": "As 'reedcrow schema' says, for the present version.",
                },
                "advice": { "type": ["object", "null"] },
            },
            "required": ["at", "program", "reading"],
        }),
    };
    let places = table.columns.iter().filter_map(|(name, form)| match form {
        Form::Key(to) => Some((
            (*name).to_owned(),
            json!({
                "type": "integer", "minimum": 1, "description": format!("The place of its {to}."),
            }),
        )),
        _ => None,
    });
    let places: serde_json::Map<String, Value> = places.collect();
    let row = json!({ "allOf": [holds, { "type": "object", "properties": places }] });
    with(whole::<ExportedRow>(), "/properties/row", row)
}

fn of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    generator.subschema_for::<T>().to_value()
}

/// The first line of an export.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportHead {
    /// `reedcrow log`.
    pub format: String,
    /// The form of the log's tables.
    pub form: i64,
    /// The version of the program that wrote it.
    pub program: String,
    /// How many reeds follow, one a line: a file that was cut off has fewer.
    pub reeds: usize,
    /// What is said once of the whole log, such as who sends its accounts.
    #[serde(default)]
    pub settings: Vec<ExportedSetting>,
}

/// What is said once of the whole log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportedSetting {
    /// What it is.
    pub name: String,
    /// When it was said (UTC, ISO 8601).
    pub at: String,
    /// What was said.
    pub value: Value,
}

/// One reed: every row it ever had, and every change to it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportedReed {
    /// Names the reed for good, also in another log.
    pub uid: String,
    /// Its rows by table.
    pub tables: BTreeMap<String, Vec<ExportedRow>>,
    /// The changes in order of time; the first is number 1.
    pub changes: Vec<ExportedChange>,
}

/// One row; its place in the list, counted from 1, is its key.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportedRow {
    /// Whether an undo took it back.
    pub gone: bool,
    /// What it holds.
    pub row: Row,
}

/// One change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportedChange {
    /// When (UTC, ISO 8601).
    pub at: String,
    /// By which version of the program.
    pub program: String,
    /// What it was.
    pub what: String,
    /// The number of the change it took back, counted from 1.
    pub undoes: Option<usize>,
    /// The rows it wrote.
    pub rows: Vec<ExportedAudit>,
}

/// One row before and after a change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExportedAudit {
    /// Its table.
    pub table: String,
    /// Its key there: its place in that table here, counted from 1.
    pub key: usize,
    /// Before; null where the change made it.
    pub before: Option<ExportedRow>,
    /// After.
    pub after: ExportedRow,
}

impl ExportHead {
    /// What this program writes before so many reeds.
    pub fn of(reeds: usize) -> Self {
        Self {
            format: FORMAT.into(),
            form: VERSION,
            program: PROGRAM.into(),
            reeds,
            settings: Vec::new(),
        }
    }
}

/// Writes a line of an export: its head, or a reed.
pub(super) fn write_line(to: &mut impl Write, line: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *to, line)?;
    to.write_all(b"\n")
}

impl ExportedReed {
    /// The hashes of the recordings it names.
    pub(super) fn recordings(&self) -> impl Iterator<Item = &str> {
        let takes = self.tables.get("take").into_iter().flatten();
        takes.filter_map(|take| take.row.get("sha256").and_then(Value::as_str))
    }

    /// The same without columns that hold nothing: an export of an earlier form lacks some.
    pub(super) fn without_nulls(mut self) -> Self {
        let strip = |row: &mut ExportedRow| row.row.retain(|_, value| !value.is_null());
        self.tables.values_mut().flatten().for_each(strip);
        for audit in self.changes.iter_mut().flat_map(|change| &mut change.rows) {
            audit.before.iter_mut().for_each(strip);
            strip(&mut audit.after);
        }
        self
    }
}

/// What stands at the head of an export, so that it is known for one.
pub const FORMAT: &str = "reedcrow log";

/// A reed that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PassedOver {
    /// Its label.
    pub label: String,
    /// Why, in one line with the label.
    pub why: String,
}

impl PassedOver {
    /// Errors: what concerns more than one reed.
    pub(super) fn new(label: String, error: LogError) -> Result<Self, LogError> {
        match error.of_reed(&label) {
            error @ LogError::Row { .. } => Ok(Self { label, why: error.to_string() }),
            other => Err(other),
        }
    }
}
