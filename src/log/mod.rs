//! One reed's history over years: its card, measurements, cuts, takes and ending; and what each
//! kind of cut did over many reeds.
//!
//! The types are plain values; only [`Log`] touches the disk.

mod card;
mod error;
mod history;
mod place;
mod step;
mod store;
mod timeline;

pub use card::{Card, Ending, Wetness};
pub use error::LogError;
pub use history::{
    History, Length, LoggedInspection, LoggedMeasurement, LoggedReading, LoggedReed, LoggedStep,
    LoggedTake, ReadTake,
};
pub use place::{LOG_VARIABLE, place};
pub use step::{Cut, Step};
pub use store::{Added, Log, NewTake, PROGRAM, Undone, Upgrade};
pub use timeline::{Stage, timeline};
