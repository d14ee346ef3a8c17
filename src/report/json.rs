//! The line of JSON per take, and the JSON Schema it keeps to.
//!
//! Floats are rounded to six decimals; what is not a number is null.

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;
use serde_json::{Number, Value};

use crate::advice::Advice;
use crate::comparison::Comparison;
use crate::reading::{Crow, Other, Reading, Summary, Warning};

/// What reedcrow says about one take: its reading, and the next cut.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "reedcrow take")]
struct Line<'a> {
    /// Version of this form.
    schema: u32,
    /// Path, `-`, or device.
    source: &'a str,
    /// Samples per second.
    sample_rate_hz: u32,
    /// Channels of the recording.
    channels: u16,
    /// The channel read, counted from 1.
    channel: u16,
    /// Length of the take in seconds.
    duration_s: f64,
    /// The pitch of A4 that notes and targets are counted from, in hertz.
    a4_hz: f64,
    /// Name of the profile.
    profile: &'a str,
    /// The crows of the take in order of time, breath sounds among them.
    crows: &'a [Crow],
    /// What sounded and was not taken for a crow, in order of time.
    others: &'a [Other],
    /// Medians over the crows that sound.
    summary: &'a Summary,
    /// The next move; null where none was asked for.
    advice: Option<&'a Advice>,
    /// What makes the reading doubtful.
    warnings: &'a [Warning],
}

/// One take as one line of JSON, without the line feed.
pub fn line(reading: &Reading, advice: Option<&Advice>) -> String {
    let line = Line {
        schema: reading.schema,
        source: &reading.source,
        sample_rate_hz: reading.sample_rate_hz,
        channels: reading.channels,
        channel: reading.channel,
        duration_s: reading.duration_s,
        a4_hz: reading.a4_hz,
        profile: &reading.profile,
        crows: &reading.crows,
        others: &reading.others,
        summary: &reading.summary,
        advice,
        warnings: &reading.warnings,
    };
    one_line(&line)
}

/// Any value as one line of JSON: floats rounded to six decimals, NaN and infinities null.
pub fn one_line(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(mut value) => {
            round(&mut value);
            value.to_string()
        }
        // Only maps with keys that are no text fail, and the program's types have none.
        Err(_) => Value::Null.to_string(),
    }
}

/// The JSON Schema (draft 2020-12) of the line that [`line`] writes.
pub fn schema() -> Value {
    schema_of::<Line<'static>>()
}

/// The same of the line that a comparison is written on.
pub fn comparison_schema() -> Value {
    schema_of::<Comparison>()
}

fn schema_of<T: JsonSchema>() -> Value {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let schema = generator.into_root_schema_for::<T>().to_value();
    // Which draft it is and what it describes come first, where a reader looks for them.
    let Value::Object(mut rest) = schema else { return schema };
    let mut ordered = serde_json::Map::new();
    for key in ["$schema", "title", "description"] {
        if let Some(value) = rest.shift_remove(key) {
            ordered.insert(key.to_owned(), value);
        }
    }
    ordered.append(&mut rest);
    Value::Object(ordered)
}

fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let exact = number.as_f64().unwrap_or_default();
            let rounded = (exact * 1e6).round() / 1e6;
            // Beyond 1e300 there are no decimals to round. Adding 0 makes −0 into 0.
            let kept = if rounded.is_finite() { rounded + 0.0 } else { exact };
            *value = Number::from_f64(kept).map_or(Value::Null, Value::Number);
        }
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(fields) => fields.values_mut().for_each(round),
        _ => {}
    }
}
