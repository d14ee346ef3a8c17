//! How good a reed is to whoever plays it: said when it is closed, and again whenever it comes back.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{LogError, Unfit};

choice! {
    /// How good one side of a reed is.
    Grade {
        /// Of no use.
        Poor = "poor",
        /// Not good enough.
        Weak = "weak",
        /// It will do.
        Fair = "fair",
        /// As it should be.
        Good = "good",
        /// As good as they come.
        Fine = "fine",
    }
}

impl Grade {
    /// 1 for poor … 5 for fine.
    pub fn number(self) -> u8 {
        self as u8 + 1
    }
}

choice! {
    /// One side of a reed that is rated.
    Rated {
        /// Whether it plays in tune.
        Pitch = "pitch",
        /// How the low notes speak.
        Low = "low",
        /// How the high notes speak.
        High = "high",
        /// Whether it holds still.
        Stability = "stability",
        /// How it sounds.
        Tone = "tone",
    }
}

/// What was said of a reed at one time; `None` where nothing was.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Rating {
    /// Whether it plays in tune.
    pub pitch: Option<Grade>,
    /// How the low notes speak.
    pub low: Option<Grade>,
    /// How the high notes speak.
    pub high: Option<Grade>,
    /// Whether it holds still.
    pub stability: Option<Grade>,
    /// How it sounds.
    pub tone: Option<Grade>,
    /// How long it was good for, in hours of playing.
    pub lived_hours: Option<f64>,
}

/// No reed is played for so many hours.
const MOST_HOURS: f64 = 1000.0;

impl Rating {
    /// What was said of one side.
    pub fn of(&self, side: Rated) -> Option<Grade> {
        match side {
            Rated::Pitch => self.pitch,
            Rated::Low => self.low,
            Rated::High => self.high,
            Rated::Stability => self.stability,
            Rated::Tone => self.tone,
        }
    }

    /// Where that is kept.
    pub fn of_mut(&mut self, side: Rated) -> &mut Option<Grade> {
        match side {
            Rated::Pitch => &mut self.pitch,
            Rated::Low => &mut self.low,
            Rated::High => &mut self.high,
            Rated::Stability => &mut self.stability,
            Rated::Tone => &mut self.tone,
        }
    }

    /// This, and what it does not say as `earlier` did.
    pub fn over(self, earlier: Self) -> Self {
        Self {
            pitch: self.pitch.or(earlier.pitch),
            low: self.low.or(earlier.low),
            high: self.high.or(earlier.high),
            stability: self.stability.or(earlier.stability),
            tone: self.tone.or(earlier.tone),
            lived_hours: self.lived_hours.or(earlier.lived_hours),
        }
    }

    /// Mean of the grades that were given, 1 … 5; `None` where none was.
    pub fn mean(&self) -> Option<f64> {
        let given = || Rated::ALL.into_iter().filter_map(|side| self.of(side));
        let sum: f64 = given().map(|grade| f64::from(grade.number())).sum();
        (given().count() > 0).then(|| sum / given().count() as f64)
    }

    /// Errors: nothing is said, or a time that cannot be.
    pub fn check(&self) -> Result<(), LogError> {
        match self.lived_hours {
            Some(hours) if !(0.0..=MOST_HOURS).contains(&hours) => Err(Unfit::Lived(hours).into()),
            _ if *self == Self::default() => Err(Unfit::NothingRated.into()),
            _ => Ok(()),
        }
    }
}

/// A rating as the log keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LoggedRating {
    /// How many cuts had been made.
    pub after_step: u32,
    /// When (UTC, ISO 8601).
    pub at: String,
    /// Who said so; `None` for the maker.
    pub rated_by: Option<String>,
    /// What.
    pub rating: Rating,
}

/// What one person said of a reed while it was in one state, a later word over an earlier one.
#[derive(Debug, Clone, PartialEq)]
pub struct RatedBy {
    /// How many cuts had been made.
    pub after_step: u32,
    /// When that was last said.
    pub at: String,
    /// Who; `None` for the maker.
    pub by: Option<String>,
    /// What.
    pub rating: Rating,
}

/// Ratings put together by who gave them, by state and by day, in order of time.
pub(super) fn rated(all: &[LoggedRating]) -> Vec<RatedBy> {
    let mut found: Vec<RatedBy> = Vec::new();
    for logged in all {
        let same = |one: &&mut RatedBy| {
            one.by == logged.rated_by
                && one.after_step == logged.after_step
                && one.at.get(..DAY) == logged.at.get(..DAY)
        };
        match found.iter_mut().rev().find(same) {
            Some(one) => {
                one.rating = logged.rating.over(one.rating);
                one.at.clone_from(&logged.at);
            }
            None => found.push(RatedBy {
                after_step: logged.after_step,
                at: logged.at.clone(),
                by: logged.rated_by.clone(),
                rating: logged.rating,
            }),
        }
    }
    found
}

/// So many letters of a moment are its day: what is said on one day is one rating.
const DAY: usize = 10;

#[cfg(test)]
mod tests {
    use super::*;

    fn logged(at: &str, by: Option<&str>, rating: Rating) -> LoggedRating {
        LoggedRating { after_step: 1, at: at.into(), rated_by: by.map(Into::into), rating }
    }

    #[test]
    fn words_of_one_day_are_one_rating_and_those_of_another_day_are_another() {
        let good = Rating { pitch: Some(Grade::Good), ..Rating::default() };
        let low = Rating { low: Some(Grade::Fine), ..Rating::default() };
        let poor = Rating { pitch: Some(Grade::Poor), lived_hours: Some(12.0), ..low };
        let all = [
            logged("2024-03-01T10:00:00Z", None, good),
            logged("2024-03-01T10:00:05Z", None, low),
            logged("2024-03-01T11:00:00Z", Some("Mirek"), poor),
            logged("2024-03-20T09:00:00Z", None, poor),
        ];
        let found = rated(&all);
        assert_eq!(found.len(), 3);
        let fine = Some(Grade::Fine);
        assert_eq!(found[0].rating, Rating { low: fine, ..good });
        assert_eq!(found[0].rating.mean(), Some(4.5));
        assert_eq!(found[2].rating, Rating { low: fine, ..poor });
    }

    #[test]
    fn an_empty_rating_and_a_life_that_cannot_be_are_refused() {
        assert!(Rating::default().check().is_err());
        for hours in [-1.0, f64::NAN, 1e6] {
            assert!(Rating { lived_hours: Some(hours), ..Rating::default() }.check().is_err());
        }
        assert!(Rating { lived_hours: Some(0.0), ..Rating::default() }.check().is_ok());
        assert!(serde_json::from_str::<Rating>(r#"{"pitch":"superb"}"#).is_err());
    }
}
