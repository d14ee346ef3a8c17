//! The next cut: reading, measurements and profile enter; one move with its reasons leaves.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    /// 0 … 1, from the figures' intervals.
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

/// One figure that led to a move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Its JSON path, or the name of a measurement.
    pub figure: String,
    /// Its value; `None` where the reason is that it is absent.
    pub value: Option<f64>,
    /// What it says, in one sentence.
    pub says: String,
}
