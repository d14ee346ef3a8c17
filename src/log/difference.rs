//! Which figures of a take's summary differ between two readings of it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use crate::reading::Reading;

/// A figure that is another in a later reading of one take.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FigureChange {
    /// Its JSON path in the summary.
    pub figure: String,
    /// As it was; null where it was absent.
    pub before: Value,
    /// As it is.
    pub after: Value,
}

/// The figures of the summary that differ, by path.
pub fn changed_figures(before: &Reading, after: &Reading) -> Vec<FigureChange> {
    let (before, after) = (leaves(before), leaves(after));
    let paths: std::collections::BTreeSet<&String> = before.keys().chain(after.keys()).collect();
    paths
        .into_iter()
        .map(|path| FigureChange {
            figure: path.clone(),
            before: before.get(path).cloned().unwrap_or_default(),
            after: after.get(path).cloned().unwrap_or_default(),
        })
        .filter(|change| change.before != change.after)
        .collect()
}

fn leaves(reading: &Reading) -> BTreeMap<String, Value> {
    let mut found = BTreeMap::new();
    if let Ok(summary) = serde_json::to_value(&reading.summary) {
        collect("", &summary, &mut found);
    }
    found
}

fn collect(path: &str, value: &Value, found: &mut BTreeMap<String, Value>) {
    let below = |name: &str| match path {
        "" => name.to_owned(),
        _ => format!("{path}.{name}"),
    };
    match value {
        Value::Object(fields) => {
            fields.iter().for_each(|(name, value)| collect(&below(name), value, found));
        }
        Value::Array(items) => {
            items
                .iter()
                .enumerate()
                .for_each(|(i, value)| collect(&below(&i.to_string()), value, found));
        }
        leaf => {
            found.insert(path.to_owned(), leaf.clone());
        }
    }
}
