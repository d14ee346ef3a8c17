//! The table: one row for each take, sorted by the buttons in its headings.

use std::fmt::Write;
use std::path::Path;

use super::ladder;
use super::markup::escape;
use super::names::name;
use super::{HeldTo, PageFigures, PageRow};
use crate::advice::Move;
use crate::pitch::{A4, Note};
use crate::reading::Kind;
use crate::report::format::{interval, millimetres, note_name, number, signed};
use crate::words::advice as words;
use crate::words::card::kind_word;

/// What a column holds: words, numbers, or words that sort by a number.
#[derive(Clone, Copy, PartialEq)]
enum Holds {
    Words,
    Numbers,
    RankedWords,
}

use Holds::{Numbers, RankedWords, Words};

/// Heading, what it means, and what the column holds.
const COLUMNS: [(&str, &str, Holds); 12] = [
    ("Take", "The file; its whole path shows when pointed at", Words),
    ("Kind", "How most of its crows sound", Words),
    ("Pitch", "Nearest note and cents from it", RankedWords),
    (
        "Off target (cents)",
        "From the target, negative is flat; ± how well the pitch is known, by how far the crows \
         differ (95 %), as on the take's card. Without a target from the nearest note",
        Numbers,
    ),
    ("Octaves off (cents)", "The upper octave over twice the lower", Numbers),
    (
        "Octaves and crows",
        "Level of each octave, the target's first; pitch of each crow against the target",
        RankedWords,
    ),
    ("Next move", "What to do next", RankedWords),
    ("Wander (cents)", "How far the pitch wanders within a crow", Numbers),
    ("Onset (s)", "Breath before the first tone", Numbers),
    ("Level (dB)", "How loud it was recorded, against full scale", Numbers),
    ("Crows", "Crows that sound", Numbers),
    ("Doubts", "What makes the reading doubtful, or why there is none", RankedWords),
];

/// A cell: what it sorts by, and what it shows as HTML.
struct Cell {
    key: String,
    html: String,
}

impl Cell {
    fn text(text: &str) -> Self {
        Self { key: escape(text), html: escape(text) }
    }

    /// A number shown by `show`; an empty cell where there is none.
    fn number(value: Option<f64>, show: impl Fn(f64) -> String) -> Self {
        match value.filter(|value| value.is_finite()) {
            Some(value) => Self { key: value.to_string(), html: show(value) },
            None => Self::empty(),
        }
    }

    fn empty() -> Self {
        Self { key: String::new(), html: String::new() }
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
) -> String {
    let mut html = String::from(
        "<section aria-labelledby=\"takes\">\n<h2 id=\"takes\">Takes</h2>\n\
         <p class=\"tools\"><label>Show only rows that contain <input id=\"filter\" type=\"search\" \
         autocomplete=\"off\"></label> <span class=\"hint\">Scroll sideways for the rest of the \
         columns.</span> <span id=\"said\" role=\"status\"></span></p>\n\
         <div class=\"wide\" tabindex=\"0\" role=\"region\" aria-labelledby=\"takes\">\n\
         <table>\n<thead>\n<tr>",
    );
    for (name, meaning, holds) in COLUMNS {
        let sort = if holds == Words { "text" } else { "number" };
        let _ = write!(
            html,
            "<th scope=\"col\" data-sort=\"{sort}\" title=\"{}\"><button type=\"button\">{name}\
             </button></th>",
            escape(meaning),
        );
    }
    html.push_str("</tr>\n</thead>\n<tbody>\n");
    for (index, row) in rows.iter().enumerate() {
        let _ = write!(html, "<tr id=\"take-{}\">", index + 1);
        let (path, name) = (escape(&row.source), escape(name(&row.source, folder)));
        let shown = match row.picture.as_deref().and_then(&link) {
            Some(link) => format!("<a href=\"{}\">{name}</a>", escape(&link)),
            None => name.clone(),
        };
        let _ = write!(html, "<th scope=\"row\" data-key=\"{name}\" title=\"{path}\">{shown}</th>");
        for (cell, (_, _, holds)) in cells(row, held_to).iter().zip(&COLUMNS[1..]) {
            let class = if *holds == Numbers { " class=\"number\"" } else { "" };
            let _ = write!(html, "<td{class} data-key=\"{}\">{}</td>", cell.key, cell.html);
        }
        html.push_str("</tr>\n");
    }
    html + "</tbody>\n</table>\n</div>\n</section>\n"
}

/// The cells after the first.
fn cells(row: &PageRow, held_to: &HeldTo) -> [Cell; COLUMNS.len() - 1] {
    let figures = match &row.outcome {
        Ok(figures) => figures,
        Err(reason) => {
            let mut cells: [Cell; COLUMNS.len() - 1] = std::array::from_fn(|_| Cell::empty());
            cells[0] = Cell::text("not read");
            // More urgent than any count of warnings.
            cells[COLUMNS.len() - 2] = Cell { key: "1000".into(), html: escape(reason) };
            return cells;
        }
    };
    [
        Cell::text(figures.kind.map_or("no crow", kind_word)),
        pitch(figures, held_to.target),
        Cell::number(figures.pitch_cents(), |cents| {
            let known = figures.known_cents(held_to.usual_spread_cents);
            let known = known.map(|half| format!(" {}", interval(half, 1)));
            signed(cents, 1) + &known.unwrap_or_default()
        }),
        Cell::number(figures.alignment_cents, |cents| alignment(cents, figures.locked)),
        Cell { key: figures.rungs.len().to_string(), html: ladder::small_picture(figures) },
        figures.next.map_or_else(Cell::empty, |(next, amount_mm)| step(next, amount_mm)),
        Cell::number(figures.spread_cents, |cents| number(cents, 1)),
        Cell::number(figures.onset_s, |seconds| number(seconds, 2)),
        Cell::number(figures.level_dbfs, |level| number(level, 1)),
        Cell::number(Some(figures.crow_count as f64), |count| number(count, 0)),
        Cell {
            key: figures.warnings.len().to_string(),
            html: escape(&figures.warnings.join("; ")),
        },
    ]
}

/// The nearest note and the distance from it; sorted by how high it is.
fn pitch(figures: &PageFigures, target: Option<Note>) -> Cell {
    let note = figures.note.as_deref().and_then(|note| Some((note, note.parse::<Note>().ok()?)));
    match (note, figures.note_cents) {
        (Some((name, note)), Some(cents)) => {
            let octaves = note.frequency(A4::default()).hz().log2();
            let shown = format!("{} {}", note_name(name, target), signed(cents, 0));
            Cell { key: (1200.0 * octaves + cents).to_string(), html: escape(&shown) }
        }
        _ => Cell::empty(),
    }
}

fn alignment(cents: f64, locked: Option<bool>) -> String {
    let locked = if locked == Some(true) { " locked" } else { "" };
    format!("{}{locked}", signed(cents, 1))
}

/// A move with its amount; sorted by the move, then by how much.
fn step(next: Move, amount_mm: Option<f64>) -> Cell {
    let name = words::short(next);
    let shown = match amount_mm {
        Some(amount) => format!("{name} {}", millimetres(amount)),
        None => name.to_owned(),
    };
    let key = 100.0 * f64::from(next as u8) + amount_mm.unwrap_or_default();
    Cell { key: key.to_string(), html: escape(&shown) }
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
