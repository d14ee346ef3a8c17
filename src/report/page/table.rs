//! The table: one row for each take, sorted by the buttons in its headings.

use std::path::Path;

use maud::{Markup, html};

use super::ladder;
use super::names::name;
use super::row::{HeldTo, PageFigures, PageNext, PageRow};
use crate::advice::Move;
use crate::pitch::{A4, Note};
use crate::reading::Kind;
use crate::reed::Cut;
use crate::words::advice as words;
use crate::words::card::kind_word;
use crate::words::format::{interval, millimetres, note_name, number, signed};
use crate::words::takes as labels;

/// What a column holds: words, numbers, or words that sort by a number.
#[derive(Clone, Copy, PartialEq)]
enum Holds {
    Words,
    Numbers,
    RankedWords,
}

use Holds::{Numbers, RankedWords, Words};

/// What each column holds; headings are [`labels::COLUMNS`].
const COLUMNS: [Holds; labels::COLUMNS.len()] = [
    Words,
    Words,
    RankedWords,
    Numbers,
    Numbers,
    RankedWords,
    RankedWords,
    Numbers,
    Numbers,
    Numbers,
    Numbers,
    RankedWords,
];

/// A cell: what it sorts by, and what it shows.
struct Cell {
    key: String,
    shown: Markup,
}

impl Cell {
    fn text(text: &str) -> Self {
        Self { key: text.to_owned(), shown: html! { (text) } }
    }

    /// Words that sort by a number.
    fn ranked(key: impl ToString, text: &str) -> Self {
        Self { key: key.to_string(), shown: html! { (text) } }
    }

    /// A number shown by `show`; an empty cell where there is none.
    fn number(value: Option<f64>, show: impl Fn(f64) -> String) -> Self {
        match value.filter(|value| value.is_finite()) {
            Some(value) => Self::ranked(value, &show(value)),
            None => Self::empty(),
        }
    }

    fn empty() -> Self {
        Self::text("")
    }
}

/// The whole table with its filter.
///
/// * `folder`: what names count from.
///
/// * `held_to`: notes are named as its target is.
/// * `link`: how the page links to a picture.
pub(super) fn table(
    rows: &[PageRow],
    folder: &str,
    held_to: &HeldTo,
    link: impl Fn(&Path) -> Option<String>,
) -> Markup {
    html! {
        section aria-labelledby="takes" {
            h2 #takes { (labels::TAKES) }
            p.tools {
                label { (labels::FILTER) " " input #filter type="search" autocomplete="off"; }
                " " span.hint { (labels::SCROLL) } " " span #said role="status" {}
            }
            div.wide tabindex="0" role="region" aria-labelledby="takes" {
                table {
                    thead { tr {
                        @for ((name, meaning), holds) in labels::COLUMNS.iter().zip(COLUMNS) {
                            th scope="col" data-sort=(if holds == Words { "text" } else { "number" }) title=(meaning) {
                                button type="button" { (name) }
                            }
                        }
                    } }
                    tbody {
                        @for (index, row) in rows.iter().enumerate() {
                            @let name = name(&row.source, folder);
                            tr id=(format!("take-{}", index + 1)) {
                                th scope="row" data-key=(name) title=(row.source) {
                                    @match row.picture.as_deref().and_then(&link) {
                                        Some(link) => a href=(link) { (name) },
                                        None => (name),
                                    }
                                }
                                @for (cell, holds) in cells(row, held_to).iter().zip(&COLUMNS[1..]) {
                                    td.number[*holds == Numbers] data-key=(cell.key) { (cell.shown) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The cells after the first.
fn cells(row: &PageRow, held_to: &HeldTo) -> [Cell; COLUMNS.len() - 1] {
    let figures = match &row.outcome {
        Ok(figures) => figures,
        Err(reason) => {
            let mut cells: [Cell; COLUMNS.len() - 1] = std::array::from_fn(|_| Cell::empty());
            cells[0] = Cell::text(labels::NOT_READ);
            // More urgent than any count of warnings.
            cells[COLUMNS.len() - 2] = Cell::ranked(1000, reason);
            return cells;
        }
    };
    [
        Cell::text(
            figures.kind.map_or(labels::NO_CROW, |kind| kind_word(kind, held_to.is_upper(figures))),
        ),
        pitch(figures, held_to.target),
        Cell::number(figures.pitch_cents(), |cents| {
            let known = figures.known_cents(held_to.usual_spread_cents);
            let known = known.map(|half| format!(" {}", interval(half, 1)));
            signed(cents, 1) + &known.unwrap_or_default()
        }),
        Cell::number(figures.octaves_cents(), |cents| alignment(cents, figures.locked)),
        Cell { key: figures.rungs.len().to_string(), shown: ladder::small_picture(figures) },
        figures.next.map_or_else(Cell::empty, step),
        Cell::number(figures.spread_cents, |cents| number(cents, 1)),
        Cell::number(figures.onset_s, |seconds| number(seconds, 2)),
        Cell::number(figures.level_dbfs, |level| number(level, 1)),
        Cell::number(Some(figures.crow_count as f64), |count| number(count, 0)),
        Cell::ranked(figures.warnings.len(), &figures.warnings.join("; ")),
    ]
}

/// The nearest note and the distance from it; sorted by how high it is.
fn pitch(figures: &PageFigures, target: Option<Note>) -> Cell {
    let note = figures.note.as_deref().and_then(|note| Some((note, note.parse::<Note>().ok()?)));
    match (note, figures.note_cents) {
        (Some((name, note)), Some(cents)) => {
            let octaves = note.frequency(A4::default()).hz().log2();
            let shown = format!("{} {}", note_name(name, target), signed(cents, 0));
            Cell::ranked(1200.0 * octaves + cents, &shown)
        }
        _ => Cell::empty(),
    }
}

fn alignment(cents: f64, locked: Option<bool>) -> String {
    labels::alignment(&signed(cents, 1), locked == Some(true))
}

/// A move with its place or amount; sorted by the move, then by how much.
fn step(PageNext { next, place, amount_mm }: PageNext) -> Cell {
    let scrapes = matches!(next, Move::Tip | Move::Heart | Move::Back | Move::Seal);
    let name = Cut::at(next, place).filter(|_| scrapes).map_or(words::short(next), Cut::words);
    let shown = match amount_mm {
        Some(amount) => format!("{name} {}", millimetres(amount)),
        None => name.to_owned(),
    };
    let key = 100.0 * f64::from(next as u8) + amount_mm.unwrap_or_default();
    Cell::ranked(key, &shown)
}

/// The class of a kind: colour and shape in charts.
pub(super) fn kind_class(kind: Option<Kind>) -> &'static str {
    match kind {
        Some(Kind::Octaves) => "octaves",
        Some(Kind::Blended) => "blended",
        Some(Kind::Single) => "single",
        Some(Kind::Split) => "split",
        Some(Kind::Unsettled) => "unsettled",
        Some(Kind::Breath) | None => "none",
    }
}
