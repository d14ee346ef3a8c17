//! What the maker does between crows while the program listens, so that knife and reed are put down for
//! a moment only: the words for it, the page that shows it, and the prompt.
//!
//! [`grammar`] and what is shown are pure; [`Desk`] and [`engine`] hold the log, [`page`] serves.

mod checking;
mod desk;
pub mod engine;
pub mod grammar;
mod keeper;
mod lines;
pub mod listening;
pub mod page;
mod reeds;
pub mod screen;
pub mod sound;
pub mod state;

pub use desk::{Desk, Reply, Then};
pub use engine::{Engine, Settings};
pub use keeper::{Heard, Keeper};
pub use lines::{Lines, Typed};
pub use screen::Paper;
