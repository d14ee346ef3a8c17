//! Whether a change is for the better, where a maker would say so of any reed.

use super::{Change, Side};
use crate::profile::Profile;
use crate::reading::Kind;

/// What a change is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Worth {
    /// The reed crows more as it should.
    Better,
    /// Less.
    Worse,
}

impl Worth {
    fn of(is_better: bool) -> Self {
        if is_better { Self::Better } else { Self::Worse }
    }
}

impl Change {
    /// `None` where it does not matter, or where it depends on the reed.
    pub(crate) fn worth(&self, profile: &Profile) -> Option<Worth> {
        if !self.matters(profile) {
            return None;
        }
        match self.figure.as_str() {
            "fundamental.target_cents" => {
                let (was, is) = (self.before.abs(), (self.before + self.difference).abs());
                // From in tune to in tune is neither.
                let is_off = was.max(is) > profile.tolerance.target_cents;
                (is_off && was != is).then(|| Worth::of(is < was))
            }
            "alignment.cents" => Some(Worth::of(self.after.abs() < self.before.abs())),
            "response.onset_s"
            | "response.low_delay_s"
            | "steadiness.spread_cents"
            | "breath.noise_db" => Some(Worth::of(self.difference < 0.0)),
            _ => None,
        }
    }
}

/// What it is worth that the crows of one side sound otherwise than those of the other: octaves are what is
/// sought. `None` where neither side has them, where the sound does not tell, and where both do.
pub(crate) fn turn(before: &Side, after: &Side) -> Option<Worth> {
    let octaves = |side: &Side| match side.kind? {
        Kind::Octaves => Some(true),
        Kind::Blended => None,
        Kind::Single | Kind::Split | Kind::Unsettled | Kind::Breath => Some(false),
    };
    let (was, is) = (octaves(before)?, octaves(after)?);
    (was != is).then(|| Worth::of(is))
}
