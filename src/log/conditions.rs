//! What makes readings of different days comparable, or not.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::card::Wetness;
use super::{Limited, LogError, Unfit};

/// How a reed was crowed; what nobody said is `None`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Conditions {
    /// Whether the cane was soaked or dry.
    pub state: Option<Wetness>,
    /// How long it was soaked, in minutes.
    pub soaked_min: Option<f64>,
    /// Air, in degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Relative humidity of the air, in percent.
    pub humidity_percent: Option<f64>,
    /// Days on which it has been played.
    pub days_played: Option<f64>,
    /// Hours for which it has been played.
    pub hours_played: Option<f64>,
    /// Who crows.
    pub player: Option<String>,
    /// How: where the lips are, how loud.
    pub how: Option<String>,
}

impl Conditions {
    /// What is said here, and for what is not, what `before` says.
    pub fn over(self, before: &Self) -> Self {
        Self {
            state: self.state.or(before.state),
            soaked_min: self.soaked_min.or(before.soaked_min),
            temperature_c: self.temperature_c.or(before.temperature_c),
            humidity_percent: self.humidity_percent.or(before.humidity_percent),
            days_played: self.days_played.or(before.days_played),
            hours_played: self.hours_played.or(before.hours_played),
            player: self.player.or_else(|| before.player.clone()),
            how: self.how.or_else(|| before.how.clone()),
        }
    }

    /// Errors: a value that cannot be.
    pub fn check(&self) -> Result<(), LogError> {
        for (of, value, least, most) in [
            (Limited::Soaking, self.soaked_min, 0.0, 10_000.0),
            (Limited::Temperature, self.temperature_c, -30.0, 60.0),
            (Limited::Humidity, self.humidity_percent, 0.0, 100.0),
            (Limited::DaysPlayed, self.days_played, 0.0, 10_000.0),
            (Limited::HoursPlayed, self.hours_played, 0.0, 10_000.0),
        ] {
            if let Some(value) = value
                && !(least..=most).contains(&value)
            {
                return Err(Unfit::Condition { of, value, least, most }.into());
            }
        }
        Ok(())
    }

    /// What differs between two sides in a way that moves a crow.
    pub(crate) fn differences(before: &Self, after: &Self) -> Vec<Difference> {
        let far = |of: fn(&Self) -> Option<f64>, least: f64, is: fn(f64, f64) -> Difference| {
            let (a, b) = (of(before)?, of(after)?);
            ((a - b).abs() >= least).then(|| is(a, b))
        };
        let other = |of: fn(&Self) -> Option<&String>, is: fn(String, String) -> Difference| {
            let (a, b) = (of(before)?, of(after)?);
            (a != b).then(|| is(a.clone(), b.clone()))
        };
        let states = before.state.zip(after.state);
        [
            states.filter(|(a, b)| a != b).map(|_| Difference::Wetness),
            far(|c| c.temperature_c, WARMER_C, Difference::Temperature),
            far(|c| c.humidity_percent, DRIER_PERCENT, Difference::Humidity),
            far(|c| c.soaked_min, SOAKED_MIN, Difference::Soaked),
            far(|c| c.hours_played, PLAYED_H, Difference::Played),
            other(|c| c.player.as_ref(), Difference::Player),
            other(|c| c.how.as_ref(), Difference::How),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// What differs between two sides besides the cuts: before and after, where that is more than one word.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Difference {
    /// One was crowed wet, the other dry.
    Wetness,
    Temperature(f64, f64),
    Humidity(f64, f64),
    Soaked(f64, f64),
    Played(f64, f64),
    Player(String, String),
    How(String, String),
}

/// A pipe's pitch moves 3 cents per degree with the speed of sound (Cramer 1993: 31.5 cents from
/// 20 to 30 °C), a crow's less: 3 degrees come near the 5 cents that matter.
const WARMER_C: f64 = 3.0;

/// From where on other air, soaking and playing are told beside a comparison (our choice; no figure
/// of what they do to a crow is known to us).
const DRIER_PERCENT: f64 = 15.0;
const SOAKED_MIN: f64 = 2.0;
const PLAYED_H: f64 = 1.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_said_again_still_holds() {
        let before = Conditions {
            state: Some(Wetness::Wet),
            temperature_c: Some(20.0),
            ..Conditions::default()
        };
        let said = Conditions { temperature_c: Some(24.0), ..Conditions::default() };
        let now = said.over(&before);
        assert_eq!((now.state, now.temperature_c), (Some(Wetness::Wet), Some(24.0)));
        assert_eq!(Conditions::differences(&before, &now).len(), 1);
        assert!(Conditions::differences(&before, &before).is_empty());
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let bad = Conditions { humidity_percent: Some(f64::NAN), ..Conditions::default() };
        assert!(bad.check().is_err());
    }
}
