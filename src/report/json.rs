//! The line of JSON per take.
