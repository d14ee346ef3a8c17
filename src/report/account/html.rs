//! An account as one page of HTML: the master. Everything is in it; nothing is loaded. What stands in a
//! card is shown as it was written, and never taken for markup.

use maud::{DOCTYPE, Markup, html};

use super::letter::{Item, Letter, Part, Section};
use super::pdf::Paper;
use crate::words::account::{Piece, Sentence};

const STYLE: &str = include_str!("style.css");

/// The page.
///
/// * `paper`: on what it is printed.
pub fn html(letter: &Letter, paper: Paper) -> String {
    let size = match paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let page = html! {
        (DOCTYPE)
        html lang=(letter.language) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy"
                    content="default-src 'none'; style-src 'unsafe-inline'";
                title { (letter.title) }
                style { (maud::PreEscaped(STYLE)) "@page{size:" (size) ";margin:18mm}" }
            }
            body {
                header {
                    @if let Some(sender) = &letter.sender {
                        address {
                            strong { (sender.name) }
                            @for line in &sender.lines { br; (line) }
                        }
                    }
                    p class="date" { (letter.date) }
                }
                main {
                    h1 { (letter.title) }
                    @if let Some(owner) = &letter.owner { p class="for" { (owner) } }
                    @if let Some(table) = &letter.table {
                        h2 { (table.title) }
                        div class="wide" {
                            table {
                                thead { tr { @for name in &table.head { th scope="col" { (name) } } } }
                                tbody {
                                    @for row in &table.rows { tr { @for cell in row { td { (cell) } } } }
                                }
                            }
                        }
                    }
                    @for part in &letter.parts { (of_reed(part, letter.parts.len() > 1)) }
                    section class="care" { (titled(&letter.care, false)) }
                }
            }
        }
    };
    page.into_string()
}

fn of_reed(part: &Part, several: bool) -> Markup {
    html! {
        article {
            @if let Some(title) = &part.title { h2 { (title) } }
            @if let Some((drawing, caption)) = &part.drawing {
                figure { (drawing.svg()) figcaption { (caption) } }
            }
            @for section in &part.sections { section { (titled(section, several)) } }
        }
    }
}

fn titled(section: &Section, below: bool) -> Markup {
    html! {
        @if below { h3 { (section.title) } } @else { h2 { (section.title) } }
        ul { @for item in &section.items { li { (told(item)) } } }
    }
}

fn told(item: &Item) -> Markup {
    match &item.picture {
        Some(picture) => {
            html! { div class="step" { p { (sentence(&item.sentence)) } (picture.svg()) } }
        }
        None => sentence(&item.sentence),
    }
}

fn sentence(sentence: &Sentence) -> Markup {
    html! {
        @for piece in &sentence.pieces {
            @match piece {
                Piece::Words(text) => (text),
                Piece::Figure(text) => span class="figure" { (text) },
            }
        }
    }
}
