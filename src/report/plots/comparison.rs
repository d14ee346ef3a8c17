//! Before and after, one over the other: spectra, ladders of octaves, pitch and its change.

use plotters::element::{EmptyElement, PathElement, Rectangle, Text};
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, RGBColor};

use super::axes::{self, Axis, octaves};
use super::canvas::{Area, Drawing, Drawn, render};
use super::file::{PictureFormat, PlotError};
use super::heading;
use super::legend::{self, Entry, Form};
use super::octaves::Octaves;
use super::side::PictureSide;
use super::spectrum::{draw_notes, note};
use super::style::{self, Mark, Shape};
use crate::comparison::{Comparison, Side};
use crate::dsp::statistics::median;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::words::comparison::{kind_of_side, sentence};
use crate::words::format::{decibels, signed};
use crate::words::pictures::{CENTS, cents_from, compared as labels, octave_number, octave_of};

/// Heights of heading, pitch, ladder and spectra in pixels.
const HEIGHTS: [u32; 4] = [144, 230, 360, 440];
const WIDTH: u32 = 1100;

/// Before: light and dashed, circles. After: dark and whole, squares.
const BEFORE: Mark =
    Mark { color: RGBColor(0xe6, 0x9f, 0x00), shape: Shape::Circle, dash: Some((10, 4)) };
const AFTER: Mark = Mark { color: RGBColor(0x00, 0x72, 0xb2), shape: Shape::Square, dash: None };

struct ComparisonPicture<'a> {
    before: &'a PictureSide,
    after: &'a PictureSide,
    lines: Vec<String>,
    octaves: Option<Octaves>,
}

/// Draws two sides over each other: the pitch of their crows, the level of each octave, and their
/// spectra.
///
/// * `comparison`: what changed from one to the other; its pitch and alignment head the picture.
///
/// Returns the bytes of a file of `format`. A side without crows or samples leaves its place empty.
///
/// Errors: none that depend on the takes; see [`PlotError`].
pub fn comparison_picture(
    before: &PictureSide,
    after: &PictureSide,
    comparison: &Comparison,
    profile: &Profile,
    a4: A4,
    format: PictureFormat,
) -> Result<Vec<u8>, PlotError> {
    let known = before.fundamental_hz().or(after.fundamental_hz());
    let octaves = Octaves::from_fundamental(known, profile, a4);
    let lines = lines(comparison, profile);
    render(&ComparisonPicture { before, after, lines, octaves }, format)
}

/// How it crowed before and after, and what became of pitch and alignment.
fn lines(comparison: &Comparison, profile: &Profile) -> Vec<String> {
    let kind =
        |side: &Side| kind_of_side(side, profile).unwrap_or_else(|| labels::NO_CROW.to_owned());
    let kinds = format!("{} → {}", kind(&comparison.before), kind(&comparison.after));
    let change = |path: &str| comparison.changes.iter().find(|change| change.figure == path);
    let pitch = change("fundamental.target_cents").or_else(|| change("fundamental.hz"));
    let told = pitch.into_iter().chain(change("alignment.cents"));
    // A line each: one that is reckoned for crows blown alike is long.
    let told = told.map(|change| sentence(change, profile));
    std::iter::once(kinds).chain(told).collect()
}

impl ComparisonPicture<'_> {
    fn sides(&self) -> [(&PictureSide, Mark); 2] {
        [(self.before, BEFORE), (self.after, AFTER)]
    }

    fn names<DB: DrawingBackend>(&self, area: &Area<DB>, form: Form) -> Drawn<DB> {
        // Not the sides' own names, which may be long paths.
        let entries = [(labels::SIDES[0], BEFORE), (labels::SIDES[1], AFTER)]
            .map(|(name, mark)| Entry { name: name.into(), mark, form });
        legend::draw(area, &entries, area.dim_in_pixel().0 as i32 - 24, 22)
    }

    /// Each crow's pitch on a line per side, the medians, and an arrow between them.
    fn draw_pitch<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let cents = self.sides().map(|(side, _)| self.crow_cents(side));
        let all = || cents.iter().flatten().copied();
        let low = all().fold(-20.0, f64::min);
        let high = all().fold(20.0, f64::max);
        let room = 0.06 * (high - low);
        let from = self.octaves.as_ref().map(|octaves| cents_from(&octaves.reference()));
        let x = Axis::linear(low - room, high + room, 12, from.as_deref().unwrap_or(CENTS));
        let [before, after] = labels::SIDES;
        let rows = vec![(0.0, after.to_owned()), (1.0, before.to_owned())];
        let y = Axis::named(rows, "");
        let chart = axes::chart(area, labels::PITCH, &x, &y)?;
        axes::line(&chart, vec![(0.0, y.from), (0.0, y.to)], style::INK.stroke_width(2), None)?;
        let place = chart.plotting_area();
        let medians = cents.each_ref().map(|cents| median(cents.iter().copied()));
        for (((_, mark), cents), height) in self.sides().iter().zip(&cents).zip([1.0, 0.0]) {
            for value in cents {
                axes::mark(place, (*value, height), 6, *mark)?;
            }
        }
        for (median, height) in medians.iter().zip([1.0, 0.0]) {
            let Some(median) = median else { continue };
            let bar = vec![(*median, height - 0.28), (*median, height + 0.28)];
            place.draw(&PathElement::new(bar, style::INK.stroke_width(3)))?;
            let look = style::anchored(style::bold(style::SMALL, style::INK), HPos::Left);
            let number = Text::new(signed(*median, 0), (12, -12), look);
            place.draw(&(EmptyElement::at((*median, height)) + number))?;
        }
        match medians {
            [Some(before), Some(after)] => arrow(place, (before, 0.7), (after, 0.32))?,
            [None, None] => note(&chart, &x, &y, labels::NO_PITCH)?,
            _ => {}
        }
        self.names(area, Form::Marks)
    }

    fn crow_cents(&self, side: &PictureSide) -> Vec<f64> {
        let Some(octaves) = &self.octaves else {
            return Vec::new();
        };
        let cents = side.crow_hz.iter().filter_map(|hz| octaves.cents(*hz, octaves.octave(*hz)));
        cents.filter(|cents| cents.is_finite()).collect()
    }

    /// Two bars for each octave, and the change between them.
    fn draw_ladder<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let ladders = self.sides().map(|(side, _)| side.ladder(self.octaves.as_ref()));
        let mut steps: Vec<i32> = ladders.iter().flatten().map(|(octave, _)| *octave).collect();
        steps.sort_unstable();
        steps.dedup();
        let names = steps.iter().enumerate().map(|(index, octave)| {
            let name = match &self.octaves {
                Some(octaves) => octave_of(&octaves.note(*octave).to_string()),
                None => octave_number(i64::from(*octave)),
            };
            (index as f64, name)
        });
        let lowest = ladders.iter().flatten().map(|(_, db)| *db).fold(-30.0, f64::min);
        let floor = (lowest / 10.0).floor() * 10.0 - 5.0;
        let x = Axis::named(names.collect(), "");
        let y = Axis::linear(floor, 8.0, 6, labels::LEVEL);
        let chart = axes::chart(area, labels::OCTAVES, &x, &y)?;
        let place = chart.plotting_area();
        for (index, octave) in steps.iter().enumerate() {
            let levels = ladders
                .each_ref()
                .map(|ladder| ladder.iter().find(|(known, _)| known == octave).map(|(_, db)| *db));
            for ((level, (_, mark)), side) in levels.iter().zip(self.sides()).zip([-1.0, 1.0]) {
                let Some(level) = level else { continue };
                let (inner, outer) = (index as f64 + side * 0.02, index as f64 + side * 0.16);
                let corners = [(inner.min(outer), *level), (inner.max(outer), floor)];
                place.draw(&Rectangle::new(corners, mark.color.filled()))?;
                place.draw(&Rectangle::new(corners, style::INK.stroke_width(1)))?;
                axes::mark(place, ((inner + outer) / 2.0, *level), 6, mark)?;
            }
            let words = match levels {
                [Some(before), Some(after)] => {
                    format!("{} dB", signed(after - before, 1))
                }
                [None, Some(after)] => labels::new(&decibels(after)),
                [Some(_), None] => labels::GONE.to_owned(),
                [None, None] => continue,
            };
            let look = style::anchored(style::bold(style::SMALL, style::INK), HPos::Center);
            place.draw(&Text::new(words, (index as f64, 5.0), look))?;
        }
        if steps.is_empty() {
            note(&chart, &x, &y, labels::NO_OCTAVE)?;
        }
        self.names(area, Form::Marks)
    }

    fn draw_spectra<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let curves = self.sides().map(|(side, _)| side.curve());
        let highest_hz = curves.iter().flatten().map(|point| point.0).fold(1000.0, f64::max);
        let (from_hz, to_hz) = (super::spectrum::LOWEST_HZ, highest_hz);
        // Sides recorded at different levels are laid over each other by their loudest partial.
        let (low, high) = (-80.0, 5.0);
        let x = Axis::frequency(from_hz, to_hz);
        let y = Axis::linear(low, high, 8, labels::FROM_LOUDEST);
        let chart = axes::chart(area, labels::SPECTRA, &x, &y)?;
        if let Some(reference) = &self.octaves {
            draw_notes(&chart, reference, (from_hz, to_hz), (low, high))?;
        }
        for (curve, (_, mark)) in curves.iter().zip(self.sides()) {
            let points: Vec<_> =
                curve.iter().map(|(hz, db)| (octaves(*hz), db.clamp(low, high))).collect();
            axes::line(&chart, points, mark.color.stroke_width(2), mark.dash)?;
        }
        if curves.iter().all(Vec::is_empty) {
            note(&chart, &x, &y, labels::SILENT)?;
        }
        self.names(area, Form::Line)
    }
}

/// A line with a head at its end.
fn arrow<DB: DrawingBackend>(
    place: &plotters::prelude::DrawingArea<DB, plotters::prelude::Cartesian2d<Axis, Axis>>,
    from: (f64, f64),
    to: (f64, f64),
) -> Drawn<DB> {
    let base = place.strip_coord_spec();
    let (left, top) = base.get_base_pixel();
    let pixel = |at: (f64, f64)| {
        let (x, y) = place.map_coordinate(&at);
        (x - left, y - top)
    };
    let (tail, head) = (pixel(from), pixel(to));
    let (dx, dy) = (f64::from(head.0 - tail.0), f64::from(head.1 - tail.1));
    let length = dx.hypot(dy).max(1.0);
    let wing = |turn: f64| {
        let (x, y) = (-dx / length * 12.0, -dy / length * 12.0);
        let (sin, cos) = turn.sin_cos();
        (head.0 + (x * cos - y * sin) as i32, head.1 + (x * sin + y * cos) as i32)
    };
    let look = style::INK.stroke_width(2);
    base.draw(&PathElement::new(vec![tail, head], look))?;
    base.draw(&PathElement::new(vec![wing(0.45), head, wing(-0.45)], look))
}

impl Drawing for ComparisonPicture<'_> {
    fn size(&self) -> (u32, u32) {
        (WIDTH, HEIGHTS.iter().sum())
    }

    fn title(&self) -> String {
        labels::title(&self.before.label, &self.after.label)
    }

    fn description(&self) -> String {
        format!("{}. {}", self.lines.join("; "), labels::CHARTS)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let [head, first, second, _] = HEIGHTS;
        let (top, rest) = area.split_vertically(head);
        let (upper, rest) = rest.split_vertically(first);
        let (middle, lower) = rest.split_vertically(second);
        let title = format!("{} → {}", self.before.label, self.after.label);
        heading::draw(&top, &title, &self.lines)?;
        self.draw_pitch(&upper)?;
        self.draw_ladder(&middle)?;
        self.draw_spectra(&lower)
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{made, two_crows};
    use super::*;

    use crate::comparison::compare;
    use crate::reading::Reading;

    fn side(label: &str, low_hz: f64) -> (PictureSide, Vec<Reading>) {
        let crows = two_crows().map(|mut crow| {
            crow.upper_hz *= low_hz / crow.low_hz;
            crow.low_hz = low_hz;
            crow
        });
        let (take, analysis) = made(&crows, 3.6, 16_000);
        let mut side = PictureSide::new(label);
        side.add(&take, &analysis);
        (side, vec![analysis.reading])
    }

    fn svg(before: &(PictureSide, Vec<Reading>), after: &(PictureSide, Vec<Reading>)) -> String {
        let profile = Profile::default();
        let found = compare(&before.1, &after.1, &profile);
        let (a4, format) = (A4::default(), PictureFormat::Svg);
        let bytes = comparison_picture(&before.0, &after.0, &found, &profile, a4, format).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn both_sides_and_the_change_are_named() {
        let svg = svg(&side("before", 511.9), &side("after", 521.0));
        for text in [
            ">before<",
            ">after<",
            ">−38<",
            ">−7<",
            ">octave of C5<",
            ">octave of C6<",
            ">level (dB)<",
            ">frequency (Hz)<",
            ">cents from the target C5<",
            ">0.0 dB<",
        ] {
            assert!(svg.contains(text), "{text}");
        }
        let pitch = crate::reading::catalogue::about("fundamental.target_cents").unwrap();
        assert!(svg.contains(pitch.name), "{svg}");
    }

    #[test]
    fn an_empty_side_has_a_picture() {
        let (before, silent) = (side("before", 511.9), (PictureSide::new("after"), Vec::new()));
        assert!(svg(&before, &silent).contains(&format!(">{}<", labels::GONE)));
        let svg = svg(&silent, &silent);
        assert!(svg.contains(labels::NO_PITCH) && svg.contains(labels::SILENT));
    }
}
