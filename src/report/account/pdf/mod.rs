//! An account as PDF: text that can be searched and read aloud, shapes, its own font. Broken into
//! lines and pages here; written by krilla.

mod faces;
mod flow;
mod written;

use super::letter::Letter;
use faces::{Faces, PdfError};
use flow::Flow;
pub use flow::Paper;

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
