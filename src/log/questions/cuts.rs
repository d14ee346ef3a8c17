//! What a kind of cut did: its effect with its spread, the cuts behind it, by cane or maker.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::{Middle, Share};
use super::groups::Field;
use crate::dsp::statistics::t_975;

use crate::log::facts::Facts;
use crate::log::matching::folded;
use crate::reed::Cut;

/// One cut that was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MadeCut {
    /// Its reed.
    pub reed: String,
    /// Its number on that reed.
    pub step: u32,
    /// When it was made (UTC, ISO 8601).
    pub at: String,
    /// What was done.
    pub cut: Cut,
    /// How much, in millimetres.
    pub amount_mm: Option<f64>,
    /// Pitch before, in cents from the target.
    pub before_cents: Option<f64>,
    /// Pitch after.
    pub after_cents: Option<f64>,
    /// The change, as a comparison of the crows tells it.
    pub change_cents: Option<f64>,
    /// Half width of its 95 % interval.
    pub ci95_cents: Option<f64>,
    /// Whether it is told at one blowing strength.
    pub level_adjusted: bool,
    /// Whether octaves were in order before; `None` where it was not crowed on both sides.
    pub octaves_before: Option<bool>,
    /// Whether they were after.
    pub octaves_after: Option<bool>,
}

/// What cuts of one kind did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutSummary {
    /// Which cut.
    pub cut: Cut,
    /// The value of the field that was asked for; `None` over all, and of cards that do not say.
    pub value: Option<String>,
    /// How many were made.
    pub made: usize,
    /// Change of pitch per cut, in cents, of those crowed before and after.
    pub change_cents: Option<Middle>,
    /// Of those, the ones whose change is told at one blowing strength.
    pub level_adjusted: usize,
    /// Of those, the ones after which the pitch was higher.
    pub rose: Option<Share>,
    /// Octaves came, of the cuts before which they were not in order.
    pub octaves_came: Option<Share>,
    /// Octaves were lost, of those before which they were.
    pub octaves_lost: Option<Share>,
    /// Cents per millimetre, where amounts are known.
    pub per_mm: Option<PerMm>,
}

/// Change of pitch as it goes with the amount: a straight line through nothing for nothing, by least
/// squares.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PerMm {
    /// Cuts it rests on.
    pub count: usize,
    /// Cents per millimetre.
    pub cents_per_mm: f64,
    /// Half width of its 95 % interval.
    pub ci95_cents_per_mm: f64,
    /// Standard deviation of one cut about the line, in cents.
    pub scatter_cents: f64,
}

impl PerMm {
    /// `None` under three cuts.
    ///
    /// Source: regression through the origin, e.g. Draper & Smith, Applied Regression Analysis, chapter 1
    /// (from memory).
    pub fn of<'a>(cuts: impl IntoIterator<Item = &'a MadeCut>) -> Option<Self> {
        let points: Vec<(f64, f64)> = cuts
            .into_iter()
            .filter_map(|made| Some((made.amount_mm.filter(|mm| *mm > 0.0)?, made.change_cents?)))
            .collect();
        if points.len() < 3 {
            return None;
        }
        let xx: f64 = points.iter().map(|(x, _)| x * x).sum();
        let cents_per_mm = points.iter().map(|(x, y)| x * y).sum::<f64>() / xx;
        let freedom = points.len() as f64 - 1.0;
        let squares: f64 = points.iter().map(|(x, y)| (y - cents_per_mm * x).powi(2)).sum();
        let scatter_cents = (squares / freedom).sqrt();
        Some(Self {
            count: points.len(),
            cents_per_mm,
            ci95_cents_per_mm: t_975(freedom) * scatter_cents / xx.sqrt(),
            scatter_cents,
        })
    }

    /// The change that the line gives for an amount, and the half width within which one more cut falls
    /// in 95 of 100 cases.
    pub fn at(&self, mm: f64) -> (f64, f64) {
        let t = t_975(self.count as f64 - 1.0);
        let half = (self.ci95_cents_per_mm * mm).hypot(t * self.scatter_cents);
        (self.cents_per_mm * mm, half)
    }
}

/// What cuts did.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CutAnswer {
    /// Reeds looked at.
    pub reeds: usize,
    /// What they were parted by.
    pub by: Option<Field>,
    /// One entry for each kind of cut, or for each kind and value.
    pub summaries: Vec<CutSummary>,
    /// The cuts behind them, in order of time.
    pub cuts: Vec<MadeCut>,
}

/// One part of the answer: the value of the field as it was first written, and the places of its cuts
/// among all.
type Part = (Option<String>, Vec<usize>);

/// What cuts did on these reeds.
///
/// * `only`: this kind alone.
/// * `by`: parted by a field of the card; a reed with several values counts in each.
pub fn cuts(reeds: &[Facts], only: Option<Cut>, by: Option<Field>) -> CutAnswer {
    let mut all = Vec::new();
    let mut parts: BTreeMap<(Cut, Option<String>), Part> = BTreeMap::new();
    for facts in reeds {
        let found = by.map(|by| by.values(facts)).unwrap_or_default();
        let mut values: Vec<(Option<String>, Option<String>)> =
            found.into_iter().map(|value| (Some(folded(&value)), Some(value))).collect();
        if values.is_empty() {
            values.push((None, None));
        }
        for made in made(facts).filter(|made| only.is_none_or(|only| made.cut == only)) {
            for (key, value) in &values {
                let part = parts.entry((made.cut, key.clone()));
                part.or_insert_with(|| (value.clone(), Vec::new())).1.push(all.len());
            }
            all.push(made);
        }
    }
    let summaries = parts
        .into_iter()
        .map(|((cut, _), (value, places))| {
            let made: Vec<&MadeCut> = places.iter().filter_map(|place| all.get(*place)).collect();
            summary(cut, value, &made)
        })
        .collect();
    all.sort_by(|a, b| a.at.cmp(&b.at));
    CutAnswer { reeds: reeds.len(), by, summaries, cuts: all }
}

/// The cuts of one reed.
fn made(facts: &Facts) -> impl Iterator<Item = MadeCut> {
    facts.way.windows(2).filter_map(|pair| {
        let [before, after] = pair else { return None };
        let cut = after.cut()?;
        let changed = after.changed.as_ref();
        Some(MadeCut {
            reed: facts.card.label.clone(),
            step: after.stage.number,
            at: after.at.clone(),
            cut,
            amount_mm: after.amount_mm(),
            before_cents: before.stage.target_cents,
            after_cents: after.stage.target_cents,
            change_cents: changed.and_then(|changed| changed.cents),
            ci95_cents: changed.and_then(|changed| changed.ci95_cents),
            level_adjusted: changed.is_some_and(|changed| changed.level_adjusted),
            octaves_before: changed.and_then(|changed| changed.octaves_before),
            octaves_after: changed.and_then(|changed| changed.octaves_after),
        })
    })
}

fn summary(cut: Cut, value: Option<String>, made: &[&MadeCut]) -> CutSummary {
    let changes: Vec<f64> = made.iter().filter_map(|made| made.change_cents).collect();
    let octaves = |before: bool| {
        let of = made.iter().filter(move |made| made.octaves_before == Some(before));
        Share::of(of.filter_map(move |made| Some(made.octaves_after? != before)))
    };
    CutSummary {
        cut,
        value,
        made: made.len(),
        change_cents: Middle::of(&changes),
        level_adjusted: made.iter().filter(|made| made.level_adjusted).count(),
        rose: Share::of(changes.iter().map(|cents| *cents > 0.0)),
        octaves_came: octaves(false),
        octaves_lost: octaves(true),
        // Only of a clip does everybody say how much.
        per_mm: PerMm::of(made.iter().copied()).filter(|_| cut == Cut::Clip),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clip(mm: f64, cents: f64) -> MadeCut {
        MadeCut {
            reed: "A".into(),
            step: 1,
            at: String::new(),
            cut: Cut::Clip,
            amount_mm: Some(mm),
            before_cents: Some(-30.0),
            after_cents: Some(-30.0 + cents),
            change_cents: Some(cents),
            ci95_cents: None,
            level_adjusted: false,
            octaves_before: Some(true),
            octaves_after: Some(cents < 50.0),
        }
    }

    /// Points (1, 90), (2, 210), (3, 300): slope 1410/14 = 100.714, residuals −10.714, 8.571, −2.143,
    /// their squares 192.86, scatter √96.43 = 9.820; t of 2 degrees of freedom 4.3027 (any table), so ±
    /// 4.3027 · 9.820 / √14 = 11.292. By hand.
    #[test]
    fn the_line_goes_through_nothing_for_nothing() {
        let line = PerMm::of([&clip(1.0, 90.0), &clip(2.0, 210.0), &clip(3.0, 300.0)]).unwrap();
        assert!((line.cents_per_mm - 100.714).abs() < 1e-3, "{line:?}");
        assert!((line.scatter_cents - 9.820).abs() < 1e-3, "{line:?}");
        assert!((line.ci95_cents_per_mm - 11.292).abs() < 2e-3, "{line:?}");
        let (at, half) = line.at(0.0);
        assert!(at == 0.0 && (half - 4.3027 * 9.820).abs() < 0.01, "{half}");
        assert_eq!(PerMm::of([&clip(1.0, 90.0), &clip(2.0, 210.0)]), None);
    }

    #[test]
    fn a_summary_counts_what_was_lost_and_what_rose() {
        let told =
            summary(Cut::Clip, None, &[&clip(0.2, 20.0), &clip(0.4, 60.0), &clip(0.1, -3.0)]);
        assert_eq!(told.made, 3);
        assert_eq!(told.rose.map(|share| (share.count, share.of)), Some((2, 3)));
        assert_eq!(told.octaves_lost.map(|share| (share.count, share.of)), Some((1, 3)));
        assert_eq!(told.octaves_came, None);
        assert_eq!(told.change_cents.map(|middle| middle.median), Some(20.0));
    }
}
