//! The two forms of a table, CSV and lines of JSON: rows written, and read back.

use std::io::{self, BufRead, Read};
use std::path::Path;

use serde_json::{Value, json};

use super::error::{BatchError, RowFault};
use crate::reading::{Figures, Reading, SCHEMA};
use crate::report::csv::{self, Cells, Row};
use crate::report::json as take_json;

/// A row longer than this is not a row.
const LONGEST_ROW_BYTES: usize = 64 << 20;

/// The form of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Comma-separated values with a header line.
    Csv,
    /// One line of JSON per take, as `reedcrow analyse --json` prints it, with `file` added:
    /// `sha256`, `version` and `settings`. A take that could not be read has `error` in place of
    /// its figures.
    JsonLines,
}

/// What the rest of a batch has to know of one row.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Entry {
    /// Path of the recording, as it was given or found.
    pub source: String,
    /// Why it could not be read.
    pub error: Option<String>,
    /// Length in seconds.
    pub duration_s: Option<f64>,
    /// The take's kind; `None` with no crow.
    pub kind: Option<String>,
    /// Distance from the target.
    pub target_cents: Option<f64>,
    /// How far the octave is from 2:1.
    pub alignment_cents: Option<f64>,
    /// Octaves above the target's in which its lowest sustained rung lies.
    pub register: Option<f64>,
    /// From the first tone to that rung, in seconds.
    pub low_delay_s: Option<f64>,
    /// How often a second the more restless of its two lowest rungs goes out and comes back.
    pub switches_per_s: Option<f64>,
    /// Depth of its rattle, 0 … 1.
    pub rattle_depth: Option<f64>,
    /// Codes of the warnings, separated by blanks.
    pub warnings: String,
    /// What the row was made from and by.
    pub made: Made,
}

/// What decides whether a row is current.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Made {
    /// Of the file's content; empty where it could not be read.
    pub sha256: String,
    /// Version of the program.
    pub version: String,
    /// Stands for the profile, A4 and channel asked for.
    pub settings: String,
}

impl Form {
    /// By the ending of a table's name: `.csv`, or `.jsonl` or `.ndjson`.
    pub fn of(path: &Path) -> Result<Self, BatchError> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        match ending.as_deref() {
            Some("csv") => Ok(Self::Csv),
            Some("jsonl" | "ndjson") => Ok(Self::JsonLines),
            _ => Err(BatchError::Ending(path.display().to_string())),
        }
    }

    /// What stands before the first row.
    pub fn header(self) -> String {
        match self {
            Self::Csv => csv::header(),
            Self::JsonLines => String::new(),
        }
    }

    /// One row, with its line feed.
    pub fn row(self, row: &Row) -> String {
        if self == Self::Csv {
            return csv::row(row);
        }
        let file = json!({
            "sha256": row.sha256, "version": row.version, "settings": row.settings,
        });
        match row.outcome {
            Ok((reading, advice)) => {
                let mut line = take_json::line(reading, advice);
                // The line is one object: open it again at its end.
                line.truncate(line.trim_end().len() - 1);
                format!("{line},\"file\":{file}}}\n")
            }
            Err(error) => {
                let line = json!({
                    "schema": SCHEMA, "source": row.source, "error": error, "file": file,
                });
                format!("{line}\n")
            }
        }
    }

    /// The next row of a table, as it stands there, whole or not; `None` at the end. Not by the csv crate,
    /// which joins a row that was cut off with the one behind it: a table that a kill left is gone on with
    /// from its last whole row, byte for byte.
    ///
    /// Errors: the table cannot be read.
    pub fn next_row(self, table: &mut impl BufRead) -> io::Result<Option<Vec<u8>>> {
        let mut row = Vec::new();
        loop {
            let rest = &mut table.by_ref().take(LONGEST_ROW_BYTES as u64);
            let length = rest.read_until(b'\n', &mut row)?;
            if length == 0 || row.len() > LONGEST_ROW_BYTES || !row.ends_with(b"\n") {
                return Ok((!row.is_empty()).then_some(row));
            }
            if !self.is_open(&row) {
                return Ok(Some(row));
            }
        }
    }

    /// Whether a cell of `row` goes on: inside quotes, a line feed belongs to it.
    fn is_open(self, row: &[u8]) -> bool {
        self == Self::Csv && row.iter().filter(|&&byte| byte == b'"').count() % 2 == 1
    }

    /// What a row of a file says, whatever has been done to it since.
    ///
    /// Errors: what is wrong with it, to stand behind its line's number.
    pub fn read_row(self, row: &[u8]) -> Result<Entry, RowFault> {
        let text = std::str::from_utf8(row).map_err(|_| RowFault::NotText)?;
        if self.is_open(row) {
            return Err(RowFault::OpenQuote);
        }
        if text == self.header() {
            return Err(RowFault::Headings);
        }
        match self {
            Self::Csv => read_cells(text)?,
            Self::JsonLines => {
                let value: Value = serde_json::from_str(text).map_err(|_| RowFault::NotJson)?;
                if value.get("error").is_none() && serde_json::from_value::<Reading>(value).is_err()
                {
                    return Err(RowFault::NoReading);
                }
            }
        }
        self.entry(text).ok_or(RowFault::NoRow)
    }

    /// What a row says; `None` where it is not a row of this form.
    pub fn entry(self, row: &str) -> Option<Entry> {
        match self {
            Self::Csv => csv_entry(row),
            Self::JsonLines => json_entry(row),
        }
    }
}

/// Digits of the fingerprint of settings, which ends a row.
const SETTINGS_DIGITS: usize = 16;

/// Whether every cell of a row can be what its column says.
fn read_cells(row: &str) -> Result<(), RowFault> {
    let Some(cells) = Cells::read(row) else {
        return Err(RowFault::Columns(csv::columns().len()));
    };
    for (column, text) in cells.filled().filter(|(column, _)| !column.is_words) {
        if !text.parse().is_ok_and(f64::is_finite) {
            let text: String = text.chars().take(20).collect();
            return Err(RowFault::NoNumber { column: &column.name, text });
        }
    }
    let settings = cells.text("settings").unwrap_or_default();
    let is_whole = settings.len() == SETTINGS_DIGITS
        && settings.bytes().all(|digit| digit.is_ascii_hexdigit());
    match (is_whole, cells.text("source")) {
        (false, _) => Err(RowFault::End),
        (true, None) => Err(RowFault::NoSource),
        (true, Some(_)) => Ok(()),
    }
}

fn csv_entry(row: &str) -> Option<Entry> {
    let cells = Cells::read(row)?;
    let text = |name: &str| cells.text(name).map(str::to_owned);
    Some(Entry {
        source: text("source").unwrap_or_default(),
        error: text("error"),
        duration_s: cells.number("duration_s"),
        kind: text("kind"),
        warnings: text("warnings").unwrap_or_default(),
        made: Made {
            sha256: text("sha256").unwrap_or_default(),
            version: text("version").unwrap_or_default(),
            settings: text("settings").unwrap_or_default(),
        },
        ..Entry::of_figures(&cells.figures())
    })
}

fn json_entry(row: &str) -> Option<Entry> {
    let value: Value = serde_json::from_str(row).ok()?;
    let text = |path: &str| value.pointer(path)?.as_str().map(str::to_owned);
    let warnings = value.get("warnings").and_then(Value::as_array);
    let codes = warnings.into_iter().flatten().filter_map(|warning| warning.get("code")?.as_str());
    // A take that could not be read has no figures.
    let figures = value.get("summary").cloned().and_then(|told| serde_json::from_value(told).ok());
    Some(Entry {
        source: text("/source")?,
        error: text("/error"),
        duration_s: value.get("duration_s").and_then(Value::as_f64),
        kind: text("/summary/kind"),
        warnings: codes.collect::<Vec<_>>().join(" "),
        made: Made {
            sha256: text("/file/sha256").unwrap_or_default(),
            version: text("/file/version")?,
            settings: text("/file/settings")?,
        },
        ..Entry::of_figures(&figures.unwrap_or_default())
    })
}

impl Entry {
    /// What a batch has to know of a take's figures.
    fn of_figures(figures: &Figures) -> Self {
        let rates = figures.rungs.iter().take(2).map(|rung| rung.switches_per_s);
        Self {
            target_cents: figures.fundamental.target_cents,
            alignment_cents: figures.alignment.cents,
            register: figures.fundamental.register.map(f64::from),
            low_delay_s: figures.response.low_delay_s,
            switches_per_s: rates.max_by(f64::total_cmp),
            rattle_depth: figures.steadiness.rattle_depth,
            ..Self::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::testing::{self, crow};
    use crate::reading::{Kind, Rung, Warning, WarningCode};

    const SETTINGS: &str = "0123456789abcdef";

    fn reading() -> Reading {
        let mut reading = testing::take(vec![crow(Kind::Split, -38.25); 2]);
        reading.source = "a \"b\",\nc.wav".into();
        reading.duration_s = 1.5;
        let figures = &mut reading.summary.figures;
        figures.rungs = [0.5, 2.25, 7.0]
            .map(|switches_per_s| Rung { switches_per_s, ..testing::rung(520.0, -6.0, 0.1) })
            .into();
        figures.steadiness.rattle_depth = Some(0.25);
        figures.response.low_delay_s = Some(0.25);
        reading.warnings = vec![Warning { code: WarningCode::NoisyRoom, text: "a, b".into() }];
        reading
    }

    #[test]
    fn both_forms_read_back_what_they_write() {
        let reading = reading();
        let rows = [Ok((&reading, None)), Err("is empty; record it again")].map(|outcome| Row {
            source: &reading.source,
            sha256: Some("ab"),
            version: "1.2",
            settings: SETTINGS,
            outcome,
        });
        let whole = Entry {
            source: reading.source.clone(),
            error: None,
            duration_s: Some(1.5),
            kind: Some("split".into()),
            target_cents: Some(-38.25),
            alignment_cents: None,
            register: Some(0.0),
            low_delay_s: Some(0.25),
            switches_per_s: Some(2.25),
            rattle_depth: Some(0.25),
            warnings: "noisy-room".into(),
            made: Made { sha256: "ab".into(), version: "1.2".into(), settings: SETTINGS.into() },
        };
        for form in [Form::Csv, Form::JsonLines] {
            let text: String = rows.iter().map(|row| form.row(row)).collect();
            let mut table = text.as_bytes();
            let first = form.next_row(&mut table).unwrap().unwrap();
            assert_eq!(form.read_row(&first).as_ref(), Ok(&whole));
            let second = form.next_row(&mut table).unwrap().unwrap();
            let entry = form.read_row(&second).unwrap();
            assert_eq!(entry.error.as_deref(), Some("is empty; record it again"));
            assert_eq!((entry.source, entry.made), (whole.source.clone(), whole.made.clone()));
            assert_eq!(form.next_row(&mut table).unwrap(), None);
            assert_eq!([first, second].concat(), text.as_bytes());
        }
    }

    #[test]
    fn a_row_that_was_broken_off_is_told_from_a_whole_one() {
        let reading = reading();
        let row = Row {
            source: &reading.source,
            sha256: None,
            version: "1",
            settings: SETTINGS,
            outcome: Ok((&reading, None)),
        };
        for form in [Form::Csv, Form::JsonLines] {
            let text = form.row(&row);
            // Only the line feed may be missing.
            for end in 1..text.len() - 1 {
                let row = form.next_row(&mut &text.as_bytes()[..end]).unwrap().unwrap();
                assert!(form.read_row(&row).is_err(), "{end}");
            }
            assert!(form.read_row(text.trim_end().as_bytes()).is_ok());
        }
    }
}
