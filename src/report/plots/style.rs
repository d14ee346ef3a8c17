//! Font, colours, shapes and dashes: legible in grey print and to colour-blind eyes.

use std::sync::OnceLock;

use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontStyle, IntoFont, RGBColor, TextStyle, register_font};

use super::file::PlotError;
use crate::words::pictures::FONT_IS_DAMAGED;

/// Family under which the embedded font is known; in SVG a list that falls back to any sans serif.
pub(super) const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Em per text size: plotters' glyphs are scaled so that ascent and descent together are one size;
/// in DejaVu Sans they come to 2384 of 2048 units per em.
pub(super) const EM_PER_SIZE: f64 = 2048.0 / 2384.0;

/// Text and axes.
pub(super) const INK: RGBColor = RGBColor(0x22, 0x22, 0x22);
/// Less important text and lines.
pub(super) const FAINT: RGBColor = RGBColor(0x6a, 0x6a, 0x6a);
/// Grid lines.
pub(super) const GRID: RGBColor = RGBColor(0xdd, 0xdd, 0xdd);
/// Ground of the spans in which a crow sounds.
pub(super) const SHADE: RGBColor = RGBColor(0xec, 0xec, 0xec);

/// Size of axis labels and notes in pixels.
pub(super) const SMALL: f64 = 16.0;
/// Size of a figure's title.
pub(super) const TITLE: f64 = 20.0;

/// Makes the embedded font known to plotters, once.
pub(super) fn register_fonts() -> Result<(), PlotError> {
    static REGISTERED: OnceLock<bool> = OnceLock::new();
    let registered = REGISTERED.get_or_init(|| {
        let normal = include_bytes!("font/DejaVuSans.subset.ttf");
        let bold = include_bytes!("font/DejaVuSans-Bold.subset.ttf");
        register_font(FAMILY, FontStyle::Normal, normal).is_ok()
            && register_font(FAMILY, FontStyle::Bold, bold).is_ok()
    });
    if *registered { Ok(()) } else { Err(PlotError::Drawing(FONT_IS_DAMAGED.into())) }
}

/// Text of `size` pixels in `color`, set from the left and downwards from its position.
pub(super) fn text(size: f64, color: RGBColor) -> TextStyle<'static> {
    (FAMILY, size).into_font().color(&color)
}

/// The same in bold.
pub(super) fn bold(size: f64, color: RGBColor) -> TextStyle<'static> {
    (FAMILY, size, FontStyle::Bold).into_font().color(&color)
}

/// `style` set about its position: horizontally by `horizontal`, vertically centred.
pub(super) fn anchored(style: TextStyle<'static>, horizontal: HPos) -> TextStyle<'static> {
    style.pos(Pos::new(horizontal, VPos::Center))
}

/// The outline of a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Circle,
    Triangle,
    Square,
    Diamond,
    TriangleDown,
    Hexagon,
    Bar,
    Cross,
}

/// How one octave is told from the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mark {
    pub(super) color: RGBColor,
    pub(super) shape: Shape,
    /// Pixels drawn and left out in turn; `None` for a whole line.
    pub(super) dash: Option<(u32, u32)>,
}

/// Okabe and Ito, "Color Universal Design", 2008: blue, orange, vermilion, reddish purple, bluish green,
/// yellow, sky blue; in the order that sets neighbours apart in lightness too. One for each octave from
/// the one under the target's to five over it.
const MARKS: [Mark; 7] = [
    Mark { color: RGBColor(0x00, 0x72, 0xb2), shape: Shape::Circle, dash: None },
    Mark { color: RGBColor(0xe6, 0x9f, 0x00), shape: Shape::Triangle, dash: Some((12, 4)) },
    Mark { color: RGBColor(0xd5, 0x5e, 0x00), shape: Shape::Square, dash: Some((4, 4)) },
    Mark { color: RGBColor(0xcc, 0x79, 0xa7), shape: Shape::Diamond, dash: Some((16, 6)) },
    Mark { color: RGBColor(0x00, 0x9e, 0x73), shape: Shape::TriangleDown, dash: Some((2, 6)) },
    Mark { color: RGBColor(0xf0, 0xe4, 0x42), shape: Shape::Hexagon, dash: Some((8, 8)) },
    Mark { color: RGBColor(0x56, 0xb4, 0xe9), shape: Shape::Bar, dash: Some((20, 4)) },
];

/// The mark of an octave, counted from the target's or the lowest.
pub(super) fn octave_mark(octave: i32) -> Mark {
    MARKS[octave.rem_euclid(MARKS.len() as i32) as usize]
}

/// The mark of a tone that belongs to no octave.
pub(super) const STRAY: Mark = Mark { color: FAINT, shape: Shape::Cross, dash: None };

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn octaves_from_one_under_the_target_to_five_over_it_have_marks_of_their_own() {
        let marks: Vec<Mark> = (-1..=5).map(octave_mark).collect();
        for (place, mark) in marks.iter().enumerate() {
            assert!(!marks[..place].contains(mark), "{mark:?}");
        }
    }
}
