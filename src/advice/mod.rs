//! The next cut: reading, reed and profile enter; one move with its reasons leaves.
//!
//! [`rules`] is the table of what is known, and [`places`] where its moves are made; [`case`], [`pitch`],
//! [`octaves`] and [`seen`] turn figures into conditions with how sure they are; [`confidence`] holds the knife back where that is not sure enough; [`cautions`] says
//! what to take care of.

mod case;
mod cautions;
mod condition;
mod confidence;
mod octaves;
mod pitch;
mod places;
mod rules;
mod seen;
mod words;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use case::Case;

use crate::comparison::Effects;
use crate::profile::Profile;
use crate::reading::Reading;
use crate::reed::{Inspection, Measurements};

/// The next move, as in the line of JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Advice {
    /// What to do.
    #[serde(rename = "move")]
    pub next: Move,
    /// How much, in millimetres, where the move has an amount.
    pub amount_mm: Option<f64>,
    /// Where on the reed.
    pub r#where: Option<String>,
    /// The figures that led here.
    pub because: Vec<Reason>,
    /// 0 … 1: how far the move is borne out, by the figures' intervals, the number of crows and how
    /// far they agree, what is doubtful about the recording, and of a cut what past cuts of its kind
    /// did; where doubt turned a cut into crowing again, how far the cut would have been.
    pub confidence: f64,
    /// What to do after it.
    pub then: String,
    /// What to take care of.
    pub cautions: Vec<String>,
}

/// What to do next.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Move {
    /// Cut a sliver off the end.
    Clip,
    /// Thin the tip or clear its step to the heart.
    Tip,
    /// Scrape the heart.
    Heart,
    /// Scrape the back or windows.
    Back,
    /// Seal a leak.
    Seal,
    /// Crow again.
    Recrow,
    /// Leave it alone.
    Leave,
    /// Give this reed up.
    Stop,
}

impl Move {
    /// Whether cane is lost by it.
    pub fn is_cut(self) -> bool {
        matches!(self, Self::Clip | Self::Tip | Self::Heart | Self::Back)
    }
}

/// One figure that led to a move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Its JSON path, the name of a measurement, `past cuts`, or `practice`.
    pub figure: String,
    /// Its value; `None` where the reason is that it is absent, or is no number.
    pub value: Option<f64>,
    /// What it says, in one sentence.
    pub says: String,
}

/// The next move for a reed that gave `reading`.
///
/// The first rule of the table whose conditions all hold decides. A cut that the figures do not
/// bear out well enough becomes crowing again. What was not measured or seen counts as unknown,
/// never as sound.
pub fn advise(
    reading: &Reading,
    measured: &Measurements,
    seen: &Inspection,
    profile: &Profile,
    effects: &Effects,
) -> Advice {
    let case = Case { reading, measured, seen, profile, effects };
    let facts = case.facts();
    confidence::held_back(&facts, rules::first_that_holds(&facts))
}

#[cfg(test)]
mod tests;
