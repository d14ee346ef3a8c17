//! What a picture shows, in words: source, pitch, kind.

use plotters::prelude::DrawingBackend;

use super::canvas::{Area, Drawn};
use super::style;
use crate::reading::{Kind, Reading};

/// Draws the lines of a heading: the first large, the others smaller.
pub(super) fn draw<DB: DrawingBackend>(
    area: &Area<DB>,
    title: &str,
    lines: &[String],
) -> Drawn<DB> {
    let (width, _) = area.dim_in_pixel();
    let large = style::bold(26.0, style::INK);
    area.draw_text(&fitted(area, title, &large, width - 32)?, &large, (16, 18))?;
    for (index, line) in lines.iter().enumerate() {
        let look = style::text(19.0, style::INK);
        let y = 52 + 26 * index as i32;
        area.draw_text(&fitted(area, line, &look, width - 32)?, &look, (16, y))?;
    }
    Ok(())
}

/// `text`, its front left out where it is wider than `width` pixels: paths differ at their end.
fn fitted<DB: DrawingBackend>(
    area: &Area<DB>,
    text: &str,
    look: &plotters::style::TextStyle<'_>,
    width: u32,
) -> Result<String, plotters::drawing::DrawingAreaErrorKind<DB::ErrorType>> {
    let letters: Vec<char> = text.chars().collect();
    let mut left_out = letters.len().saturating_sub(400);
    loop {
        let tail: String = letters.iter().skip(left_out).collect();
        let shown = if left_out == 0 { tail } else { format!("…{tail}") };
        if left_out >= letters.len() || area.estimate_text_size(&shown, look)?.0 <= width {
            return Ok(shown);
        }
        left_out += 4;
    }
}

/// The take's pitch in words: "C5 −38.2 cents (38.2 flat of the target)".
pub(super) fn pitch(reading: &Reading) -> String {
    let fundamental = &reading.summary.figures.fundamental;
    let (Some(note), Some(note_cents)) = (&fundamental.note, fundamental.note_cents) else {
        return "no pitch".into();
    };
    let target = match fundamental.target_cents {
        Some(cents) if cents.abs() < 0.05 => ", on the target".to_owned(),
        Some(cents) if cents < 0.0 => format!(", {:.1} cents flat of the target", -cents),
        Some(cents) => format!(", {cents:.1} cents sharp of the target"),
        None => String::new(),
    };
    let sign = if note_cents < 0.0 { '−' } else { '+' };
    format!("{note} {sign}{:.1} cents{target}", note_cents.abs())
}

/// A kind in words.
pub(super) fn kind(kind: Option<Kind>) -> &'static str {
    match kind {
        Some(Kind::Octaves) => "octaves, locked",
        Some(Kind::Single) => "a single octave",
        Some(Kind::Split) => "split: octaves that do not lock",
        Some(Kind::Unsettled) => "unsettled: no tone lasts",
        Some(Kind::Breath) | None => "no crow",
    }
}
