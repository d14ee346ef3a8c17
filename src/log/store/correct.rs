//! What was written down wrongly, put right: the row is changed, and what it said before stays with the
//! change.

use rusqlite::params;

use super::Log;
use super::change::{Did, from_whole};
use super::reeds::{find, history, stage};
use super::rows::{Kept, MEASUREMENT, STEP, TAKE, Table, of, to_row};
use super::sense::from_row;
use crate::log::conditions::Conditions;
use crate::log::history::{LoggedMeasurement, LoggedStep, LoggedTake};
use crate::log::step::Step;
use crate::log::{LogError, NotOnCard, Unfit};
use crate::reed::Measurements;

/// One correction.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Correction {
    /// When it was made (UTC, ISO 8601).
    pub at: String,
    /// What was put right, in words: `step 2: clip 0.3 mm, before it said clip 0.2 mm`.
    pub what: String,
}

impl Log {
    /// Puts a cut right.
    ///
    /// Returns it as it was.
    ///
    /// Errors: no such cut, or one that cannot be.
    pub fn correct_step(
        &mut self,
        label: &str,
        number: u32,
        edit: impl FnOnce(&mut Step),
    ) -> Result<Step, LogError> {
        let writing = self.write()?;
        let reed = find(writing.connection(), label)?.id;
        let kept = numbered(&STEP, &writing, reed, label, number)?;
        let mut logged: LoggedStep = from_row(&STEP, &kept)?;
        let before = logged.step.clone();
        if before.is_return() {
            return Err(NotOnCard::NoSuch { label, what: STEP.name, number }.into());
        }
        edit(&mut logged.step);
        logged.step.check()?;
        if logged.step.cut.is_none() {
            return Err(NotOnCard::CutIsNoNote(number).into());
        }
        let row = of(reed, to_row(&logged)?);
        let did = Did::CorrectedStep { number, now: &logged.step, before: &before };
        writing.change(Some(reed), &did, None)?.update(&STEP, &Kept { row, ..kept })?;
        writing.commit()?;
        Ok(before)
    }

    /// Puts right after how many cuts a take was made, and how it was crowed; what is not said stays.
    ///
    /// Errors: no such take, or fewer cuts than that.
    pub fn correct_take(
        &mut self,
        label: &str,
        number: u32,
        after_step: Option<u32>,
        conditions: Option<Conditions>,
    ) -> Result<(), LogError> {
        if let Some(conditions) = &conditions {
            conditions.check()?;
        }
        let writing = self.write()?;
        let reed = find(writing.connection(), label)?.id;
        let kept = numbered(&TAKE, &writing, reed, label, number)?;
        let before: LoggedTake = from_row(&TAKE, &kept)?;
        let mut take = before.clone();
        take.after_step = after_step.unwrap_or(take.after_step);
        let cuts = stage(writing.connection(), reed)?;
        if take.after_step > cuts {
            return Err(NotOnCard::OnlyCuts { label, cuts }.into());
        }
        if let Some(said) = conditions {
            take.conditions = Some(said.over(&take.conditions.unwrap_or_default()));
        }
        let row = of(reed, to_row(&take)?);
        let did = Did::CorrectedTake { number, now: &take, before: &before };
        writing.change(Some(reed), &did, None)?.update(&TAKE, &Kept { row, ..kept })?;
        writing.commit()
    }

    /// Puts right what was measured after so many cuts, 0 as it came; what is not given stays. The last
    /// measurement made there says it from now on.
    ///
    /// Errors: fewer cuts than that, nothing measured there, nothing that would change, or what contradicts
    /// what else was measured.
    pub fn correct_measurement(
        &mut self,
        label: &str,
        after_step: u32,
        given: &Measurements,
    ) -> Result<(), LogError> {
        let writing = self.write()?;
        let reed = find(writing.connection(), label)?;
        let before = history(writing.connection(), &reed)?;
        let cuts = before.stage();
        if after_step > cuts {
            return Err(NotOnCard::OnlyCuts { label, cuts }.into());
        }
        let there = before.measured().into_iter().find(|there| there.after_step == after_step);
        let mine = "reed_id = ?1 AND after_step = ?2 AND gone = 0";
        let found = MEASUREMENT.select(writing.connection(), mine, params![reed.id, after_step])?;
        let (Some(there), Some(kept)) = (there, found.into_iter().next_back()) else {
            return Err(NotOnCard::NotMeasured { label, after_step }.into());
        };
        if given.over(there.now) == there.now {
            return Err(NotOnCard::MeasuredSo { label, after_step }.into());
        }
        let mut logged: LoggedMeasurement = from_row(&MEASUREMENT, &kept)?;
        let whole = Measurements::new(given.over(*logged.measurements));
        logged.measurements = whole.map_err(Unfit::Contradicts)?;
        let mut right = before.clone();
        let mut entries = right.measurements.iter_mut();
        if let Some(entry) = entries.rfind(|entry| entry.after_step == after_step) {
            *entry = logged.clone();
        }
        right.check_put_right(&before, after_step)?;
        let said = there.now.corrected_by(**given);
        let did = Did::CorrectedMeasurement { after_step, now: given, before: &said };
        let row = of(reed.id, to_row(&logged)?);
        writing.change(Some(reed.id), &did, None)?.update(&MEASUREMENT, &Kept { row, ..kept })?;
        writing.commit()
    }

    /// The corrections of a reed's cuts, takes and measurements that stand, the earliest first.
    pub fn corrections(&self, label: &str) -> Result<Vec<Correction>, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let reed = find(&view, label)?.id;
        // A correction overwrites a row that stands and still stands after it; an undo has 'undoes'.
        let mut statement = view.prepare(
            "SELECT change.at, change.what, change_row.row_id, change_row.before, change_row.after \
             FROM change JOIN change_row ON change_row.change_id = change.id \
             WHERE change.reed_id = ?1 AND change.undoes IS NULL AND change_row.before IS NOT NULL \
             AND change_row.in_table IN ('step', 'take', 'measurement') \
             AND NOT EXISTS (SELECT 1 FROM change AS undo WHERE undo.undoes = change.id \
               AND NOT EXISTS (SELECT 1 FROM change AS redo WHERE redo.undoes = undo.id)) \
             GROUP BY change.id ORDER BY change.id",
        )?;
        let mut rows = statement.query(params![reed])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let key: i64 = row.get(2)?;
            let side = |text: String| from_whole(key, &text).is_some_and(|kept| !kept.gone);
            if side(row.get(3)?) && side(row.get(4)?) {
                found.push(Correction { at: row.get(0)?, what: row.get(1)? });
            }
        }
        Ok(found)
    }
}

/// The row of that number that stands.
fn numbered(
    table: &Table,
    writing: &super::change::Writing<'_>,
    reed: i64,
    label: &str,
    number: u32,
) -> Result<Kept, LogError> {
    let mine = "reed_id = ?1 AND number = ?2 AND gone = 0";
    let found = table.select(writing.connection(), mine, params![reed, number])?;
    let none = || NotOnCard::NoSuch { label, what: table.name, number }.into();
    found.into_iter().next().ok_or_else(none)
}
