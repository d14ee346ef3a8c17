//! The page on which the log answers.

use clap::ValueEnum;
use maud::{DOCTYPE, Markup, html};

use super::head::of_page;
use crate::bench::asked::{Asked, Told};
use crate::log::LogError;
use crate::log::questions::{Condition, Field, Liked, Question};
use crate::report::answers::Block;
use crate::words::asked as words;
use crate::words::log::{condition, field, liked_in};

/// The whole page.
///
/// * `told`: the answer, or why there is none.
pub fn log(asked: &Asked, told: Result<&Told, &anyhow::Error>) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            (of_page(words::TITLE, &html! {}))
            body.log {
                header #head { div.who { h1 { (words::TITLE) } p { a href="/" { (words::BACK) } } } }
                nav.tabs aria-label=(words::QUESTIONS) {
                    @for question in Question::ALL {
                        a href={ "/log?ask=" (question.code()) }
                            aria-current=[(question == asked.ask).then_some("page")] {
                            (words::question(question))
                        }
                    }
                }
                main.answer {
                    (form(asked))
                    @match told {
                        Ok(told) => (answer(asked, told)),
                        Err(error) => p role="alert" { (refusal(error)) },
                    }
                }
            }
        }
    }
}

/// Why there is no answer.
fn refusal(error: &anyhow::Error) -> String {
    match error.downcast_ref() {
        Some(LogError::NoReed(label)) => words::no_reed(label),
        _ => format!("{error:#}"),
    }
}

/// What may be chosen of a question; nothing of one that leaves no choice.
fn form(asked: &Asked) -> Markup {
    let inside = match asked.ask {
        Question::Waiting | Question::Trust => return html! {},
        Question::Groups => {
            let fields = Field::ALL.iter().map(|one| (code(one), field(*one)));
            choice("by", words::BY, fields, &code(&asked.by()))
        }
        Question::Cuts => choice("cut", words::CUT, words::cuts(), &asked.cut),
        Question::Conditions => {
            let all = Condition::ALL.into_iter().map(|one| (code(&one), condition(one)));
            choice("with", words::WITH, all, &code(&asked.with()))
        }
        Question::Likes => {
            let all = Liked::ALL.iter().map(|one| (code(one), liked_in(*one)));
            choice("of", words::LIKED, all, &code(&asked.of()))
        }
        Question::Owner => typed("owner", words::OWNER, &asked.owner),
        Question::Way => typed("reed", words::REED, &asked.reed),
    };
    html! {
        form.ask method="get" action="/log" {
            input type="hidden" name="ask" value=(asked.ask.code());
            (inside)
            button { (words::ASK) }
        }
    }
}

/// As it stands in an address.
fn code(value: &impl ValueEnum) -> String {
    value.to_possible_value().map(|value| value.get_name().to_owned()).unwrap_or_default()
}

fn choice(
    name: &str,
    label: &str,
    of: impl Iterator<Item = (String, &'static str)>,
    chosen: &str,
) -> Markup {
    html! {
        label {
            (label) " "
            select name=(name) {
                @for (code, shown) in of {
                    option value=(code) selected[chosen == code] { (shown) }
                }
            }
        }
    }
}

fn typed(name: &str, label: &str, value: &str) -> Markup {
    html! { label { (label) " " input name=(name) value=(value) maxlength="200" autocomplete="off"; } }
}

fn answer(asked: &Asked, told: &Told) -> Markup {
    let mut picture = vec![("ask", asked.ask.code().to_owned())];
    picture.extend(asked.by.map(|by| ("by", code(&by))));
    picture.extend(asked.with.map(|with| ("with", code(&with))));
    for (name, text) in [("cut", &asked.cut), ("reed", &asked.reed)] {
        picture.extend((!text.is_empty()).then(|| (name, text.clone())));
    }
    html! {
        @if told.has_picture {
            figure { img src={ "/log/picture.svg?" (address(&picture)) } alt=(words::picture(asked.ask)); }
        }
        @for block in &told.answer.0 {
            @match block {
                Block::Told(text) => p { (text) },
                Block::Plain(text) => pre { (text) },
                Block::Table { title, head, rows } => (table(*title, head, rows)),
            }
        }
    }
}

/// A label leads to the way of its reed.
fn table(title: Option<&str>, head: &[&str], rows: &[Vec<String>]) -> Markup {
    let to_way = |column: usize| head.get(column) == Some(&"reed");
    html! {
        div.wide {
            table {
                @if let Some(title) = title { caption { (title) } }
                thead { tr { @for name in head { th scope="col" { (name) } } } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (column, cell) in row.iter().enumerate() {
                                td {
                                    @if to_way(column) {
                                        a href={ "/log?" (address(&[("ask", "way".into()), ("reed", cell.clone())])) } { (cell) }
                                    } @else { (cell) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What follows the question mark of an address (RFC 3986, 2.1: what is not plain stands as its bytes).
fn address(values: &[(&str, String)]) -> String {
    let value = |text: &String| {
        text.bytes()
            .map(|byte| match byte {
                b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => {
                    char::from(byte).to_string()
                }
                _ => format!("%{byte:02X}"),
            })
            .collect::<String>()
    };
    values
        .iter()
        .map(|(name, text)| format!("{name}={}", value(text)))
        .collect::<Vec<_>>()
        .join("&")
}
