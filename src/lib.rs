//! reedcrow listens to the crow of a double reed, measures it, compares it with the last one,
//! and proposes the next cut with its reasons. Modules stand in the order of the job; each may
//! use those above it.
//!
//! Public is what a program of somebody's own reads takes, compares and advises with, and what is
//! held from outside by `tests`. The rest is private, so that the compiler finds what is dead.

#[macro_use]
mod choice;
mod system;
mod text;
mod clock;
mod files;
pub mod units;
pub mod pitch;
pub mod dsp;
pub mod take;
pub mod profile;
pub mod reed;
pub mod reading;
mod capture;
pub mod comparison;
pub mod advice;
pub mod log;
pub mod words;
pub mod report;
pub mod batch;
pub mod bench;
pub mod cli;

#[cfg(test)]
#[allow(dead_code, reason = "no test of the library holds times")]
#[path = "../tests/commands/golden.rs"]
mod golden;
