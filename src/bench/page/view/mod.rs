//! The page as HTML: plain values in, markup out. Everything that came from outside is escaped by the
//! markup itself.

mod begin;
mod crow;
mod drawing;
mod entries;
mod head;
mod live;
mod log;
mod way;

use maud::{DOCTYPE, Markup, html};

use crate::bench::state::{Live, State};
use crate::words::bench as words;

pub use live::live;
pub use log::log;

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
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="token" content=(token);
                title { "The bench" }
                link rel="icon" href="/assets/mark.svg";
                link rel="stylesheet" href="/assets/bench.css";
                script src="/assets/bench.js" defer {}
            }
            body {
                a.skip href="#entries" { "Skip to what you can write down" }
                header #head { (part("head").unwrap_or_default()) }
                section #begin aria-label="To begin with" { (part("begin").unwrap_or_default()) }
                main {
                    div.column {
                        section #live aria-label="What sounds now" { (live(state, now)) }
                        section #crow aria-label="The last crow" aria-live="polite" {
                            (part("crow").unwrap_or_default())
                        }
                        section #change aria-label="What the last cut did" {
                            (part("change").unwrap_or_default())
                        }
                        section #reed aria-label="The reed" { (part("reed").unwrap_or_default()) }
                    }
                    div.column {
                        section #entries aria-label="Write down" tabindex="-1" {
                            (part("entries").unwrap_or_default())
                        }
                        section #way aria-label="The way so far" {
                            (part("way").unwrap_or_default())
                        }
                        details #figures {
                            summary { "All figures and cautions" }
                            div #detail { (part("detail").unwrap_or_default()) }
                        }
                    }
                }
                footer {
                    div #said role="status" { (part("said").unwrap_or_default()) }
                    div #undo { (part("undo").unwrap_or_default()) }
                    form #typed method="post" action="/say" {
                        input type="hidden" name="token" value=(token);
                        label for="line" { "Or type it " kbd { "/" } }
                        input #line name="line" autocomplete="off" autocapitalize="off"
                            spellcheck="false" maxlength="400" placeholder="tip corners";
                        button { "Write down" }
                    }
                }
                aside.fine aria-label="Small print" {
                    span { (words::PLUS_MINUS) }
                    label { input #sounds type="checkbox"; " Short sounds: heard, and not a crow" }
                    noscript { a href="/" { "Load again to see what is new" } }
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
