//! What can be written down: one large button and one key for each cut, look and measurement, and the
//! change of reed.

use std::fmt::Display;

use maud::{Markup, html};

use super::keys::{self, Group};
use super::say;
use crate::advice::{Advice, Move, Where};
use crate::bench::engine::is_advised;
use crate::bench::grammar::{self, ENDINGS, HEARD, SIZES};
use crate::bench::state::{OnBench, State};
use crate::log::{Card, CardField, Grade, Rated};
use crate::profile::BUILT_IN;
use crate::reed::{Cut, LOOKS};
use crate::words::format::number;
use crate::words::{bench as words, ear, page as labels};

/// Amounts of a clip that have a button, in millimetres.
const CLIPS_MM: [f64; 5] = [0.1, 0.15, 0.2, 0.3, 0.5];

/// All groups.
pub fn entries(state: &State, token: &str) -> Markup {
    let wanted = group_wanted(state);
    html! {
        nav.tabs aria-label=(labels::part::ENTRY_KINDS) {
            @for group in Group::ALL {
                a href=(format!("#{}", group.id())) data-tab=(group.id()) data-key=(group.key())
                    class=[(wanted == Some(group)).then_some("wanted")] {
                    (group.name()) " " kbd { (group.key()) }
                }
            }
        }
        @for group in Group::ALL {
            div.group id=(group.id()) role="group" aria-label=(group.name()) {
                h2 { (group.name()) }
                @match group {
                    Group::Cut => (cuts(state, token)),
                    Group::Look => (looks(state, token)),
                    Group::Measure => (measures(state, token)),
                    Group::Heard => (heard(token)),
                    Group::Reeds => (reeds(state, token)),
                }
            }
        }
    }
}

/// The next move; none of a reed whose work is over.
fn advice(state: &State) -> Option<&Advice> {
    if state.reed.as_ref().is_some_and(|reed| reed.history.reed.card.ending.is_some()) {
        return None;
    }
    let heard = state.heard.as_ref().map(|heard| &heard.advice);
    heard.or_else(|| state.reed.as_ref().and_then(|reed| reed.advice.as_ref()))
}

/// The group in which the next move is written down.
fn group_wanted(state: &State) -> Option<Group> {
    let advice = advice(state)?;
    match advice.next {
        Move::Measure => Some(Group::Measure),
        Move::Look if is_asked(state, Move::Look, "heard") => Some(Group::Heard),
        Move::Look => Some(Group::Look),
        next => next.is_work().then_some(Group::Cut),
    }
}

/// Whether `next` is the next move and asks for what is said with `word`.
fn is_asked(state: &State, next: Move, word: &str) -> bool {
    let advice = advice(state).filter(|advice| advice.next == next);
    let asked = advice.and_then(|advice| match &advice.r#where {
        Where::Wanted(asked) => Some(asked),
        _ => None,
    });
    asked.is_some_and(|asked| asked.iter().any(|one| grammar::answered_by(*one) == word))
}

fn hidden(token: &str) -> Markup {
    html! { input type="hidden" name="token" value=(token); }
}

/// What is always to be had.
const FREE: bool = false;

fn button(
    line: &str,
    label: Markup,
    key: Option<impl Display>,
    is_wanted: bool,
    is_closed: bool,
) -> Markup {
    html! {
        button name="line" value=(line) data-key=[key.as_ref()] disabled[is_closed]
            class=[is_wanted.then_some("wanted")] {
            span { (label) }
            @if let Some(key) = &key { kbd { (key) } }
            @if is_wanted { small { (labels::ADVISED) } }
        }
    }
}

/// Why nothing can be written down of the reed on the bench, and how that ends; nothing of an open one.
fn closed(state: &State, token: &str) -> Option<Markup> {
    let card = &state.reed.as_ref()?.history.reed.card;
    let ending = card.ending?;
    Some(html! {
        div.closed {
            p { (labels::is_closed(&card.label, ending.words())) }
            (say(token, "open again", None, html! { (labels::OPEN_AGAIN) }))
        }
    })
}

fn cuts(state: &State, token: &str) -> Markup {
    let advice = advice(state);
    let is_wanted = |cut: Cut| advice.is_some_and(|advice| is_advised(cut, advice));
    let advised_mm = advice.filter(|_| is_wanted(Cut::Clip)).and_then(Advice::told_mm);
    let closed = closed(state, token);
    let is_closed = closed.is_some();
    let mut clips = CLIPS_MM.to_vec();
    clips.extend(advised_mm.filter(|mm| !CLIPS_MM.contains(mm)));
    clips.sort_by(f64::total_cmp);
    // The letters are those that are typed at the prompt; a clip's leads to the line for its amount.
    let clip = Cut::Clip.row();
    let begun = format!("{} {}", clip.words, advised_mm.map(trimmed).unwrap_or_default());
    html! {
        @if let Some(closed) = &closed { (closed) }
        form.buttons method="post" action="/say" {
            (hidden(token))
            @for mm in clips {
                @let amount = trimmed(mm);
                @let said = format!("{} {amount}", clip.words);
                (button(&said, html! { (labels::clip(&amount)) }, None::<&str>, advised_mm == Some(mm), is_closed))
            }
            @if !is_closed {
                a.fill href="#line" data-key=(clip.letters) data-fill=(begun) {
                    span { (labels::OTHER_CLIP) } kbd { (clip.letters) }
                }
            }
            @for cut in grammar::cuts().filter(|row| row.cut != Cut::Clip) {
                (button(cut.words, html! { (cut.words) }, Some(cut.letters), is_wanted(cut.cut), is_closed))
            }
        }
    }
}

fn trimmed(mm: f64) -> String {
    number(mm, 2).trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn looks(state: &State, token: &str) -> Markup {
    let seen = state.reed.as_ref().map(|reed| reed.history.seen_now()).unwrap_or_default();
    let closed = closed(state, token);
    let mut parts: Vec<&str> = LOOKS.iter().map(|look| look.part).collect();
    parts.dedup();
    html! {
        @if let Some(closed) = &closed { (closed) }
        form.looks method="post" action="/say" {
            (hidden(token))
            @for part in parts {
                div class=[is_asked(state, Move::Look, part).then_some("wanted")] {
                    span.part { (part) }
                    @for look in LOOKS.iter().filter(|look| look.part == part) {
                        @let is_so = look.seen.over(seen) == seen && look.seen != Default::default();
                        button name="line" value=(look.words()) data-key=(look.key) disabled[closed.is_some()] aria-pressed=(is_so) {
                            span { span.unseen { (look.part) " " } (look.found) } kbd { (look.key) }
                        }
                    }
                }
            }
        }
    }
}

/// What the maker hears of the last crow; it teaches the program this maker's ear.
fn heard(token: &str) -> Markup {
    html! {
        p { (labels::WHAT_HEARD) }
        form.buttons method="post" action="/say" {
            (hidden(token))
            @for row in &HEARD {
                (button(&row.words(), html! { (ear::heard(row.heard)) }, Some(row.key), false, FREE))
            }
        }
    }
}

fn measures(state: &State, token: &str) -> Markup {
    let mut now = state.reed.as_ref().map(|reed| *reed.history.measured_now()).unwrap_or_default();
    let closed = closed(state, token);
    html! {
        @if let Some(closed) = &closed { (closed) }
        div.measures {
            @for size in &SIZES {
                @let id = format!("size-{}", size.word());
                @let value = (size.field)(&mut now).map(trimmed).unwrap_or_default();
                @let is_wanted = is_asked(state, Move::Measure, size.word());
                form.measure.wanted[is_wanted] method="post" action="/say" {
                    (hidden(token))
                    input type="hidden" name="line" value=(size.word());
                    label for=(id) { (size.about) " " kbd { (size.key) } }
                    span {
                        input id=(id) name="value" inputmode="decimal" autocomplete="off" maxlength="10"
                            placeholder=(value) data-key=(size.key) disabled[closed.is_some()];
                        " " (labels::MM) " "
                        button disabled[closed.is_some()] { (labels::WRITE_DOWN) }
                    }
                }
            }
        }
    }
}

/// What the card says of owner, cane, complaint and due date, to be written anew.
///
/// * `id`: how the fields' own begin.
pub fn card(id: &str, card: &Card, token: &str) -> Markup {
    let kinds = format!("{id}-kinds");
    html! {
        h3 { (labels::card_of(&card.label)) }
        datalist id=(kinds) { @for kind in BUILT_IN { option value=(kind.name) {} } }
        div.measures {
            @for field in CardField::ALL {
                @let id = format!("{id}-{}", field.code());
                form.measure method="post" action="/say" {
                    (hidden(token))
                    input type="hidden" name="line" value=(field.code());
                    label for=(id) { (labels::card_field(field)) }
                    span {
                        input.long id=(id) name="value" autocomplete="off" maxlength="200"
                            list=[(field == CardField::Kind).then_some(&kinds)]
                            placeholder=(field.of(card).unwrap_or_default());
                        " " button { (labels::WRITE_DOWN) }
                    }
                }
            }
        }
    }
}

/// How the work on the reed ends, and the account for its owner.
fn ending(reed: &OnBench, token: &str) -> Markup {
    let card = &reed.history.reed.card;
    let is_model = reed.model.as_ref().is_some_and(|model| model.label == card.label);
    html! {
        h3 { (labels::end_of_work(&card.label)) }
        form.buttons method="post" action="/say" {
            (hidden(token))
            @match card.ending {
                None => @for (line, ending) in &ENDINGS {
                    (button(line, html! { (words::ending(*ending)) }, None::<char>, false, FREE))
                },
                Some(_) => (button("open again", html! { (labels::OPEN_AGAIN) }, None::<char>, false, FREE)),
            }
            @if !is_model {
                (button("model this", html! { (labels::MAKE_MODEL) }, None::<char>, false, FREE))
            }
        }
        (rating(reed, token))
        @if let Some(model) = &reed.model {
            p { (labels::model(&model.label, is_model)) }
        }
        @for (what, asked) in [(labels::ACCOUNT, ""), (labels::ACCOUNT_WITH_NOTES, "?notes=all")] {
            p.files {
                (what) " "
                a.file href={ "/account.pdf" (asked) } download { (labels::ACCOUNT_AS[0]) }
                " "
                a.file href={ "/account.html" (asked) } download { (labels::ACCOUNT_AS[1]) }
            }
        }
    }
}

/// How good the reed is; asked when it is closed, and again when it comes back.
fn rating(reed: &OnBench, token: &str) -> Markup {
    let history = &reed.history;
    let said = history.last_rating(None);
    let asked = match (history.reed.card.ending, history.ratings.is_empty()) {
        (None, false) => words::HOW_WAS_IT,
        _ => words::HOW_GOOD,
    };
    html! {
        h3 { (labels::asked(asked)) }
        form.looks.rated method="post" action="/say" {
            (hidden(token))
            @for side in Rated::ALL {
                div {
                    span.part { (labels::side(side)) }
                    @for grade in Grade::ALL {
                        button name="line" value=(format!("rate {} {}", side.code(), grade.code()))
                            aria-pressed=(said.of(side) == Some(grade)) {
                            span { span.unseen { (side.code()) " " } (grade.code()) }
                        }
                    }
                }
            }
        }
        div.measures {
            form.measure method="post" action="/say" {
                (hidden(token))
                input type="hidden" name="line" value="rate lived";
                label for="rate-lived" { (labels::LIVED) }
                span {
                    input id="rate-lived" name="value" inputmode="decimal" autocomplete="off" maxlength="10"
                        placeholder=(said.lived_hours.map(|hours| number(hours, 0)).unwrap_or_default());
                    " h "
                    button { (labels::WRITE_DOWN) }
                }
            }
        }
    }
}

fn reeds(state: &State, token: &str) -> Markup {
    let here = state.reed.as_ref().map(|reed| reed.history.reed.card.label.as_str());
    let others = state.open.iter().filter(|reed| Some(reed.label.as_str()) != here);
    html! {
        form.buttons method="post" action="/say" {
            (hidden(token))
            (button("next", html! { (labels::NEXT_REED) }, Some(keys::NEXT), false, FREE))
            @for (reed, key) in others.zip(keys::REEDS) {
                (button(&format!("reed {}", reed.label), html! {
                    b { (reed.label) } " "
                    @if let Some(owner) = &reed.owner { (owner) " " }
                    @if let Some(complaint) = &reed.complaint { small { (complaint) } }
                }, Some(key), false, FREE))
            }
        }
        @if let Some(reed) = &state.reed {
            (card("card", &reed.history.reed.card, token))
            (ending(reed, token))
        }
        div.measures {
            @for (line, label, id) in [
                ("new", labels::NEW_REEDS[0], "reed-new"),
                ("like", labels::NEW_REEDS[1], "reed-like"),
                ("reed", labels::NEW_REEDS[2], "reed-before"),
            ] {
                @if line != "like" || here.is_some() {
                    form.measure method="post" action="/say" {
                        (hidden(token))
                        input type="hidden" name="line" value=(line);
                        label for=(id) { (label) }
                        span {
                            input id=(id) name="value" autocomplete="off" maxlength="60" placeholder=(labels::ITS_NAME);
                            " " button { (labels::PUT_ON_BENCH) }
                        }
                    }
                }
            }
        }
    }
}
