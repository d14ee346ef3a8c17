//! Every reed in the few figures that questions over many need, without the readings' whole text:
//! what ten thousand reeds tell is told within a second.

use std::collections::{HashMap, HashSet};

use rusqlite::{Connection, Row};
use serde::Deserialize;
use serde::de::IntoDeserializer;

use super::reeds::{Histories, PassedOver, history};
use super::rows::{REED, from_row};
use super::{Log, PROGRAM};
use crate::log::LogError;
use crate::log::history::{
    History, LoggedInspection, LoggedMeasurement, LoggedReading, LoggedReed, LoggedStep,
    LoggedTake, ReadTake,
};
use crate::log::step::Step;
use crate::reading::{Crow, Figures, Kind, Reading};
use crate::reed::Cut;

/// What cannot be understood in a row; the reed it belongs to is read the slow way, which says what.
struct Broken;

type Rows<T> = HashMap<i64, Vec<T>>;

impl Log {
    /// The reeds that `wanted` picks, in the order in which they were entered. Their readings hold of
    /// each crow its kind, fundamental, alignment and level, and no other figure.
    pub fn outlined(&self, wanted: impl Fn(&LoggedReed) -> bool) -> Result<Histories, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let mut broken = HashSet::new();
        let mut reeds = Vec::new();
        for (id, gone) in keys(&view)? {
            if gone {
                continue;
            }
            match REED
                .get(&view, id)
                .and_then(|kept| kept.map(|kept| from_row::<LoggedReed>(&REED, &kept)).transpose())
            {
                Ok(Some(reed)) if wanted(&reed) => reeds.push((id, Some(reed))),
                Ok(_) => {}
                Err(_) => {
                    broken.insert(id);
                    reeds.push((id, None));
                }
            }
        }
        let picked: HashSet<i64> = reeds.iter().map(|(id, _)| *id).collect();
        let mut tables = Tables::read(&view, &picked, &mut broken)?;
        let mut found = Histories::default();
        for (id, reed) in reeds {
            match reed.filter(|_| !broken.contains(&id)) {
                Some(reed) => found.whole.push(tables.of(id, reed)),
                None => found.passed_over.extend(why(&view, id)?),
            }
        }
        Ok(found)
    }
}

fn keys(view: &Connection) -> Result<Vec<(i64, bool)>, LogError> {
    let mut statement = view.prepare("SELECT id, gone FROM reed ORDER BY id")?;
    let found = statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)? != 0)))?;
    Ok(found.collect::<Result<_, _>>()?)
}

/// Why a reed cannot be read; `None` where it can after all, and only its outline could not.
fn why(view: &Connection, id: i64) -> Result<Option<PassedOver>, LogError> {
    let label = view
        .query_row("SELECT CAST(label AS TEXT) FROM reed WHERE id = ?1", [id], |row| row.get(0))
        .unwrap_or_else(|_| "?".to_owned());
    let read =
        REED.get(view, id).and_then(|kept| kept.map(|kept| history(view, &kept)).transpose());
    match read {
        Ok(_) => Ok(None),
        Err(error) => Ok(Some(PassedOver::new(label, error)?)),
    }
}

/// The rows of all picked reeds, by reed.
struct Tables {
    steps: Rows<LoggedStep>,
    measurements: Rows<LoggedMeasurement>,
    inspections: Rows<LoggedInspection>,
    takes: Rows<ReadTake>,
}

impl Tables {
    fn read(
        view: &Connection,
        picked: &HashSet<i64>,
        broken: &mut HashSet<i64>,
    ) -> Result<Self, LogError> {
        let mut each = Each { view, picked, broken };
        Ok(Self {
            steps: each.rows(
                "SELECT reed_id, at, number, cut, amount_mm, note FROM step WHERE gone = 0 \
                 ORDER BY id",
                step,
            )?,
            measurements: each.rows(
                "SELECT reed_id, after_step, at, state, measurements FROM measurement \
                 WHERE gone = 0 ORDER BY id",
                measurement,
            )?,
            inspections: each.rows(
                "SELECT reed_id, after_step, at, inspection FROM inspection WHERE gone = 0 \
                 ORDER BY id",
                inspection,
            )?,
            takes: each.rows(
                "SELECT take.reed_id, take.number, take.after_step, take.at, take.conditions, \
                 outline.profile, outline.a4_hz, outline.crows \
                 FROM take LEFT JOIN outline ON outline.reading_id = \
                 (SELECT max(id) FROM reading WHERE take_id = take.id AND gone = 0) \
                 WHERE take.gone = 0 ORDER BY take.id",
                take,
            )?,
        })
    }

    fn of(&mut self, id: i64, reed: LoggedReed) -> History {
        History {
            reed,
            measurements: self.measurements.remove(&id).unwrap_or_default(),
            inspections: self.inspections.remove(&id).unwrap_or_default(),
            steps: self.steps.remove(&id).unwrap_or_default(),
            takes: self.takes.remove(&id).unwrap_or_default(),
        }
    }
}

struct Each<'a> {
    view: &'a Connection,
    picked: &'a HashSet<i64>,
    broken: &'a mut HashSet<i64>,
}

impl Each<'_> {
    /// The rows of the picked reeds; the first column is the key of the reed.
    fn rows<T>(
        &mut self,
        sql: &str,
        read: fn(&Row<'_>) -> Result<T, Broken>,
    ) -> Result<Rows<T>, LogError> {
        let mut statement = self.view.prepare(sql)?;
        let mut found = statement.query([])?;
        let mut rows = Rows::new();
        while let Some(row) = found.next()? {
            let Ok(reed) = row.get::<_, i64>(0) else { continue };
            if !self.picked.contains(&reed) {
                continue;
            }
            match read(row) {
                Ok(value) => rows.entry(reed).or_insert_with(Vec::new).push(value),
                Err(Broken) => drop(self.broken.insert(reed)),
            }
        }
        Ok(rows)
    }
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
    let cut = match row.get_ref(3)?.as_str().map_err(|_| Broken)? {
        "note" => None,
        name => Some(word::<Cut>(name)?),
    };
    let step = Step { cut, amount_mm: row.get(4)?, note: row.get(5)? };
    Ok(LoggedStep { at: row.get(1)?, number: row.get(2)?, step })
}

fn measurement(row: &Row<'_>) -> Result<LoggedMeasurement, Broken> {
    let state = match row.get_ref(3)?.as_str_or_null().map_err(|_| Broken)? {
        Some(state) => Some(word(state)?),
        None => None,
    };
    let measurements = serde_json::from_str(row.get_ref(4)?.as_str().map_err(|_| Broken)?)?;
    Ok(LoggedMeasurement { after_step: row.get(1)?, at: row.get(2)?, state, measurements })
}

fn inspection(row: &Row<'_>) -> Result<LoggedInspection, Broken> {
    let inspection = serde_json::from_str(row.get_ref(3)?.as_str().map_err(|_| Broken)?)?;
    Ok(LoggedInspection { after_step: row.get(1)?, at: row.get(2)?, inspection })
}

fn take(row: &Row<'_>) -> Result<ReadTake, Broken> {
    let conditions = match row.get_ref(4)?.as_str_or_null().map_err(|_| Broken)? {
        Some(conditions) => serde_json::from_str(conditions)?,
        None => None,
    };
    let take = LoggedTake {
        number: row.get(1)?,
        after_step: row.get(2)?,
        at: row.get(3)?,
        sha256: String::new(),
        bytes: 0,
        source: String::new(),
        conditions,
    };
    // As in a whole history: a reading that is not understood counts as none.
    let reading = reading(row).ok().flatten();
    let reading = reading.map(|reading| LoggedReading {
        at: take.at.clone(),
        program: PROGRAM.into(),
        reading,
        advice: None,
    });
    Ok(ReadTake { take, reading, heard: Vec::new() })
}

/// Kind, frequency, its interval, cents off the target, register, alignment, level: the order of the
/// view `outlined`.
type CrowOutline =
    (Kind, Option<f64>, Option<f64>, Option<f64>, Option<i32>, Option<f64>, Option<f64>);

fn reading(row: &Row<'_>) -> Result<Option<Reading>, Broken> {
    let Some(crows) = row.get_ref(7)?.as_str_or_null().map_err(|_| Broken)? else {
        return Ok(None);
    };
    let crows: Vec<CrowOutline> = serde_json::from_str(crows)?;
    let crows = crows.into_iter().map(crow).collect();
    Ok(Some(Reading::of_crows(row.get(5)?, row.get(6)?, crows)))
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

fn word<'de, T: Deserialize<'de>>(word: &'de str) -> Result<T, Broken> {
    let word: serde::de::value::StrDeserializer<'de, serde::de::value::Error> =
        word.into_deserializer();
    T::deserialize(word).map_err(|_| Broken)
}
