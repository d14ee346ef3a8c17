//! Which reeds: by what stands on their cards, when they came and how they ended.

use std::sync::LazyLock;

use super::card::{Card, Ending};
use super::history::LoggedReed;
use super::matching::stands_in;
use crate::profile::Profile;

/// What is asked for; what is not said matches all. Of several texts for one field any may match, by
/// whole words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Query {
    /// Words of the owner's name.
    pub owner: Vec<String>,
    /// Words of the maker's name.
    pub maker: Vec<String>,
    /// Words of what is known of the cane.
    pub cane: Vec<String>,
    /// Words of the shape's name.
    pub shape: Vec<String>,
    /// Words of the staple's name.
    pub staple: Vec<String>,
    /// Words of the profile's name.
    pub profile: Vec<String>,
    /// How it ended, or still open.
    pub state: Option<State>,
    /// Entered on that day or later (YYYY-MM-DD, UTC).
    pub since: Option<String>,
    /// Entered on that day or earlier.
    pub until: Option<String>,
}

/// How far the work on a reed is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum State {
    /// Still being worked on.
    Open,
    /// Finished.
    Done,
    /// Sent back.
    SentBack,
    /// Given up.
    GivenUp,
}

impl Query {
    /// Whether a reed is what is asked for.
    pub fn matches(&self, reed: &LoggedReed) -> bool {
        let card = &reed.card;
        let fits = |asked: &[String], found: Option<&str>| {
            asked.is_empty()
                || found.is_some_and(|found| asked.iter().any(|asked| stands_in(asked, found)))
        };
        let state = match card.ending {
            None => State::Open,
            Some(Ending::Done) => State::Done,
            Some(Ending::SentBack) => State::SentBack,
            Some(Ending::GivenUp) => State::GivenUp,
        };
        let day = reed.at.get(..10).unwrap_or_default();
        fits(&self.owner, card.owner.as_deref())
            && fits(&self.maker, card.maker.as_deref())
            && fits(&self.cane, card.cane.as_deref())
            && fits(&self.shape, card.shape.as_deref())
            && fits(&self.staple, card.staple.as_deref())
            && (self.profile.is_empty() || fits(&self.profile, Some(held_to(card))))
            && self.state.is_none_or(|asked| asked == state)
            && self.since.as_deref().is_none_or(|since| day >= since)
            && self.until.as_deref().is_none_or(|until| day <= until)
    }
}

/// The name of the profile that a card's reed is held to: the usual one where it does not say.
pub(super) fn held_to(card: &Card) -> &str {
    // Read once: a profile is a whole file, and there are thousands of cards.
    static USUAL: LazyLock<String> = LazyLock::new(|| Profile::default().name);
    card.profile.as_deref().unwrap_or(&USUAL)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reed(card: Card) -> LoggedReed {
        LoggedReed {
            uid: String::new(),
            at: "2026-03-01T10:00:00.000Z".into(),
            card,
            ended_at: None,
            conditions: None,
            conditions_at: None,
        }
    }

    #[test]
    fn whole_words_match_whatever_their_capitals_and_absent_fields_match_nothing() {
        let reed = reed(Card { cane: Some("Brook, batch 4".into()), ..Card::new("A") });
        let asked = |canes: &[&str]| Query {
            cane: canes.iter().map(|cane| (*cane).to_owned()).collect(),
            ..Query::default()
        };
        assert!(asked(&["BATCH 4"]).matches(&reed) && asked(&["x", "brook"]).matches(&reed));
        // Any cane has a b in it.
        assert!(!asked(&["batch 5"]).matches(&reed) && !asked(&["b"]).matches(&reed));
        assert!(!Query { owner: vec!["a".into()], ..Query::default() }.matches(&reed));
        let held_to = |profile: &str| Query { profile: vec![profile.into()], ..Query::default() };
        assert!(held_to("american").matches(&reed) && !held_to("bassoon").matches(&reed));
        assert!(Query { state: Some(State::Open), ..Query::default() }.matches(&reed));
        assert!(!Query { state: Some(State::Done), ..Query::default() }.matches(&reed));
    }

    #[test]
    fn days_are_counted_with_both_ends() {
        let reed = reed(Card::new("A"));
        let from = |day: &str| Query { since: Some(day.into()), ..Query::default() };
        let to = |day: &str| Query { until: Some(day.into()), ..Query::default() };
        assert!(from("2026-03-01").matches(&reed) && !from("2026-03-02").matches(&reed));
        assert!(to("2026-03-01").matches(&reed) && !to("2026-02-28").matches(&reed));
    }
}
