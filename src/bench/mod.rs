//! What the maker does between crows while the program listens, so that knife and reed are put down for
//! a moment only: the words for it, the page that shows it, and the prompt.
//!
//! [`grammar`] and what is shown are pure; [`Desk`] and [`engine`] hold the log, [`page`] serves.

mod account;
pub(crate) mod asked;
mod desk;
pub(crate) mod engine;
pub mod grammar;
mod keeper;
mod lines;
pub(crate) mod listening;
pub(crate) mod page;
pub(crate) mod readings;
mod reeds;
pub(crate) mod screen;
pub(crate) mod sound;
pub(crate) mod state;

pub(crate) use desk::{Desk, Then};
pub(crate) use engine::{Engine, Settings};
pub(crate) use keeper::{Heard, Keeper, may_be_the_reed};
pub(crate) use lines::{Lines, Typed};
pub(crate) use readings::reading_so_far;
pub(crate) use screen::Paper;
