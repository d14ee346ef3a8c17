//! Where the crows of a take are, and what else sounds in the room.

pub(crate) mod crows;
pub(crate) mod edges;
pub(crate) mod finder;
pub(crate) mod floor;
pub(crate) mod frames;
pub(crate) mod hum;
pub(crate) mod kept;
pub(crate) mod no_crow;
pub(crate) mod others;
pub(crate) mod runs;
pub(crate) mod sound;
pub(crate) mod tonal;

#[cfg(test)]
mod tests;
