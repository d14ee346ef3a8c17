//! What a perfect reading of a scene would say.
//!
//! Figures have the names and meanings of a reading. Times come from the expected powers of sound
//! and noise, not from the noise as it happened to fall; a room's tail is not counted.

use serde::{Deserialize, Serialize};

use reedcrow::reading::Kind;

/// Everything known of a rendered scene.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// The seed of the scene.
    pub seed: u64,
    /// Samples per second.
    pub sample_rate_hz: u32,
    /// Length in seconds.
    pub duration_s: f64,
    /// Level of the background noise over the whole band, hum apart; `None` without noise.
    pub noise_dbfs: Option<f64>,
    /// Samples cut at the scene's limit.
    pub clipped_samples: u64,
    /// The crows in order of time.
    pub crows: Vec<CrowTruth>,
    /// What sounds and is no crow.
    pub others: Vec<OtherTruth>,
}

/// One crow as it was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrowTruth {
    /// Where the sound, breath included, rises 6 dB above the noise in any octave band.
    pub start_s: f64,
    /// Where it falls back to that.
    pub end_s: f64,
    /// First moment of the tone, its attack included.
    pub tone_start_s: f64,
    /// Last moment of the tone, its decay included.
    pub tone_end_s: f64,
    /// How it was made to sound, of its two lowest rungs.
    pub kind: Kind,
    /// Mean frequency of the lowest rung that sounds in half of the steady part (50 ms inside the
    /// tone's ends), over the steady part.
    pub fundamental_hz: f64,
    /// Standard deviation of the best unbiased estimate of that mean in the scene's noise, in
    /// cents: the asymptotic Cramér-Rao bound; `None` without noise.
    pub fundamental_bound_cents: Option<f64>,
    /// Deviation of the upper tone from 2:1; 0 when locked, `None` with one tone.
    pub alignment_cents: Option<f64>,
    /// The same bound for the deviation, from odd and even partials apart.
    pub alignment_bound_cents: Option<f64>,
    /// How far the upper octave stands out over the partials beside its own, in decibels.
    pub stand_out_db: Option<f64>,
    /// The rungs that sound, lowest first.
    pub rungs: Vec<RungTruth>,
    /// Slope of the straight line through the pitch over the steady part.
    pub drift_cents_per_s: f64,
    /// Standard deviation of 50 ms means about that line; `None` under three.
    pub spread_cents: Option<f64>,
    /// Rate of the rattle.
    pub rattle_hz: Option<f64>,
    /// Its depth.
    pub rattle_depth: Option<f64>,
    /// Level over the steady part, the crow's own breath noise included.
    pub level_dbfs: Option<f64>,
    /// The crow's own noise, 100 Hz … 10 kHz, relative to its partials over the steady part;
    /// `None` without.
    pub breath_db: Option<f64>,
}

/// One rung as it was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RungTruth {
    /// Index of the rung: its partials are the odd multiples of f·2^rung.
    pub rung: usize,
    /// Mean frequency over the steady part.
    pub hz: f64,
    /// Power relative to all partials, while it sounds.
    pub level_db: f64,
    /// Share of the steady part in which it sounds.
    pub present: f64,
    /// From `start_s` to the first moment after which it sounds for 50 ms.
    pub entry_s: f64,
}

/// A sound that is no crow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OtherTruth {
    /// What it is.
    pub kind: String,
    /// First moment.
    pub start_s: f64,
    /// Last moment.
    pub end_s: f64,
}
