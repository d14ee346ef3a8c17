//! Where the crows of a take are, and what else sounds in the room.

pub mod crows;
pub mod edges;
pub mod finder;
pub mod floor;
pub mod frames;
pub mod hum;
pub mod kept;
pub mod others;
pub mod sound;
pub mod tonal;
