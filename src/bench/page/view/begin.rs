//! The first start: microphone, quiet, three crows, a reed. Later only the check of the microphone.

use maud::{Markup, html};

use super::say;
use crate::bench::listening::{PRACTICE_TAKES, SourceTold};
use crate::bench::state::{Check, State};
use crate::words::{bench as words, devices};

/// What leads a maker in; empty once there are takes and no check goes on.
pub fn begin(state: &State, token: &str) -> Markup {
    if let Some(check) = &state.check {
        return checking(check, token);
    }
    let has_sound = matches!(state.source, SourceTold::Microphone(_));
    // Once something was crowed, what it says is wanted in sight.
    if state.reed.is_some() && (!state.is_first || state.heard.is_some()) {
        return match &state.source {
            SourceTold::Microphone(_) => html! {},
            source => html! {
                div.strip {
                    p { (words::source(source)) }
                    (say(token, "listen", None, html! { "Look for the microphone" }))
                    @for (name, _, _) in PRACTICE_TAKES {
                        (say(token, &format!("practice {name}"), None, html! { "practice: " (name) }))
                    }
                }
            },
        };
    }
    html! {
        ol.steps {
            li {
                h2 { "The microphone" }
                p { (words::source(&state.source)) }
                @if has_sound {
                    (say(token, "check", None, html! { "Check it: some quiet, then three crows" }))
                } @else if !matches!(state.source, SourceTold::Practice(_)) {
                    (say(token, "listen", None, html! { "Look for it again" }))
                }
            }
            li {
                h2 { "The reed" }
                @match &state.reed {
                    Some(reed) => p { (reed.history.reed.card.label) " is on the bench. Crow it three times." },
                    None => {
                        form.measure method="post" action="/say" {
                            input type="hidden" name="token" value=(token);
                            input type="hidden" name="line" value="new";
                            label for="first-reed" { "What is it called?" }
                            span {
                                input #first-reed name="value" autocomplete="off" maxlength="60" placeholder="mirek-12";
                                " " button { "Put it on the bench" }
                            }
                        }
                    }
                }
            }
            li {
                h2 { "Or try it out first" }
                p { "A practice take is heard in place of the microphone, on a practice reed of its own." }
                div.buttons {
                    @for (name, about, _) in PRACTICE_TAKES {
                        (say(token, &format!("practice {name}"), None, html! { b { (name) } small { (about) } }))
                    }
                }
            }
        }
    }
}

fn checking(check: &Check, token: &str) -> Markup {
    let (large, small) = words::check(check);
    html! {
        div.check role="status" {
            p.large { (large) }
            p { (small) }
            @if let Check::Done(fitness) = check {
                ul { @for matter in &fitness.findings { li { (devices::matter(*matter)) } } }
            }
            (say(token, "check", None, html! {
                @if matches!(check, Check::Done(_)) { "Put this away" } @else { "Stop the check" }
            }))
        }
    }
}
