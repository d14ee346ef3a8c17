//! Names beside the lines and marks they stand for.

use plotters::element::{DashedPathElement, PathElement};
use plotters::prelude::DrawingBackend;
use plotters::style::Color;

use super::axes::mark;
use super::canvas::{Area, Drawn};
use super::style::{self, Mark};

/// One name and how its thing is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    pub(super) name: String,
    pub(super) mark: Mark,
    pub(super) form: Form,
}

/// Whether a thing is drawn as marks, as a line, or as a line with marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Marks,
    Line,
    Both,
}

/// Length of the piece of line shown, in pixels.
const SAMPLE: i32 = 40;

/// Draws the entries side by side, the last one ending at `right`, centred on `y`, in pixels.
pub(super) fn draw<DB: DrawingBackend>(
    area: &Area<DB>,
    entries: &[Entry],
    right: i32,
    y: i32,
) -> Drawn<DB> {
    let look = style::text(style::SMALL, style::INK);
    let mut x = right;
    for entry in entries.iter().rev() {
        let (width, _) = area.estimate_text_size(&entry.name, &look)?;
        x -= width as i32;
        area.draw_text(&entry.name, &look, (x, y - 5))?;
        let sample = if entry.form == Form::Marks { 12 } else { SAMPLE };
        x -= sample + 8;
        if entry.form != Form::Marks {
            let (ends, line) = (vec![(x, y), (x + sample, y)], entry.mark.color.stroke_width(3));
            match entry.mark.dash {
                None => area.draw(&PathElement::new(ends, line))?,
                Some((on, off)) => area.draw(&DashedPathElement::new(ends, on, off, line))?,
            }
        }
        if entry.form != Form::Line {
            mark(area, (x + sample / 2, y), 6, entry.mark)?;
        }
        x -= 24;
    }
    Ok(())
}
