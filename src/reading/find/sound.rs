//! A sound that was found: its bounds, its samples, and how it was found.

use super::floor::Floor;
use crate::dsp::periodicity::Period;

/// Samples handed on before and after a sound, for the transforms at its ends.
pub const MARGIN_S: f64 = 0.1;
/// Longest stretch of one sound that is kept for analysis.
pub const LONGEST_S: f64 = 20.0;
/// And in samples, at high rates.
pub const LONGEST_SAMPLES: usize = 1 << 21;

/// A sound with its samples, ready to be read.
#[derive(Debug, Clone)]
pub struct Sound {
    /// Where it rises over the floor, in seconds of the take.
    pub start_s: f64,
    /// Where it falls back.
    pub end_s: f64,
    /// Moment of `samples[0]`, in seconds of the take.
    pub offset_s: f64,
    /// The sound with a margin to either side, cut after [`LONGEST_S`].
    pub samples: Vec<f32>,
    /// Up to half a second of what came right before it, nothing else sounding.
    pub before: Vec<f32>,
    /// Moments and periods of the frames that hold tone.
    pub periods: Vec<(f64, Period)>,
    /// Room noise, where the take has a quiet stretch.
    pub floor: Option<Floor>,
    /// Whether there is enough tone for a crow.
    pub tonal: bool,
    /// Highest over median frame power: large for knocks.
    pub crest: f32,
    /// Power from 400 Hz up over all power.
    pub high_share: f32,
    /// Whether it was longer than is kept.
    pub cut: bool,
    /// Whether its bounds are those of its tone: the level does not tell it from the room.
    pub by_tone: bool,
    /// Whether one family of partials was followed through it.
    pub followed: bool,
}
