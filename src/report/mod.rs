//! Readings, comparisons and histories as text, JSON, CSV, pictures and pages. Returns strings and bytes; the caller writes them.

pub(crate) mod comparison;
pub mod account;
pub(crate) mod answers;
pub(crate) mod crow_csv;
pub(crate) mod csv;
pub(crate) mod dates;
pub(crate) mod distribution;
pub(crate) mod history;
pub mod json;
pub(crate) mod log_care;
pub(crate) mod log_csv;
pub(crate) mod page;
pub(crate) mod plots;
mod table;
pub mod terminal;
pub(crate) mod timeline;
