//! What a good reed is to its maker or player: which figures of the crow and which measurements go with
//! good ratings.
//!
//! Figures are ranked against ratings (Spearman), so that no scale and no straight line is assumed.
//! Whoever looks at twenty figures finds one that goes along by chance: every interval is widened for as
//! many as were looked at.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

use super::estimate::{Middle, Told};
use crate::dsp::statistics::mean;
use crate::log::history::History;
use crate::log::rating::{Rated, Rating};
use crate::reading::catalogue::{Compared, FIGURES};
use crate::reading::{Kind, Reading, pooled};

/// Fewer rated reeds tell nothing of a figure (our choice: with eight, widened for twenty figures, only
/// one that goes along in nearly every pair passes).
pub const FEWEST_RATED: usize = 8;

/// From this mean grade on a reed counts as good where good ones and others are shown (our choice:
/// nearer to *good* than to *fair*).
pub const GOOD: f64 = 3.5;

/// A correlation worth finding, for saying how many rated reeds it takes (our choice).
const WORTH_FINDING: f64 = 0.6;

choice! {
    /// What counts as a good reed.
    Liked {
        /// The mean of all grades it was given.
        All,
        /// It plays in tune.
        Pitch,
        /// Its low notes speak.
        Low,
        /// Its high notes speak.
        High,
        /// It holds still.
        Stability,
        /// It sounds well.
        Tone,
        /// It lived long.
        Lived,
    }
}

impl Liked {
    fn of(self, rating: &Rating) -> Option<f64> {
        let side = match self {
            Self::All => return rating.mean(),
            Self::Lived => return rating.lived_hours,
            Self::Pitch => Rated::Pitch,
            Self::Low => Rated::Low,
            Self::High => Rated::High,
            Self::Stability => Rated::Stability,
            Self::Tone => Rated::Tone,
        };
        rating.of(side).map(|grade| f64::from(grade.number()))
    }
}

/// How one figure goes with good reeds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Like {
    /// Its JSON path, or the name of a measurement.
    pub figure: String,
    /// Whether its distance from 0 is meant: of what is best at 0.
    pub from_zero: bool,
    /// Rated reeds of which it is known.
    pub count: usize,
    /// Spearman's rank correlation with the rating, −1 … 1.
    pub correlation: f64,
    /// Lower end of its 95 % interval, all figures together.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether good reeds have more of it, or less.
    pub told: Told,
    /// What it is on good reeds; `None` where what is good is told in hours, or none is.
    pub good: Option<Middle>,
    /// What it is on the others.
    pub others: Option<Middle>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LikesAnswer {
    /// What counts as good.
    pub of: Liked,
    /// Rated reeds.
    pub reeds: usize,
    /// How many it takes before a figure that plainly goes along can be told.
    pub needed: usize,
    /// What was looked at, what goes along most first; empty where the reeds are too few to tell.
    pub figures: Vec<Like>,
}

/// A figure of many reeds.
struct Column {
    figure: String,
    from_zero: bool,
    values: Vec<Option<f64>>,
}

/// A figure's path, whether it is best at 0 whichever way it is off, and its value.
type Valued = (String, bool, f64);

/// Which figures go with good reeds.
///
/// * `reeds`: those that were rated.
/// * `by`: whose ratings count; of everybody, averaged, where nobody is named.
pub fn likes(reeds: &[History], of: Liked, by: Option<&str>) -> LikesAnswer {
    let rated: Vec<(f64, Vec<Valued>)> =
        reeds.iter().filter_map(|history| of_reed(history, of, by)).collect();
    let scores: Vec<f64> = rated.iter().map(|reed| reed.0).collect();
    let mut columns: Vec<Column> = Vec::new();
    for (at, (_, figures)) in rated.iter().enumerate() {
        for (figure, from_zero, value) in figures {
            let found = columns.iter().position(|column| column.figure == *figure);
            let place = found.unwrap_or_else(|| {
                let values = vec![None; rated.len()];
                columns.push(Column { figure: figure.clone(), from_zero: *from_zero, values });
                columns.len() - 1
            });
            columns[place].values[at] = Some(*value);
        }
    }
    let is_good = (of != Liked::Lived).then_some(GOOD);
    let figures = associations(&scores, columns, is_good);
    let needed = needed(figures.len().max(1));
    LikesAnswer { of, reeds: rated.len(), needed, figures }
}

/// How good a reed is, and its figures as it was when that was said.
fn of_reed(history: &History, of: Liked, by: Option<&str>) -> Option<(f64, Vec<Valued>)> {
    let counts = |who: Option<&str>| {
        by.is_none_or(|by| who.is_some_and(|who| who.to_lowercase() == by.to_lowercase()))
    };
    let rated = history.rated();
    let mine = || rated.iter().filter(|one| counts(one.by.as_deref()));
    let stage =
        mine().filter(|one| of.of(&one.rating).is_some()).map(|one| one.after_step).max()?;
    // Of each person the last words; what was said before the last cut was said of another reed.
    let mut people: Vec<(Option<&str>, Rating)> = Vec::new();
    for one in mine().filter(|one| one.after_step == stage) {
        let who = one.by.as_deref();
        match people.iter_mut().find(|known| known.0 == who) {
            Some(known) => known.1 = one.rating.over(known.1),
            None => people.push((who, one.rating)),
        }
    }
    let each: Vec<f64> = people.iter().filter_map(|known| of.of(&known.1)).collect();
    Some((mean(&each)?, figures(history, stage)))
}

/// What is best at 0, whichever way it is off.
const BEST_AT_ZERO: [&str; 4] = [
    "fundamental.target_cents",
    "alignment.cents",
    "steadiness.drift_cents_per_s",
    "voices.lead_ms",
];

/// Told by another figure already, or more the microphone's doing.
fn is_looked_at(path: &str) -> bool {
    !matches!(path, "fundamental.hz" | "fundamental.note_cents" | "steadiness.rattle_hz")
}

/// The figures of a reed as it was after so many cuts, or when it was crowed last before; and what it
/// measured then.
fn figures(history: &History, stage: u32) -> Vec<Valued> {
    let mut all = Vec::new();
    let crowed = (0..=stage)
        .rev()
        .map(|stage| history.readings_at(stage))
        .find(|readings| readings.iter().any(|reading| reading.summary.crow_count > 0));
    if let Some(readings) = crowed {
        let share = in_octaves(&readings);
        all.extend(share.map(|share| ("octaves".to_owned(), false, share)));
        let summary = pooled(&readings).map(|all| all.summary).unwrap_or_default();
        for entry in FIGURES {
            let about = &entry.about;
            if about.compared == Compared::No || about.of_recorder || !is_looked_at(about.path) {
                continue;
            }
            let Some(value) = entry.number(&summary.figures).filter(|value| value.is_finite())
            else {
                continue;
            };
            let from_zero = BEST_AT_ZERO.contains(&about.path);
            let value = if from_zero { value.abs() } else { value };
            all.push((about.path.to_owned(), from_zero, value));
        }
    }
    let sizes = *history.measured_now();
    let tip = sizes.length_mm.zip(sizes.tip_start_mm).map(|(length, tip)| length - tip);
    if let Ok(serde_json::Value::Object(fields)) = serde_json::to_value(sizes) {
        let given = fields.into_iter().filter_map(|(name, mm)| Some((name, false, mm.as_f64()?)));
        all.extend(given);
    }
    all.extend(tip.map(|mm| ("tip_length_mm".to_owned(), false, mm)));
    all.extend(history.reed.card.gouge_mm.map(|mm| ("gouge_mm".to_owned(), false, mm)));
    all
}

fn in_octaves(readings: &[&Reading]) -> Option<f64> {
    let blown = || readings.iter().flat_map(|reading| &reading.crows);
    let octaves = blown().filter(|crow| crow.kind == Kind::Octaves).count();
    (blown().count() > 0).then(|| octaves as f64 / blown().count() as f64)
}

/// Every column of which enough is known against the scores, the closest first.
///
/// * `good`: from which score on a reed is good, where that can be said.
fn associations(scores: &[f64], columns: Vec<Column>, good: Option<f64>) -> Vec<Like> {
    let known: Vec<(Column, f64, usize)> = columns
        .into_iter()
        .filter_map(|column| {
            let pairs = pairs(&column, scores);
            let correlation = (pairs.len() >= FEWEST_RATED).then(|| spearman(&pairs)).flatten()?;
            Some((column, correlation, pairs.len()))
        })
        .collect();
    let z = quantile_of_all(known.len());
    let mut all: Vec<Like> = known
        .into_iter()
        .map(|(column, correlation, count)| {
            let (low, high) = interval(correlation, count, z);
            let told = match (low > 0.0, high < 0.0) {
                (true, _) => Told::More,
                (_, true) => Told::Less,
                _ => Told::CannotTell,
            };
            let of = |is_good: bool| {
                let values = pairs(&column, scores).into_iter();
                let side =
                    values.filter(|pair| good.is_some_and(|from| (pair.1 >= from) == is_good));
                Middle::of(&side.map(|pair| pair.0).collect::<Vec<_>>())
            };
            let (good, others) = (of(true), of(false));
            let Column { figure, from_zero, .. } = column;
            Like { figure, from_zero, count, correlation, low, high, told, good, others }
        })
        .collect();
    all.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
    all
}

fn pairs(column: &Column, scores: &[f64]) -> Vec<(f64, f64)> {
    let each = column.values.iter().zip(scores);
    each.filter_map(|(value, score)| Some(((*value)?, *score))).collect()
}

/// Rank correlation; ties have the mean of their ranks. `None` where one side is all alike.
fn spearman(pairs: &[(f64, f64)]) -> Option<f64> {
    let x = ranks(&pairs.iter().map(|pair| pair.0).collect::<Vec<_>>());
    let y = ranks(&pairs.iter().map(|pair| pair.1).collect::<Vec<_>>());
    let middle = (pairs.len() as f64 + 1.0) / 2.0;
    let product = |a: &[f64], b: &[f64]| -> f64 {
        a.iter().zip(b).map(|(a, b)| (a - middle) * (b - middle)).sum()
    };
    let squares = product(&x, &x) * product(&y, &y);
    (squares > 0.0).then(|| product(&x, &y) / squares.sqrt())
}

fn ranks(values: &[f64]) -> Vec<f64> {
    let rank = |value: &f64| {
        let below = values.iter().filter(|other| *other < value).count();
        let alike = values.iter().filter(|other| *other == value).count();
        below as f64 + (alike as f64 + 1.0) / 2.0
    };
    values.iter().map(rank).collect()
}

/// How many standard deviations a 95 % interval reaches that is to hold for `figures` at once (Bonferroni).
fn quantile_of_all(figures: usize) -> f64 {
    let share = 1.0 - 0.05 / (2.0 * figures.max(1) as f64);
    Normal::new(0.0, 1.0)
        .map_or(crate::dsp::statistics::NORMAL_95, |normal| normal.inverse_cdf(share))
}

/// Fisher's z, with the standard error that holds for ranks (D. G. Bonett & T. A. Wright, Psychometrika
/// 65, 2000, 23-28, from memory).
fn interval(correlation: f64, count: usize, z: f64) -> (f64, f64) {
    let middle = correlation.clamp(-0.999_999, 0.999_999).atanh();
    let half = z * standard_error(correlation, count);
    ((middle - half).tanh(), (middle + half).tanh())
}

fn standard_error(correlation: f64, count: usize) -> f64 {
    ((1.0 + correlation * correlation / 2.0) / (count as f64 - 3.0)).sqrt()
}

/// How many rated reeds it takes to tell a correlation that is worth finding.
fn needed(figures: usize) -> usize {
    let z = quantile_of_all(figures);
    let enough = |count: &usize| z * standard_error(WORTH_FINDING, *count) < WORTH_FINDING.atanh();
    (FEWEST_RATED..10_000).find(enough).unwrap_or(10_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1, `scipy.stats.spearmanr`, ties among both.
    #[test]
    fn ranks_correlate_as_scipy_says() {
        let x = [1.0, 2.0, 2.0, 3.0, 4.0, 4.0, 5.0, 5.0, 5.0, 3.0];
        let y = [0.31, 0.22, 0.25, 0.19, 0.12, 0.2, 0.09, 0.11, 0.1, 0.22];
        let pairs: Vec<(f64, f64)> = x.into_iter().zip(y).collect();
        assert!((spearman(&pairs).unwrap() - -0.944_263_321_393_810_1).abs() < 1e-12);
        assert_eq!(spearman(&[(1.0, 2.0), (1.0, 3.0)]), None);
    }

    fn drawn(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        move || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    fn columns(reeds: usize, count: usize, next: &mut impl FnMut() -> f64) -> Vec<Column> {
        let column = |number: usize| Column {
            figure: number.to_string(),
            from_zero: false,
            values: (0..reeds).map(|_| Some(next())).collect(),
        };
        (0..count).map(column).collect()
    }

    /// Of logs in which nothing goes with anything, so many may tell something: one in twenty, and what
    /// 300 such logs scatter (three standard deviations).
    #[test]
    fn of_many_figures_that_mean_nothing_hardly_one_log_in_twenty_tells_one() {
        for reeds in [8, 20, 60] {
            let told = (0..300).filter(|seed| {
                let mut next = drawn(seed * 7 + reeds as u64 + 1);
                let scores: Vec<f64> = (0..reeds).map(|_| (1.0 + 5.0 * next()).floor()).collect();
                let found = associations(&scores, columns(reeds, 20, &mut next), Some(GOOD));
                found.iter().any(|like| like.told != Told::CannotTell)
            });
            let told = told.count();
            assert!(told <= 27, "{told} of 300 with {reeds} reeds");
        }
    }

    #[test]
    fn a_figure_that_goes_with_good_reeds_is_told_once_there_are_enough() {
        let of = |reeds: usize| {
            let mut next = drawn(5);
            let scores: Vec<f64> = (0..reeds).map(|_| (1.0 + 5.0 * next()).floor()).collect();
            let mut columns = columns(reeds, 20, &mut next);
            for (value, score) in columns[3].values.iter_mut().zip(&scores) {
                *value = Some(1.0 - 0.1 * score + 0.1 * next());
            }
            associations(&scores, columns, Some(GOOD))
        };
        let enough = of(needed(20));
        assert_eq!((enough[0].figure.as_str(), enough[0].told), ("3", Told::Less));
        assert!(enough[0].good.unwrap().median < enough[0].others.unwrap().median);
        assert!(of(FEWEST_RATED - 1).is_empty());
    }
}
