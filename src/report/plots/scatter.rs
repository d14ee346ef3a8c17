//! Points against an amount or a condition, with the line fitted through them and the band in which
//! one more is to be expected.

use jiff::tz::TimeZone;
use plotters::prelude::DrawingBackend;
use plotters::style::Color;

use super::axes::{self, Axis};
use super::canvas::{Area, Drawing, Drawn, render};
use super::file::{PictureFormat, PlotError};
use super::heading;
use super::legend::{self, Entry, Form};
use super::style::{self, Mark};
use crate::log::questions::{CutAnswer, Influence, MadeCut, PerMm};
use crate::reed::Cut;
use crate::report::dates;
use crate::words::format::{counted, interval, number, signed};
use crate::words::{log as words, pictures as labels};

const SIZE: (u32, u32) = (900, 626);
const HEAD: u32 = 110;
/// Steps in which a band is drawn.
const STEPS: usize = 60;

/// The fitted line and half the width of its band, at a value.
type Fitted = Box<dyn Fn(f64) -> (f64, f64)>;

struct Scatter {
    title: String,
    line: String,
    /// From when to when.
    days: Option<String>,
    x: (String, f64, f64),
    y: String,
    points: Vec<(f64, f64)>,
    /// `None` where nothing was fitted.
    fitted: Option<Fitted>,
    band: &'static str,
}

/// Change of pitch against the amount of a kind of cut; cuts without an amount stand at 0.
///
/// Errors: none that depend on the cuts; see [`PlotError`].
pub fn cuts_picture(
    answer: &CutAnswer,
    cut: Cut,
    zone: &TimeZone,
    format: PictureFormat,
) -> Result<Vec<u8>, PlotError> {
    let made: Vec<MadeCut> = answer
        .cuts
        .iter()
        .filter(|made| made.cut == cut && made.change_cents.is_some())
        .cloned()
        .collect();
    let points: Vec<(f64, f64)> = made
        .iter()
        .filter_map(|made| Some((made.amount_mm.unwrap_or(0.0), made.change_cents?)))
        .collect();
    let line = PerMm::of(&made);
    let has_amounts = made.iter().any(|made| made.amount_mm.is_some());
    let most = points.iter().map(|(mm, _)| *mm).fold(0.1, f64::max) * 1.1;
    let fit = line.map(|line| {
        labels::per_mm(&signed(line.cents_per_mm, 0), &number(line.ci95_cents_per_mm, 0))
    });
    let picture = Scatter {
        title: labels::cuts(cut),
        line: counted(points.len(), "cut") + &fit.unwrap_or_default(),
        days: dates::span(made.iter().map(|made| made.at.as_str()), zone),
        x: (labels::amount(has_amounts).into(), -0.02, most),
        y: labels::CHANGE_OF_PITCH.into(),
        points,
        fitted: line
            .map(|line| -> Box<dyn Fn(f64) -> (f64, f64)> { Box::new(move |mm| line.at(mm)) }),
        band: labels::MORE_CUTS,
    };
    render(&picture, format)
}

/// Pitch against a condition, both from their means over the takes of the same reed between the same two
/// cuts: what reeds differ by, and what the season brings, is not part of it.
///
/// Errors: as [`cuts_picture`].
pub fn condition_picture(
    found: &Influence,
    zone: &TimeZone,
    format: PictureFormat,
) -> Result<Vec<u8>, PlotError> {
    let points: Vec<(f64, f64)> = found.points.iter().map(|p| (p.from_mean, p.cents)).collect();
    let low = points.iter().map(|(x, _)| *x).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|(x, _)| *x).fold(f64::NEG_INFINITY, f64::max);
    let room = 0.05 * (high - low).max(1.0);
    let slope = found.cents_per_unit.zip(found.ci95);
    let fit = slope.map(|(slope, half)| {
        format!(", {} {} {}", signed(slope, 1), interval(half, 1), words::per(found.condition))
    });
    let picture = Scatter {
        title: labels::against(found.condition),
        line: counted(points.len(), "take") + &fit.unwrap_or_default(),
        days: dates::span(found.points.iter().map(|point| point.at.as_str()), zone),
        x: (labels::from_own_mean(found.condition), low - room, high + room),
        y: labels::PITCH_FROM_OWN_MEAN.into(),
        points,
        fitted: slope.map(|(slope, half)| -> Box<dyn Fn(f64) -> (f64, f64)> {
            Box::new(move |x| (slope * x, half * x.abs()))
        }),
        band: labels::WHERE_LINE_LIES,
    };
    render(&picture, format)
}

impl Drawing for Scatter {
    fn size(&self) -> (u32, u32) {
        SIZE
    }

    fn title(&self) -> String {
        self.title.clone()
    }

    fn description(&self) -> String {
        let days = self.days.as_ref().map(|days| format!(", {days}")).unwrap_or_default();
        format!("{}: {}{days}.", self.title, self.line)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let (top, below) = area.split_vertically(HEAD);
        let lines: Vec<String> = std::iter::once(&self.line).chain(&self.days).cloned().collect();
        heading::draw(&top, &self.title, &lines)?;
        let (name, from, to) = &self.x;
        let at = |n: usize| from + (to - from) * n as f64 / STEPS as f64;
        let band: Vec<(f64, f64, f64)> = self
            .fitted
            .iter()
            .flat_map(|fitted| (0..=STEPS).map(|n| (at(n), fitted(at(n)))))
            .map(|(x, (y, half))| (x, y, half))
            .collect();
        let values = || {
            let fitted = band.iter().flat_map(|(_, y, half)| [y - half, y + half]);
            self.points.iter().map(|(_, y)| *y).chain(fitted).filter(|value| value.is_finite())
        };
        let (low, high) = (values().fold(-5.0, f64::min), values().fold(5.0, f64::max));
        let room = 0.05 * (high - low);
        let x = Axis::linear(*from, *to, 8, name);
        let y = Axis::linear(low - room, high + room, 8, &self.y);
        let chart = axes::chart(&below, "", &x, &y)?;
        axes::line(&chart, vec![(*from, 0.0), (*to, 0.0)], style::INK.stroke_width(1), None)?;
        let line = style::octave_mark(2);
        for sign in [-1.0, 1.0] {
            let edge = band.iter().map(|(x, y, half)| (*x, y + sign * half)).collect();
            axes::line(&chart, edge, line.color.stroke_width(2), Some((6, 6)))?;
        }
        let middle = band.iter().map(|(x, y, _)| (*x, *y)).collect();
        axes::line(&chart, middle, line.color.stroke_width(2), None)?;
        let dot = style::octave_mark(0);
        for point in &self.points {
            axes::mark(chart.plotting_area(), *point, 5, dot)?;
        }
        if !band.is_empty() {
            let entry = |name: &str, dash| Entry {
                name: name.into(),
                mark: Mark { dash, ..line },
                form: Form::Line,
            };
            let entries = [entry(labels::FITTED, None), entry(self.band, Some((6, 6)))];
            legend::draw(&below, &entries, below.dim_in_pixel().0 as i32 - 24, 18)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::questions::{Condition, Point, Told};

    fn clip(mm: f64, cents: f64) -> MadeCut {
        MadeCut {
            reed: "A".into(),
            step: 1,
            at: "2026-03-17T09:00:00Z".into(),
            cut: Cut::Clip,
            amount_mm: Some(mm),
            before_cents: None,
            after_cents: None,
            change_cents: Some(cents),
            ci95_cents: None,
            level_adjusted: false,
            octaves_before: None,
            octaves_after: None,
        }
    }

    fn svg(cuts: Vec<MadeCut>) -> String {
        let answer = CutAnswer { reeds: 1, by: None, summaries: Vec::new(), cuts };
        String::from_utf8(
            cuts_picture(&answer, Cut::Clip, &TimeZone::UTC, PictureFormat::Svg).unwrap(),
        )
        .unwrap()
    }

    #[test]
    fn clips_are_drawn_with_their_line_and_without_one_where_there_are_few() {
        // Through the origin: (0.1·10 + 0.2·22 + 0.3·28) / (0.1² + 0.2² + 0.3²) = 98.6 cents per mm.
        let three = svg(vec![clip(0.1, 10.0), clip(0.2, 22.0), clip(0.3, 28.0)]);
        for text in [
            "What clipping did",
            "3 cuts, +99 ±",
            "2026-03-17 (UTC+00:00)",
            "change of pitch (cents)",
            "19 of 20 further",
        ] {
            assert!(three.contains(text), "{text}: {three}");
        }
        assert!(!svg(vec![clip(0.1, 10.0)]).contains(labels::FITTED));
        assert!(svg(Vec::new()).contains(&counted(0, "cut")));
    }

    #[test]
    fn a_condition_is_drawn_against_pitch() {
        let point = |value: f64, cents| {
            let (reed, at) = ("A".into(), String::new());
            Point { reed, at, value, from_mean: value - 17.5, cents }
        };
        let found = Influence {
            condition: Condition::Temperature,
            takes: 2,
            phases: 1,
            cents_per_unit: Some(2.0),
            ci95: Some(0.4),
            told: Told::More,
            octaves_low: None,
            octaves_high: None,
            points: vec![point(15.0, -5.0), point(20.0, 5.0)],
        };
        let svg = condition_picture(&found, &TimeZone::UTC, PictureFormat::Svg).unwrap();
        let svg = String::from_utf8(svg).unwrap();
        let unit = words::per(Condition::Temperature);
        assert!(svg.contains(&format!("{}, +2.0 ±0.4 {unit}", counted(2, "take"))), "{svg}");
        let axis = labels::from_own_mean(Condition::Temperature);
        assert!(svg.replace("&#39;", "'").contains(&axis), "{svg}");
    }
}
