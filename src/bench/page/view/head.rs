//! What stands before a page's body, and the strip on top: which reed is on the bench, what is listened to,
//! pause, and undo.

use maud::{Markup, html};

use super::keys;
use super::say;
use crate::bench::state::State;
use crate::capture::SourceTold;
use crate::words::{asked, bench as words, devices, page as labels};

/// What a browser is told of a page before its body.
///
/// * `more`: what only this page has.
pub fn of_page(title: &str, more: &Markup) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) }
            link rel="icon" href="/assets/mark.svg";
            link rel="stylesheet" href="/assets/bench.css";
            (more)
        }
    }
}

/// The strip on top.
pub fn head(state: &State, token: &str) -> Markup {
    let target = labels::target(state.profile.lowest_note(), state.a4);
    let has_microphone = matches!(state.source, SourceTold::Microphone(_));
    html! {
        div.who {
            @match &state.reed {
                Some(reed) => {
                    @let card = &reed.history.reed.card;
                    h1 { (card.label) }
                    p {
                        @if let Some(owner) = &card.owner { (labels::owner(owner)) ", " }
                        (state.profile.title) ", " (target)
                    }
                    @if let Some(ending) = card.ending {
                        p.closed { (labels::closed(ending.words())) }
                    }
                    @if let Some(complaint) = &card.complaint {
                        p { (words::complaint(complaint)) }
                    }
                    @if let Some(made_of) = labels::cane_and_due(card) { p { (made_of) } }
                }
                None => {
                    h1 { (labels::NO_REED) }
                    p { (labels::ON_NO_CARD) }
                }
            }
        }
        div.hears {
            // That there is none is said where it can be helped.
            @if let Some(heard) = words::source_in_short(&state.source) {
                @if has_microphone {
                    div.checked {
                        p { (heard) }
                        p { (devices::kept_on_the_page(state.microphone.as_ref())) }
                        details { summary { (labels::HOW_TO_CHECK) } p { (devices::how_to_check()) } }
                    }
                } @else { p { (heard) } }
            }
            @match state.paused {
                true => (say(token, "go on", Some(keys::PAUSE), html! { (labels::GO_ON) })),
                false => (say(token, "pause", Some(keys::PAUSE), html! { (labels::PAUSE) })),
            }
            @if let Some(note) = state.profile.lowest_note() {
                a.play href="/sound/tone.wav" data-key=(keys::TONE) { (labels::sound(note)) " " kbd { (keys::TONE) } }
            }
            @if has_microphone { (say(token, "check", None, html! { (labels::CHECK) })) }
            button #choose type="button" { (labels::CHOOSE_RECORDING) }
            a.to href="/log" { (asked::TO_LOG) }
        }
    }
}

/// What *undo* would take back, and *redo* make again.
pub fn undo(state: &State, token: &str) -> Markup {
    let reed = state.reed.as_ref();
    let (undo, redo) = (
        reed.and_then(|reed| reed.would_undo.as_deref()),
        reed.and_then(|reed| reed.would_redo.as_deref()),
    );
    html! {
        @match undo {
            Some(what) => (say(token, "undo", Some(keys::UNDO), html! { (labels::UNDO) " " b { (what) } })),
            None => button disabled { (labels::NOTHING_TO_UNDO) },
        }
        @if let Some(what) = redo {
            (say(token, "redo", None, html! { (labels::REDO) " " (what) }))
        }
    }
}
