//! The card a maker reads at arm's length.
