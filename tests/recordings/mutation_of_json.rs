//! JSON changed at random in what it says, so that it stays JSON.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

use super::mutation::mutated;

/// Lines of JSON with one to three values in them changed, or changed as [`mutated`] changes bytes: most of
/// that is no JSON any more, and goes no deeper than its reader.
pub fn mutated_json(bytes: &[u8], random: &mut ChaCha8Rng) -> Vec<u8> {
    if random.random_bool(0.2) {
        return mutated(bytes, random);
    }
    let text = String::from_utf8_lossy(bytes);
    let mut lines: Vec<Value> =
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    for _ in 0..random.random_range(1..=3) {
        let which = random.random_range(0..lines.len());
        let another = somewhere(&mut lines[which], random).clone();
        let strange = [
            Value::Null,
            json!(true),
            json!(0),
            json!(-1),
            json!(0.5),
            json!(u64::MAX),
            json!(-1e308),
            json!(""),
            json!("A\0\u{200b}\u{202e}"),
            json!("9999-99-99T99:99:99.999Z"),
            json!("/../".repeat(1000)),
            json!([]),
            json!({}),
            another,
        ];
        let value = strange[random.random_range(0..strange.len())].clone();
        *somewhere(&mut lines[which], random) = value;
    }
    lines.iter().map(|line| format!("{line}\n")).collect::<String>().into_bytes()
}

/// A value in `value`, seldom one that holds others.
fn somewhere<'a>(value: &'a mut Value, random: &mut ChaCha8Rng) -> &'a mut Value {
    let count = match value {
        Value::Array(values) => values.len(),
        Value::Object(values) => values.len(),
        _ => 0,
    };
    if count == 0 || random.random_bool(0.05) {
        return value;
    }
    let which = random.random_range(0..count);
    match value {
        Value::Array(values) => somewhere(&mut values[which], random),
        Value::Object(values) => somewhere(values.values_mut().nth(which).unwrap(), random),
        other => other,
    }
}
