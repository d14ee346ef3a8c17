//! How good reeds are said to be.

use super::Log;
use super::change::{Did, now};
use super::exported::PassedOver;
use super::reeds::{Reeds, find, history, stage};
use super::rows::{RATING, REED, of, to_row};
use super::sense::from_row;
use crate::log::LogError;
use crate::log::history::{History, LoggedReed};
use crate::log::rating::{LoggedRating, Rating};

impl Log {
    /// Writes down how good a reed is, closed or open.
    ///
    /// * `by`: who says so; `None` for the maker.
    pub fn rate(
        &mut self,
        label: &str,
        rating: &Rating,
        by: Option<String>,
    ) -> Result<(), LogError> {
        rating.check()?;
        let by = by.map(|by| by.trim().to_owned()).filter(|by| !by.is_empty());
        let writing = self.write()?;
        let reed = find(writing.connection(), label)?.id;
        let logged = LoggedRating {
            after_step: stage(writing.connection(), reed)?,
            at: now(writing.connection())?,
            rated_by: by,
            rating: *rating,
        };
        let change = writing.change(Some(reed), &Did::Rated(rating), None)?;
        change.insert(&RATING, &of(reed, to_row(&logged)?))?;
        writing.commit()
    }

    /// Everything of the reeds that were rated and that `wanted` picks.
    pub fn rated(&self, wanted: impl Fn(&LoggedReed) -> bool) -> Result<Reeds<History>, LogError> {
        let view = self.connection.unchecked_transaction()?;
        let (mut reeds, blowing) = (Reeds::default(), self.blowing_in(&view)?);
        let filter = "gone = 0 AND id IN (SELECT reed_id FROM rating WHERE gone = 0)";
        for kept in REED.select(&view, filter, [])? {
            let label = kept.row.get("label").and_then(serde_json::Value::as_str).unwrap_or("?");
            match from_row(&REED, &kept) {
                Ok(reed) if !wanted(&reed) => {}
                _ => match history(&view, &kept) {
                    Ok(history) => reeds.whole.push(History { blowing, ..history }),
                    Err(error) => reeds.passed_over.push(PassedOver::new(label.into(), error)?),
                },
            }
        }
        Ok(reeds)
    }
}
