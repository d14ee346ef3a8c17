//! What a reed's card and the log say besides its crow.

use super::effects::last_cut;
use super::history::History;
use crate::advice::{Advice, advise};
use crate::comparison::Effects;
use crate::profile::Profile;
use crate::reading::Reading;
use crate::reed::{Inspection, Measurements};

/// What a next move rests on besides the crow.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// What was last measured on the reed, its length less the clips since.
    pub measurements: Measurements,
    /// What was last seen on it.
    pub inspection: Inspection,
    /// What past cuts did, and what was done last.
    pub effects: Effects,
}

impl Known {
    /// * `effects`: what past cuts did over all reeds.
    pub fn of(history: &History, effects: &Effects) -> Self {
        Self {
            measurements: history.measured_now(),
            inspection: history.seen_now(),
            effects: Effects { last: last_cut(history), ..effects.clone() },
        }
    }

    /// The next move after a take.
    pub fn advise(&self, reading: &Reading, profile: &Profile) -> Advice {
        advise(reading, &self.measurements, &self.inspection, profile, &self.effects)
    }
}
