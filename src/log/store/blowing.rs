//! What blowing does to the pitch in the crows of the log.

use std::collections::BTreeMap;

use rusqlite::Connection;

use super::Log;
use super::outline::CrowOutline;
use crate::log::LogError;
use crate::log::blowing::{OfReed, blowing as learned};
use crate::profile::{Blowing, Profile};

/// So many takes are asked, the newest first: more tell nothing new and take longer.
const TAKES: u32 = 300;

impl Log {
    /// What blowing does to the pitch, where the crows of this log tell it.
    pub fn blowing(&self) -> Result<Option<Blowing>, LogError> {
        self.blowing_in(&self.connection)
    }

    /// The same, of what `view` of this log sees.
    pub(super) fn blowing_in(&self, view: &Connection) -> Result<Option<Blowing>, LogError> {
        let last =
            view.query_row("SELECT coalesce(max(id), 0) FROM change", [], |row| row.get(0))?;
        if let Some((_, known)) = self.blowing.get().filter(|kept| kept.0 == last) {
            return Ok(known);
        }
        let found = blowing(view)?;
        self.blowing.set(Some((last, found)));
        Ok(found)
    }
}

/// Level in decibels and pitch in cents of each crow that has both and stands in the octave of the first.
fn levels_and_cents(crows: &[CrowOutline]) -> Vec<(f64, f64)> {
    // Farther off within one take it is another sound, not another breath, in cents (our choice).
    const FAR: f64 = 150.0;
    let each = || crows.iter().filter_map(|(_, hz, _, _, _, _, level)| Some(((*level)?, (*hz)?)));
    let first = each().next().map_or(1.0, |crow| crow.1);
    let cents = each().map(|(level, hz)| (level, 1200.0 * (hz / first).log2()));
    cents.filter(|crow| crow.0.is_finite() && crow.1.abs() < FAR).collect()
}

/// What cannot be read tells nothing.
fn blowing(view: &Connection) -> Result<Option<Blowing>, LogError> {
    let mut statement = view.prepare_cached(
        "SELECT reading.reed_id, outline.crows FROM reading \
         JOIN outline ON outline.reading_id = reading.id \
         WHERE reading.gone = 0 AND NOT EXISTS (SELECT 1 FROM reading AS later \
         WHERE later.take_id = reading.take_id AND later.gone = 0 AND later.id > reading.id) \
         ORDER BY reading.id DESC LIMIT ?1",
    )?;
    let mut rows = statement.query([TAKES])?;
    let mut reeds: BTreeMap<i64, OfReed> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let Ok(text) = row.get_ref(1)?.as_str() else { continue };
        let Ok(crows) = serde_json::from_str::<Vec<CrowOutline>>(text) else { continue };
        reeds.entry(row.get(0)?).or_default().add(&levels_and_cents(&crows));
    }
    let reeds: Vec<OfReed> = reeds.into_values().collect();
    Ok(learned(&reeds, Profile::default().advice.level_slope_cents_per_db))
}
