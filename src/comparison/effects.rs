//! What each kind of cut usually does, learned from past cuts. The type stands here, so that
//! advice can be told; who keeps the history fills it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::rates::PastCut;
use crate::reed::Cut;

/// What one kind of cut did, on the median over past reeds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Effect {
    /// Which cut.
    pub cut: Cut,
    /// Cuts with a pitch before and after.
    pub count: usize,
    /// Change of pitch per cut, in cents; negative is down. Each is what a comparison of the crows
    /// before and after tells.
    pub pitch_cents: Option<f64>,
    /// Of those cuts, the ones after which the pitch was higher.
    #[serde(default)]
    pub pitch_rose: usize,
    /// Of those cuts, the ones whose change of pitch is told at one blowing strength.
    #[serde(default)]
    pub level_adjusted: usize,
    /// Change of pitch per millimetre clipped, in cents, where the amount is known.
    pub pitch_cents_per_mm: Option<f64>,
    /// Cuts after which octaves were in order, of those before which they were not, 0 … 1.
    pub octaves_came: Option<f64>,
    /// Those before which they were not.
    #[serde(default)]
    pub without_octaves: usize,
    /// Cuts after which octaves were no longer in order, of those before which they were, 0 … 1.
    #[serde(default)]
    pub octaves_lost: Option<f64>,
    /// Those before which they were.
    #[serde(default)]
    pub with_octaves: usize,
}

/// What past cuts did. Empty by default.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Effects {
    /// One entry for each kind of cut there is a history of.
    pub cuts: Vec<Effect>,
    /// Every cut that was crowed before and after, for what the next one does to the pitch.
    #[serde(skip)]
    pub past: Vec<(Cut, PastCut)>,
}
