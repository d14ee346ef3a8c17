//! Which reed is on the bench: found, next, new, or like the one before.

use super::screen::asked;
use super::state::Beside;
use crate::clock;
use crate::comparison::compare;
use crate::log::{Card, CardField, History, Log, LogError};
use crate::pitch::A4;
use crate::profile::{self, Profile};
use crate::words::bench as words;
use crate::words::commands::due_is_past;
use crate::words::comparison::beside;

/// The label as its card has it, of a reed that is open.
///
/// Errors: no such reed, or a closed one.
pub fn open_label(log: &Log, label: &str) -> Result<String, LogError> {
    let card = log.reed(label)?.card;
    match card.ending {
        None => Ok(card.label),
        Some(_) => Err(LogError::Closed(card.label)),
    }
}

/// The open reed entered next after `here`, round and round; `None` where there is no other.
pub fn next_label(log: &Log, here: Option<&str>) -> Result<Option<String>, LogError> {
    let reeds = log.reeds()?;
    let open: Vec<&str> = reeds
        .iter()
        .filter(|reed| reed.card.ending.is_none())
        .map(|reed| reed.card.label.as_str())
        .collect();
    let place = open.iter().position(|label| Some(*label) == here);
    let next = place.map_or(0, |place| (place + 1) % open.len().max(1));
    Ok(open.get(next).filter(|label| Some(**label) != here).map(|label| (*label).to_owned()))
}

/// Enters a reed with the card of another: cane, shape, gouge, staple and owner are carried on, what
/// belongs to the one reed alone is not.
pub fn add_like(log: &mut Log, other: &str, label: String) -> Result<(), LogError> {
    let card = log.reed(other)?.card;
    log.add(&Card {
        label,
        complaint: None,
        made_on: None,
        thread: None,
        ending: None,
        ending_note: None,
        ..card
    })
}

/// Writes what is said on the card of a reed.
///
/// Errors: no profile of that name can be read, or no pitch of A4 is said; nothing is written then.
pub fn write_card(log: &mut Log, label: &str, field: CardField, said: &str) -> anyhow::Result<()> {
    if field == CardField::Kind {
        profile::load(said)?;
    }
    let mut written = log.reed(label)?.card;
    field.write(&mut written, said.to_owned())?;
    log.edit(label, |card| *card = written)?;
    Ok(())
}

/// That a field of the card is written, and where its day is over, that too.
pub fn on_the_card(field: CardField, said: &str) -> String {
    let written = words::on_the_card(field, said);
    match field == CardField::Due && clock::is_past(said) {
        true => format!("{written} {}", due_is_past(said)),
        false => written,
    }
}

/// What a card holds its reed to, with the ear that its maker has taught; what it does not say is as
/// `usual`.
///
/// Errors: a profile that can no longer be read, or an A4 that is none.
pub fn held_to(log: &Log, card: &Card, usual: &(Profile, A4)) -> anyhow::Result<(Profile, A4)> {
    let mut profile = match &card.profile {
        Some(name) => profile::load(name)?,
        None => usual.0.clone(),
    };
    profile.ear = log.ear(&profile.name)?;
    profile.blowing = log.blowing()?;
    Ok((profile, card.a4_hz.map(A4::new).transpose()?.unwrap_or(usual.1)))
}

/// How a reed stands beside the model of its kind; `None` where none was named.
pub fn beside_model(
    log: &Log,
    history: &History,
    profile: &Profile,
) -> Result<Option<Beside>, LogError> {
    let Some(label) = log.model(&profile.name)? else { return Ok(None) };
    let own = history.readings_at(history.stage()).into_iter().cloned().collect::<Vec<_>>();
    if label == history.reed.card.label || own.is_empty() {
        return Ok(Some(Beside { label, told: Vec::new() }));
    }
    let comparison = compare(&log.last_crowed(&label)?, &own, profile);
    let told = asked(&comparison, profile).into_iter().map(|change| beside(change, profile));
    let told = told.collect();
    Ok(Some(Beside { label, told }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn next_goes_round_the_open_reeds_and_like_carries_the_cane_on() {
        let folder = tempfile::tempdir().unwrap();
        let mut log = Log::open(&folder.path().join("reeds.db")).unwrap();
        assert_eq!(next_label(&log, None).unwrap(), None);
        log.add(&Card {
            cane: Some("batch B".into()),
            complaint: Some("flat".into()),
            ..Card::new("A")
        })
        .unwrap();
        assert_eq!(next_label(&log, Some("A")).unwrap(), None);
        add_like(&mut log, "A", "B".into()).unwrap();
        let card = log.reed("B").unwrap().card;
        assert_eq!((card.cane.as_deref(), card.complaint), (Some("batch B"), None));
        log.add(&Card::new("C")).unwrap();
        log.close("B", Some(crate::log::Ending::Done), None).unwrap();
        assert_eq!(next_label(&log, Some("A")).unwrap().as_deref(), Some("C"));
        assert_eq!(next_label(&log, Some("C")).unwrap().as_deref(), Some("A"));
        assert!(open_label(&log, "B").is_err() && open_label(&log, "nobody").is_err());
    }
}
