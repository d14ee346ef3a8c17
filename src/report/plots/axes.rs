//! Axes, and a chart between two of them.

use std::ops::Range;

use plotters::chart::ChartContext;
use plotters::coord::CoordTranslate;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::element::{Circle, DashedPathElement, EmptyElement, PathElement, Polygon};
use plotters::prelude::{
    Cartesian2d, ChartBuilder, DrawingArea, DrawingBackend, LabelAreaPosition,
};
use plotters::style::{Color, ShapeStyle};

use super::canvas::{Area, Drawn};
use super::style::{self, Mark, Shape};
use crate::words::format::number;
use crate::words::pictures::{FREQUENCY, TIME_MIN, TIME_S};

/// A chart between two axes.
pub(super) type Chart<'a, DB> = ChartContext<'a, DB, Cartesian2d<Axis, Axis>>;

/// One axis: what it covers, where its ticks stand and what they say.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Axis {
    /// Lowest and highest value, in chart coordinates.
    pub(super) from: f64,
    pub(super) to: f64,
    ticks: Vec<(f64, String)>,
    label: String,
}

impl Axis {
    /// A linear axis with about `count` round ticks. An empty or undefined range becomes 0 … 1.
    pub(super) fn linear(from: f64, to: f64, count: usize, label: &str) -> Self {
        Self::scaled(from, to, count, 1.0, label)
    }

    /// Time from 0 to `duration_s`, in seconds or, from ten minutes, in minutes; coordinates are
    /// seconds either way.
    pub(super) fn time(duration_s: f64) -> Self {
        if duration_s < 600.0 {
            Self::scaled(0.0, duration_s, 10, 1.0, TIME_S)
        } else {
            Self::scaled(0.0, duration_s, 10, 60.0, TIME_MIN)
        }
    }

    /// Frequency on a logarithmic scale; coordinates are octaves over 1 Hz (see [`octaves`]).
    pub(super) fn frequency(from_hz: f64, to_hz: f64) -> Self {
        let ticks = [1.0, 2.0, 3.0, 5.0, 7.0]
            .iter()
            .flat_map(|digit| (1..=4).map(move |power| digit * 10f64.powi(power)))
            .filter(|hz| (from_hz..=to_hz * 1.001).contains(hz))
            .map(|hz| (octaves(hz), format!("{hz:.0}")))
            .collect();
        Self { from: octaves(from_hz), to: octaves(to_hz), ticks, label: FREQUENCY.into() }
    }

    /// One named place after the other: names at 0, 1, 2 …
    pub(super) fn named(ticks: Vec<(f64, String)>, label: &str) -> Self {
        let last = ticks.len().max(1) as f64 - 1.0;
        Self { from: -0.5, to: last + 0.5, ticks, label: label.into() }
    }

    /// One that says nothing of its own: what stands beside it does.
    pub(super) fn unnamed(from: f64, to: f64) -> Self {
        Self { from, to, ticks: Vec::new(), label: String::new() }
    }

    /// Where the ticks stand, in chart coordinates.
    pub(super) fn tick_values(&self) -> impl Iterator<Item = f64> + '_ {
        self.ticks.iter().map(|tick| tick.0)
    }

    fn scaled(from: f64, to: f64, count: usize, unit: f64, label: &str) -> Self {
        let (from, to) = if (to - from).is_finite() && to > from { (from, to) } else { (0.0, 1.0) };
        let step = round_step((to - from) / unit / count.max(1) as f64);
        let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
        let first = (from / unit / step).ceil();
        let last = (to / unit / step + 1e-9).floor();
        let ticks = (0..=(last - first).clamp(0.0, 100.0) as usize)
            .map(|index| (first + index as f64) * step)
            .map(|value| (value * unit, number(value, decimals)))
            .collect();
        Self { from, to, ticks, label: label.into() }
    }
}

impl Ranged for Axis {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (first, last): (i32, i32)) -> i32 {
        let share = (value - self.from) / (self.to - self.from);
        // Casting saturates, and makes an undefined share the first pixel.
        (f64::from(first) + share * f64::from(last - first)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        // Every tick is bold and has a label; between ticks there are no lines.
        if hint.weight().allow_light_points() { Vec::new() } else { self.tick_values().collect() }
    }

    fn range(&self) -> Range<f64> {
        self.from..self.to
    }
}

impl ValueFormatter<f64> for Axis {
    fn format_ext(&self, value: &f64) -> String {
        let tick = self.ticks.iter().find(|(at, _)| at == value);
        tick.map(|(_, text)| text.clone()).unwrap_or_default()
    }
}

/// The coordinate of a frequency on an axis made by [`Axis::frequency`].
pub(super) fn octaves(hz: f64) -> f64 {
    hz.max(1e-3).log2()
}

/// The next of 1, 2, 5, 10 … at or over `step`.
fn round_step(step: f64) -> f64 {
    let power = 10f64.powf(step.log10().floor());
    [1.0, 2.0, 5.0]
        .map(|digit| digit * power)
        .into_iter()
        .find(|round| *round >= step * 0.999)
        .unwrap_or(10.0 * power)
}

/// Room under the title of an axis, so that it is not read as one with the heading of the next chart.
const UNDER: i32 = 12;

/// Left margin shared by all charts, so that time axes stand above each other.
const LEFT: u32 = 74;
const RIGHT: u32 = 24;

/// Space over a chart.
pub(super) const TOP: u32 = 14;

/// Draws two axes with their grid beside names that stand to the left, and returns the chart between
/// them.
pub(super) fn chart_beside<'a, DB: DrawingBackend + 'a>(
    area: &'a Area<DB>,
    x: &Axis,
    y: &Axis,
) -> Result<Chart<'a, DB>, plotters::drawing::DrawingAreaErrorKind<DB::ErrorType>> {
    let mut chart = ChartBuilder::on(area)
        .margin_top(TOP)
        .margin_bottom(UNDER)
        .margin_left(8)
        .margin_right(RIGHT)
        .set_label_area_size(LabelAreaPosition::Bottom, 50)
        .build_cartesian_2d(x.clone(), y.clone())?;
    chart
        .configure_mesh()
        .bold_line_style(style::GRID)
        .axis_style(style::INK)
        .label_style(style::text(style::SMALL, style::INK))
        .x_desc(&x.label)
        .draw()?;
    Ok(chart)
}

/// Draws a title and two axes with their grid, and returns the chart between them.
pub(super) fn chart<'a, DB: DrawingBackend + 'a>(
    area: &'a Area<DB>,
    title: &str,
    x: &Axis,
    y: &Axis,
) -> Result<Chart<'a, DB>, plotters::drawing::DrawingAreaErrorKind<DB::ErrorType>> {
    area.draw_text(title, &style::bold(style::TITLE, style::INK), (16, 8))?;
    let mut chart = ChartBuilder::on(area)
        .margin_top(38)
        .margin_bottom(UNDER)
        .margin_left(12)
        .margin_right(RIGHT)
        .set_label_area_size(LabelAreaPosition::Left, LEFT)
        .set_label_area_size(LabelAreaPosition::Bottom, 50)
        .build_cartesian_2d(x.clone(), y.clone())?;
    chart
        .configure_mesh()
        .bold_line_style(style::GRID)
        .axis_style(style::INK)
        .label_style(style::text(style::SMALL, style::INK))
        .y_label_offset(3)
        .x_desc(&x.label)
        .y_desc(&y.label)
        .draw()?;
    Ok(chart)
}

/// Draws a line through `points`, whole or dashed.
pub(super) fn line<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    points: Vec<(f64, f64)>,
    look: ShapeStyle,
    dash: Option<(u32, u32)>,
) -> Drawn<DB> {
    let area = chart.plotting_area();
    match (points.len(), dash) {
        (0 | 1, _) => Ok(()),
        (_, None) => {
            let runs = without_sharp_turns(points, |point| area.map_coordinate(point));
            runs.into_iter().try_for_each(|run| area.draw(&PathElement::new(run, look)))
        }
        (_, Some((on, off))) => area.draw(&DashedPathElement::new(points, on, off, look)),
    }
}

/// Cuts a line where it turns by more than a right angle in pixels: the mitre of a thick line at so
/// sharp a corner reaches far out of the chart.
fn without_sharp_turns(
    points: Vec<(f64, f64)>,
    pixel: impl Fn(&(f64, f64)) -> (i32, i32),
) -> Vec<Vec<(f64, f64)>> {
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut run: Vec<(f64, f64)> = Vec::new();
    let mut way = (0_i64, 0_i64);
    let mut last: Option<((f64, f64), (i32, i32))> = None;
    for point in points {
        let at = pixel(&point);
        if let Some((before, from)) = last {
            let next = (i64::from(at.0) - i64::from(from.0), i64::from(at.1) - i64::from(from.1));
            if next == (0, 0) {
                continue;
            }
            if way.0 * next.0 + way.1 * next.1 < 0 {
                runs.push(std::mem::replace(&mut run, vec![before]));
            }
            way = next;
        }
        run.push(point);
        last = Some((point, at));
    }
    runs.push(run);
    runs
}

/// Draws a filled mark with a dark rim at a point of `area`, `size` pixels to each side.
pub(super) fn mark<DB: DrawingBackend, CT: CoordTranslate>(
    area: &DrawingArea<DB, CT>,
    at: CT::From,
    size: i32,
    mark: Mark,
) -> Drawn<DB>
where
    CT::From: Clone,
{
    let rim = style::INK.stroke_width(1);
    let corners = match mark.shape {
        Shape::Circle => {
            let disc = Circle::new((0, 0), size, mark.color.filled());
            return area.draw(&(EmptyElement::at(at) + disc + Circle::new((0, 0), size, rim)));
        }
        Shape::Cross => {
            let stroke = mark.color.stroke_width(2);
            let falling = PathElement::new(vec![(-size, -size), (size, size)], stroke);
            let rising = PathElement::new(vec![(-size, size), (size, -size)], stroke);
            return area.draw(&(EmptyElement::at(at) + falling + rising));
        }
        Shape::Triangle => vec![(-size, size), (0, -size), (size, size)],
        Shape::TriangleDown => vec![(-size, -size), (0, size), (size, -size)],
        Shape::Square => vec![(-size, -size), (size, -size), (size, size), (-size, size)],
        Shape::Hexagon => {
            let half = size / 2;
            vec![(-size, 0), (-half, -size), (half, -size), (size, 0), (half, size), (-half, size)]
        }
        Shape::Bar => {
            let half = size / 2;
            vec![(-half, -size), (half, -size), (half, size), (-half, size)]
        }
        Shape::Diamond => vec![(-size, 0), (0, -size), (size, 0), (0, size)],
    };
    let mut outline = corners.clone();
    outline.extend(corners.first());
    let body = Polygon::new(corners, mark.color.filled());
    area.draw(&(EmptyElement::at(at) + body + PathElement::new(outline, rim)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_cut_at_a_peak_and_nowhere_else() {
        let points = vec![(0.0, 0.0), (1.0, 1.0), (1.2, 1.2), (2.0, 50.0), (3.0, 0.0), (9.0, 0.0)];
        let runs = without_sharp_turns(points, |(x, y)| (*x as i32, *y as i32));
        let up = vec![(0.0, 0.0), (1.0, 1.0), (2.0, 50.0)];
        assert_eq!(runs, [up, vec![(2.0, 50.0), (3.0, 0.0), (9.0, 0.0)]]);
    }
}
