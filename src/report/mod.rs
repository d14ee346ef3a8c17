//! Readings, comparisons and histories as text, JSON, CSV, pictures and pages. Returns strings and bytes; the caller writes them.

pub mod comparison;
pub mod account;
pub mod answers;
pub mod crow_csv;
pub mod csv;
pub mod dates;
pub mod distribution;
pub mod format;
pub mod history;
pub mod json;
pub mod log_care;
pub mod log_csv;
pub mod needs;
pub mod page;
pub mod plots;
pub mod stage;
mod table;
pub mod terminal;
pub mod timeline;
