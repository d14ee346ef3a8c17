//! Whether a crow changes as the reed rests, is played, is soaked, or the air changes.

use std::collections::BTreeMap;

use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::{FEWEST, Share, Told};
use crate::dsp::statistics::{mean, median, t_975};
use crate::log::facts::{Facts, Heard, Phase};

choice! {
    /// What may move a crow besides a cut.
    Condition {
        /// Hours for which it was played.
        HoursPlayed,
        /// Hours since the last cut.
        HoursRested,
        /// Minutes of soaking.
        Soaked,
        /// Temperature of the air.
        Temperature,
        /// Humidity of the air.
        Humidity,
    }
}

impl Condition {
    /// What holds of a take; `None` where nobody said.
    fn of(self, heard: &Heard, phase: &Phase) -> Option<f64> {
        let said = heard.conditions.as_ref();
        match self {
            Self::HoursPlayed => said?.hours_played,
            Self::Soaked => said?.soaked_min,
            Self::Temperature => said?.temperature_c,
            Self::Humidity => said?.humidity_percent,
            Self::HoursRested => {
                let (from, to): (Timestamp, Timestamp) =
                    (phase.at.parse().ok()?, heard.at.parse().ok()?);
                Some((to - from).as_secs_f64() / 3600.0)
            }
        }
    }
}

/// One take's place in an influence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Point {
    /// Its reed.
    pub reed: String,
    /// When it was added.
    pub at: String,
    /// The condition's value.
    pub value: f64,
    /// That value less its mean over the takes of the same reed between the same two cuts.
    pub from_mean: f64,
    /// Its pitch less the mean of its reed between the same two cuts, in cents.
    pub cents: f64,
}

/// How the pitch goes with one condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Influence {
    /// Which condition.
    pub condition: Condition,
    /// Takes it rests on.
    pub takes: usize,
    /// Reeds between two cuts that were crowed more than once under different conditions.
    pub phases: usize,
    /// Cents per unit of the condition; `None` where too few say.
    pub cents_per_unit: Option<f64>,
    /// Half width of its 95 % interval.
    pub ci95: Option<f64>,
    /// Whether the pitch rises or falls with it.
    pub told: Told,
    /// In octaves, of the takes in the lower half of the condition's values.
    pub octaves_low: Option<Share>,
    /// The same of the upper half.
    pub octaves_high: Option<Share>,
    /// The takes, in order of their values.
    pub points: Vec<Point>,
}

/// How pitch and octaves go with each condition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ConditionAnswer {
    /// Reeds looked at.
    pub reeds: usize,
    /// One entry for each condition that any take tells.
    pub influences: Vec<Influence>,
}

/// How pitch and octaves go with each of `which`.
///
/// Only takes of one reed between the same two cuts are held against each other, so that no cut and no
/// other reed is taken for the weather: pitch and condition count from their means there, and one slope
/// is fitted through all (analysis of covariance; Snedecor & Cochran, Statistical Methods, chapter 18,
/// from memory).
pub fn conditions(reeds: &[Facts], which: &[Condition]) -> ConditionAnswer {
    let influences = which.iter().map(|condition| influence(reeds, *condition));
    ConditionAnswer {
        reeds: reeds.len(),
        influences: influences.filter(|influence| influence.takes > 0).collect(),
    }
}

fn influence(reeds: &[Facts], condition: Condition) -> Influence {
    let mut points = Vec::new();
    let mut octaves = Vec::new();
    let (mut xx, mut xy, mut yy, mut phases) = (0.0, 0.0, 0.0, 0usize);
    for facts in reeds {
        for phase in &facts.way {
            let heard =
                || phase.heard.iter().filter_map(|take| Some((take, condition.of(take, phase)?)));
            octaves.extend(heard().filter_map(|(take, value)| Some((value, take.in_octaves?))));
            let with_pitch: Vec<(&Heard, f64, f64)> =
                heard().filter_map(|(take, value)| Some((take, value, take.cents?))).collect();
            let each = |of: fn(&(&Heard, f64, f64)) -> f64| -> Vec<f64> {
                with_pitch.iter().map(of).collect()
            };
            let (values, cents) = (each(|t| t.1), each(|t| t.2));
            let (Some(middle), Some(pitch)) = (mean(&values), mean(&cents)) else { continue };
            if values.iter().all(|value| *value == middle) {
                continue;
            }
            phases += 1;
            for (take, value, cents) in with_pitch {
                let (x, y) = (value - middle, cents - pitch);
                xx += x * x;
                xy += x * y;
                yy += y * y;
                let (reed, at) = (facts.card.label.clone(), take.at.clone());
                points.push(Point { reed, at, value, from_mean: x, cents: y });
            }
        }
    }
    points.sort_by(|a, b| a.value.total_cmp(&b.value));
    let freedom = points.len() as f64 - phases as f64 - 1.0;
    let slope = (points.len() >= FEWEST && freedom >= 2.0 && xx > 0.0).then(|| xy / xx);
    let ci95 = slope.map(|slope| {
        let variance = (yy - slope * xy).max(0.0) / freedom;
        t_975(freedom) * (variance / xx).sqrt()
    });
    let told = match (slope, ci95) {
        (Some(slope), Some(half)) if slope > half => Told::More,
        (Some(slope), Some(half)) if slope < -half => Told::Less,
        _ => Told::CannotTell,
    };
    let (octaves_low, octaves_high) = halves(&octaves);
    Influence {
        condition,
        takes: points.len(),
        phases,
        cents_per_unit: slope,
        ci95,
        told,
        octaves_low,
        octaves_high,
        points,
    }
}

/// Shares in octaves under and from the middle value on.
fn halves(takes: &[(f64, bool)]) -> (Option<Share>, Option<Share>) {
    let Some(middle) = median(takes.iter().map(|(value, _)| *value)) else {
        return (None, None);
    };
    let mut halves: BTreeMap<bool, Vec<bool>> = BTreeMap::new();
    for (value, in_octaves) in takes {
        halves.entry(*value >= middle).or_default().push(*in_octaves);
    }
    let mut of = |upper| halves.remove(&upper).and_then(Share::of);
    (of(false), of(true))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::card::Card;
    use crate::log::conditions::Conditions;
    use crate::log::timeline::Stage;

    /// One reed crowed at these temperatures, at these pitches.
    fn reed(takes: &[(f64, f64)]) -> Facts {
        let heard = |(degrees, cents): &(f64, f64)| Heard {
            at: "2026-03-01T10:00:00.000Z".into(),
            cents: Some(*cents),
            in_octaves: Some(*cents > 0.0),
            conditions: Some(Conditions { temperature_c: Some(*degrees), ..Conditions::default() }),
        };
        let at = "2026-03-01T09:00:00.000Z".to_owned();
        let phase = Phase {
            stage: Stage::default(),
            at: at.clone(),
            changed: None,
            advised: None,
            heard: takes.iter().map(heard).collect(),
        };
        Facts {
            uid: String::new(),
            card: Card::new("A"),
            at: at.clone(),
            ended_at: None,
            last_at: at,
            way: vec![phase],
        }
    }

    /// Both reeds rise by 2 cents a degree from where they are; between them lies nothing but that one
    /// is another reed. A line through all six points would fall.
    #[test]
    fn what_another_reed_is_like_is_not_taken_for_the_weather() {
        let warm = reed(&[(25.0, -60.1), (26.0, -58.0), (27.0, -55.9)]);
        let cold = reed(&[(15.0, 20.0), (16.0, 22.1), (17.0, 23.9)]);
        let answer = conditions(&[warm, cold], &[Condition::Temperature, Condition::Humidity]);
        assert_eq!(answer.influences.len(), 1);
        let found = &answer.influences[0];
        assert!((found.cents_per_unit.unwrap() - 2.0).abs() < 0.1, "{found:?}");
        assert_eq!((found.takes, found.phases, found.told), (6, 2, Told::More));
        assert_eq!(found.octaves_low.map(|share| share.count), Some(3));
        assert_eq!(found.octaves_high.map(|share| share.count), Some(0));
    }

    #[test]
    fn few_takes_tell_nothing() {
        let answer = conditions(&[reed(&[(15.0, 1.0), (20.0, 11.0)])], &Condition::ALL);
        let found = &answer.influences[0];
        assert_eq!((found.told, found.cents_per_unit), (Told::CannotTell, None));
    }
}
