//! The CSV files of `fixtures/`.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A row by its column names.
pub struct Row(HashMap<String, String>);

impl Row {
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// `None` for an empty cell.
    pub fn number(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{column}: {text}")))
    }

    pub fn must(&self, column: &str) -> f64 {
        self.number(column).unwrap_or_else(|| panic!("{column} is empty"))
    }
}

pub fn fixture(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(path)
}

pub fn rows(path: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(fixture(path)).unwrap();
    let headers = reader.headers().unwrap().clone();
    let name = |(name, cell): (&str, &str)| (name.to_owned(), cell.to_owned());
    let rows: Vec<Row> = reader
        .records()
        .map(|record| Row(headers.iter().zip(record.unwrap().iter()).map(name).collect()))
        .collect();
    assert!(!rows.is_empty(), "{path} is empty");
    rows
}
