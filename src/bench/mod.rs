//! What the maker does between crows while the program listens: short commands, each one line, so
//! that knife and reed are put down for a moment only. What is heard goes to the reed's card.
//!
//! [`Command`] and the texts of [`screen`] are pure; [`Desk`] holds the log.

mod command;
mod desk;
mod lines;
pub mod screen;

pub use command::{Command, CommandError, HELP};
pub use desk::{Desk, Reply};
pub use lines::{Lines, Typed};
pub use screen::Paper;
