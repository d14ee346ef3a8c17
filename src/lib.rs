//! reedcrow listens to the crow of a double reed, measures it, compares it with the last one,
//! and proposes the next cut with its reasons. Modules stand in the order of the job; each may
//! use those above it.

pub mod system;
pub mod text;
pub mod clock;
pub mod files;
pub mod units;
pub mod pitch;
pub mod dsp;
pub mod take;
pub mod profile;
pub mod reed;
pub mod reading;
pub mod capture;
pub mod comparison;
pub mod advice;
pub mod log;
pub mod words;
pub mod report;
pub mod batch;
pub mod bench;
pub mod cli;
