//! The fonts of an account: how wide a text is, and which letters they lack.

use rustybuzz::{Face, UnicodeBuffer};

use crate::report::account::drawing::{Ink, Shape};
use crate::words::account::{PDF_FONT, pdf_not_made};

pub(super) const NORMAL: &[u8] = include_bytes!("../font/DejaVuSans.letter.ttf");
pub(super) const BOLD: &[u8] = include_bytes!("../font/DejaVuSans-Bold.letter.ttf");

/// The fonts, for measuring.
pub(super) struct Faces {
    normal: Face<'static>,
    bold: Face<'static>,
}

impl Faces {
    pub(super) fn new() -> Result<Self, PdfError> {
        let face = |bytes| Face::from_slice(bytes, 0).ok_or(PdfError::Font);
        Ok(Self { normal: face(NORMAL)?, bold: face(BOLD)? })
    }

    /// How wide a text is, in points.
    pub(super) fn width(&self, text: &str, size: f64, bold: bool) -> f64 {
        let face = if bold { &self.bold } else { &self.normal };
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(face, &[], buffer);
        let units: i64 = shaped.glyph_positions().iter().map(|p| i64::from(p.x_advance)).sum();
        units as f64 * size / f64::from(face.units_per_em().max(1))
    }

    pub(super) fn missing(&self, pages: &[Vec<Mark>]) -> String {
        let mut missing = String::new();
        for mark in pages.iter().flatten() {
            let text = match mark {
                Mark::Text { text, .. } | Mark::Shape { shape: Shape::Text { text, .. }, .. } => {
                    text
                }
                Mark::Shape { .. } => continue,
            };
            for letter in text.chars() {
                if self.normal.glyph_index(letter).is_none() && !missing.contains(letter) {
                    missing.push(letter);
                }
            }
        }
        missing
    }
}

/// Why no PDF could be made.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The program's own font cannot be read.
    #[error("{PDF_FONT}")]
    Font,
    /// It could not be put together.
    #[error("{}", pdf_not_made(.0))]
    Written(String),
}

/// Something at its place on a page; y from the top.
pub(super) enum Mark {
    Text { x: f64, y: f64, size: f64, bold: bool, ink: Ink, text: String },
    Shape { x: f64, y: f64, shape: Shape },
}
