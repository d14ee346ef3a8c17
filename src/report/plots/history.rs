//! The way of one reed: pitch, octaves and length from cut to cut.

use jiff::tz::TimeZone;
use plotters::element::{PathElement, Rectangle, Text};
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, WHITE};

use super::axes::{self, Axis, Chart};
use super::canvas::{Area, Drawing, Drawn, render};
use super::file::{PictureFormat, PlotError};
use super::heading;
use super::legend::{self, Entry, Form};
use super::spectrum::note;
use super::style::{self, Mark};
use crate::log::Stage;
use crate::pitch::Note;
use crate::reading::Kind;
use crate::report::dates;
use crate::report::timeline::{PitchCourse, done, stage_kind};
use crate::units::Millimetres;
use crate::words::format::{LengthUnit, counted, number, signed};
use crate::words::pictures::{CENTS, way};

/// Heights of heading, pitch, octaves and length in pixels.
const HEIGHTS: [u32; 4] = [112, 380, 260, 250];
/// Least width, and the width each stage asks for beyond it.
const WIDTH: (u32, u32) = (900, 110);
/// Stages drawn at most, the last ones: beyond them the names would run into each other.
const MOST_STAGES: usize = 24;

/// Whose way is drawn.
#[derive(Debug, Clone, Copy)]
pub struct WayOf<'a> {
    /// What the reed is called.
    pub label: &'a str,
    /// When it came (UTC, ISO 8601).
    pub came: &'a str,
    /// The calendar in which its days are shown.
    pub zone: &'a TimeZone,
}

struct HistoryPicture<'a> {
    of: WayOf<'a>,
    left_out: usize,
    stages: &'a [Stage],
    pitch: PitchCourse,
    doubted: &'a [u32],
    /// The note its lowest tone is held to.
    target: Option<Note>,
    /// How far off still counts as in tune; `None` without a target.
    tolerance_cents: Option<f64>,
    unit: LengthUnit,
}

/// Draws how pitch, octaves and length of one reed went from cut to cut.
///
/// * `of`: the reed, and in which zone its days are told.
/// * `stages`: as the log gives them, the reed as it came first; the last 24 are drawn.
/// * `target`: the note that the profile holds crows to, and how many cents off still count as in tune.
/// * `doubted`: the stages whose length another contradicts; it has a question mark.
/// * `unit`: in what lengths are shown.
///
/// Returns the bytes of a file of `format`. Where a stage was not heard or measured, the line has
/// a gap.
///
/// Errors: none that depend on the reed; see [`PlotError`].
pub fn history_picture(
    of: WayOf<'_>,
    stages: &[Stage],
    target: Option<(Note, f64)>,
    doubted: &[u32],
    unit: LengthUnit,
    format: PictureFormat,
) -> Result<Vec<u8>, PlotError> {
    let pitch = PitchCourse::of(stages, target.map(|(note, _)| note));
    let left_out = stages.len().saturating_sub(MOST_STAGES);
    let picture = HistoryPicture {
        of,
        left_out,
        stages: &stages[left_out..],
        pitch: PitchCourse { cents: pitch.cents[left_out..].to_vec(), ..pitch },
        doubted,
        tolerance_cents: target.map(|(_, cents)| cents),
        target: target.map(|(note, _)| note),
        unit,
    };
    render(&picture, format)
}

impl HistoryPicture<'_> {
    /// The day on which a stage began; empty where that is not known.
    fn day(&self, stage: &Stage) -> String {
        let at = stage.step.as_ref().map_or(self.of.came, |step| step.at.as_str());
        dates::day(at, self.of.zone)
    }

    /// From when to when, with the zone.
    fn days(&self) -> Option<String> {
        let steps = self.stages.iter().map(|stage| stage.step.as_ref());
        dates::span(steps.map(|step| step.map_or(self.of.came, |step| &step.at)), self.of.zone)
    }

    fn line(&self) -> String {
        let led_to = self.stages.iter().filter_map(|stage| stage.step.as_ref());
        let returns = led_to.filter(|logged| logged.step.is_return()).count();
        let number = self.stages.last().map_or(0, |stage| stage.number as usize);
        let cuts = number.saturating_sub(returns);
        let mut line = counted(cuts, "step");
        let heard = || self.pitch.cents.iter().flatten();
        if let (Some(first), Some(last)) = (heard().next(), heard().next_back()) {
            let (from, to) = (signed(*first, 0), signed(*last, 0));
            line += &format!(" · {}", way::pitch_went(&from, &to, &self.pitch.from));
        }
        let lengths = || self.stages.iter().filter_map(|stage| stage.length);
        if let (Some(first), Some(last)) = (lengths().next(), lengths().next_back()) {
            let (first, last) = (self.unit.text(first.mm), self.unit.text(last.mm));
            let is_doubtful = !self.doubted.is_empty();
            line += &format!(" · {}", way::length_went(&first, &last, is_doubtful));
        }
        if self.left_out > 0 {
            line += &format!(" · {}", way::not_shown(self.left_out));
        }
        line
    }

    fn axis(&self) -> Axis {
        let names = self
            .stages
            .iter()
            .enumerate()
            .map(|(index, stage)| (index as f64, done(stage, self.unit)));
        Axis::named(names.collect(), way::STEP)
    }

    fn draw_pitch<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let cents = &self.pitch.cents;
        let (low, high) = range(cents.iter().flatten().copied(), 20.0, 0.0);
        let (x, y) = (self.axis(), Axis::linear(low, high, 7, CENTS));
        let title = way::pitch(&self.pitch.from);
        let chart = axes::chart(area, &title, &x, &y)?;
        if let Some(cents) = self.tolerance_cents {
            let (below, above) = (-cents.min(-low), cents.min(high));
            let band = Rectangle::new([(x.from, below), (x.to, above)], style::SHADE.filled());
            chart.plotting_area().draw(&band)?;
        }
        let zero = vec![(x.from, 0.0), (x.to, 0.0)];
        axes::line(&chart, zero, style::INK.stroke_width(2), None)?;
        draw_course(&chart, cents, style::octave_mark(0), |_, value| signed(value, 0))?;
        if cents.iter().all(Option::is_none) {
            note(&chart, &x, &y, way::NO_PITCH)?;
        }
        // Each day once, over the first stage that it saw.
        let mut said = String::new();
        for (index, stage) in self.stages.iter().enumerate() {
            let day = self.day(stage);
            if day != said {
                let at = (index as f64, high - 0.02 * (high - low));
                let look = style::anchored(style::text(style::SMALL, style::INK), HPos::Center);
                chart.plotting_area().draw(&Text::new(day.clone(), at, look))?;
                said = day;
            }
        }
        let name = match self.tolerance_cents {
            Some(cents) => way::in_tune(&number(cents, 0)),
            None => way::FIRST_HEARD.to_owned(),
        };
        let mark = Mark { color: style::INK, ..style::STRAY };
        let entries = [Entry { name, mark, form: Form::Line }];
        legend::draw(area, &entries, area.dim_in_pixel().0 as i32 - 24, 22)
    }

    /// Deviation of the octaves where there are two, and the kind in a word under each stage.
    fn draw_octaves<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let cents: Vec<_> = self.stages.iter().map(|stage| stage.alignment_cents).collect();
        let (low, high) = range(cents.iter().flatten().copied(), 15.0, 0.0);
        let low = low - 0.25 * (high - low);
        let (x, y) = (self.axis(), Axis::linear(low, high, 5, way::WIDE_IS_UP));
        let chart = axes::chart(area, way::OCTAVES, &x, &y)?;
        let zero = vec![(x.from, 0.0), (x.to, 0.0)];
        axes::line(&chart, zero, style::INK.stroke_width(1), None)?;
        draw_course(&chart, &cents, style::octave_mark(1), |_, value| signed(value, 0))?;
        for (index, stage) in self.stages.iter().enumerate() {
            let look = match stage.kind {
                Some(Kind::Octaves) => style::bold(style::SMALL, style::INK),
                _ => style::text(style::SMALL, style::INK),
            };
            let at = (index as f64, low + 0.08 * (high - low));
            let word = stage_kind(stage, self.target).to_owned();
            chart.plotting_area().draw(&Text::new(
                word,
                at,
                style::anchored(look, HPos::Center),
            ))?;
        }
        Ok(())
    }

    fn draw_length<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let (name, scale, places) = match self.unit {
            LengthUnit::Inches => ("in", Millimetres(1.0).inches(), 3),
            _ => ("mm", 1.0, 1),
        };
        let lengths: Vec<_> =
            self.stages.iter().map(|stage| stage.length.map(|length| length.mm * scale)).collect();
        let middle = lengths.iter().flatten().next().copied().unwrap_or(70.0 * scale);
        let (low, high) = range(lengths.iter().flatten().copied(), 0.5 * scale, middle);
        let (x, y) = (self.axis(), Axis::linear(low, high, 5, name));
        let chart = axes::chart(area, way::LENGTH, &x, &y)?;
        if lengths.iter().all(Option::is_none) {
            note(&chart, &x, &y, way::NO_LENGTH)?;
        }
        let show = |index: usize, value: f64| {
            let is_doubted =
                self.stages.get(index).is_some_and(|stage| self.doubted.contains(&stage.number));
            number(value, places) + if is_doubted { " ?" } else { "" }
        };
        draw_course(&chart, &lengths, style::octave_mark(2), show)
    }
}

impl Drawing for HistoryPicture<'_> {
    fn size(&self) -> (u32, u32) {
        let width = (self.stages.len() as u32).saturating_mul(WIDTH.1) + 120;
        (width.max(WIDTH.0), HEIGHTS.iter().sum())
    }

    fn title(&self) -> String {
        way::title(self.of.label)
    }

    fn description(&self) -> String {
        let days = self.days().map(|days| format!(", {days}")).unwrap_or_default();
        format!("{}{days}. {}", self.line(), way::CHARTS)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let [head, first, second, _] = HEIGHTS;
        let (top, rest) = area.split_vertically(head);
        let (upper, rest) = rest.split_vertically(first);
        let (middle, lower) = rest.split_vertically(second);
        let lines: Vec<String> = std::iter::once(self.line()).chain(self.days()).collect();
        heading::draw(&top, self.of.label, &lines)?;
        self.draw_pitch(&upper)?;
        self.draw_octaves(&middle)?;
        self.draw_length(&lower)
    }
}

/// A range about `middle` that holds it, `least` to each side and all values, with room for the
/// numbers at the marks.
fn range(values: impl Iterator<Item = f64>, least: f64, middle: f64) -> (f64, f64) {
    let whole = values
        .filter(|value| value.is_finite())
        .fold((middle - least, middle + least), |(low, high), v| (low.min(v), high.max(v)));
    let room = 0.2 * (whole.1 - whole.0);
    (whole.0 - room, whole.1 + room)
}

/// A line with a mark and its number at every stage, and gaps where there is no value.
fn draw_course<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    values: &[Option<f64>],
    mark: Mark,
    show: impl Fn(usize, f64) -> String,
) -> Drawn<DB> {
    let values: Vec<Option<(f64, f64)>> = values
        .iter()
        .enumerate()
        .map(|(index, value)| Some((index as f64, value.filter(|value| value.is_finite())?)))
        .collect();
    let area = chart.plotting_area();
    for run in values.split(Option::is_none) {
        let points: Vec<(f64, f64)> = run.iter().flatten().copied().collect();
        if points.len() > 1 {
            area.draw(&PathElement::new(points, mark.color.stroke_width(2)))?;
        }
    }
    for (x, y) in values.into_iter().flatten() {
        axes::mark(area, (x, y), 6, mark)?;
        let (left, top) = area.map_coordinate(&(x, y));
        let base = area.strip_coord_spec();
        let (origin_x, origin_y) = base.get_base_pixel();
        let look = style::anchored(style::text(style::SMALL, style::INK), HPos::Center);
        let text = show(x as usize, y);
        // No line goes through a number.
        let (at, (wide, high)) =
            ((left - origin_x, top - origin_y - 16), base.estimate_text_size(&text, &look)?);
        let (half, rise) = (wide as i32 / 2 + 2, high as i32 / 2);
        let ground = [(at.0 - half, at.1 - rise), (at.0 + half, at.1 + rise)];
        base.draw(&Rectangle::new(ground, WHITE.mix(0.85).filled()))?;
        base.draw_text(&text, &look, at)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::{Length, LoggedStep, Step};
    use crate::reed::Cut;

    fn stages(count: u32) -> Vec<Stage> {
        let stage = |number: u32| Stage {
            number,
            step: (number > 0).then(|| LoggedStep {
                at: format!("2026-03-{:02}T22:30:00.000Z", 17 + number % 7 / 2),
                number: Some(number),
                step: match number % 2 {
                    1 => Step::new(Cut::Clip, Some(0.2)),
                    _ => Step::new(Cut::HeartSides, None),
                },
                advised: None,
            }),
            length: Some(Length { mm: 71.0 - 0.1 * f64::from(number), measured: true }),
            takes: 1,
            takes_without_crow: 0,
            takes_of_air: 0,
            crows: 3,
            in_octaves: None,
            kind: [Some(Kind::Split), Some(Kind::Octaves), None][number as usize % 3],
            kinds: Vec::new(),
            named: None,
            pitched: 0,
            hz: Some(510.0),
            target_cents: Some(-60.0 + 7.0 * f64::from(number)).filter(|_| number % 3 != 2),
            register: Some(0),
            alignment_cents: Some(20.0 - 4.0 * f64::from(number)).filter(|_| number % 3 != 2),
        };
        (0..count).map(stage).collect()
    }

    fn prague() -> TimeZone {
        TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap()
    }

    fn svg(stages: &[Stage], target: Option<Note>) -> String {
        let target = target.map(|note| (note, 15.0));
        let bytes = history_picture(
            WayOf { label: "Anouk & 7", came: "2026-03-17T09:00:00.000Z", zone: &prague() },
            stages,
            target,
            &[2],
            LengthUnit::Millimetres,
            PictureFormat::Svg,
        )
        .unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn every_stage_is_named_with_its_figures() {
        let svg = svg(&stages(6), "C5".parse().ok());
        for text in [
            ">as it came<",
            ">clip 0.2<",
            ">−60<",
            ">mm<",
            ">cents<",
            ">70.5<",
            ">70.8 ?<",
            ">two tones<",
            ">target, in tune within 15 cents<",
        ] {
            assert!(svg.contains(text), "{text}");
        }
        assert!(svg.contains(&way::pitch_went("−60", "−32", "C5")));
        assert!(svg.contains(&way::length_went("71 mm", "70.5 mm", true)));
        assert!(svg.contains(&way::title("Anouk &amp; 7")));
        // Half past ten in the evening, UTC, of a day is half past eleven of it in Prague.
        for day in [">2026-03-17<", ">2026-03-18<", ">2026-03-17 to 2026-03-19 (UTC+01:00)<"] {
            assert!(svg.contains(day), "{day}");
        }
        assert_eq!(svg.matches(">2026-03-18<").count(), 1);
    }

    #[test]
    fn any_history_has_a_picture() {
        assert!(svg(&[], None).contains(way::NO_PITCH));
        let mut blank = stages(1);
        (blank[0].target_cents, blank[0].hz, blank[0].length) = (Some(f64::NAN), None, None);
        assert!(svg(&blank, None).contains(way::NO_LENGTH));
        assert!(svg(&stages(500), None).contains(&way::not_shown(476)));
        let png = history_picture(
            WayOf { label: "a", came: "", zone: &prague() },
            &stages(30),
            None,
            &[],
            LengthUnit::Millimetres,
            PictureFormat::Png,
        )
        .unwrap();
        assert!(png.starts_with(b"\x89PNG"));
    }
}
