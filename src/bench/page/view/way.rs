//! The reed's way: what each cut did, and every take to be heard again.

use maud::{Markup, html};

use super::keys;
use crate::bench::state::{Change, State};
use crate::comparison::Verdict;
use crate::log::{Stage, timeline};
use crate::report::history;
use crate::words::format::LengthUnit;
use crate::words::stage::{self, is_upper};
use crate::words::voices::kind_large;
use crate::words::{bench as words, page as labels};

/// Reach of the small scale, in cents.
const REACH_CENTS: f64 = 100.0;

/// What the last cut did, with verdicts; and how the reed stands beside the model.
pub fn change(state: &State) -> Markup {
    let reed = state.reed.as_ref();
    let change = reed.and_then(|reed| reed.change.as_ref()).map(since);
    let model = reed.and_then(|reed| reed.model.as_ref()).filter(|model| !model.told.is_empty());
    html! {
        @if let Some(change) = change { (change) }
        @if let Some(model) = model {
            div.model {
                h2 { (words::beside(&model.label, true)) }
                ul { @for told in &model.told { li { (told) } } }
            }
        }
    }
}

fn since(change: &Change) -> Markup {
    html! {
        h2 { (labels::since(&change.since)) }
        @for beware in &change.beware { p.care { (beware) } }
        ul.verdicts {
            @if let Some(turned) = &change.turned { li { (turned) } }
            @for (verdict, sentence) in &change.told {
                li data-verdict=(name(*verdict)) { (sentence) }
            }
            @if change.told.is_empty() && change.turned.is_none() { li { (labels::NOT_COMPARED) } }
        }
    }
}

fn name(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Rose => "rose",
        Verdict::Fell => "fell",
        Verdict::Same => "same",
        Verdict::Unclear => "unclear",
    }
}

/// One row for each stage, the last one first.
pub fn way(state: &State) -> Markup {
    let Some(reed) = &state.reed else { return html! {} };
    let stages = timeline(&reed.history);
    let target = state.profile.lowest_note();
    let takes =
        |number: u32| reed.history.takes.iter().filter(move |take| take.take.after_step == number);
    let last_of = |number: u32| takes(number).next_back().map(|take| take.take.number);
    let now = reed.history.stage();
    let before = (0..now).rev().find_map(last_of);
    html! {
        h2 { (labels::part::WAY) }
        @if let (Some(before), Some(after)) = (before, last_of(now)) {
            p { a.play href=(format!("/sound/turn/{before}/{after}.wav")) data-key=(keys::TURN) {
                (labels::IN_TURN) " " kbd { (keys::TURN) }
            } }
        }
        ol.way reversed {
            @for at in stages.iter().rev() {
                li {
                    div.cut { (title(at)) }
                    div.told {
                        (scale(at, state.profile.tolerance.target_cents))
                        span.tone { (stage::pitch(at, target, state.a4).unwrap_or_else(|| stage::heard(at))) }
                        @if let Some(kind) = at.kind { span.kind { (kind_large(kind, is_upper(at, target))) } }
                        @if let Some(length) = at.length { span.length { (history::length(length, LengthUnit::Millimetres)) } }
                    }
                    @if takes(at.number).next().is_some() {
                        div.takes {
                            @for take in takes(at.number) {
                                @let number = take.take.number;
                                @let is_last = Some(number) == last_of(now) && at.number == now;
                                a.play href=(format!("/sound/take/{number}.wav")) data-key=[is_last.then_some(keys::LAST)] {
                                    (labels::take(number)) @if is_last { " " kbd { (keys::LAST) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn title(at: &Stage) -> String {
    match &at.step {
        None => labels::AS_IT_CAME.to_owned(),
        Some(logged) => logged.step.to_string(),
    }
}

/// Where the pitch lies about the target, on a short line.
fn scale(at: &Stage, tolerance_cents: f64) -> Markup {
    let place = |cents: f64| 60.0 + 56.0 * (cents / REACH_CENTS).clamp(-1.0, 1.0);
    let (low, high) = (place(-tolerance_cents), place(tolerance_cents));
    html! {
        svg.scale viewBox="0 0 120 20" role="img" aria-label=(at.target_cents.map_or_else(|| labels::WITHOUT_PITCH.to_owned(), words::off)) {
            rect.tune x=(format!("{low:.1}")) y="3" width=(format!("{:.1}", high - low)) height="14" {}
            line x1="4" x2="116" y1="10" y2="10" {}
            @if let Some(cents) = at.target_cents {
                circle cx=(format!("{:.1}", place(cents))) cy="10" r="5" {}
            }
        }
    }
}
