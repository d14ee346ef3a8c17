//! Every sentence that is printed, by the part it speaks of; nothing is decided here.

pub mod advice;
pub mod ear;
pub mod reading;
pub mod voices;
