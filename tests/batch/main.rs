//! Folders of recordings, whatever made them.

#![allow(
    clippy::print_stderr,
    clippy::print_stdout,
    reason = "tests tell what they measured and skipped"
)]

mod converter;
mod formats;
