//! Every sentence that is printed, by the part it speaks of; nothing is decided here.

pub mod account;
pub mod advice;
pub mod asked;
pub mod batch;
pub mod bench;
pub mod card;
pub mod devices;
pub mod ear;
pub mod keeping;
pub mod log;
pub mod mending;
pub mod page;
pub mod pictures;
pub mod prompt;
pub mod reading;
pub mod recorder;
pub mod system;
pub mod takes;
pub mod voices;
