//! The first start: microphone, quiet, three crows, a reed. Later only the check of the microphone.

use maud::{Markup, html};

use super::entries::card;
use super::say;
use crate::bench::listening::PRACTICE_TAKES;
use crate::bench::state::State;
use crate::capture::Check;
use crate::capture::SourceTold;
use crate::log::is_practice;
use crate::words::{bench as words, devices, page as labels};

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
                    (say(token, "listen", None, html! { (labels::LOOK_FOR_MICROPHONE) }))
                    @for (name, _, _) in PRACTICE_TAKES {
                        (say(token, &format!("practice {name}"), None, html! { (labels::practice(name)) }))
                    }
                }
            },
        };
    }
    html! {
        ol.steps {
            li {
                h2 { (labels::BEGIN[0]) }
                p { (words::source(&state.source)) }
                @if has_sound {
                    (say(token, "check", None, html! { (labels::CHECK_FIRST) }))
                } @else if !matches!(state.source, SourceTold::Practice(_)) {
                    (say(token, "listen", None, html! { (labels::LOOK_AGAIN) }))
                }
            }
            li {
                h2 { (labels::BEGIN[1]) }
                @match &state.reed {
                    Some(reed) => {
                        @let on_bench = &reed.history.reed.card;
                        p { (labels::crow_it(&on_bench.label)) }
                        @if !is_practice(&on_bench.label) { (card("first", on_bench, token)) }
                    },
                    None => {
                        form.measure method="post" action="/say" {
                            input type="hidden" name="token" value=(token);
                            input type="hidden" name="line" value="new";
                            label for="first-reed" { (labels::WHAT_CALLED) }
                            span {
                                input #first-reed name="value" autocomplete="off" maxlength="60" placeholder=(labels::NAME_SUCH_AS);
                                " " button { (labels::PUT_ON_BENCH) }
                            }
                        }
                    }
                }
            }
            li {
                h2 { (labels::BEGIN[2]) }
                p { (labels::PRACTICE) }
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
                @if matches!(check, Check::Done(_)) { (labels::PUT_CHECK_AWAY) } @else { (labels::STOP_CHECK) }
            }))
        }
    }
}
