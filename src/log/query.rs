//! Which reeds: by what stands on their cards and how they ended.

use super::card::{Card, Ending};
use crate::profile::Profile;

/// What is asked for; what is not said matches all. Texts match a part, whatever its capitals.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Query {
    /// Part of the owner's name.
    pub owner: Option<String>,
    /// Part of the maker's name.
    pub maker: Option<String>,
    /// Part of what is known of the cane.
    pub cane: Option<String>,
    /// Part of the shape's name.
    pub shape: Option<String>,
    /// Part of the staple's name.
    pub staple: Option<String>,
    /// Part of the profile's name.
    pub profile: Option<String>,
    /// How it ended, or still open.
    pub state: Option<State>,
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
    /// Whether a card is what is asked for.
    pub fn matches(&self, card: &Card) -> bool {
        let part = |asked: &Option<String>, found: &Option<String>| match (asked, found) {
            (None, _) => true,
            (Some(asked), Some(found)) => found.to_lowercase().contains(&asked.to_lowercase()),
            (Some(_), None) => false,
        };
        let state = match card.ending {
            None => State::Open,
            Some(Ending::Done) => State::Done,
            Some(Ending::SentBack) => State::SentBack,
            Some(Ending::GivenUp) => State::GivenUp,
        };
        part(&self.owner, &card.owner)
            && part(&self.maker, &card.maker)
            && part(&self.cane, &card.cane)
            && part(&self.shape, &card.shape)
            && part(&self.staple, &card.staple)
            && (self.profile.is_none() || part(&self.profile, &held_to(card)))
            && self.state.is_none_or(|asked| asked == state)
    }
}

/// The name of the profile that a card's reed is held to: the usual one where it does not say.
fn held_to(card: &Card) -> Option<String> {
    card.profile.clone().or_else(|| Some(Profile::default().name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_match_whatever_their_capitals_and_absent_fields_match_nothing() {
        let card = Card { cane: Some("Brook, batch 4".into()), ..Card::new("A") };
        let asked = |cane: &str| Query { cane: Some(cane.into()), ..Query::default() };
        assert!(asked("BATCH 4").matches(&card));
        assert!(!asked("batch 5").matches(&card));
        assert!(!Query { owner: Some("a".into()), ..Query::default() }.matches(&card));
        let held_to = |profile: &str| Query { profile: Some(profile.into()), ..Query::default() };
        assert!(held_to("american").matches(&card) && !held_to("bassoon").matches(&card));
        assert!(Query { state: Some(State::Open), ..Query::default() }.matches(&card));
        assert!(!Query { state: Some(State::Done), ..Query::default() }.matches(&card));
    }
}
