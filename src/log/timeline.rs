//! A reed's way at one glance: pitch, octaves and length after each cut.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::history::{History, Length, LoggedStep};
use crate::reading::{Kind, Reading, pooled};

/// The reed between two cuts.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stage {
    /// How many cuts had been made; 0 is the reed as it came.
    pub number: u32,
    /// The cut that led here; `None` for the reed as it came.
    pub step: Option<LoggedStep>,
    /// Its length, where one was measured.
    pub length: Option<Length>,
    /// Takes made there.
    pub takes: usize,
    /// Those of them in which nothing crows.
    pub takes_without_crow: usize,
    /// Those of them in which air goes through.
    pub takes_of_air: usize,
    /// Crows in them that sound.
    pub crows: usize,
    /// Share of what was blown that is in octaves, 0 … 1, puffs of air counting as crows that did not
    /// come; `None` where nothing was.
    pub in_octaves: Option<f64>,
    /// The commonest kind among them, the less organised one on a tie.
    pub kind: Option<Kind>,
    /// Median frequency of their lowest sustained rung, in hertz; here and below of the crows in the
    /// octave in which most of them sound.
    pub hz: Option<f64>,
    /// Median distance from the target, in cents.
    pub target_cents: Option<f64>,
    /// Median register of their lowest sustained rung.
    pub register: Option<i32>,
    /// Median deviation of the octave from 2:1, in cents.
    pub alignment_cents: Option<f64>,
}

/// Every stage of a reed, the one it came in first.
pub fn timeline(history: &History) -> Vec<Stage> {
    (0..=history.stage()).map(|number| stage(history, number)).collect()
}

fn stage(history: &History, number: u32) -> Stage {
    // What was advised is told of the stage that it was advised at.
    let step = history.cut(number).map(|cut| LoggedStep { advised: None, ..cut.clone() });
    of_readings(number, step, history.length_at(number), &history.readings_at(number))
}

fn of_readings(
    number: u32,
    step: Option<LoggedStep>,
    length: Option<Length>,
    readings: &[&Reading],
) -> Stage {
    let summary = pooled(readings).map(|all| all.summary).unwrap_or_default();
    let figures = &summary.figures;
    Stage {
        number,
        step,
        length,
        takes: readings.len(),
        takes_without_crow: readings
            .iter()
            .filter(|reading| reading.crows.iter().all(|crow| crow.kind == Kind::Breath))
            .count(),
        takes_of_air: readings
            .iter()
            .filter(|reading| {
                !reading.crows.is_empty()
                    && reading.crows.iter().all(|crow| crow.kind == Kind::Breath)
            })
            .count(),
        crows: summary.crow_count,
        in_octaves: in_octaves(readings),
        kind: summary.kind,
        hz: figures.fundamental.hz,
        target_cents: figures.fundamental.target_cents,
        register: figures.fundamental.register,
        alignment_cents: figures.alignment.cents,
    }
}

fn in_octaves(readings: &[&Reading]) -> Option<f64> {
    let blown = || readings.iter().flat_map(|reading| &reading.crows);
    let octaves = blown().filter(|crow| crow.kind == Kind::Octaves).count();
    (blown().count() > 0).then(|| octaves as f64 / blown().count() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::testing::{crow, take};

    fn reading(a4_hz: f64, cents: &[f64]) -> Reading {
        let crows = cents.iter().map(|&cents| crow(Kind::Octaves, cents)).collect();
        Reading { a4_hz, ..take(crows) }
    }

    /// The way of a reed and the advice for it speak of the same crows.
    #[test]
    fn a_stage_has_the_pitch_that_its_takes_have_together() {
        let readings =
            [reading(442.0, &[-10.0]), reading(440.0, &[-11.0, 1239.0]), reading(440.0, &[-1.0])];
        let readings: Vec<&Reading> = readings.iter().collect();
        let together = pooled(&readings).unwrap().summary;
        let stage = of_readings(0, None, None, &readings);
        assert_eq!((stage.takes, stage.crows), (3, together.crow_count));
        assert_eq!(stage.hz, together.figures.fundamental.hz);
        assert_eq!(stage.target_cents, Some(-6.0));
        assert_eq!(stage.target_cents, together.figures.fundamental.target_cents);
    }
}
