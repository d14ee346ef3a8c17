//! What a cut does to the pitch, learned from every cut in the log: of all reeds, this maker's, this
//! cane's, this reed's.
//!
//! The effect of a millimetre (or of one round of scraping) is a Gaussian hierarchy with known
//! variances: all reeds → maker → cane → reed → cut. So what is known of the next cut has a closed
//! form, passed up and down the tree (checked against a dense Gaussian regression of scipy's,
//! `fixtures/made/rates.py` makes the values).

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::reed::Cut;

/// One cut that was crowed before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct PastCut {
    /// Who made the reed; empty where it is not known.
    pub maker: String,
    /// Of which cane.
    pub cane: String,
    /// Which reed.
    pub reed: String,
    /// How much of it: millimetres of a clip, else 1.
    pub amount: f64,
    /// What the pitch did, in cents.
    pub cents: f64,
    /// How well that is known (standard deviation, cents).
    pub cents_sd: f64,
}

/// What one kind of cut did, on the median over past reeds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Effect {
    /// Which cut.
    pub cut: Cut,
    /// Cuts with a pitch before and after.
    pub count: usize,
    /// Change of pitch per cut, in cents; negative is down. Each is what a comparison of the crows
    /// before and after tells.
    pub pitch_cents: Option<f64>,
    /// Of those cuts, the ones after which the pitch was higher.
    #[serde(default)]
    pub pitch_rose: usize,
    /// Of those cuts, the ones whose change of pitch is told at one blowing strength.
    #[serde(default)]
    pub level_adjusted: usize,
    /// Change of pitch per millimetre clipped, in cents, where the amount is known.
    pub pitch_cents_per_mm: Option<f64>,
    /// Cuts after which octaves were in order, of those before which they were not, 0 … 1.
    pub octaves_came: Option<f64>,
    /// Those before which they were not.
    #[serde(default)]
    pub without_octaves: usize,
    /// Cuts after which octaves were no longer in order, of those before which they were, 0 … 1.
    #[serde(default)]
    pub octaves_lost: Option<f64>,
    /// Those before which they were.
    #[serde(default)]
    pub with_octaves: usize,
}

/// What past cuts did. Empty by default.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Effects {
    /// One entry for each kind of cut there is a history of.
    pub cuts: Vec<Effect>,
    /// Every cut that was crowed before and after, for what the next one does to the pitch.
    #[serde(skip)]
    pub past: Vec<(Cut, PastCut)>,
}

/// Whose next cut is asked for.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Whose {
    /// Who made the reed.
    pub maker: String,
    /// Of which cane.
    pub cane: String,
    /// Which reed.
    pub reed: String,
}

/// What is known of an effect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Cents for a unit of the cut.
    pub mean: f64,
    /// How well that is known for this reed (standard deviation).
    pub sd: f64,
    /// How many cuts it rests on besides the prior.
    pub cuts: usize,
}

/// How effects differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Mean before any cut.
    pub mean: f64,
    /// How well that is known.
    pub sd: f64,
    /// Between makers.
    pub maker: f64,
    /// Between canes of a maker.
    pub cane: f64,
    /// Between reeds of a cane.
    pub reed: f64,
    /// Of the amount cut, from cut to cut.
    pub amount: f64,
    /// Of the crow, from cut to cut, in cents.
    pub cents: f64,
}

/// Precision and precision-weighted mean: what is said of a quantity.
#[derive(Debug, Clone, Copy, Default)]
struct Said {
    precision: f64,
    weighted: f64,
}

impl Said {
    fn of(mean: f64, variance: f64) -> Self {
        let precision = 1.0 / variance.max(1e-9);
        Self { precision, weighted: precision * mean }
    }

    fn and(self, other: Self) -> Self {
        Self {
            precision: self.precision + other.precision,
            weighted: self.weighted + other.weighted,
        }
    }

    /// What it says of a quantity that differs from this one with `variance`.
    fn through(self, variance: f64) -> Self {
        let loss = 1.0 + variance * self.precision;
        Self { precision: self.precision / loss, weighted: self.weighted / loss }
    }
}

/// Cuts that moved the pitch by more than so many standard deviations from what was to be expected
/// are slips of the ruler or another octave, not cuts (our choice).
const SLIP: f64 = 4.5;

/// What the next cut of `whose` reed does, a unit of it.
pub fn rate(spread: &Spread, past: &[PastCut], whose: &Whose) -> Rate {
    let noise = |cut: &PastCut| {
        let of_amount = spread.amount * spread.mean;
        cut.cents_sd.powi(2) + spread.cents.powi(2) + of_amount.powi(2)
    };
    let between = [spread.sd, spread.maker, spread.cane, spread.reed];
    let all_variance: f64 = between.iter().map(|sd| sd * sd).sum();
    let is_plausible = |cut: &&PastCut| {
        let sd = (cut.amount.powi(2) * all_variance + noise(cut)).sqrt();
        cut.amount > 0.0
            && (cut.cents - cut.amount * spread.mean).abs() <= SLIP * sd
            && cut.cents_sd.is_finite()
    };
    let mut tree: BTreeMap<&str, BTreeMap<&str, BTreeMap<&str, Said>>> = BTreeMap::new();
    let mut cuts = 0;
    for cut in past.iter().filter(is_plausible) {
        cuts += 1;
        let said = Said::of(cut.cents / cut.amount, noise(cut) / cut.amount.powi(2));
        let reeds = tree.entry(&cut.maker).or_default().entry(&cut.cane).or_default();
        let reed = reeds.entry(&cut.reed).or_default();
        *reed = reed.and(said);
    }
    let (of_maker, of_cane, of_reed) =
        (spread.maker.powi(2), spread.cane.powi(2), spread.reed.powi(2));
    // Up, leaving this reed's branch out at each height, and down along it.
    let up_reeds = |reeds: &BTreeMap<&str, Said>, but: Option<&str>| {
        let others = reeds.iter().filter(|(name, _)| Some(**name) != but);
        others.fold(Said::default(), |sum, (_, said)| sum.and(said.through(of_reed)))
    };
    let up_canes = |canes: &BTreeMap<&str, BTreeMap<&str, Said>>, but: Option<&str>| {
        let others = canes.iter().filter(|(name, _)| Some(**name) != but);
        others.fold(Said::default(), |sum, (_, reeds)| {
            sum.and(up_reeds(reeds, None).through(of_cane))
        })
    };
    let own_canes = tree.get(whose.maker.as_str());
    let own_reeds = own_canes.and_then(|canes| canes.get(whose.cane.as_str()));
    let own = own_reeds.and_then(|reeds| reeds.get(whose.reed.as_str()));
    let others = tree.iter().filter(|(name, _)| **name != whose.maker);
    let all = others.fold(Said::of(spread.mean, spread.sd.powi(2)), |sum, (_, canes)| {
        sum.and(up_canes(canes, None).through(of_maker))
    });
    let at_maker = all
        .through(of_maker)
        .and(own_canes.map_or(Said::default(), |canes| up_canes(canes, Some(&whose.cane))));
    let at_cane = at_maker
        .through(of_cane)
        .and(own_reeds.map_or(Said::default(), |reeds| up_reeds(reeds, Some(&whose.reed))));
    let known = at_cane.through(of_reed).and(own.copied().unwrap_or_default());
    Rate { mean: known.weighted / known.precision, sd: known.precision.recip().sqrt(), cuts }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPREAD: Spread = Spread {
        mean: 85.0,
        sd: 33.0,
        maker: 10.0,
        cane: 10.0,
        reed: 14.0,
        amount: 0.03,
        cents: 5.0,
    };

    fn cut(maker: &str, cane: &str, reed: &str, amount: f64, cents: f64) -> PastCut {
        PastCut {
            maker: maker.into(),
            cane: cane.into(),
            reed: reed.into(),
            amount,
            cents,
            cents_sd: 4.0,
        }
    }

    #[test]
    fn without_cuts_it_is_the_prior_and_cuts_of_this_reed_count_most() {
        let whose = Whose { maker: "A".into(), cane: "B".into(), reed: "1".into() };
        let prior = rate(&SPREAD, &[], &whose);
        let all = [33.0_f64, 10.0, 10.0, 14.0].map(|sd| sd * sd).iter().sum::<f64>().sqrt();
        assert!((prior.mean - 85.0).abs() < 1e-9 && (prior.sd - all).abs() < 1e-9);
        let own = rate(&SPREAD, &[cut("A", "B", "1", 0.3, 15.0)], &whose);
        let other = rate(&SPREAD, &[cut("Z", "Y", "9", 0.3, 15.0)], &whose);
        assert!(own.mean < other.mean && other.mean < prior.mean);
        assert!(own.sd < other.sd && other.sd < prior.sd);
    }

    /// Made by fixtures/made/rates.py: a dense Gaussian regression with scipy 1.17, nine digits.
    #[test]
    fn the_tree_matches_a_dense_gaussian_regression() {
        let made: serde_json::Value =
            serde_json::from_str(include_str!("../../fixtures/made/rates.json")).unwrap();
        let number = |value: &serde_json::Value, name: &str| value[name].as_f64().unwrap();
        let text = |value: &serde_json::Value, name: &str| value[name].as_str().unwrap().to_owned();
        let spread = Spread {
            mean: number(&made["spread"], "mean"),
            sd: number(&made["spread"], "sd"),
            maker: number(&made["spread"], "maker"),
            cane: number(&made["spread"], "cane"),
            reed: number(&made["spread"], "reed"),
            amount: number(&made["spread"], "amount"),
            cents: number(&made["spread"], "cents"),
        };
        for case in made["cases"].as_array().unwrap() {
            let past: Vec<PastCut> = case["past"]
                .as_array()
                .unwrap()
                .iter()
                .map(|of| PastCut {
                    maker: text(of, "maker"),
                    cane: text(of, "cane"),
                    reed: text(of, "reed"),
                    amount: number(of, "amount"),
                    cents: number(of, "cents"),
                    cents_sd: number(of, "cents_sd"),
                })
                .collect();
            let of = &case["whose"];
            let whose =
                Whose { maker: text(of, "maker"), cane: text(of, "cane"), reed: text(of, "reed") };
            let known = rate(&spread, &past, &whose);
            assert_eq!(known.cuts, past.len());
            for (found, expected) in
                [(known.mean, number(case, "mean")), (known.sd, number(case, "sd"))]
            {
                assert!((found - expected).abs() < 1e-6 * expected, "{found} {expected} {whose:?}");
            }
        }
    }

    #[test]
    fn a_slip_of_the_ruler_teaches_nothing() {
        let whose = Whose::default();
        let slip = rate(&SPREAD, &[cut("", "", "", 0.3, 600.0)], &whose);
        assert_eq!(slip, rate(&SPREAD, &[], &whose));
    }
}
