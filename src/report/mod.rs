//! Readings, comparisons and histories as text, JSON, CSV, pictures and pages. Returns strings and bytes; the caller writes them.

pub mod comparison;
pub mod csv;
pub mod format;
pub mod history;
pub mod json;
pub mod page;
pub mod plots;
pub mod terminal;
pub mod timeline;
