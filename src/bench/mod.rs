//! What the maker does between crows while the program listens, so that knife and reed are put down for
//! a moment only: the words for it, the page that shows it, and the prompt.
//!
//! [`grammar`] and what is shown are pure; [`Desk`] and [`engine`] hold the log, [`page`] serves.

mod account;
pub mod asked;
mod desk;
pub mod engine;
pub mod grammar;
mod keeper;
mod lines;
pub mod listening;
pub mod page;
pub mod recordings;
mod reeds;
pub mod screen;
mod so_far;
pub mod sound;
pub mod state;

pub use desk::{Desk, Reply, Then};
pub use engine::{Engine, Settings};
pub use keeper::{Heard, Keeper, may_be_the_reed};
pub use lines::{Lines, Typed};
pub use screen::Paper;
pub use so_far::reading_so_far;
