//! The JSON Schema of the lines of an export, made from the types that the log reads.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde_json::{Value, json};

use super::export::ExportHead;
use super::rows::{Form, Table};
use crate::log::heard::LoggedHeard;
use crate::log::history::{
    LoggedInspection, LoggedMeasurement, LoggedReed, LoggedStep, LoggedTake,
};
use crate::log::rating::LoggedRating;

/// The JSON Schema (draft 2020-12) of each line: the head, or a reed.
pub fn schema() -> Value {
    let mut generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let head = of::<ExportHead>(&mut generator);
    let mut tables = serde_json::Map::new();
    let mut audits = Vec::new();
    for table in Table::ALL {
        let row = exported_row(table, &mut generator);
        audits.push(json!({
            "type": "object",
            "description": "One row before and after the change; before is null where it made the row.",
            "properties": {
                "table": { "const": table.name },
                "key": {
                    "type": "integer", "minimum": 1,
                    "description": "The row's place in its table here, counted from 1.",
                },
                "before": { "anyOf": [row.clone(), { "type": "null" }] },
                "after": row.clone(),
            },
            "required": ["table", "key", "after"],
        }));
        tables.insert(table.name.to_owned(), json!({ "type": "array", "items": row }));
    }
    let reed = json!({
        "type": "object",
        "description": "One reed: every row it ever had, and every change to it.",
        "properties": {
            "uid": { "type": "string", "description": "Names the reed for good, also in another log." },
            "tables": { "type": "object", "properties": tables, "additionalProperties": false },
            "changes": { "type": "array", "items": {
                "type": "object",
                "description": "One change, in order of time.",
                "properties": {
                    "at": { "type": "string", "description": "When (UTC, ISO 8601)." },
                    "program": { "type": "string" },
                    "what": { "type": "string" },
                    "undoes": {
                        "type": ["integer", "null"],
                        "description": "Number of the change it took back, counted from 1.",
                    },
                    "rows": { "type": "array", "items": { "oneOf": audits } },
                },
                "required": ["at", "program", "what", "rows"],
            }},
        },
        "required": ["uid", "tables", "changes"],
    });
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
    json!({
        "type": "object",
        "properties": {
            "gone": { "type": "boolean", "description": "Whether an undo took it back." },
            "row": { "allOf": [holds, { "type": "object", "properties": places }] },
        },
        "required": ["gone", "row"],
    })
}

fn of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    generator.subschema_for::<T>().to_value()
}
