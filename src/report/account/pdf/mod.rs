//! An account as PDF: text that can be searched and read aloud, shapes, its own font. Broken into
//! lines and pages here; written by krilla.

mod faces;
mod flow;
mod written;

use super::letter::Letter;
use crate::words::account::{PDF_FONT, pdf_not_made};
use faces::Faces;
use flow::Flow;

/// On what an account is printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl Paper {
    /// Width and height in points of 1/72 inch.
    fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// A finished PDF.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// Pages in it.
    pub pages: usize,
    /// Letters that its font does not have, each once; boxes stand in their places.
    pub missing: String,
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

/// An account on paper.
///
/// Errors: a font that cannot be read, or a file that cannot be put together; neither depends on what
/// the account says.
pub fn pdf(letter: &Letter, paper: Paper) -> Result<Pdf, PdfError> {
    let faces = Faces::new()?;
    let mut flow = Flow::new(paper, &faces);
    flow.letter(letter);
    let pages = flow.finished(&letter.foot);
    let bytes = written::written(&pages, paper, letter)?;
    Ok(Pdf { bytes, pages: pages.len(), missing: faces.missing(&pages) })
}
