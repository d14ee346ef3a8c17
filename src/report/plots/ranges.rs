//! Values beside each other, each with the interval in which it lies: groups of reeds, kinds of cuts, what
//! was foretold.

use plotters::element::PathElement;
use plotters::prelude::DrawingBackend;
use plotters::style::Color;
use plotters::style::text_anchor::HPos;

use super::axes::{self, Axis};
use super::canvas::{Area, Drawing, Drawn, render};
use super::file::{PictureFormat, PlotError};
use super::heading;
use super::style;
use crate::log::questions::{CutAnswer, GroupAnswer, Middle, Share, TrustAnswer};
use crate::words::format::counted;
use crate::words::log::{self as words, panel};

const WIDTH: u32 = 900;
const HEAD: u32 = 84;
/// Height of one row, and of the axes under all.
const ROW: u32 = 38;
const AXES: u32 = axes::TOP + 50;
/// Width of the names.
const NAMES: u32 = 190;
/// Letters of a name that have room there.
const MOST_LETTERS: usize = 21;
/// Rows of one picture: more than these nobody compares by eye.
const MOST_ROWS: usize = 12;

/// Where a value lies.
#[derive(Clone, Copy)]
struct Range {
    low: f64,
    at: f64,
    high: f64,
    /// What was said that it would be.
    said: Option<f64>,
}

impl Range {
    fn share(share: Option<Share>, said: Option<f64>) -> Option<Self> {
        let percent = |part: f64| 100.0 * part;
        let share = share?;
        Some(Self {
            low: percent(share.low),
            at: percent(share.share()),
            high: percent(share.high),
            said: said.map(percent),
        })
    }

    /// A mean; one without an interval is a dot alone.
    fn mean(middle: Option<Middle>) -> Option<Self> {
        let Middle { mean, ci95, .. } = middle?;
        let half = ci95.unwrap_or(0.0);
        Some(Self { low: mean - half, at: mean, high: mean + half, said: None })
    }

    fn ends(self) -> [f64; 2] {
        [self.low, self.high]
    }
}

/// One figure of all rows.
struct Panel {
    name: &'static str,
    /// What the axis covers at least.
    least: (f64, f64),
    ranges: Vec<Option<Range>>,
}

struct Ranges {
    title: String,
    line: String,
    names: Vec<String>,
    panels: Vec<Panel>,
}

/// What is given up of each group, how its finished reeds ended, and what they took.
///
/// Errors: none that depend on the answer; see [`PlotError`].
pub fn groups_picture(answer: &GroupAnswer, format: PictureFormat) -> Result<Vec<u8>, PlotError> {
    let shown = answer.groups.iter().take(MOST_ROWS);
    let each = |of: &dyn Fn(&crate::log::questions::Group) -> Option<Range>| {
        shown.clone().map(of).collect::<Vec<_>>()
    };
    let name = |value: &Option<String>| value.clone().unwrap_or_else(|| words::NOT_SAID.into());
    let picture = Ranges {
        title: words::groups_title(answer.by, shown.len(), answer.groups.len()),
        line: format!("{}. {}", counted(answer.reeds, "reed"), words::RANGES),
        names: shown.clone().map(|group| name(&group.value)).collect(),
        panels: vec![
            Panel {
                name: panel::GIVEN_UP,
                least: (0.0, 100.0),
                ranges: each(&|group| Range::share(group.given_up, None)),
            },
            Panel {
                name: panel::PITCH,
                least: (-10.0, 10.0),
                ranges: each(&|group| Range::mean(group.target_cents)),
            },
            Panel {
                name: panel::CUTS,
                least: (0.0, 1.0),
                ranges: each(&|group| Range::mean(group.cuts)),
            },
        ],
    };
    render(&picture, format)
}

/// What each kind of cut did to pitch and octaves.
///
/// Errors: as [`groups_picture`].
pub fn kinds_picture(answer: &CutAnswer, format: PictureFormat) -> Result<Vec<u8>, PlotError> {
    let mut kinds: Vec<_> = answer.summaries.iter().collect();
    kinds.sort_by_key(|kind| std::cmp::Reverse(kind.made));
    kinds.truncate(MOST_ROWS);
    let name = |cut: &str, value: &Option<String>| match value {
        Some(value) => format!("{value}: {cut}"),
        None => cut.to_owned(),
    };
    let shares = |of: fn(&crate::log::questions::CutSummary) -> Option<Share>| {
        kinds.iter().map(|kind| Range::share(of(kind), None)).collect()
    };
    let picture = Ranges {
        title: words::KINDS_TITLE.into(),
        line: format!("{}. {}", counted(answer.cuts.len(), "cut"), words::RANGES),
        names: kinds.iter().map(|kind| name(kind.cut.words(), &kind.value)).collect(),
        panels: vec![
            Panel {
                name: panel::CHANGE,
                least: (-10.0, 10.0),
                ranges: kinds.iter().map(|kind| Range::mean(kind.change_cents)).collect(),
            },
            Panel {
                name: panel::OCTAVES_CAME,
                least: (0.0, 100.0),
                ranges: shares(|kind| kind.octaves_came),
            },
            Panel {
                name: panel::OCTAVES_LOST,
                least: (0.0, 100.0),
                ranges: shares(|kind| kind.octaves_lost),
            },
        ],
    };
    render(&picture, format)
}

/// How often each move helped beside what was said, by kind of move and by how sure it was said to be.
///
/// Errors: as [`groups_picture`].
pub fn trust_picture(answer: &TrustAnswer, format: PictureFormat) -> Result<Vec<u8>, PlotError> {
    let moves = answer.moves.iter().map(|one| (one.cut.words().to_owned(), one.came, one.said));
    let sure = answer.sure.iter().map(|one| (words::as_sure(one.from, one.to), one.came, one.said));
    let rows: Vec<_> = moves.take(MOST_ROWS).chain(sure).collect();
    let picture = Ranges {
        title: words::TRUST_TITLE.into(),
        line: format!("{}. {}", counted(answer.all.len(), "move"), words::RANGES_SAID),
        names: rows.iter().map(|(name, ..)| name.clone()).collect(),
        panels: vec![Panel {
            name: panel::HELPED,
            least: (0.0, 100.0),
            ranges: rows
                .iter()
                .map(|(_, came, said)| Range::share(Some(*came), Some(*said)))
                .collect(),
        }],
    };
    render(&picture, format)
}

impl Panel {
    /// The axis, as wide as the intervals.
    fn axis(&self) -> Axis {
        let ends = || self.ranges.iter().flatten().flat_map(|range| range.ends());
        let (low, high) =
            (ends().fold(self.least.0, f64::min), ends().fold(self.least.1, f64::max));
        let room = 0.04 * (high - low);
        Axis::linear(low - room, high + room, 5, self.name)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>, rows: usize) -> Drawn<DB> {
        let x = self.axis();
        let y = Axis::unnamed(-0.5, rows as f64 - 0.5);
        let chart = axes::chart_beside(area, &x, &y)?;
        if x.from < 0.0 && x.to > 0.0 {
            let zero = vec![(0.0, y.from), (0.0, y.to)];
            axes::line(&chart, zero, style::INK.stroke_width(1), None)?;
        }
        let (dot, said) = (style::octave_mark(0), style::STRAY);
        for (place, range) in self.ranges.iter().enumerate() {
            let Some(range) = range else { continue };
            // The first row stands on top.
            let y = (rows - 1 - place) as f64;
            let bar = vec![(range.low, y), (range.high, y)];
            chart.plotting_area().draw(&PathElement::new(bar, dot.color.stroke_width(3)))?;
            axes::mark(chart.plotting_area(), (range.at, y), 6, dot)?;
            if let Some(at) = range.said {
                axes::mark(chart.plotting_area(), (at, y), 6, said)?;
            }
        }
        Ok(())
    }
}

impl Drawing for Ranges {
    fn size(&self) -> (u32, u32) {
        (WIDTH, HEAD + AXES + ROW * self.names.len().max(1) as u32)
    }

    fn title(&self) -> String {
        self.title.clone()
    }

    fn description(&self) -> String {
        format!("{}: {}", self.title, self.line)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let (top, below) = area.split_vertically(HEAD);
        heading::draw(&top, &self.title, std::slice::from_ref(&self.line))?;
        let (names, charts) = below.split_horizontally(NAMES);
        let look = style::anchored(style::text(style::SMALL, style::INK), HPos::Right);
        for (place, name) in self.names.iter().enumerate() {
            let y = axes::TOP as i32 + ROW as i32 * place as i32 + ROW as i32 / 2;
            let shown = match name.chars().count() > MOST_LETTERS {
                true => name.chars().take(MOST_LETTERS - 1).chain(['…']).collect(),
                false => name.clone(),
            };
            names.draw_text(&shown, &look, (NAMES as i32 - 12, y))?;
        }
        let rows = self.names.len().max(1);
        let parts = charts.split_evenly((1, self.panels.len().max(1)));
        self.panels.iter().zip(&parts).try_for_each(|(panel, part)| panel.draw(part, rows))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::questions::{Field, Group, Told};

    fn group(value: &str, mean: f64) -> Group {
        let middle = Middle { count: 9, median: mean, mean, ci95: Some(3.0), sd: Some(4.0) };
        Group {
            value: Some(value.into()),
            reeds: 12,
            open: 0,
            given_up: Share::of([true, false, false]),
            in_octaves: None,
            target_cents: Some(middle),
            cuts: None,
            hours_played: None,
            given_up_told: Told::CannotTell,
            cuts_told: Told::CannotTell,
            target_told: Told::CannotTell,
        }
    }

    #[test]
    fn groups_are_drawn_under_their_names_and_no_more_than_fit() {
        let svg = |groups: Vec<Group>| {
            let answer = GroupAnswer { by: Field::Cane, reeds: 24, groups };
            String::from_utf8(groups_picture(&answer, PictureFormat::Svg).unwrap()).unwrap()
        };
        let two = svg(vec![group("Brook", -4.0), group("A cane with a very long name", 2.0)]);
        for text in ["Reeds by cane", "24 reeds", "Brook", "A cane with a very l…", "given up (%)"]
        {
            assert!(two.contains(text), "{text}: {two}");
        }
        let many = svg((0..30).map(|n| group(&format!("cane {n}"), 0.0)).collect());
        let title = words::groups_title(Field::Cane, 12, 30);
        assert!(many.contains(&title) && !many.contains("cane 12"));
        assert!(svg(Vec::new()).contains(&counted(24, "reed")));
    }

    #[test]
    fn what_was_said_stands_beside_what_came() {
        let came = Share::of((0..10).map(|n| n < 6)).unwrap();
        let sure = crate::log::questions::AsSure { from: 0.6, to: 0.8, said: 0.7, came };
        let answer = TrustAnswer { sure: vec![sure], ..TrustAnswer::default() };
        let svg = trust_picture(&answer, PictureFormat::Svg).unwrap();
        let svg = String::from_utf8(svg).unwrap();
        assert!(svg.contains(&words::as_sure(0.6, 0.8)) && svg.contains(panel::HELPED), "{svg}");
    }
}
