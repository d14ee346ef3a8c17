//! An account as PDF: text that can be searched and read aloud, shapes, its own font. Broken into
//! lines and pages here; written by krilla.

use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};
use krilla::{Data, Document};
use rustybuzz::{Face, UnicodeBuffer};

use super::drawing::{Anchor, Drawing, Ink, Shape};
use super::letter::{Item, Letter, Part, Section, Table};
use crate::words::account::{Piece, Sentence};

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
    #[error("the PDF's font is damaged; install the program again, or write the page with --html")]
    Font,
    /// It could not be put together.
    #[error("the PDF could not be put together ({0}); write the page with --html and print it")]
    Written(String),
}

const NORMAL: &[u8] = include_bytes!("font/DejaVuSans.letter.ttf");
const BOLD: &[u8] = include_bytes!("font/DejaVuSans-Bold.letter.ttf");

/// Space around the text, in points.
const MARGIN: f64 = 46.0;
/// Sizes of text, in points.
const BODY: f64 = 9.0;
const SMALL: f64 = 7.6;
const TITLE: f64 = 17.0;
const HEADING: f64 = 11.4;
const BELOW: f64 = 9.8;
/// From baseline to baseline, as a multiple of the size.
const LEADING: f64 = 1.38;
/// Between a sentence and its picture.
const GAP: f64 = 12.0;
const INDENT: f64 = 11.0;

/// An account on paper.
///
/// Errors: a font that cannot be read, or a file that cannot be put together; neither depends on what
/// the account says.
pub fn pdf(letter: &Letter, paper: Paper) -> Result<Pdf, PdfError> {
    let faces = Faces::new()?;
    let mut flow = Flow::new(paper, &faces);
    flow.letter(letter);
    let pages = flow.finished(&letter.foot);
    let bytes = written(&pages, paper, letter)?;
    Ok(Pdf { bytes, pages: pages.len(), missing: faces.missing(&pages) })
}

/// Something at its place on a page; y from the top.
enum Mark {
    Text { x: f64, y: f64, size: f64, bold: bool, ink: Ink, text: String },
    Shape { x: f64, y: f64, shape: Shape },
}

/// The fonts, for measuring.
struct Faces {
    normal: Face<'static>,
    bold: Face<'static>,
}

impl Faces {
    fn new() -> Result<Self, PdfError> {
        let face = |bytes| Face::from_slice(bytes, 0).ok_or(PdfError::Font);
        Ok(Self { normal: face(NORMAL)?, bold: face(BOLD)? })
    }

    /// How wide a text is, in points.
    fn width(&self, text: &str, size: f64, bold: bool) -> f64 {
        let face = if bold { &self.bold } else { &self.normal };
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(face, &[], buffer);
        let units: i64 = shaped.glyph_positions().iter().map(|p| i64::from(p.x_advance)).sum();
        units as f64 * size / f64::from(face.units_per_em().max(1))
    }

    fn missing(&self, pages: &[Vec<Mark>]) -> String {
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

/// Text that is running down the pages.
struct Flow<'a> {
    faces: &'a Faces,
    size: (f64, f64),
    pages: Vec<Vec<Mark>>,
    y: f64,
}

impl<'a> Flow<'a> {
    fn new(paper: Paper, faces: &'a Faces) -> Self {
        Self { faces, size: paper.points(), pages: vec![Vec::new()], y: MARGIN }
    }

    fn width(&self) -> f64 {
        self.size.0 - 2.0 * MARGIN
    }

    fn bottom(&self) -> f64 {
        // The foot of the page stands below.
        self.size.1 - MARGIN - 8.0
    }

    /// Begins a new page where less than `height` is left of this one.
    fn need(&mut self, height: f64) {
        if self.y + height > self.bottom() && self.y > MARGIN {
            self.pages.push(Vec::new());
            self.y = MARGIN;
        }
    }

    fn put(&mut self, mark: Mark) {
        if let Some(page) = self.pages.last_mut() {
            page.push(mark);
        }
    }

    fn line(&mut self, x: f64, text: &str, size: f64, bold: bool, ink: Ink) {
        let (y, text) = (self.y + size, text.to_owned());
        self.put(Mark::Text { x, y, size, bold, ink, text });
    }

    /// Lines of `words` that fit into `width`.
    fn broken(&self, text: &str, size: f64, bold: bool, width: f64) -> Vec<String> {
        let mut lines = vec![String::new()];
        for word in text.split(' ') {
            let Some(line) = lines.last_mut() else { break };
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.faces.width(&longer, size, bold) <= width {
                *line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(String::new());
            }
            // A word wider than the line is broken anywhere.
            for letter in word.chars() {
                let Some(line) = lines.last_mut() else { break };
                let fits = self.faces.width(&format!("{line}{letter}"), size, bold) <= width;
                match fits || line.is_empty() {
                    true => line.push(letter),
                    false => lines.push(letter.to_string()),
                }
            }
        }
        lines
    }

    fn paragraph(&mut self, x: f64, text: &str, size: f64, bold: bool, ink: Ink, width: f64) {
        for line in self.broken(text, size, bold, width) {
            self.need(size * LEADING);
            self.line(x, &line, size, bold, ink);
            self.y += size * LEADING;
        }
    }

    fn letter(&mut self, letter: &Letter) {
        let date = self.faces.width(&letter.date, BODY, false);
        let (x, y) = (MARGIN + self.width() - date, self.y);
        self.line(x, &letter.date, BODY, false, Ink::Dark);
        if let Some(sender) = &letter.sender {
            let width = self.width() - date - GAP;
            self.paragraph(MARGIN, &sender.name, BODY, true, Ink::Dark, width);
            for line in &sender.lines {
                self.paragraph(MARGIN, line, BODY, false, Ink::Dark, width);
            }
        }
        self.y = self.y.max(y + BODY * LEADING) + 10.0;
        self.paragraph(MARGIN, &letter.title, TITLE, true, Ink::Dark, self.width());
        if let Some(owner) = &letter.owner {
            self.paragraph(MARGIN, owner, HEADING, false, Ink::Dark, self.width());
        }
        if let Some(table) = &letter.table {
            self.heading(&table.title, HEADING, 3.0 * SMALL * LEADING);
            self.table(table);
        }
        let several = letter.parts.len() > 1;
        for part in &letter.parts {
            self.part(part, several);
        }
        self.section(&letter.care, HEADING);
    }

    /// * `next`: how high that is which stands under it and is not broken over pages: a heading is
    ///   never alone at the foot of one.
    fn heading(&mut self, title: &str, size: f64, next: f64) {
        let lines = self.broken(title, size, true, self.width()).len() as f64;
        let high = lines * size * LEADING + 10.0 + next.max(2.0 * BODY * LEADING);
        if high < self.bottom() - MARGIN {
            self.need(high);
        }
        self.y += 8.0;
        self.paragraph(MARGIN, title, size, true, Ink::Dark, self.width());
        self.y += 1.5;
    }

    fn part(&mut self, part: &Part, several: bool) {
        if let Some(title) = &part.title {
            let below = part.drawing.as_ref().map(|(drawing, _)| drawing.height + SMALL * LEADING);
            let first = part.sections.first().and_then(|section| section.items.first());
            let first = || first.map_or(0.0, |item| self.kept(item) + BELOW * LEADING);
            let below = below.map_or_else(first, |below| below + 6.0);
            self.y += 4.0;
            self.heading(title, HEADING + 1.4, below);
        }
        if let Some((drawing, caption)) = &part.drawing {
            self.y += 6.0;
            self.need(drawing.height + SMALL * LEADING);
            self.drawing(drawing, MARGIN);
            self.y += drawing.height;
            self.paragraph(MARGIN, caption, SMALL, false, Ink::Grey, self.width());
        }
        for section in &part.sections {
            self.section(section, if several { BELOW } else { HEADING });
        }
    }

    fn section(&mut self, section: &Section, size: f64) {
        if section.items.is_empty() {
            return;
        }
        let first = section.items.first().map_or(0.0, |item| self.kept(item));
        self.heading(&section.title, size, first);
        section.items.iter().for_each(|item| self.item(item));
    }

    /// The lines of a sentence, as broken beside its picture.
    fn lines(&self, item: &Item) -> Vec<String> {
        let beside = item.picture.as_ref().map_or(0.0, |picture| picture.width + GAP);
        self.broken(&unbroken(&item.sentence), BODY, false, self.width() - INDENT - beside)
    }

    /// How high the part of a sentence is that is kept together: one longer than a page runs on to the
    /// next.
    fn kept(&self, item: &Item) -> f64 {
        let high = self.lines(item).len() as f64 * BODY * LEADING;
        let kept = high.max(item.picture.as_ref().map_or(0.0, |picture| picture.height));
        if kept < self.bottom() - MARGIN { kept } else { BODY * LEADING }
    }

    fn item(&mut self, item: &Item) {
        let picture = item.picture.as_ref();
        let lines = self.lines(item);
        let high = lines.len() as f64 * BODY * LEADING;
        let tall = picture.map_or(0.0, |picture| picture.height);
        self.need(self.kept(item));
        let top = self.y;
        self.line(MARGIN, "•", BODY, false, Ink::Dark);
        if let Some(picture) = picture {
            let x = MARGIN + self.width() - picture.width;
            self.y = top + ((high - tall) / 2.0).max(0.0);
            self.drawing(picture, x);
            self.y = top;
        }
        for line in lines {
            self.need(BODY * LEADING);
            self.line(MARGIN + INDENT, &line, BODY, false, Ink::Dark);
            self.y += BODY * LEADING;
        }
        if self.y > top {
            self.y = self.y.max(top + tall);
        }
        self.y += 2.0;
    }

    fn drawing(&mut self, drawing: &Drawing, x: f64) {
        let y = self.y;
        for shape in &drawing.shapes {
            self.put(Mark::Shape { x, y, shape: shape.clone() });
        }
    }

    fn table(&mut self, table: &Table) {
        let widths = self.columns(table);
        self.row(&table.head, &widths, true);
        for row in &table.rows {
            self.row(row, &widths, false);
        }
    }

    /// As wide as what stands in them, and all together as wide as the text at most.
    fn columns(&self, table: &Table) -> Vec<f64> {
        let natural: Vec<f64> = (0..table.head.len())
            .map(|column| {
                let cells = table.rows.iter().filter_map(|row| row.get(column));
                let widths = cells.map(|cell| self.faces.width(cell, SMALL, false));
                let head = table.head.get(column).map_or("", String::as_str);
                widths.fold(self.faces.width(head, SMALL, true), f64::max) + 8.0
            })
            .collect();
        let total: f64 = natural.iter().sum();
        let fair = self.width() / natural.len().max(1) as f64;
        if total <= self.width() {
            return natural;
        }
        // Narrow columns keep their width, wide ones share what is left.
        let narrow: f64 = natural.iter().filter(|width| **width <= fair).sum();
        let wide: f64 = natural.iter().filter(|width| **width > fair).sum();
        let scale = (self.width() - narrow) / wide.max(1.0);
        natural.into_iter().map(|width| if width > fair { width * scale } else { width }).collect()
    }

    fn row(&mut self, cells: &[String], widths: &[f64], bold: bool) {
        let broken: Vec<Vec<String>> = cells
            .iter()
            .zip(widths)
            .map(|(cell, width)| self.broken(cell, SMALL, bold, width - 6.0))
            .collect();
        let lines = broken.iter().map(Vec::len).max().unwrap_or(1);
        let high = lines as f64 * SMALL * LEADING + 3.0;
        self.need(high);
        let top = self.y;
        let mut x = MARGIN;
        for (lines, width) in broken.iter().zip(widths) {
            self.y = top;
            for line in lines {
                self.line(x, line, SMALL, bold, Ink::Dark);
                self.y += SMALL * LEADING;
            }
            x += width;
        }
        self.y = top + high;
        let (from, to) = ((0.0, 0.0), (self.width(), 0.0));
        let shape = Shape::Line { from, to, ink: Ink::Grey, width: 0.4 };
        let y = self.y - 1.0;
        self.put(Mark::Shape { x: MARGIN, y, shape });
        self.y += 1.5;
    }

    /// The pages, each with its foot.
    fn finished(mut self, foot: &str) -> Vec<Vec<Mark>> {
        let pages = self.pages.len();
        for (number, page) in (1..).zip(&mut self.pages) {
            let text =
                foot.replace("{page}", &number.to_string()).replace("{pages}", &pages.to_string());
            let x = (self.size.0 - self.faces.width(&text, SMALL, false)) / 2.0;
            let (y, ink) = (self.size.1 - MARGIN + 12.0, Ink::Grey);
            page.push(Mark::Text { x, y, size: SMALL, bold: false, ink, text });
        }
        self.pages
    }
}

/// A sentence whose figures stay with their units.
fn unbroken(sentence: &Sentence) -> String {
    let each = sentence.pieces.iter().map(|piece| match piece {
        Piece::Words(text) => crate::text::visible(text),
        Piece::Figure(text) => text.replace(' ', "\u{a0}"),
    });
    each.collect()
}

fn written(pages: &[Vec<Mark>], paper: Paper, letter: &Letter) -> Result<Vec<u8>, PdfError> {
    let font = |bytes: &'static [u8]| Font::new(Data::from(bytes), 0).ok_or(PdfError::Font);
    let fonts = (font(NORMAL)?, font(BOLD)?);
    let (width, height) = paper.points();
    let mut document = Document::new();
    for marks in pages {
        let settings = PageSettings::from_wh(width as f32, height as f32)
            .ok_or_else(|| PdfError::Written("page size".into()))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        marks.iter().for_each(|mark| draw(&mut surface, mark, &fonts));
        surface.finish();
        page.finish();
    }
    let mut metadata =
        Metadata::new().title(letter.title.clone()).language(letter.language.clone());
    if let Some(sender) = &letter.sender {
        metadata = metadata.authors(vec![sender.name.clone()]);
    }
    document.set_metadata(metadata);
    document.finish().map_err(|error| PdfError::Written(format!("{error:?}")))
}

fn fill(ink: Ink) -> Fill {
    let (r, g, b) = ink.rgb();
    Fill {
        paint: rgb::Color::new(r, g, b).into(),
        opacity: NormalizedF32::ONE,
        rule: Default::default(),
    }
}

fn stroke(ink: Ink, width: f64) -> Stroke {
    let (r, g, b) = ink.rgb();
    let paint = rgb::Color::new(r, g, b).into();
    Stroke { paint, width: width as f32, ..Default::default() }
}

fn draw(surface: &mut Surface<'_>, mark: &Mark, fonts: &(Font, Font)) {
    match mark {
        Mark::Text { x, y, size, bold, ink, text } => {
            let font = if *bold { &fonts.1 } else { &fonts.0 };
            set(surface, (*x, *y), font, *size, *ink, text);
        }
        Mark::Shape { x, y, shape } => draw_shape(surface, (*x, *y), shape, fonts),
    }
}

fn set(surface: &mut Surface<'_>, at: (f64, f64), font: &Font, size: f64, ink: Ink, text: &str) {
    surface.set_fill(Some(fill(ink)));
    surface.set_stroke(None);
    let at = Point::from_xy(at.0 as f32, at.1 as f32);
    surface.draw_text(at, font.clone(), size as f32, text, false, TextDirection::Auto);
}

fn draw_shape(surface: &mut Surface<'_>, (x, y): (f64, f64), shape: &Shape, fonts: &(Font, Font)) {
    let moved = |(a, b): (f64, f64)| (x + a, y + b);
    match shape {
        Shape::Polygon { points, fill: inside, rim } => {
            let Some(path) = path(points.iter().copied().map(moved), true) else { return };
            surface.set_fill(Some(fill(*inside)));
            surface.set_stroke(rim.map(|ink| stroke(ink, 0.6)));
            surface.draw_path(&path);
        }
        Shape::Line { from, to, ink, width } => {
            let Some(path) = path([*from, *to].into_iter().map(moved), false) else { return };
            surface.set_fill(None);
            surface.set_stroke(Some(stroke(*ink, *width)));
            surface.draw_path(&path);
        }
        Shape::Dot { at, radius, fill: inside } => {
            // A polygon of so many corners is round at any size that is printed.
            let corners = (0..48).map(|n| {
                let (sin, cos) = (f64::from(n) * std::f64::consts::TAU / 48.0).sin_cos();
                moved((at.0 + radius * cos, at.1 + radius * sin))
            });
            let Some(path) = path(corners, true) else { return };
            surface.set_fill(Some(fill(*inside)));
            surface.set_stroke(Some(stroke(Ink::Dark, 0.8)));
            surface.draw_path(&path);
        }
        Shape::Text { at, anchor, size, ink, text } => {
            let Ok(faces) = Faces::new() else { return };
            let width = faces.width(text, *size, false);
            let (x, y) = moved(*at);
            let x = match anchor {
                Anchor::Start => x,
                Anchor::Middle => x - width / 2.0,
                Anchor::End => x - width,
            };
            set(surface, (x, y), &fonts.0, *size, *ink, text);
        }
    }
}

fn path(points: impl Iterator<Item = (f64, f64)>, close: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (index, (x, y)) in points.enumerate() {
        match index {
            0 => builder.move_to(x as f32, y as f32),
            _ => builder.line_to(x as f32, y as f32),
        }
    }
    if close {
        builder.close();
    }
    builder.finish()
}
