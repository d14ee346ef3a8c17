//! Every sentence that is printed, by the part it speaks of; nothing is decided here.

pub mod account;
pub(crate) mod advice;
pub(crate) mod asked;
pub(crate) mod batch;
pub(crate) mod bench;
pub(crate) mod card;
pub(crate) mod comparison;
pub(crate) mod devices;
pub(crate) mod ear;
pub(crate) mod errors;
pub mod format;
pub(crate) mod keeping;
pub(crate) mod log;
pub(crate) mod mending;
pub(crate) mod page;
pub(crate) mod pictures;
mod profile;
pub(crate) mod prompt;
pub(crate) mod reading;
pub(crate) mod reed;
pub(crate) mod stage;
pub(crate) mod system;
pub(crate) mod takes;
pub(crate) mod voices;
mod warnings;
