//! What needs attention first, with a way to each take's row.

use maud::{Markup, html};

use super::names::name;
use super::row::PageRow;
use crate::words::batch::NEED_ATTENTION;
use crate::words::takes as words;

/// Takes that need attention for one reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// Why, and how many: `split, not an octave apart: 2`.
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

/// The list; empty where nothing needs attention.
///
/// * `folder`: what names count from.
pub(super) fn section(needs: &[Need], rows: &[PageRow], folder: &str) -> Markup {
    let row = |source: &str| rows.iter().position(|row| row.source == source);
    html! {
        @if !needs.is_empty() {
            section.needs aria-labelledby="needs" {
                h2 #needs { (NEED_ATTENTION) }
                ul {
                    @for need in needs {
                        li {
                            (need.what)
                            @if !need.first.is_empty() {
                                ul {
                                    @for take in &need.first {
                                        li {
                                            @match row(&take.source) {
                                                Some(row) => a href=(format!("#take-{}", row + 1)) {
                                                    (name(&take.source, folder))
                                                },
                                                None => (name(&take.source, folder)),
                                            }
                                            @if !take.said.is_empty() { ": " (take.said) }
                                        }
                                    }
                                    @if need.more > 0 { li { (words::and_more(need.more)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
