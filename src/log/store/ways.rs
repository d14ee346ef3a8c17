//! What questions over many reeds rest on: each reed's way, reckoned once and kept in few letters until
//! anything of the reed is written, so that ten thousand reeds answer within a second.

mod kept;

use std::cell::OnceCell;
use std::hash::{DefaultHasher, Hash, Hasher};

use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use serde::de::DeserializeOwned;

use super::Log;
use super::exported::PassedOver;
use super::outline::{Broken, outline, word};
use super::reeds::{Reeds, history, standing};
use super::rows::REED;
use crate::advice::{Advice, Practice};
use crate::log::LogError;
use crate::log::card::Card;
use crate::log::conditions::Conditions;
use crate::log::effects::effects;
use crate::log::facts::Facts;
use crate::log::history::{LoggedReed, PROGRAM};
use crate::log::known::{Known, advised_last};
use crate::profile::{Blowing, Profile};
use kept::Way;

/// Counts up with every change of what is reckoned here or of how it is kept.
const RECKONING: u32 = 4;

/// From how many reeds on it is worth writing down what was reckoned: a question is no reason to write to
/// the log of a few, which takes longer than to reckon them again.
pub const WORTH_KEEPING: u32 = 64;

/// * `blowing`: what every change of pitch in it rests on.
fn reckoned_by(blowing: Option<Blowing>) -> String {
    let known = blowing.map(|known| format!("/{}/{}", known.cents_per_db, known.sd));
    format!("{PROGRAM}/{RECKONING}{}", known.unwrap_or_default())
}

impl Log {
    /// The reeds that `wanted` picks, in the order in which they were entered, as questions see them.
    pub fn facts(&self, wanted: impl Fn(&LoggedReed) -> bool) -> Result<Reeds<Facts>, LogError> {
        let blowing = self.blowing()?;
        let missing: u32 = self.connection.query_row(
            "SELECT count(*) FROM reed WHERE gone = 0 AND id NOT IN \
             (SELECT reed_id FROM way WHERE reckoned_by = ?1)",
            [reckoned_by(blowing)],
            |row| row.get(0),
        )?;
        if missing >= WORTH_KEEPING
            // Nobody may write between what is read and what is kept of it. Where the log cannot be
            // written, the question is answered all the same.
            && let Ok(writing) =
                Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)
        {
            let found = facts(&writing, &wanted, blowing, true)?;
            let _ = writing.commit();
            return Ok(found);
        }
        facts(&*self.connection.unchecked_transaction()?, &wanted, blowing, false)
    }

    /// The next move on each reed it is asked for; `None` where nobody can say, since it was not blown since
    /// the last cut, or its profile cannot be read.
    ///
    /// * `held_to`: the profile of a card.
    pub fn next_moves<'a>(
        &'a self,
        held_to: impl Fn(&Card) -> Option<Profile> + 'a,
    ) -> impl Fn(&Facts) -> Option<Advice> + 'a {
        // What past cuts did is asked only where a move is to be reckoned.
        let past = OnceCell::new();
        move |facts| {
            let (label, profile) = (&facts.card.label, held_to(&facts.card)?);
            let reckon = || {
                let history = self.history(label).ok()?;
                let told = advised_last(&history, &profile).cloned();
                let past = past.get_or_init(|| {
                    self.facts(|_| true).map(|reeds| effects(&reeds.whole)).unwrap_or_default()
                });
                told.or_else(|| Known::of(&history, past).advise(&profile))
            };
            self.next_move(label, &profile, reckon).ok()?
        }
    }

    /// The next move on a reed, as it was when anything of the reed was last written or asked; what cuts
    /// on other reeds taught since is not in it.
    fn next_move(
        &self,
        label: &str,
        profile: &Profile,
        reckon: impl FnOnce() -> Option<Advice>,
    ) -> Result<Option<Advice>, LogError> {
        let mut hasher = DefaultHasher::new();
        // A profile of the maker's own may be written anew at any time.
        format!("{profile:?}").hash(&mut hasher);
        Practice::in_use().fingerprint().hash(&mut hasher);
        let by = format!("{}/{:x}", reckoned_by(None), hasher.finish());
        let Some(id) = standing(&self.connection, label)? else { return Ok(None) };
        let kept: Option<String> = self
            .connection
            .prepare_cached("SELECT advice FROM next_move WHERE reed_id = ?1 AND reckoned_by = ?2")?
            .query_row(params![id, by], |row| row.get(0))
            .optional()?;
        if let Some(advice) = kept.and_then(|kept| serde_json::from_str(&kept).ok()) {
            return Ok(Some(advice));
        }
        let version = self.seen_version()?;
        let found = reckon();
        if let Some(text) = found.as_ref().and_then(|advice| serde_json::to_string(advice).ok())
            && let Ok(writing) =
                Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)
            // Of a reed that another program wrote to meanwhile it is not kept.
            && self.seen_version()? == version
        {
            let sql = "INSERT OR REPLACE INTO next_move VALUES (?1, ?2, ?3)";
            if writing.execute(sql, params![id, by, text]).is_ok() {
                let _ = writing.commit();
            }
        }
        Ok(found)
    }
}

fn facts(
    view: &Connection,
    wanted: &impl Fn(&LoggedReed) -> bool,
    blowing: Option<Blowing>,
    keep: bool,
) -> Result<Reeds<Facts>, LogError> {
    let mut statement = view.prepare(
        "SELECT reed.id, uid, at, label, owner, maker, profile, a4_hz, cane, gouge_mm, gouge_state, \
         shape, staple, thread, made_on, complaint, due_on, ending, ending_note, ended_at, \
         conditions_at, way, conditions FROM reed LEFT JOIN way ON way.reed_id = reed.id AND reckoned_by = ?1 \
         WHERE gone = 0 ORDER BY reed.id",
    )?;
    let mut rows = statement.query([reckoned_by(blowing)])?;
    let mut found = Reeds::default();
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        let read = card(row).and_then(|reed| match wanted(&reed) {
            true => facts_of(view, (id, row), reed, blowing, keep).map(Some),
            false => Ok(None),
        });
        match read {
            Ok(facts) => found.whole.extend(facts),
            Err(Broken) => found.passed_over.extend(why(view, id)?),
        }
    }
    Ok(found)
}

fn facts_of(
    view: &Connection,
    (id, row): (i64, &Row<'_>),
    reed: LoggedReed,
    blowing: Option<Blowing>,
    keep: bool,
) -> Result<Facts, Broken> {
    if let Some(kept) = row.get_ref(21)?.as_str_or_null().map_err(|_| Broken)?
        && let Ok(way) = serde_json::from_str::<Way>(kept)
    {
        return Ok(way.of(reed));
    }
    let facts = Facts::of(&outline(view, id, reed, blowing)?);
    if keep && let Ok(text) = serde_json::to_string(&Way::from(&facts)) {
        view.prepare_cached("INSERT OR REPLACE INTO way VALUES (?1, ?2, ?3)")?.execute(params![
            id,
            reckoned_by(blowing),
            text
        ])?;
    }
    Ok(facts)
}

/// Why a reed cannot be read; `None` where it can after all, and only its outline could not.
fn why(view: &Connection, id: i64) -> Result<Option<PassedOver>, LogError> {
    let label = view
        .query_row("SELECT CAST(label AS TEXT) FROM reed WHERE id = ?1", [id], |row| row.get(0))
        .unwrap_or_else(|_| "?".to_owned());
    let read =
        REED.get(view, id).and_then(|kept| kept.map(|kept| history(view, &kept)).transpose());
    match read {
        Ok(_) => Ok(None),
        Err(error) => Ok(Some(PassedOver::new(label, error)?)),
    }
}

/// A card, without how the reed is crowed, which no question asks.
fn card(row: &Row<'_>) -> Result<LoggedReed, Broken> {
    fn named<T: DeserializeOwned>(row: &Row<'_>, column: usize) -> Result<Option<T>, Broken> {
        row.get_ref(column)?.as_str_or_null().map_err(|_| Broken)?.map(word).transpose()
    }
    let card = Card {
        label: row.get(3)?,
        owner: row.get(4)?,
        maker: row.get(5)?,
        profile: row.get(6)?,
        a4_hz: row.get(7)?,
        cane: row.get(8)?,
        gouge_mm: row.get(9)?,
        gouge_state: named(row, 10)?,
        shape: row.get(11)?,
        staple: row.get(12)?,
        thread: row.get(13)?,
        made_on: row.get(14)?,
        complaint: row.get(15)?,
        due_on: row.get(16)?,
        ending: named(row, 17)?,
        ending_note: row.get(18)?,
    };
    Ok(LoggedReed {
        uid: row.get(1)?,
        at: row.get(2)?,
        card,
        ended_at: row.get(19)?,
        conditions: row
            .get_ref(22)?
            .as_str_or_null()
            .map_err(|_| Broken)?
            .map(serde_json::from_str::<Conditions>)
            .transpose()?,
        conditions_at: row.get(20)?,
    })
}
