//! One reed in the few figures that questions over many need, without the readings' whole text.

use rusqlite::{Connection, Row};
use serde::Deserialize;
use serde::de::IntoDeserializer;

use crate::log::heard::{HeardAs, LoggedHeard};
use crate::log::history::{
    History, LoggedInspection, LoggedMeasurement, LoggedReading, LoggedReed, LoggedStep,
    LoggedTake, PROGRAM, ReadTake,
};
use crate::log::step::Step;
use crate::profile::Blowing;
use crate::reading::{Crow, Figures, Kind, Reading};
use crate::reed::Cut;

/// What cannot be understood in a row; the reed it belongs to is read the slow way, which says what.
#[derive(Debug)]
pub struct Broken;

/// What the log holds of a reed, its readings with no more than kind, fundamental, alignment and level of
/// each crow, and what was advised.
///
/// * `blowing`: what it does to the pitch in the crows of the whole log.
pub fn outline(
    view: &Connection,
    id: i64,
    reed: LoggedReed,
    blowing: Option<Blowing>,
) -> Result<History, Broken> {
    Ok(History {
        reed,
        measurements: rows(
            view,
            id,
            "SELECT after_step, at, state, measurements FROM measurement \
             WHERE reed_id = ?1 AND gone = 0 ORDER BY id",
            measurement,
        )?,
        inspections: rows(
            view,
            id,
            "SELECT after_step, at, inspection FROM inspection \
             WHERE reed_id = ?1 AND gone = 0 ORDER BY id",
            inspection,
        )?,
        steps: rows(
            view,
            id,
            "SELECT at, number, cut, amount_mm, note, advised FROM step \
             WHERE reed_id = ?1 AND gone = 0 ORDER BY id",
            step,
        )?,
        ratings: Vec::new(),
        blowing,
        takes: rows(
            view,
            id,
            "SELECT take.number, take.after_step, take.at, take.conditions, \
             outline.profile, outline.a4_hz, outline.crows, reading.advice, \
             (SELECT json_group_array(json_array(id, at, profile, crow, heard, kind)) FROM heard \
             WHERE take_id = take.id AND gone = 0) \
             FROM take LEFT JOIN reading ON reading.id = \
             (SELECT max(id) FROM reading WHERE take_id = take.id AND gone = 0) \
             LEFT JOIN outline ON outline.reading_id = reading.id \
             WHERE take.reed_id = ?1 AND take.gone = 0 ORDER BY take.id",
            take,
        )?,
    })
}

fn rows<T>(
    view: &Connection,
    reed: i64,
    sql: &str,
    read: fn(&Row<'_>) -> Result<T, Broken>,
) -> Result<Vec<T>, Broken> {
    let mut statement = view.prepare_cached(sql)?;
    let mut found = statement.query([reed])?;
    let mut rows = Vec::new();
    while let Some(row) = found.next()? {
        rows.push(read(row)?);
    }
    Ok(rows)
}

impl From<rusqlite::Error> for Broken {
    fn from(_: rusqlite::Error) -> Self {
        Self
    }
}

impl From<serde_json::Error> for Broken {
    fn from(_: serde_json::Error) -> Self {
        Self
    }
}

fn step(row: &Row<'_>) -> Result<LoggedStep, Broken> {
    let cut = match row.get_ref(2)?.as_str().map_err(|_| Broken)? {
        "note" => None,
        name => Some(word::<Cut>(name)?),
    };
    let step = Step { cut, amount_mm: row.get(3)?, note: row.get(4)? };
    let advised = match row.get_ref(5)?.as_str_or_null().map_err(|_| Broken)? {
        Some(advised) => Some(serde_json::from_str(advised)?),
        None => None,
    };
    Ok(LoggedStep { at: row.get(0)?, number: row.get(1)?, step, advised })
}

fn measurement(row: &Row<'_>) -> Result<LoggedMeasurement, Broken> {
    let state = match row.get_ref(2)?.as_str_or_null().map_err(|_| Broken)? {
        Some(state) => Some(word(state)?),
        None => None,
    };
    let measurements = serde_json::from_str(row.get_ref(3)?.as_str().map_err(|_| Broken)?)?;
    Ok(LoggedMeasurement { after_step: row.get(0)?, at: row.get(1)?, state, measurements })
}

fn inspection(row: &Row<'_>) -> Result<LoggedInspection, Broken> {
    let inspection = serde_json::from_str(row.get_ref(2)?.as_str().map_err(|_| Broken)?)?;
    Ok(LoggedInspection { after_step: row.get(0)?, at: row.get(1)?, inspection })
}

fn take(row: &Row<'_>) -> Result<ReadTake, Broken> {
    let conditions = match row.get_ref(3)?.as_str_or_null().map_err(|_| Broken)? {
        Some(conditions) => serde_json::from_str(conditions)?,
        None => None,
    };
    let take = LoggedTake {
        number: row.get(0)?,
        after_step: row.get(1)?,
        at: row.get(2)?,
        sha256: String::new(),
        bytes: 0,
        source: String::new(),
        conditions,
    };
    // As in a whole history: a reading that is not understood counts as none.
    let reading = reading(row, &take.at).ok().flatten();
    Ok(ReadTake { take, reading, heard: heard(row)? })
}

/// What was said of a crow, without what was measured.
type HeardOutline = (i64, String, String, u32, HeardAs, Kind);

fn heard(row: &Row<'_>) -> Result<Vec<LoggedHeard>, Broken> {
    let words = row.get_ref(8)?.as_str().map_err(|_| Broken)?;
    let mut words: Vec<HeardOutline> = serde_json::from_str(words)?;
    // A group has no order of its own.
    words.sort_by_key(|(id, ..)| *id);
    let words = words.into_iter().map(|(_, at, profile, crow, heard, kind)| LoggedHeard {
        at,
        profile,
        crow,
        heard,
        kind,
        measured: None,
    });
    Ok(words.collect())
}

/// Kind, frequency, its interval, cents off the target, register, alignment, level: the order of the
/// view `outlined`.
pub(super) type CrowOutline =
    (Kind, Option<f64>, Option<f64>, Option<f64>, Option<i32>, Option<f64>, Option<f64>);

fn reading(row: &Row<'_>, at: &str) -> Result<Option<LoggedReading>, Broken> {
    let Some(crows) = row.get_ref(6)?.as_str_or_null().map_err(|_| Broken)? else {
        return Ok(None);
    };
    let crows: Vec<CrowOutline> = serde_json::from_str(crows)?;
    let crows = crows.into_iter().map(crow).collect();
    let advice = match row.get_ref(7)?.as_str_or_null().map_err(|_| Broken)? {
        Some(advice) => Some(serde_json::from_str(advice)?),
        None => None,
    };
    Ok(Some(LoggedReading {
        at: at.to_owned(),
        program: PROGRAM.into(),
        reading: Reading::of_crows(row.get(4)?, row.get(5)?, crows),
        advice,
    }))
}

fn crow(outline: CrowOutline) -> Crow {
    let (kind, hz, ci95_cents, target_cents, register, alignment_cents, level_dbfs) = outline;
    let mut figures = Figures { level_dbfs, ..Figures::default() };
    figures.fundamental.hz = hz;
    figures.fundamental.ci95_cents = ci95_cents;
    figures.fundamental.target_cents = target_cents;
    figures.fundamental.register = register;
    figures.alignment.cents = alignment_cents;
    Crow { start_s: 0.0, end_s: 0.0, kind, figures }
}

/// The value that a word names.
pub fn word<'de, T: Deserialize<'de>>(word: &'de str) -> Result<T, Broken> {
    let word: serde::de::value::StrDeserializer<'de, serde::de::value::Error> =
        word.into_deserializer();
    T::deserialize(word).map_err(|_| Broken)
}
