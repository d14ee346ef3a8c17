//! Text and drawings broken into lines and pages.

use super::faces::{Faces, Mark};
use crate::report::account::drawing::{Drawing, Ink, Shape};
use crate::report::account::letter::{Item, Letter, Part, Section, Table};
use crate::words::account::{Piece, Sentence};

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
/// How close text may be set, in order. The last is 8.3 points with lines 1.27 apart (our choice: it can
/// still be read at arm's length).
pub(super) const CLOSER: [Closer; 3] =
    [Closer(1.0, 0.95, 0.7), Closer(0.96, 0.93, 0.6), Closer(0.92, 0.92, 0.5)];
/// Between a sentence and its picture.
const GAP: f64 = 12.0;
const INDENT: f64 = 11.0;

/// How close text is set: its size, its leading and the space between paragraphs, as shares of the usual
/// ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Closer(f64, f64, f64);

impl Closer {
    /// As usual.
    pub(super) const NOT: Self = Self(1.0, 1.0, 1.0);
}

/// Text that is running down the pages.
pub(super) struct Flow<'a> {
    faces: &'a Faces,
    size: (f64, f64),
    closer: Closer,
    pages: Vec<Vec<Mark>>,
    y: f64,
}

impl<'a> Flow<'a> {
    pub(super) fn new(paper: Paper, faces: &'a Faces, closer: Closer) -> Self {
        Self { faces, size: paper.points(), closer, pages: vec![Vec::new()], y: MARGIN }
    }

    /// How many pages there are, and how much of the last one is used, 0 … 1.
    pub(super) fn used(&self) -> (usize, f64) {
        (self.pages.len(), (self.y - MARGIN) / (self.bottom() - MARGIN))
    }

    /// How wide a text of that usual size is.
    fn wide(&self, text: &str, size: f64, bold: bool) -> f64 {
        self.faces.width(text, size * self.closer.0, bold)
    }

    /// How high a line of that usual size is.
    fn high(&self, size: f64) -> f64 {
        size * self.closer.0 * LEADING * self.closer.1
    }

    /// Space between paragraphs that is usually so many points.
    fn space(&self, points: f64) -> f64 {
        points * self.closer.2
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
        let size = size * self.closer.0;
        let (y, text) = (self.y + size, text.to_owned());
        self.put(Mark::Text { x, y, size, bold, ink, text });
    }

    /// Lines of `words` that fit into `width`.
    fn broken(&self, text: &str, size: f64, bold: bool, width: f64) -> Vec<String> {
        let mut lines = vec![String::new()];
        for word in text.split(' ') {
            let Some(line) = lines.last_mut() else { break };
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.wide(&longer, size, bold) <= width {
                *line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(String::new());
            }
            // A word wider than the line is broken anywhere.
            for letter in word.chars() {
                let Some(line) = lines.last_mut() else { break };
                let fits = self.wide(&format!("{line}{letter}"), size, bold) <= width;
                match fits || line.is_empty() {
                    true => line.push(letter),
                    false => lines.push(letter.to_string()),
                }
            }
        }
        lines
    }

    fn paragraph(&mut self, x: f64, text: &str, size: f64, bold: bool, ink: Ink, width: f64) {
        let lines = self.broken(text, size, bold, width);
        self.run(x, &lines, size, bold, ink);
    }

    /// Lines of one paragraph: on one page where that holds them, else with two of them or more on each.
    fn run(&mut self, x: f64, lines: &[String], size: f64, bold: bool, ink: Ink) {
        let high = self.high(size);
        if lines.len() as f64 * high < self.bottom() - MARGIN {
            self.need(lines.len() as f64 * high);
        }
        let mut left = lines;
        while !left.is_empty() {
            let room = ((self.bottom() - self.y) / high).max(0.0) as usize;
            let mut here = left.len().min(room);
            if left.len() - here == 1 {
                here = here.saturating_sub(1);
            }
            if here < left.len().min(2) && self.y > MARGIN {
                self.pages.push(Vec::new());
                self.y = MARGIN;
                continue;
            }
            let (now, later) = left.split_at(here.max(1));
            for line in now {
                self.line(x, line, size, bold, ink);
                self.y += high;
            }
            left = later;
        }
    }

    pub(super) fn letter(&mut self, letter: &Letter) {
        let date = self.wide(&letter.date, BODY, false);
        let (x, y) = (MARGIN + self.width() - date, self.y);
        self.line(x, &letter.date, BODY, false, Ink::Dark);
        if let Some(sender) = &letter.sender {
            let width = self.width() - date - GAP;
            self.paragraph(MARGIN, &sender.name, BODY, true, Ink::Dark, width);
            for line in &sender.lines {
                self.paragraph(MARGIN, line, BODY, false, Ink::Dark, width);
            }
        }
        self.y = self.y.max(y + self.high(BODY)) + self.space(10.0);
        self.paragraph(MARGIN, &letter.title, TITLE, true, Ink::Dark, self.width());
        if let Some(owner) = &letter.owner {
            self.paragraph(MARGIN, owner, HEADING, false, Ink::Dark, self.width());
        }
        if let Some(table) = &letter.table {
            self.heading(&table.title, HEADING, 3.0 * self.high(SMALL));
            self.table(table);
        }
        let several = letter.parts.len() > 1;
        for part in &letter.parts {
            self.part(part, several);
        }
        // What to take care of is read as one.
        let care: f64 =
            letter.care.items.iter().map(|item| self.kept(item) + self.space(2.0)).sum();
        let care = care + self.high(HEADING) + self.space(10.0);
        if !letter.care.items.is_empty() && care < (self.bottom() - MARGIN) / 2.0 {
            self.need(care);
        }
        self.section(&letter.care, HEADING);
    }

    /// * `next`: how high that is which stands under it and is not broken over pages: a heading is
    ///   never alone at the foot of one.
    fn heading(&mut self, title: &str, size: f64, next: f64) {
        let lines = self.broken(title, size, true, self.width()).len() as f64;
        let high = lines * self.high(size) + self.space(10.0) + next.max(2.0 * self.high(BODY));
        if high < self.bottom() - MARGIN {
            self.need(high);
        }
        self.y += self.space(8.0);
        self.paragraph(MARGIN, title, size, true, Ink::Dark, self.width());
        self.y += self.space(1.5);
    }

    fn part(&mut self, part: &Part, several: bool) {
        if let Some(title) = &part.title {
            let below = part.drawing.as_ref().map(|(drawing, _)| drawing.height + self.high(SMALL));
            let first = part.sections.first().and_then(|section| section.items.first());
            let first = || first.map_or(0.0, |item| self.kept(item) + self.high(BELOW));
            let below = below.map_or_else(first, |below| below + 6.0);
            self.y += self.space(4.0);
            self.heading(title, HEADING + 1.4, below);
        }
        if let Some((drawing, caption)) = &part.drawing {
            self.y += self.space(6.0);
            self.need(drawing.height + self.high(SMALL));
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
        let high = self.lines(item).len() as f64 * self.high(BODY);
        let kept = high.max(item.picture.as_ref().map_or(0.0, |picture| picture.height));
        if kept < self.bottom() - MARGIN { kept } else { 2.0 * self.high(BODY) }
    }

    fn item(&mut self, item: &Item) {
        let picture = item.picture.as_ref();
        let lines = self.lines(item);
        let high = lines.len() as f64 * self.high(BODY);
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
        self.run(MARGIN + INDENT, &lines, BODY, false, Ink::Dark);
        if self.y > top {
            self.y = self.y.max(top + tall);
        }
        self.y += self.space(2.0);
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
                let widths = cells.map(|cell| self.wide(cell, SMALL, false));
                let head = table.head.get(column).map_or("", String::as_str);
                widths.fold(self.wide(head, SMALL, true), f64::max) + 8.0
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
        let high = lines as f64 * self.high(SMALL) + 3.0;
        self.need(high);
        let top = self.y;
        let mut x = MARGIN;
        for (lines, width) in broken.iter().zip(widths) {
            self.y = top;
            for line in lines {
                self.line(x, line, SMALL, bold, Ink::Dark);
                self.y += self.high(SMALL);
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
    pub(super) fn finished(mut self, foot: &str) -> Vec<Vec<Mark>> {
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
pub(super) fn unbroken(sentence: &Sentence) -> String {
    let mut text = String::new();
    let mut after_figure = false;
    for piece in &sentence.pieces {
        match piece {
            Piece::Figure(figure) => text += &figure.replace(' ', "\u{a0}"),
            Piece::Words(words) => {
                let words = crate::text::visible(words);
                match words.strip_prefix(' ').filter(|rest| after_figure && begins_with_unit(rest))
                {
                    Some(rest) => text += &format!("\u{a0}{rest}"),
                    None => text += &words,
                }
            }
        }
        after_figure = matches!(piece, Piece::Figure(_));
    }
    text
}

/// Whether what follows a figure is the sign of a unit, such as s, Hz, % or °C, and not a word.
fn begins_with_unit(text: &str) -> bool {
    let first = text.split([' ', '\u{a0}']).next().unwrap_or_default();
    let sign = first.trim_end_matches(['.', ',', ';', ')']);
    match sign.chars().count() {
        1 => true,
        2 => sign.chars().any(|letter| !letter.is_lowercase()),
        _ => false,
    }
}

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
    pub(super) fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (595.28, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}
