//! The tones of one crow over time: from a coarse pitch to which octaves sound, and when.

pub(crate) mod apart;
pub(crate) mod base;
pub(crate) mod beside;
pub(crate) mod coarse;
pub(crate) mod disagree;
pub(crate) mod doubt;
pub(crate) mod family;
pub(crate) mod ladder;
pub(crate) mod lasting;
pub(crate) mod line;
pub(crate) mod orders;
pub(crate) mod rungs;
pub(crate) mod sought;
pub(crate) mod spanned;
pub(crate) mod steady;
pub(crate) mod together;
pub(crate) mod tones;
pub(crate) mod turning;
pub(crate) mod two_tones;
pub(crate) mod wander;

#[cfg(test)]
mod tests;
