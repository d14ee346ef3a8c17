//! What was done to a reed, measured and seen on it.

use super::Log;
use super::change::{Did, now};
use super::reeds::{find_open, history, stage};
use super::rows::{INSPECTION, MEASUREMENT, Row, STEP, Table, of, to_row};
use crate::advice::Advice;
use crate::log::LogError;
use crate::log::card::Wetness;
use crate::log::history::{History, LoggedInspection, LoggedMeasurement, LoggedStep};
use crate::log::step::{Advised, Step};
use crate::reed::{Inspection, Measurements};

impl Log {
    /// Writes down a step and returns its number, `None` for a note.
    pub fn step(&mut self, label: &str, step: &Step) -> Result<Option<u32>, LogError> {
        self.step_after(label, step, None)
    }

    /// The same, with what stood as advice when it was made.
    pub fn step_after(
        &mut self,
        label: &str,
        step: &Step,
        advice: Option<&Advice>,
    ) -> Result<Option<u32>, LogError> {
        step.check()?;
        let writing = self.write()?;
        let kept = find_open(writing.connection(), label)?;
        history(writing.connection(), &kept)?.check_room(step)?;
        let reed = kept.id;
        let number = match step.cut.is_some() {
            true => Some(stage(writing.connection(), reed)? + 1),
            false => None,
        };
        let advised = number.and(advice).map(Advised::of);
        let at = now(writing.connection())?;
        let logged = LoggedStep { at, number, step: step.clone(), advised };
        let change = writing.change(Some(reed), &Did::Stepped(step), None)?;
        change.insert(&STEP, &of(reed, to_row(&logged)?))?;
        writing.commit()?;
        Ok(number)
    }

    /// Writes down measurements, made on the reed as it is now. What was measured before at the same
    /// stage is corrected by it.
    ///
    /// Errors: measurements that contradict others of the same stage.
    pub fn measure(
        &mut self,
        label: &str,
        measurements: &Measurements,
        state: Option<Wetness>,
    ) -> Result<(), LogError> {
        let check = |history: &History| history.check_corrected(measurements);
        let did = Did::Measured(measurements);
        self.observe(label, &did, &MEASUREMENT, check, |at, after_step| {
            to_row(&LoggedMeasurement { after_step, at, state, measurements: *measurements })
        })
    }

    /// Writes down what was seen on the reed as it is now.
    pub fn inspect(&mut self, label: &str, inspection: &Inspection) -> Result<(), LogError> {
        self.observe(
            label,
            &Did::Saw(inspection),
            &INSPECTION,
            |_| Ok(()),
            |at, after_step| to_row(&LoggedInspection { after_step, at, inspection: *inspection }),
        )
    }

    fn observe(
        &mut self,
        label: &str,
        did: &Did<'_>,
        table: &Table,
        check: impl FnOnce(&History) -> Result<(), LogError>,
        row: impl FnOnce(String, u32) -> Result<Row, LogError>,
    ) -> Result<(), LogError> {
        let writing = self.write()?;
        let kept = find_open(writing.connection(), label)?;
        check(&history(writing.connection(), &kept)?)?;
        let reed = kept.id;
        let row = row(now(writing.connection())?, stage(writing.connection(), reed)?)?;
        writing.change(Some(reed), did, None)?.insert(table, &of(reed, row))?;
        writing.commit()
    }
}
