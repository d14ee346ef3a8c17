//! Tables of readings: one row per take, with columns that are stable and documented.
//!
//! [`columns`] is the one list of them: the header, every row, what is read back and
//! `reedcrow batch --columns` come from it, and it from the catalogue of figures. Columns are only
//! ever added, at the end but for `settings`, which closes a row: of fixed length, it tells a whole
//! row from one that was cut off within its last number. A column named after a figure holds the
//! take's summary (the median over its crows that sound) of that JSON path. Cells are in the unit
//! of the name, floats with at most six decimals; what is not known is an empty cell.

use std::sync::LazyLock;

use crate::advice::Advice;
use crate::reading::catalogue::{self, About, Figure, Value};
use crate::reading::{Band, Figures, Reading, Rung};
use crate::text::inert;
use crate::words::columns::{self as said, take as column};

/// What a row is made from.
#[derive(Debug, Clone, Copy)]
pub struct Row<'a> {
    /// Path of the recording, as it was given or found.
    pub source: &'a str,
    /// Of the file's content, in hexadecimal; `None` where it could not be read.
    pub sha256: Option<&'a str>,
    /// Version of the program.
    pub version: &'a str,
    /// Stands for everything that was asked for and changes the figures.
    pub settings: &'a str,
    /// What was read, or in one line why nothing could be.
    pub outcome: Result<(&'a Reading, Option<&'a Advice>), &'a str>,
}

/// One column of the table.
#[derive(Debug)]
pub struct Column {
    /// As in the header line.
    pub name: String,
    /// What it holds, with its unit.
    pub says: String,
    /// What that tells the ear; empty where it tells nothing of its own.
    pub ear: &'static str,
    /// Whether it holds words; else it holds numbers.
    pub is_words: bool,
    source: Source,
}

/// Where a column's cells come from.
#[derive(Debug, Clone, Copy)]
enum Source {
    /// The row about the figures.
    Row(fn(&Row) -> Option<String>),
    /// A figure of the take.
    Figure(&'static Figure<Figures>),
    /// A figure of the rung of that index.
    Rung(usize, &'static Figure<Rung>),
    /// The octave band about that frequency.
    Band(f64),
}

/// Rungs that have columns.
const RUNGS: usize = 3;

/// Octave bands that have columns, by their nominal frequencies.
const BANDS_HZ: [u32; 7] = [125, 250, 500, 1000, 2000, 4000, 8000];

type RowColumn = (&'static str, &'static str, bool, fn(&Row) -> Option<String>);

/// The columns before the figures: name, what it holds, whether words.
const FIRST: [RowColumn; 5] = [
    ("source", column::SOURCE, true, |row| Some(row.source.to_owned())),
    ("error", column::ERROR, true, |row| row.outcome.err().map(Into::into)),
    ("duration_s", column::DURATION, false, |row| number(row.reading()?.duration_s)),
    ("crow_count", column::CROW_COUNT, false, |row| {
        Some(row.reading()?.summary.crow_count.to_string())
    }),
    ("kind", column::KIND, true, |row| {
        row.reading()?.summary.kind.map(|kind| kind.code().to_owned())
    }),
];

/// The columns behind them.
const LAST: [RowColumn; 13] = [
    ("advice.move", column::MOVE, true, |row| Some(word(&row.advice()?.next))),
    ("advice.amount_mm", column::AMOUNT, false, |row| number(row.advice()?.amount_mm?)),
    ("advice.where", column::WHERE, true, |row| row.advice()?.r#where.codes()),
    ("advice.confidence", column::CONFIDENCE, false, |row| number(row.advice()?.confidence)),
    ("warnings", column::WARNINGS, true, |row| {
        let codes = row.reading()?.warnings.iter().map(|warning| word(&warning.code));
        some_text(codes.collect::<Vec<_>>().join(" "))
    }),
    ("crows", column::CROWS, true, |row| {
        let crows = row.reading()?.crows.iter().map(|crow| {
            let pitch = &crow.figures.fundamental;
            let cents = pitch.target_cents.or(pitch.note_cents);
            let cents = cents.map(|cents| format!(" {cents:.1}")).unwrap_or_default();
            let kind = crow.kind.code();
            format!("{:.3}-{:.3} {kind}{cents}", crow.start_s, crow.end_s)
        });
        some_text(crows.collect::<Vec<_>>().join("; "))
    }),
    ("sample_rate_hz", column::SAMPLE_RATE, false, |row| {
        Some(row.reading()?.sample_rate_hz.to_string())
    }),
    ("channels", column::CHANNELS, false, |row| Some(row.reading()?.channels.to_string())),
    ("channel", column::CHANNEL, false, |row| Some(row.reading()?.channel.to_string())),
    ("a4_hz", column::A4, false, |row| number(row.reading()?.a4_hz)),
    ("profile", column::PROFILE, true, |row| Some(row.reading()?.profile.clone())),
    ("sha256", column::SHA256, true, |row| row.sha256.map(Into::into)),
    ("version", column::VERSION, true, |row| Some(row.version.to_owned())),
];

/// The column that closes a row.
const CLOSING: RowColumn =
    ("settings", column::SETTINGS, true, |row| Some(row.settings.to_owned()));

/// The columns, in their order.
pub fn columns() -> &'static [Column] {
    static COLUMNS: LazyLock<Vec<Column>> = LazyLock::new(|| {
        let first = FIRST.into_iter().map(of_row).chain(of_figures(false));
        let last = LAST.into_iter().map(of_row).chain(of_figures(true));
        first.chain(last).chain([of_row(CLOSING)]).collect()
    });
    &COLUMNS
}

fn of_row((name, says, is_words, cell): RowColumn) -> Column {
    let source = Source::Row(cell);
    Column { name: name.into(), says: says.into(), ear: "", is_words, source }
}

/// The columns of the catalogue; `later`: those of figures that came after tables had been written.
fn of_figures(later: bool) -> Vec<Column> {
    let mut columns = Vec::new();
    let figures = catalogue::FIGURES.iter().filter(|figure| figure.about.later == later);
    let mut parts_done = later;
    for figure in figures {
        if figure.about.path.starts_with("balance.") && !parts_done {
            columns.extend((0..RUNGS).flat_map(of_rung));
            columns.extend(BANDS_HZ.into_iter().map(of_band));
            parts_done = true;
        }
        let About { path, says, ear, .. } = figure.about;
        let is_words = !matches!(figure.value, Value::Number { .. });
        let source = Source::Figure(figure);
        columns.push(Column { name: path.into(), says: says.into(), ear, is_words, source });
    }
    columns
}

fn of_rung(index: usize) -> impl Iterator<Item = Column> {
    catalogue::OF_A_RUNG.iter().map(move |figure| {
        let About { path, says, ear, .. } = figure.about;
        let says = said::of_octave(index, says);
        let (name, ear) = (
            path.replacen("rungs", &format!("rungs.{index}"), 1),
            if index == 0 { ear } else { "" },
        );
        Column { name, says, ear, is_words: false, source: Source::Rung(index, figure) }
    })
}

fn of_band(centre_hz: u32) -> Column {
    let About { says, ear, .. } = catalogue::OF_A_BAND.about;
    let is_first = centre_hz == 125;
    let says = said::of_band(centre_hz, says, is_first);
    let ear = if is_first { ear } else { "" };
    let name = format!("balance.{centre_hz}_hz");
    Column { name, says, ear, is_words: false, source: Source::Band(f64::from(centre_hz)) }
}

impl Column {
    /// The text of its cell in a row; `None` where that is empty.
    pub(super) fn cell(&self, row: &Row) -> Option<String> {
        match self.source {
            Source::Row(cell) => cell(row),
            Source::Figure(figure) => text_of(figure, row.figures()?),
            Source::Rung(index, figure) => text_of(figure, row.figures()?.rungs.get(index)?),
            Source::Band(hz) => {
                let bands = &row.figures()?.balance.bands_db;
                text_of(&catalogue::OF_A_BAND, bands.iter().find(|band| band.centre_hz == hz)?)
            }
        }
    }

    /// Whether it is a figure that a crow has as well.
    pub(super) fn is_of_a_crow(&self) -> bool {
        match self.source {
            Source::Row(_) => false,
            // Of a crow alone the note is its own, and there is no spread between crows.
            Source::Figure(figure) => figure.about.path != "fundamental.spread_between_crows_cents",
            Source::Rung(..) | Source::Band(_) => true,
        }
    }

    /// Puts what a cell says back into figures.
    fn put(&self, text: &str, figures: &mut Figures) {
        match self.source {
            Source::Row(_) => {}
            Source::Figure(figure) => put(figure, text, figures),
            Source::Rung(index, figure) => {
                // The rungs' frequencies come first and make them.
                if figures.rungs.len() == index {
                    figures.rungs.push(Rung::default());
                }
                if let Some(rung) = figures.rungs.get_mut(index) {
                    put(figure, text, rung);
                }
            }
            Source::Band(centre_hz) => {
                let mut band = Band { centre_hz, db: None };
                put(&catalogue::OF_A_BAND, text, &mut band);
                figures.balance.bands_db.push(band);
            }
        }
    }
}

fn text_of<Of>(figure: &Figure<Of>, of: &Of) -> Option<String> {
    match figure.value {
        Value::Number { get, .. } => number(get(of)?),
        Value::Flag { get, .. } => get(of).map(|flag| flag.to_string()),
        Value::Word { get, .. } => get(of),
    }
}

fn put<Of>(figure: &Figure<Of>, text: &str, of: &mut Of) {
    match figure.value {
        Value::Number { set, .. } => set(of, text.parse().ok()),
        Value::Flag { set, .. } => set(of, text.parse().ok()),
        Value::Word { set, .. } => set(of, Some(text)),
    }
}

/// The cells of one row, by the names of their columns.
#[derive(Debug)]
pub struct Cells(::csv::StringRecord);

impl Cells {
    /// `None` where it is not a row of this table.
    pub fn read(row: &str) -> Option<Self> {
        let mut reader = ::csv::ReaderBuilder::new().has_headers(false).from_reader(row.as_bytes());
        let record = reader.records().next()?.ok()?;
        (record.len() == columns().len()).then_some(Self(record))
    }

    /// The text of a cell; `None` where it is empty.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.filled().find(|(column, _)| column.name == name).map(|(_, text)| text)
    }

    /// The number in a cell.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.text(name)?.parse().ok()
    }

    /// The cells that are not empty, with their columns.
    pub fn filled(&self) -> impl Iterator<Item = (&'static Column, &str)> {
        columns().iter().zip(&self.0).filter(|(_, text)| !text.is_empty())
    }

    /// The take's figures, as far as a table holds them.
    pub fn figures(&self) -> Figures {
        let mut figures = Figures::default();
        for (column, text) in self.filled() {
            column.put(text, &mut figures);
        }
        figures
    }
}

impl<'a> Row<'a> {
    fn reading(&self) -> Option<&'a Reading> {
        self.outcome.ok().map(|(reading, _)| reading)
    }

    fn advice(&self) -> Option<&'a Advice> {
        self.outcome.ok().and_then(|(_, advice)| advice)
    }

    fn figures(&self) -> Option<&'a Figures> {
        self.reading().map(|reading| &reading.summary.figures)
    }
}

/// The header line of the table, with its line feed.
pub fn header() -> String {
    line(columns().iter().map(|column| column.name.clone()))
}

/// One line of the table, with its line feed.
pub fn row(row: &Row) -> String {
    line(columns().iter().map(|column| column.cell(row).unwrap_or_default()))
}

/// RFC 4180, except that lines end with a line feed alone.
pub(super) fn line(cells: impl Iterator<Item = String>) -> String {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    let written = writer.write_record(cells.map(inert).map(String::into_bytes));
    debug_assert!(written.is_ok(), "memory takes what it is given");
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

pub(super) fn number(value: f64) -> Option<String> {
    // Adding 0 makes −0 into 0.
    let rounded = (value * 1e6).round() / 1e6 + 0.0;
    rounded.is_finite().then(|| rounded.to_string())
}

fn some_text(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

/// The word that JSON has for a value of an enum.
fn word(value: &impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str, name: &str) -> String {
        let mut reader =
            ::csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        let record = reader.records().next().unwrap().unwrap();
        let index = columns().iter().position(|column| column.name == name).unwrap();
        assert_eq!(record.len(), columns().len());
        record[index].to_owned()
    }

    #[test]
    fn a_name_that_needs_quoting_reads_back_the_same() {
        let source = "crows, \"loud\"\nsecond line.wav";
        let text = row(&Row {
            source,
            sha256: None,
            version: "1",
            settings: "s",
            outcome: Err("is empty; record it again"),
        });
        assert_eq!(cell(&text, "source"), source);
        assert_eq!(cell(&text, "error"), "is empty; record it again");
        assert_eq!(cell(&text, "fundamental.hz"), "");
    }

    #[test]
    fn column_names_are_unique_and_need_no_quoting() {
        let mut names: Vec<_> = columns().iter().map(|column| column.name.as_str()).collect();
        assert_eq!(header().trim_end(), names.join(","));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), columns().len());
    }

    #[test]
    fn numbers_have_six_decimals_at_most_and_no_negative_zero() {
        assert_eq!(number(-1e-9).as_deref(), Some("0"));
        assert_eq!(number(512.123_456_789).as_deref(), Some("512.123457"));
        assert_eq!(number(f64::NAN), None);
    }
}
