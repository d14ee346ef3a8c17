//! An account as PDF: text that can be searched and read aloud, shapes, its own font. Broken into
//! lines and pages here; written by krilla.

mod faces;
mod flow;
mod written;

use super::letter::Letter;
use faces::{Faces, PdfError};
pub use flow::Paper;
use flow::{CLOSER, Closer, Flow};

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
    let pages = fitted(letter, paper, &faces).finished(&letter.foot);
    let bytes = written::written(&pages, paper, letter)?;
    Ok(Pdf { bytes, pages: pages.len(), missing: faces.missing(&pages) })
}

/// Up to this share of a last page its lines go on the pages before, where that can be done.
const LITTLE: f64 = 1.0 / 3.0;

/// The letter on as many pages as it needs; set closer where little would be left for the last one.
fn fitted<'a>(letter: &Letter, paper: Paper, faces: &'a Faces) -> Flow<'a> {
    let set = |closer| {
        let mut flow = Flow::new(paper, faces, closer);
        flow.letter(letter);
        flow
    };
    let usual = set(Closer::NOT);
    let (pages, last) = usual.used();
    if pages == 1 || last > LITTLE {
        return usual;
    }
    CLOSER.into_iter().map(set).find(|flow| flow.used().0 < pages).unwrap_or(usual)
}

#[cfg(test)]
mod tests {
    use super::faces::Mark;
    use super::*;
    use crate::report::account::Section;
    use crate::report::account::letter::Part;
    use crate::words::account::{Piece, Sentence};

    /// A letter of so many sentences of one line, and three to take care of.
    fn letter(sentences: Vec<String>) -> Letter {
        let section = |id, title: &str, says: Vec<String>| Section {
            id,
            title: title.to_owned(),
            items: says.into_iter().map(|one| Sentence::words(one).into()).collect(),
        };
        let care = ["Care one.", "Care two.", "Care three."].map(str::to_owned).to_vec();
        Letter {
            language: "en".into(),
            sender: None,
            date: "7 March 2026".into(),
            owner: None,
            title: "Reed A".into(),
            table: None,
            parts: vec![Part {
                title: None,
                drawing: None,
                sections: vec![section("done", "Done", sentences)],
            }],
            care: section("care", "Please note", care),
            foot: "{page}".into(),
        }
    }

    fn numbered(count: usize) -> Letter {
        letter((0..count).map(|n| format!("Sentence {n}.")).collect())
    }

    /// The lines of each page.
    fn pages(letter: &Letter) -> Vec<Vec<String>> {
        let faces = Faces::new().unwrap_or_else(|_| panic!("the font"));
        let pages = fitted(letter, Paper::A4, &faces).finished(&letter.foot);
        let lines = |page: &Vec<Mark>| {
            let each = page.iter().filter_map(|mark| match mark {
                Mark::Text { text, .. } => Some(text.clone()),
                Mark::Shape { .. } => None,
            });
            each.filter(|text| text != "•").collect()
        };
        pages.iter().map(lines).collect()
    }

    #[test]
    fn what_to_take_care_of_is_never_parted() {
        for count in 1..120 {
            let pages = pages(&numbered(count));
            let holds = |what: &str| {
                pages.iter().position(|page| page.iter().any(|line| line == what)).unwrap()
            };
            assert_eq!(holds("Please note"), holds("Care three."), "{count} sentences");
        }
    }

    /// A page more for a few lines is a page that is lost.
    #[test]
    fn a_few_lines_too_many_for_a_page_are_set_closer() {
        let most = (1..120).take_while(|count| pages(&numbered(*count)).len() == 1).count();
        let faces = Faces::new().unwrap_or_else(|_| panic!("the font"));
        let usual = |count: usize| {
            let mut flow = Flow::new(Paper::A4, &faces, Closer::NOT);
            flow.letter(&numbered(count));
            flow.used().0
        };
        let usually = (1..120).take_while(|count| usual(*count) == 1).count();
        assert!(most >= usually + 3, "{most} {usually}");
        // Half a page is no little: it is set as usual.
        let half = usually * 3 / 2;
        assert_eq!(pages(&numbered(half)).len(), usual(half));
    }

    #[test]
    fn a_figure_stays_with_its_unit() {
        let said = |words: &str| {
            let figure = Piece::Figure("0.35".into());
            let sentence = Sentence { pieces: vec![figure, Piece::Words(words.into())] };
            flow::unbroken(&sentence)
        };
        for unit in ["s after the first tone", "Hz", "%, or more", "°C)"] {
            assert_eq!(said(&format!(" {unit}")), format!("0.35\u{a0}{unit}"));
        }
        for word in ["of C5", "cents", "to 3", ""] {
            assert_eq!(said(&format!(" {word}")), format!("0.35 {word}"));
        }
    }

    #[test]
    fn a_paragraph_longer_than_a_page_leaves_no_line_alone() {
        for words in (900..1500).step_by(37) {
            let long: Vec<String> = (0..words).map(|n| format!("word{n}")).collect();
            let pages = pages(&letter(vec![long.join(" ")]));
            for page in &pages {
                let lines = page.iter().filter(|line| line.starts_with("word")).count();
                assert_ne!(lines, 1, "{words}: {page:?}");
            }
        }
    }
}
