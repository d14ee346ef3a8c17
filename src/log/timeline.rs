//! A reed's way at one glance: pitch, octaves and length after each cut.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::heard::{HeardAs, LoggedHeard, as_heard};
use super::history::{History, Length, LoggedStep};
use crate::reading::{Crow, Kind, Reading, pooled};

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
    /// How many are of which kind, that one first.
    #[serde(default)]
    pub kinds: Vec<OfKind>,
    /// What the maker hears of those of that kind, where most of them were named; what is heard counts for
    /// more than the sound in all of these.
    #[serde(default)]
    pub named: Option<HeardAs>,
    /// How many of the crows hold a tone.
    #[serde(default)]
    pub pitched: usize,
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

/// How many crows are of a kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OfKind {
    /// The kind.
    pub kind: Kind,
    /// How many of them.
    pub count: usize,
}

/// Every stage of a reed, the one it came in first.
pub fn timeline(history: &History) -> Vec<Stage> {
    (0..=history.stage()).map(|number| stage(history, number)).collect()
}

fn stage(history: &History, number: u32) -> Stage {
    // What was advised is told of the stage that it was advised at.
    let step = history.cut(number).map(|cut| LoggedStep { advised: None, ..cut.clone() });
    let takes = history.takes.iter().filter(|take| take.take.after_step == number);
    let read = takes.filter_map(|take| Some((&take.reading.as_ref()?.reading, &*take.heard)));
    of_readings(number, step, history.length_at(number), &read.collect::<Vec<_>>())
}

/// A take's reading with what was said of its crows.
type Said<'a> = (&'a Reading, &'a [LoggedHeard]);

fn of_readings(
    number: u32,
    step: Option<LoggedStep>,
    length: Option<Length>,
    read: &[Said<'_>],
) -> Stage {
    let own: Vec<_> = read.iter().map(|(reading, words)| as_heard(reading, words)).collect();
    let readings: Vec<&Reading> = own.iter().map(AsRef::as_ref).collect();
    let all = pooled(&readings);
    let sounding: Vec<&Crow> = all.iter().flat_map(|all| &all.crows).filter(sounds).collect();
    let summary = all.as_ref().map(|all| all.summary.clone()).unwrap_or_default();
    let figures = &summary.figures;
    Stage {
        number,
        step,
        length,
        takes: readings.len(),
        takes_without_crow: readings
            .iter()
            .filter(|reading| !reading.crows.iter().any(|crow| sounds(&crow)))
            .count(),
        takes_of_air: readings
            .iter()
            .filter(|reading| {
                !reading.crows.is_empty() && !reading.crows.iter().any(|crow| sounds(&crow))
            })
            .count(),
        crows: summary.crow_count,
        in_octaves: in_octaves(&readings),
        kind: summary.kind,
        kinds: kinds(&sounding),
        named: summary.kind.and_then(|kind| named(read, kind)),
        pitched: sounding.iter().filter(|crow| crow.figures.fundamental.hz.is_some()).count(),
        hz: figures.fundamental.hz,
        target_cents: figures.fundamental.target_cents,
        register: figures.fundamental.register,
        alignment_cents: figures.alignment.cents,
    }
}

fn sounds(crow: &&Crow) -> bool {
    crow.kind != Kind::Breath
}

/// How many are of which kind, the commonest first, the less organised one on a tie.
fn kinds(sounding: &[&Crow]) -> Vec<OfKind> {
    let each = [Kind::Unsettled, Kind::Split, Kind::Single, Kind::Blended, Kind::Octaves];
    let counts = each.map(|kind| OfKind {
        kind,
        count: sounding.iter().filter(|crow| crow.kind == kind).count(),
    });
    let mut kinds: Vec<OfKind> = counts.into_iter().filter(|of| of.count > 0).collect();
    kinds.sort_by_key(|of| std::cmp::Reverse(of.count));
    kinds
}

/// What was last said of crows of that kind, where most of them were named.
fn named(read: &[Said<'_>], kind: Kind) -> Option<HeardAs> {
    let (mut count, mut words_on_it) = (0, Vec::new());
    for (reading, words) in read {
        for (index, crow) in reading.crows.iter().enumerate() {
            let word = words.iter().rfind(|word| word.crow as usize == index + 1);
            if word.map_or(crow.kind, |word| word.heard.kind()) == kind {
                count += 1;
                words_on_it.extend(word);
            }
        }
    }
    let is_most = 2 * words_on_it.len() > count;
    words_on_it
        .into_iter()
        .max_by(|a, b| a.at.cmp(&b.at))
        .filter(|_| is_most)
        .map(|word| word.heard)
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
        let read: Vec<Said<'_>> = readings.iter().map(|reading| (*reading, &[][..])).collect();
        let stage = of_readings(0, None, None, &read);
        assert_eq!((stage.takes, stage.crows), (3, together.crow_count));
        assert_eq!(stage.hz, together.figures.fundamental.hz);
        assert_eq!(stage.target_cents, Some(-6.0));
        assert_eq!(stage.target_cents, together.figures.fundamental.target_cents);
    }

    /// What a maker hears counts for more than the sound; the last word on a crow holds.
    #[test]
    fn a_stage_is_of_the_kinds_that_its_maker_hears() {
        let mut one = reading(440.0, &[-10.0, -11.0, -12.0]);
        one.crows.iter_mut().for_each(|crow| crow.kind = Kind::Blended);
        let word = |crow, heard, at: &str| LoggedHeard {
            at: at.into(),
            profile: String::new(),
            crow,
            heard,
            kind: Kind::Blended,
            measured: None,
        };
        let of = |words: &[LoggedHeard]| {
            let stage = of_readings(0, None, None, &[(&one, words)]);
            let kinds: Vec<_> = stage.kinds.iter().map(|of| (of.kind, of.count)).collect();
            (stage.crows, kinds, stage.named)
        };
        assert_eq!(of(&[]), (3, vec![(Kind::Blended, 3)], None));
        let first = word(1, HeardAs::Octaves, "1");
        assert_eq!(
            of(std::slice::from_ref(&first)),
            (3, vec![(Kind::Blended, 2), (Kind::Octaves, 1)], None)
        );
        let low = [word(1, HeardAs::Low, "2"), word(2, HeardAs::Low, "3")];
        let said = [&[first][..], &low].concat();
        let kinds = vec![(Kind::Single, 2), (Kind::Blended, 1)];
        assert_eq!(of(&said), (3, kinds, Some(HeardAs::Low)));
        // What is air is no crow; a crow that is not there is none.
        let air = [word(3, HeardAs::Air, "4"), word(9, HeardAs::Wild, "5")];
        assert_eq!(
            of(&[&said[..], &air].concat()),
            (2, vec![(Kind::Single, 2)], Some(HeardAs::Low))
        );
    }
}
