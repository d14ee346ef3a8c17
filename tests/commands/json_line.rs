//! The line of JSON against the JSON Schema that the program prints, checked by the jsonschema
//! crate (an implementation of draft 2020-12).

use serde_json::Value;

use crate::{Bench, ending};

fn schema(bench: &Bench) -> Value {
    schema_of(bench, &["schema"])
}

fn schema_of(bench: &Bench, arguments: &[&str]) -> Value {
    let end = ending(&mut bench.reedcrow(arguments));
    assert_eq!((end.code, end.errors.as_str()), (Some(0), ""));
    serde_json::from_str(&end.output).unwrap()
}

#[test]
fn lines_of_real_takes_keep_to_the_printed_schema() {
    let bench = Bench::new();
    let schema = schema(&bench);
    let validator = jsonschema::validator_for(&schema).unwrap();
    bench.crow("take.wav", 2.5);
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-data");
    let mut arguments = vec!["analyse".to_owned(), "--json".to_owned(), "take.wav".to_owned()];
    for entry in std::fs::read_dir(demo).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|ending| ending == "wav") {
            arguments.push(path.to_string_lossy().into_owned());
        }
    }
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let end = ending(&mut bench.reedcrow(&arguments));
    assert_eq!(end.code, Some(0), "{}", end.errors);
    assert_eq!(end.output.lines().count(), arguments.len() - 2);
    for line in end.output.lines() {
        let take: Value = serde_json::from_str(line).unwrap();
        let wrong: Vec<String> =
            validator.iter_errors(&take).map(|error| error.to_string()).collect();
        assert!(wrong.is_empty(), "{wrong:?}\n{line}");
    }
}

#[test]
fn a_comparison_keeps_to_its_printed_schema() {
    let bench = Bench::new();
    let schema = schema_of(&bench, &["schema", "comparison"]);
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    let validator = jsonschema::validator_for(&schema).unwrap();
    bench.crow("before.wav", 1.5);
    bench.crow("after.wav", 2.0);
    let end = ending(&mut bench.reedcrow(&["compare", "--json", "before.wav", "after.wav"]));
    let mut line: Value = serde_json::from_str(&end.output).unwrap();
    let wrong: Vec<String> = validator.iter_errors(&line).map(|error| error.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}\n{line}");
    line["changes"][0].as_object_mut().unwrap().remove("verdict");
    assert!(!validator.is_valid(&line));
    let reading = ending(&mut bench.reedcrow(&["schema", "reading"]));
    let plain = ending(&mut bench.reedcrow(&["schema"]));
    assert_eq!(reading.output, plain.output);
}

#[test]
fn the_schema_refuses_a_line_that_lacks_a_figure() {
    let bench = Bench::new();
    let validator = jsonschema::validator_for(&schema(&bench)).unwrap();
    bench.crow("take.wav", 1.5);
    let end = ending(&mut bench.reedcrow(&["analyse", "--json", "take.wav"]));
    let mut take: Value = serde_json::from_str(&end.output).unwrap();
    assert!(validator.is_valid(&take));
    take["summary"].as_object_mut().unwrap().remove("alignment");
    assert!(!validator.is_valid(&take));
}

/// The keys of a line in their order, as the project's definition of a reading lists them.
#[test]
fn the_schema_lists_the_keys_of_a_line_in_their_order() {
    let bench = Bench::new();
    let schema = schema(&bench);
    let keys: Vec<&String> = schema["properties"].as_object().unwrap().keys().collect();
    assert_eq!(
        keys,
        [
            "schema",
            "source",
            "sample_rate_hz",
            "channels",
            "channel",
            "duration_s",
            "a4_hz",
            "profile",
            "crows",
            "others",
            "summary",
            "advice",
            "warnings"
        ]
    );
    assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    let required = schema["required"].as_array().unwrap();
    assert_eq!(required.len(), keys.len(), "every key is always there");
    let codes = schema["$defs"]["WarningCode"].to_string();
    for code in
        ["overload", "quiet", "short", "noisy-room", "hum", "no-crow", "low-rate", "lost-samples"]
    {
        assert!(codes.contains(&format!("\"{code}\"")), "{code} in {codes}");
    }
}

#[test]
fn floats_have_at_most_six_decimals() {
    let bench = Bench::new();
    bench.crow("take.wav", 2.5);
    let end = ending(&mut bench.reedcrow(&["analyse", "--json", "take.wav"]));
    for number in end.output.split(|c: char| !(c.is_ascii_digit() || c == '.')) {
        let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        assert!(decimals <= 6, "{number}");
    }
    assert!(!end.output.contains("NaN"));
}
