//! The last crow: pitch, kind and next move, always in the same place; and everything else behind it.

use maud::{Markup, html};

use super::keys;
use super::say;
use crate::advice::Advice;
use crate::bench::state::{HeardNow, State};
use crate::reading::Reading;
use crate::units::Hertz;
use crate::words::advice as advice_words;
use crate::words::card::{self as figures, label};
use crate::words::format::{interval, millimetres, number};
use crate::words::reading::also_heard;
use crate::words::voices;
use crate::words::{bench as words, page as labels};

/// The three things a maker wants to know.
pub fn crow(state: &State, token: &str) -> Markup {
    let heard = state.heard.as_ref();
    let reading = heard.map(|heard| &heard.reading);
    let advice = heard
        .map(|heard| &heard.advice)
        .or_else(|| state.reed.as_ref().and_then(|reed| reed.advice.as_ref()));
    let aside = state.set_aside();
    html! {
        div.answer data-take=[heard.map(|heard| heard.at)] data-sounded=(state.sounded.0)
            data-crow=(state.sounded.1) {
            div.pitch-said {
                h2 { (labels::ANSWER[0]) }
                (pitch(heard, state))
            }
            div.kind-said {
                h2 { (labels::ANSWER[1]) }
                (kind(reading, state))
            }
            div.next-said {
                h2 { (labels::ANSWER[2]) }
                (next(advice, state))
            }
        }
        @if let Some(heard) = also_heard(&aside) {
            div.aside {
                p { (labels::set_aside(&heard)) }
                @if state.reed.is_some() {
                    (say(token, "keep", Some(keys::KEEP), html! { (labels::KEEP) }))
                }
            }
        } @else if let Some(heard) = heard.and_then(|heard| also_heard(&heard.reading.others)) {
            p.aside { (labels::not_the_reed(&heard)) }
        }
    }
}

fn pitch(heard: Option<&HeardNow>, state: &State) -> Markup {
    let reading = heard.map(|heard| &heard.reading);
    let summary = reading.map(|reading| &reading.summary.figures.fundamental);
    let cents = summary.and_then(|pitch| pitch.target_cents.or(pitch.note_cents));
    let several = reading.is_some_and(|reading| reading.summary.crow_count > 1);
    let known = reading.and_then(|reading| {
        crate::comparison::pitch_estimate(reading, state.profile.advice.usual_spread_cents)
    });
    html! {
        @match (reading, cents) {
            (_, Some(cents)) => {
                p.large { (words::off(cents)) }
                p.small {
                    @if let Some(hz) = summary.and_then(|pitch| pitch.hz).and_then(Hertz::new) {
                        (state.distance(hz).0) ", " (number(hz.hz(), 1)) " Hz"
                    }
                    @if let Some(known) = known.filter(|_| several) { ", " (interval(known.half_width(), 1)) " cents" }
                }
            }
            (Some(_), None) => { p.large { (labels::NO_PITCH.0) } p.small { (labels::NO_PITCH.1) } }
            (None, None) => { p.large { (labels::NOT_YET) } p.small { (labels::CROW_THREE_TIMES) } }
        }
        @if let Some(heard) = heard {
            p.by {
                (words::by_crows(heard.reading.summary.crow_count, heard.stands))
                @if let Some(take) = heard.take { ", " (labels::take(take)) }
            }
        }
    }
}

fn kind(reading: Option<&Reading>, state: &State) -> Markup {
    let Some(reading) = reading else {
        return html! { p.large { (labels::NOT_YET) } p.small { (labels::NOT_CROWED) } };
    };
    let Some(kind) = reading.summary.kind else {
        return html! { p.large { (labels::NO_CROW) } p.small { (figures::no_crow(reading)) } };
    };
    let same = reading.crows.iter().filter(|crow| crow.kind == kind).count();
    let all = reading.summary.crow_count;
    let beside = voices::beside_kind(kind, &reading.summary.figures, &state.profile);
    html! {
        p.large { (voices::kind_large(kind, voices::is_upper(&reading.summary.figures, &state.profile))) }
        p.small {
            @if let Some(beside) = &beside { (beside) }
            @if same < all { @if beside.is_some() { "; " } (labels::so_many_of(same, all)) }
        }
    }
}

fn next(advice: Option<&Advice>, state: &State) -> Markup {
    let history = state.reed.as_ref().map(|reed| &reed.history);
    if let Some(ending) = history.and_then(|history| history.reed.card.ending) {
        return html! { p.large { (labels::OVER) } p.small { (ending.words()) } };
    }
    let Some(advice) = advice else {
        return html! { p.large { (labels::CROW.0) } p.small { (labels::CROW.1) } };
    };
    html! {
        p.large {
            (advice_words::order(advice.next, &advice.r#where))
            @if let Some(mm) = advice.told_mm() { ", " (millimetres(mm)) }
        }
        p.small {
            @if let Some(place) = advice_words::place(advice.next, &advice.r#where) { (place) }
            @if advice.next.is_cut() { " (" (labels::sure(&advice_words::percent(advice.confidence))) ")" }
        }
        @if let Some(all) = crows_since(state) { p.by { (labels::by_all(all)) } }
        // Others stand behind "All figures and cautions".
        @if let Some(caution) = advice.cautions.first().filter(|_| advice.next.is_work()) {
            p.care { (caution) }
        }
    }
}

/// How many crows the move rests on, where these are more than those of the take that is shown.
fn crows_since(state: &State) -> Option<usize> {
    let history = &state.reed.as_ref()?.history;
    let shown = state.heard.as_ref()?.reading.summary.crow_count;
    let takes = history.readings_at(history.stage());
    let all = takes.iter().map(|take| take.summary.crow_count).sum();
    (all > shown).then_some(all)
}

/// Reasons, figures, crows one by one, and all cautions.
pub fn detail(state: &State) -> Markup {
    let Some(heard) = &state.heard else { return html! { p { (labels::NOTHING_CROWED) } } };
    let reading = &heard.reading;
    let summary = &reading.summary.figures;
    let first = [
        (label::PITCH, figures::pitch_aside(reading, &state.profile)),
        (label::ALIGNMENT_ALONE, figures::alignment(summary, reading.summary.kind)),
    ];
    let told =
        first.into_iter().chain(figures::manners(summary, reading.summary.kind, &state.profile));
    let [why, all_figures, beware, cautions] = labels::DETAIL;
    html! {
        h3 { (why) }
        ul { @for reason in &heard.advice.because { li { (reason.says) } } }
        @if !heard.advice.otherwise.is_empty() {
            h3 { (labels::OR_ELSE) }
            ul { @for other in &heard.advice.otherwise { li { (advice_words::or_else(other)) } } }
        }
        @if !heard.advice.then.is_empty() { p { (heard.advice.then) } }
        h3 { (all_figures) }
        dl {
            @for (name, text) in told {
                @if let Some(text) = text { dt { (name) } dd { (text) } }
            }
        }
        @if !reading.warnings.is_empty() {
            h3 { (beware) }
            ul { @for warning in &reading.warnings { li { (warning.text) } } }
        }
        h3 { (cautions) }
        ul { @for caution in &heard.advice.cautions { li { (caution) } } }
    }
}
