//! Which reed is on the bench, what is listened to, pause, and undo.

use maud::{Markup, html};

use super::say;
use crate::bench::state::State;
use crate::words::asked;
use crate::words::bench as words;

/// The strip on top.
pub fn head(state: &State, token: &str) -> Markup {
    let held = match state.profile.lowest_note() {
        Some(note) => format!("held to {note} at A = {} Hz", state.a4.hz()),
        None => format!("held to no note, A = {} Hz", state.a4.hz()),
    };
    html! {
        div.who {
            @match &state.reed {
                Some(reed) => {
                    h1 { (reed.history.reed.card.label) }
                    p {
                        @if let Some(owner) = &reed.history.reed.card.owner { "for " (owner) ", " }
                        (state.profile.title) ", " (held)
                    }
                    @if let Some(ending) = reed.history.reed.card.ending {
                        p.closed { "Closed: " (ending.words()) ". Crows are read, and kept on no card." }
                    }
                    @if let Some(complaint) = &reed.history.reed.card.complaint {
                        p { (words::complaint(complaint)) }
                    }
                }
                None => {
                    h1 { "No reed on the bench" }
                    p { "Crows are read and shown, and kept on no card." }
                }
            }
        }
        div.hears {
            p { (words::source_in_short(&state.source)) }
            @match state.paused {
                true => (say(token, "go on", Some('p'), html! { "Go on listening" })),
                false => (say(token, "pause", Some('p'), html! { "Pause" })),
            }
            @if let Some(note) = state.profile.lowest_note() {
                a.play href="/sound/tone.wav" data-key="t" { "Sound " (note) " " kbd { "t" } }
            }
            (say(token, "check", None, html! { "Check the microphone" }))
            a.play href="/log" { (asked::TO_LOG) }
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
            Some(what) => (say(token, "undo", Some('u'), html! { "Undo: " b { (what) } })),
            None => button disabled { "Nothing to undo" },
        }
        @if let Some(what) = redo {
            (say(token, "redo", None, html! { "Make again: " (what) }))
        }
    }
}
