//! Options that say what a crow is held to; shared by the commands.

use crate::log::Card;
use crate::pitch::A4;
use crate::profile::{self, Profile};

/// What a crow is held to.
#[derive(Debug, Clone, clap::Args)]
pub struct Expectations {
    /// Kind of reed: a built-in profile, or a profile file of your own
    #[arg(long, value_name = "NAME|FILE", default_value = "american-oboe")]
    pub profile: String,
    /// Pitch of A4 in hertz, 380 to 480
    #[arg(long, value_name = "HZ", default_value = "440")]
    pub a4: A4,
}

impl Expectations {
    /// The profile that was named.
    pub fn profile(&self) -> anyhow::Result<Profile> {
        Ok(profile::load(&self.profile)?)
    }
}

/// What a card holds its reed to; the usual where it does not say.
///
/// Errors: a profile that can no longer be read, or an A4 out of range.
pub fn of_card(card: &Card) -> anyhow::Result<(Profile, A4)> {
    let profile = match &card.profile {
        Some(name) => profile::load(name)?,
        None => Profile::default(),
    };
    Ok((profile, card.a4_hz.map(A4::new).transpose()?.unwrap_or_default()))
}
