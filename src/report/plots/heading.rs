//! What a picture shows, in words: source, pitch, kind.

use plotters::prelude::DrawingBackend;

use super::canvas::{Area, Drawn};
use super::style;
use crate::profile::Profile;
use crate::reading::Reading;
use crate::words::card as words;
use crate::words::pictures::{compared, take};

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

/// Pitch and kind of a reading in the words of the card.
pub(super) fn pitch_and_kind(reading: &Reading, profile: &Profile) -> String {
    let summary = &reading.summary;
    if summary.kind.is_none() {
        return match reading.crows.len() {
            0 => compared::NO_CROW.to_owned(),
            breaths => words::only_breaths(breaths),
        };
    }
    let pitch = words::pitch(&summary.figures, profile).unwrap_or_else(|| take::NO_PITCH.into());
    let kind = |kind| words::kind_of_take(kind, &summary.figures, profile);
    format!("{pitch} · {}", summary.kind.map(kind).unwrap_or_default())
}
