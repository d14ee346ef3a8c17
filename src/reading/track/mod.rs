//! The tones of one crow over time: from a coarse pitch to which octaves sound, and when.

pub mod base;
pub mod beside;
pub mod coarse;
pub mod family;
pub mod ladder;
pub mod line;
pub mod orders;
pub mod rungs;
pub mod steady;
pub mod tones;
pub mod two_tones;
pub mod wander;
