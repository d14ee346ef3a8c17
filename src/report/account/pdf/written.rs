//! Pages written as a file.

use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, TextDirection};
use krilla::{Data, Document};

use super::faces::{BOLD, Faces, Mark, NORMAL, PdfError};
use super::flow::Paper;
use crate::report::account::drawing::{Anchor, Ink, Shape};
use crate::report::account::letter::Letter;

pub(super) fn written(
    pages: &[Vec<Mark>],
    paper: Paper,
    letter: &Letter,
) -> Result<Vec<u8>, PdfError> {
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
