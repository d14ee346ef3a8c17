//! What needs attention first in many takes: one list for the closing lines and the page.

/// Takes that need attention for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// Why, and how many: `split, octaves apart: 2`.
    pub what: String,
    /// The most pressing of them.
    pub first: Vec<Needy>,
    /// How many more there are.
    pub more: u64,
}

/// One take that needs attention.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Needy {
    /// Its path.
    pub source: String,
    /// What is said of it; empty where the reason says it all.
    pub said: String,
}
