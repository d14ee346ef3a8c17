//! A reed's way at one glance: pitch, octaves and length after each cut.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::history::{History, Length, LoggedStep};
use crate::comparison::median;
use crate::reading::{Crow, Kind};

/// The reed between two cuts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
    let readings = history.readings_at(number);
    let crows: Vec<&Crow> = readings
        .iter()
        .flat_map(|reading| &reading.crows)
        .filter(|crow| crow.kind != Kind::Breath)
        .collect();
    // Between crows in two octaves lies a pitch at which nothing sounded.
    let in_one_octave = commonest_octave(&crows);
    let of = |figure: fn(&Crow) -> Option<f64>| {
        median(&in_one_octave.iter().copied().filter_map(figure).collect::<Vec<_>>())
    };
    Stage {
        number,
        step: history.cut(number).cloned(),
        length: history.length_at(number),
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
        crows: crows.len(),
        kind: commonest(&crows),
        hz: of(|crow| crow.figures.fundamental.hz),
        target_cents: of(|crow| crow.figures.fundamental.target_cents),
        register: of(|crow| crow.figures.fundamental.register.map(f64::from))
            .map(|register| register.round() as i32),
        alignment_cents: of(|crow| crow.figures.alignment.cents),
    }
}

/// The crows in the octave in which most of them sound, the lower one on a tie; all of them where none
/// holds a tone.
fn commonest_octave<'a>(crows: &[&'a Crow]) -> Vec<&'a Crow> {
    let octave = |crow: &Crow| crow.figures.fundamental.hz.filter(|hz| *hz > 0.0).map(f64::log2);
    let near = |crow: &Crow, middle: f64| octave(crow).is_some_and(|o| (o - middle).abs() < 0.5);
    let of = |middle: f64| -> Vec<&'a Crow> {
        crows.iter().copied().filter(|crow| near(crow, middle)).collect()
    };
    let mut middles: Vec<f64> = crows.iter().filter_map(|crow| octave(crow)).collect();
    // Highest first: of equally many the last, which is the lowest, wins.
    middles.sort_by(|a, b| b.total_cmp(a));
    let groups = middles.into_iter().map(of);
    groups.max_by_key(Vec::len).unwrap_or_else(|| crows.to_vec())
}

fn commonest(crows: &[&Crow]) -> Option<Kind> {
    // The least organised first: of equally common ones it is kept.
    [Kind::Unsettled, Kind::Split, Kind::Single, Kind::Octaves]
        .into_iter()
        .map(|kind| (crows.iter().filter(|crow| crow.kind == kind).count(), kind))
        .filter(|(count, _)| *count > 0)
        .fold(None, |best: Option<(usize, Kind)>, next| match best {
            Some((count, _)) if count >= next.0 => best,
            _ => Some(next),
        })
        .map(|(_, kind)| kind)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Figures;

    fn crow(hz: Option<f64>) -> Crow {
        let mut figures = Figures::default();
        figures.fundamental.hz = hz;
        Crow { start_s: 0.0, end_s: 1.0, kind: Kind::Octaves, figures }
    }

    #[test]
    fn crows_in_two_octaves_are_not_mixed_into_a_pitch_between() {
        let octave = |tones: &[Option<f64>]| -> Vec<Option<f64>> {
            let crows: Vec<Crow> = tones.iter().map(|hz| crow(*hz)).collect();
            let crows: Vec<&Crow> = crows.iter().collect();
            commonest_octave(&crows).iter().map(|crow| crow.figures.fundamental.hz).collect()
        };
        let (low, high) = (Some(131.0), Some(523.0));
        assert_eq!(octave(&[high, low, high, None]), [high, high]);
        assert_eq!(octave(&[high, low, low, high]), [low, low]);
        assert_eq!(octave(&[None, None]), [None, None]);
        assert!(octave(&[]).is_empty());
    }
}
