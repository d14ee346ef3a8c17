//! What can be wrong with a profile, in one line for the maker.

/// Why there is no profile. Each message names the thing, what is wrong, and what to do.
#[derive(Debug, thiserror::Error)]
pub enum ProfileError {
    /// Neither built in nor a file.
    NotFound {
        /// What was asked for.
        asked: String,
        /// The built-in names.
        names: String,
    },
    /// A file that cannot be read.
    File {
        /// As given.
        path: String,
        /// What the system says.
        cause: std::io::Error,
    },
    /// A file too large to be a profile.
    Size {
        /// As given.
        path: String,
        /// Its size.
        bytes: u64,
        /// The allowed size.
        most: u64,
    },
    /// A line that is wrong.
    Line {
        /// As given.
        path: String,
        /// Counted from 1.
        line: usize,
        /// What is wrong and what would be right.
        what: String,
    },
}
