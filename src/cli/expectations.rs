//! Options that say what a crow is held to; shared by the commands.

use crate::pitch::A4;
use crate::profile::{self, Profile};

/// What a crow is held to.
#[derive(Debug, Clone, clap::Args)]
pub struct Expectations {
    /// Kind of reed: a built-in profile, or a profile file of one's own
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
