//! The page as HTML: plain values in, markup out. Everything that came from outside is escaped by the
//! markup itself.

mod begin;
mod crow;
mod drawing;
mod entries;
mod head;
mod keys;
mod live;
mod log;
mod way;

use maud::{DOCTYPE, Markup, html};

use crate::bench::state::{Live, State};
use crate::words::page as labels;
use crate::words::page::part as names;
use crate::words::reading::PLUS_MINUS;

pub use live::live;
pub use log::log;

/// What opens everything else about a crow, by its name on the page.
pub const FIGURES: &str = "figures";

/// The whole page.
pub fn page(state: &State, now: &Live, token: &str) -> Markup {
    let mut parts = parts(state, token);
    let mut part = |name: &str| {
        let found = parts.iter().position(|(known, _)| *known == name);
        found.map(|found| parts.swap_remove(found).1)
    };
    html! {
        (DOCTYPE)
        html lang="en" {
            (head::of_page(labels::TITLE, &html! {
                meta name="token" content=(token);
                script src="/assets/bench.js" defer {}
            }))
            body data-title=(labels::IN_TITLE) data-no-answer=(labels::NO_ANSWER) data-not-written=(labels::NOT_WRITTEN)
                data-let-go=(labels::LET_GO) data-reading=(labels::READING) data-not-sent=(labels::NOT_SENT) {
                a.skip href="#entries" { (labels::SKIP) }
                header #head { (part("head").unwrap_or_default()) }
                section #begin aria-label=(names::BEGIN) { (part("begin").unwrap_or_default()) }
                main {
                    div.column {
                        section #live aria-label=(names::LIVE) { (live(state, now)) }
                        section #crow aria-label=(names::CROW) aria-live="polite" {
                            (part("crow").unwrap_or_default())
                        }
                        section #change aria-label=(names::CHANGE) {
                            (part("change").unwrap_or_default())
                        }
                        section #reed aria-label=(names::REED) { (part("reed").unwrap_or_default()) }
                    }
                    div.column {
                        section #entries aria-label=(names::ENTRIES) tabindex="-1" {
                            (part("entries").unwrap_or_default())
                        }
                        section #way aria-label=(names::WAY) {
                            (part("way").unwrap_or_default())
                        }
                        details id=(FIGURES) {
                            summary { (labels::ALL_FIGURES) }
                            div #detail { (part("detail").unwrap_or_default()) }
                        }
                    }
                }
                footer {
                    div #said role="status" { (part("said").unwrap_or_default()) }
                    div #undo { (part("undo").unwrap_or_default()) }
                    form #typed method="post" action="/say" {
                        input type="hidden" name="token" value=(token);
                        label for="line" { (labels::OR_TYPE) " " kbd { "/" } }
                        input #line name="line" autocomplete="off" autocapitalize="off"
                            spellcheck="false" maxlength="400" placeholder=(labels::TYPE_SUCH_AS);
                        button { (labels::WRITE_DOWN) }
                    }
                }
                aside.fine aria-label=(names::FINE) {
                    span { (PLUS_MINUS) }
                    label { input #sounds type="checkbox"; " " (labels::SHORT_SOUNDS) }
                    noscript { a href="/" { (labels::LOAD_AGAIN) } }
                }
            }
        }
    }
}

/// The parts that change with the state, by the name of the element that holds each.
pub fn parts(state: &State, token: &str) -> Vec<(&'static str, Markup)> {
    vec![
        ("head", head::head(state, token)),
        ("begin", begin::begin(state, token)),
        ("crow", crow::crow(state, token)),
        ("entries", entries::entries(state, token)),
        ("reed", drawing::reed(state)),
        ("change", way::change(state)),
        ("way", way::way(state)),
        ("detail", crow::detail(state)),
        ("said", html! { p data-serial=(state.said.0) { (state.said.1) } }),
        ("undo", head::undo(state, token)),
    ]
}

/// A form that says one line with one button.
fn say(token: &str, line: &str, key: Option<char>, label: Markup) -> Markup {
    html! {
        form.say method="post" action="/say" {
            input type="hidden" name="token" value=(token);
            button name="line" value=(line) data-key=[key] { (label) @if let Some(key) = key { " " kbd { (key) } } }
        }
    }
}
