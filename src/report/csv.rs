//! Tables of readings: one row per take, with columns that are stable and documented.
//!
//! [`COLUMNS`] is the one list of them: the header, every row and `reedcrow batch --columns` come
//! from it. Columns are only ever added, at the end. A column named after a figure holds the
//! take's summary (the median over its crows that sound) of that JSON path. Cells are in the unit
//! of the name, floats with at most six decimals; what is not known is an empty cell.

use serde_json::Value;

use super::terminal::words;
use crate::advice::Advice;
use crate::reading::{Figures, Reading, Rung, WarningCode};

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
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// As in the header line.
    pub name: &'static str,
    /// What it holds, with its unit.
    pub says: &'static str,
    cell: fn(&Row) -> Option<String>,
}

macro_rules! columns {
    ($($name:literal, $says:literal, $cell:expr;)*) => {
        /// The columns, in their order.
        pub const COLUMNS: &[Column] = &[$(Column { name: $name, says: $says, cell: $cell }),*];
    };
}

columns! {
    "source", "path of the recording", |row| Some(row.source.to_owned());
    "error", "why it could not be read; empty where it was", |row| row.outcome.err().map(Into::into);
    "duration_s", "length of the take in seconds", |row| number(row.reading()?.duration_s);
    "crow_count", "crows that sound; air noise is not counted", |row| {
        Some(row.reading()?.summary.crow_count.to_string())
    };
    "kind", "commonest kind of them: octaves, single, split or unsettled", |row| {
        row.reading()?.summary.kind.map(|kind| words::kind_word(kind).to_owned())
    };
    "fundamental.hz", "frequency of the lowest sustained rung in Hz", |row| {
        number(row.figures()?.fundamental.hz?)
    };
    "fundamental.ci95_cents", "half width of the 95 % interval of one crow's own pitch in cents, the median over the crows; how well the reed's pitch is known, as the card's ± says, comes from how far the crows differ", |row| {
        number(row.figures()?.fundamental.ci95_cents?)
    };
    "fundamental.note", "nearest equal-tempered note", |row| row.figures()?.fundamental.note.clone();
    "fundamental.note_cents", "distance above that note in cents, −50 to 50", |row| {
        number(row.figures()?.fundamental.note_cents?)
    };
    "fundamental.target_cents", "distance from the profile's target in cents, negative is flat", |row| {
        number(row.figures()?.fundamental.target_cents?)
    };
    "fundamental.register", "octaves above the target's", |row| {
        Some(row.figures()?.fundamental.register?.to_string())
    };
    "fundamental.spread_between_crows_cents", "how far the crows of the take differ in pitch: sample standard deviation in cents", |row| {
        number(row.figures()?.fundamental.spread_between_crows_cents?)
    };
    "alignment.cents", "how far the octave is from 2:1, in cents", |row| {
        number(row.figures()?.alignment.cents?)
    };
    "alignment.ci95_cents", "half width of its 95 % interval in cents, of one crow, the median over the crows", |row| {
        number(row.figures()?.alignment.ci95_cents?)
    };
    "alignment.locked", "true or false: whether the octaves are locked", |row| {
        Some(row.figures()?.alignment.locked?.to_string())
    };
    "rungs.0.hz", "frequency of the lowest rung in Hz", |row| number(row.rung(0)?.hz);
    "rungs.0.level_db", "its power relative to all partials in dB", |row| number(row.rung(0)?.level_db);
    "rungs.0.present", "share of the steady part in which it sounds, 0 to 1", |row| number(row.rung(0)?.present);
    "rungs.0.switches_per_s", "how often per second it goes out and comes back", |row| {
        number(row.rung(0)?.switches_per_s)
    };
    "rungs.0.entry_s", "when it enters, in seconds from the start of the crow", |row| number(row.rung(0)?.entry_s?);
    "rungs.1.hz", "the same of the next rung", |row| number(row.rung(1)?.hz);
    "rungs.1.level_db", "the same of the next rung", |row| number(row.rung(1)?.level_db);
    "rungs.1.present", "the same of the next rung", |row| number(row.rung(1)?.present);
    "rungs.1.switches_per_s", "the same of the next rung", |row| number(row.rung(1)?.switches_per_s);
    "rungs.1.entry_s", "the same of the next rung", |row| number(row.rung(1)?.entry_s?);
    "rungs.2.hz", "the same of the third rung", |row| number(row.rung(2)?.hz);
    "rungs.2.level_db", "the same of the third rung", |row| number(row.rung(2)?.level_db);
    "rungs.2.present", "the same of the third rung", |row| number(row.rung(2)?.present);
    "rungs.2.switches_per_s", "the same of the third rung", |row| number(row.rung(2)?.switches_per_s);
    "rungs.2.entry_s", "the same of the third rung", |row| number(row.rung(2)?.entry_s?);
    "balance.125_hz", "level of the octave band about 125 Hz in dB, relative to the sum of the bands", |row| row.band(125.0);
    "balance.250_hz", "the same about 250 Hz", |row| row.band(250.0);
    "balance.500_hz", "the same about 500 Hz", |row| row.band(500.0);
    "balance.1000_hz", "the same about 1 kHz", |row| row.band(1000.0);
    "balance.2000_hz", "the same about 2 kHz", |row| row.band(2000.0);
    "balance.4000_hz", "the same about 4 kHz", |row| row.band(4000.0);
    "balance.8000_hz", "the same about 8 kHz", |row| row.band(8000.0);
    "balance.centroid_hz", "power-weighted mean frequency in Hz", |row| {
        number(row.figures()?.balance.centroid_hz?)
    };
    "balance.tilt_db_per_octave", "slope of partial level against log2 of frequency", |row| {
        number(row.figures()?.balance.tilt_db_per_octave?)
    };
    "balance.low_high_db", "power under 2 kHz against power over it in dB", |row| {
        number(row.figures()?.balance.low_high_db?)
    };
    "steadiness.spread_cents", "standard deviation of the pitch about its drift in cents", |row| {
        number(row.figures()?.steadiness.spread_cents?)
    };
    "steadiness.drift_cents_per_s", "drift of the pitch in cents per second", |row| {
        number(row.figures()?.steadiness.drift_cents_per_s?)
    };
    "steadiness.level_sd_db", "standard deviation of the level in dB", |row| {
        number(row.figures()?.steadiness.level_sd_db?)
    };
    "steadiness.rattle_hz", "rate of the rattle in Hz", |row| {
        number(row.figures()?.steadiness.rattle_hz?)
    };
    "steadiness.rattle_depth", "depth of the rattle, 0 to 1", |row| {
        number(row.figures()?.steadiness.rattle_depth?)
    };
    "response.onset_s", "from the start of the sound to the first tone in seconds", |row| {
        number(row.figures()?.response.onset_s?)
    };
    "response.low_delay_s", "from the first tone to the lowest sustained rung in seconds", |row| {
        number(row.figures()?.response.low_delay_s?)
    };
    "breath.noise_db", "noise of the crow relative to its partials in dB", |row| {
        number(row.figures()?.breath.noise_db?)
    };
    "level_dbfs", "level over the steady part in dBFS", |row| number(row.figures()?.level_dbfs?);
    "advice.move", "the next move", |row| {
        Some(word(&row.advice()?.next))
    };
    "advice.amount_mm", "how much of it, in millimetres", |row| number(row.advice()?.amount_mm?);
    "advice.where", "where on the reed", |row| row.advice()?.r#where.codes();
    "advice.confidence", "how sure that is, 0 to 1", |row| number(row.advice()?.confidence);
    "warnings", "codes of what makes the reading doubtful, separated by blanks", |row| {
        let codes = row.reading()?.warnings.iter().map(|warning| code_word(warning.code));
        some_text(codes.collect::<Vec<_>>().join(" "))
    };
    "crows", "every crow: start-end in seconds, kind, cents from the target (from the nearest note without one); separated by semicolons", |row| {
        let crows = row.reading()?.crows.iter().map(|crow| {
            let pitch = &crow.figures.fundamental;
            let cents = pitch.target_cents.or(pitch.note_cents);
            let cents = cents.map(|cents| format!(" {cents:.1}")).unwrap_or_default();
            format!("{:.3}-{:.3} {}{cents}", crow.start_s, crow.end_s, words::kind_word(crow.kind))
        });
        some_text(crows.collect::<Vec<_>>().join("; "))
    };
    "sample_rate_hz", "samples per second", |row| Some(row.reading()?.sample_rate_hz.to_string());
    "channels", "channels of the recording", |row| Some(row.reading()?.channels.to_string());
    "channel", "the channel read, counted from 1", |row| Some(row.reading()?.channel.to_string());
    "a4_hz", "the pitch of A4 in Hz", |row| number(row.reading()?.a4_hz);
    "profile", "name of the profile", |row| Some(row.reading()?.profile.clone());
    "sha256", "of the file's content", |row| row.sha256.map(Into::into);
    "version", "version of the program that read it", |row| Some(row.version.to_owned());
    "settings", "stands for the profile, A4 and channel asked for", |row| Some(row.settings.to_owned());
}

impl Column {
    /// The text of its cell in a row; `None` where that is empty.
    pub(super) fn cell(&self, row: &Row) -> Option<String> {
        (self.cell)(row)
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

    fn rung(&self, index: usize) -> Option<&'a Rung> {
        self.figures()?.rungs.get(index)
    }

    fn band(&self, centre_hz: f64) -> Option<String> {
        let bands = &self.figures()?.balance.bands_db;
        number(bands.iter().find(|band| band.centre_hz == centre_hz)?.db?)
    }
}

/// The header line of the table, with its line feed.
pub fn header() -> String {
    line(COLUMNS.iter().map(|column| column.name.to_owned()))
}

/// One line of the table, with its line feed.
pub fn row(row: &Row) -> String {
    line(COLUMNS.iter().map(|column| (column.cell)(row).unwrap_or_default()))
}

/// RFC 4180, except that lines end with a line feed alone.
pub(super) fn line(cells: impl Iterator<Item = String>) -> String {
    let mut text = String::new();
    for (index, cell) in cells.enumerate() {
        if index > 0 {
            text.push(',');
        }
        if cell.contains([',', '"', '\n', '\r']) {
            text.push('"');
            text.push_str(&cell.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(&cell);
        }
    }
    text.push('\n');
    text
}

pub(super) fn number(value: f64) -> Option<String> {
    // Adding 0 makes −0 into 0.
    let rounded = (value * 1e6).round() / 1e6 + 0.0;
    rounded.is_finite().then(|| rounded.to_string())
}

fn some_text(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

fn code_word(code: WarningCode) -> String {
    word(&code)
}

/// The word that JSON has for a value of an enum.
fn word(value: &impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(Value::String(word)) => word,
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
        let index = COLUMNS.iter().position(|column| column.name == name).unwrap();
        assert_eq!(record.len(), COLUMNS.len());
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
        let mut names: Vec<_> = COLUMNS.iter().map(|column| column.name).collect();
        assert_eq!(header().trim_end(), names.join(","));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), COLUMNS.len());
    }

    #[test]
    fn numbers_have_six_decimals_at_most_and_no_negative_zero() {
        assert_eq!(number(-1e-9).as_deref(), Some("0"));
        assert_eq!(number(512.123_456_789).as_deref(), Some("512.123457"));
        assert_eq!(number(f64::NAN), None);
    }
}
