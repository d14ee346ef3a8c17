//! Rows of a table to rows of the page: whatever made a row, now or in an earlier run, the page
//! shows the same.

use serde_json::Value;

use super::form::Form;
use crate::advice::{Advice, Move, Place};
use crate::reading::{Kind, Reading, Summary};
use crate::report::csv::Cells;
use crate::report::page::{PageFigures, PageNext, PageRow};
use crate::words::warnings::in_short;

/// The row of the page for a row of a table; `None` where it is not a row of this form.
pub fn page_row(form: Form, row: &str) -> Option<PageRow> {
    match form {
        Form::Csv => of_cells(&Cells::read(row)?),
        Form::JsonLines => of_json(serde_json::from_str(row).ok()?),
    }
}

fn of_json(mut line: Value) -> Option<PageRow> {
    if let Some(error) = line.get("error") {
        return Some(PageRow::failed(line.get("source")?.as_str()?, error.as_str()?));
    }
    let advice = line.get_mut("advice").map(Value::take).unwrap_or_default();
    let advice: Option<Advice> = serde_json::from_value(advice).ok()?;
    let reading: Reading = serde_json::from_value(line).ok()?;
    Some(PageRow::new(&reading, advice.as_ref()))
}

fn of_cells(cells: &Cells) -> Option<PageRow> {
    let source = cells.text("source")?;
    if let Some(error) = cells.text("error") {
        return Some(PageRow::failed(source, error));
    }
    let crows = cells.text("crows").unwrap_or_default().split("; ");
    // Start and end, kind, and the distance of the pitch where there is one.
    let crow_cents = crows.filter_map(|crow| {
        let mut words = crow.split(' ').skip(1);
        let kind = words.next()?;
        (kind != "breath").then(|| words.next().and_then(|cents| cents.parse().ok()))
    });
    let next = cells.text("advice.move").and_then(word::<Move>);
    let summary = Summary {
        crow_count: cells.number("crow_count")? as usize,
        kind: cells.text("kind").and_then(word::<Kind>),
        figures: cells.figures(),
    };
    let codes = cells.text("warnings").into_iter().flat_map(|codes| codes.split(' '));
    let figures = PageFigures {
        crow_cents: crow_cents.collect(),
        warnings: codes.map(doubt).collect(),
        next: next.map(|next| PageNext {
            next,
            place: cells.text("advice.where").and_then(word::<Place>),
            amount_mm: cells.number("advice.amount_mm"),
        }),
        ..PageFigures::of(&summary)
    };
    Some(PageRow { source: source.to_owned(), outcome: Ok(figures), picture: None })
}

/// What a warning's code says, in a few words; a code of a later version as it stands.
pub(super) fn doubt(code: &str) -> String {
    word(code).map_or_else(|| code.to_owned(), |code| in_short(code).to_owned())
}

/// The value of an enum by the word that JSON has for it.
fn word<T: serde::de::DeserializeOwned>(word: &str) -> Option<T> {
    serde_json::from_value(Value::String(word.to_owned())).ok()
}
