//! Tables with one row per crow: the columns that a take's table has for figures, of each crow
//! alone.

use super::csv::{self, Column, Row, line, number};
use crate::reading::{Crow, Reading, Summary};
use crate::words::columns::{crow as column, take};

/// What comes before the figures: name, and what it holds.
const FIRST: [(&str, &str); 4] = [
    ("source", take::SOURCE),
    ("crow", column::PLACE),
    ("start_s", column::START),
    ("end_s", column::END),
];

/// Columns of a take, besides its figures, that a crow has as well.
const SHARED: [&str; 4] = ["kind", "sample_rate_hz", "a4_hz", "profile"];

fn shared() -> impl Iterator<Item = &'static Column> {
    csv::columns()
        .iter()
        .filter(|column| column.is_of_a_crow() || SHARED.contains(&column.name.as_str()))
}

/// The columns in their order: name, and what it holds.
pub fn columns() -> impl Iterator<Item = (&'static str, &'static str)> {
    let figures = shared().map(|column| match column.name.as_str() {
        "kind" => ("kind", column::KIND),
        name => (name, column.says.as_str()),
    });
    FIRST.into_iter().chain(figures)
}

/// The header line, with its line feed.
pub fn header() -> String {
    line(columns().map(|(name, _)| name.to_owned()))
}

/// A line for each crow of a take, in order of time; empty without any.
pub fn rows(reading: &Reading) -> String {
    let lines = reading.crows.iter().enumerate().map(|(index, crow)| row(reading, index + 1, crow));
    lines.collect()
}

fn row(reading: &Reading, place: usize, crow: &Crow) -> String {
    let alone = Reading {
        crows: Vec::new(),
        others: Vec::new(),
        tones_kept: false,
        microphone: None,
        warnings: Vec::new(),
        summary: Summary { crow_count: 1, kind: Some(crow.kind), figures: crow.figures.clone() },
        ..reading.clone()
    };
    let take = Row {
        source: &reading.source,
        sha256: None,
        version: "",
        settings: "",
        outcome: Ok((&alone, None)),
    };
    let first = [
        reading.source.clone(),
        place.to_string(),
        number(crow.start_s).unwrap_or_default(),
        number(crow.end_s).unwrap_or_default(),
    ];
    line(first.into_iter().chain(shared().map(|column| column.cell(&take).unwrap_or_default())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::testing::{crow, take};
    use crate::reading::{Figures, Kind};

    #[test]
    fn each_crow_has_its_own_figures_and_every_column_a_cell() {
        let breath =
            Crow { start_s: 2.0, end_s: 3.0, kind: Kind::Breath, figures: Figures::default() };
        let reading = Reading {
            source: "a, b.wav".into(),
            a4_hz: 442.0,
            ..take(vec![crow(Kind::Split, -12.5), breath])
        };
        let text = header() + &rows(&reading);
        let mut table = ::csv::Reader::from_reader(text.as_bytes());
        let names = table.headers().unwrap().clone();
        let records: Vec<_> = table.records().map(Result::unwrap).collect();
        assert_eq!((records.len(), names.len()), (2, columns().count()));
        let cell = |row: usize, name: &str| {
            records[row][names.iter().position(|column| column == name).unwrap()].to_owned()
        };
        for (row, name, expected) in [
            (0, "source", "a, b.wav"),
            (0, "crow", "1"),
            (0, "kind", "split"),
            (0, "fundamental.target_cents", "-12.5"),
            (1, "start_s", "2"),
            (1, "end_s", "3"),
            (1, "kind", "breath"),
            (1, "fundamental.target_cents", ""),
            (1, "a4_hz", "442"),
        ] {
            assert_eq!(cell(row, name), expected, "{name}");
        }
        assert!(names.iter().all(|name| name != "fundamental.spread_between_crows_cents"));
    }
}
