//! The two charts over all takes, with their content in words.

use maud::{Markup, html};

use super::names::name;
use super::row::{HeldTo, PageFigures, PageRow};
use super::table::kind_class;
use crate::dsp::statistics::Distribution;
use crate::reading::{Kind, LOCKED_CENTS};
use crate::report::distribution::{bar_edges, bars};
use crate::words::format::{counted, signed};
use crate::words::pictures::cents_from;
use crate::words::{card as words, takes as labels};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 48.0;
const RIGHT: f64 = 12.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 44.0;

/// A linear axis in pixels with round ticks.
struct Scale {
    from: f64,
    to: f64,
    first_px: f64,
    last_px: f64,
    step: f64,
}

impl Scale {
    /// Covers `values` and 0, with ticks of a round step at both ends.
    fn covering(
        values: impl Iterator<Item = f64>,
        least: f64,
        first_px: f64,
        last_px: f64,
    ) -> Self {
        let (low, high) = values.fold((-least, least), |(l, h), v| (l.min(v), h.max(v)));
        let steps = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
        let step = steps.into_iter().find(|step| (high - low) / step <= 10.0).unwrap_or(1000.0);
        let (from, to) = ((low / step).floor() * step, (high / step).ceil() * step);
        Self { from, to, first_px, last_px, step }
    }

    fn px(&self, value: f64) -> f64 {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        self.first_px + share * (self.last_px - self.first_px)
    }

    fn ticks(&self) -> impl Iterator<Item = f64> + '_ {
        let count = ((self.to - self.from) / self.step).round() as usize;
        (0..=count).map(|index| self.from + index as f64 * self.step)
    }
}

/// A chart with its heading and what it says.
fn figure(id: &str, heading: &str, words: &str, chart: Markup, caption: Markup) -> Markup {
    html! {
        figure {
            h2 { (heading) }
            svg viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img" aria-labelledby=(id) {
                title id=(id) { (heading) ". " (words) }
                (chart)
            }
            figcaption { (caption) }
        }
    }
}

const BASE: f64 = HEIGHT - BOTTOM;

fn px(value: f64) -> String {
    format!("{value:.1}")
}

/// The cents axis, with the part that counts as in tune behind it.
fn cents_axis(scale: &Scale, held_to: &HeldTo) -> Markup {
    let (from, to) = (scale.px(-held_to.tolerance_cents), scale.px(held_to.tolerance_cents));
    html! {
        @if held_to.target.is_some() {
            rect.tune x=(px(from)) y=(TOP) width=(px(to - from)) height=(px(BASE - TOP)) {}
        }
        @for tick in scale.ticks() {
            @let x = px(scale.px(tick));
            path.grid d=(format!("M{x} {TOP}V{BASE}")) {}
            text x=(x) y=(BASE + 16.0) text-anchor="middle" { (signed(tick, 0)) }
        }
        text x=((LEFT + WIDTH - RIGHT) / 2.0) y=(HEIGHT - 6.0) text-anchor="middle" {
            (cents_from(&held_to.pitch_from()))
        }
        path.target d=(format!("M{} {TOP}V{BASE}", px(scale.px(0.0)))) {}
    }
}

fn vertical_label(label: &str) -> Markup {
    let middle = (TOP + BASE) / 2.0;
    html! {
        text transform=(format!("translate(12 {middle}) rotate(-90)")) text-anchor="middle" { (label) }
    }
}

/// How many takes lie where against the target.
pub(super) fn pitch_distribution(figures: &[&PageFigures], held_to: &HeldTo) -> Markup {
    let cents: Vec<f64> = figures.iter().filter_map(|figures| figures.pitch_cents()).collect();
    let counts = bars(&cents);
    let of_use = |index: &usize| counts[*index] > 0;
    let ends = (0..counts.len()).filter(of_use).flat_map(|index| {
        let (from, to) = bar_edges(index);
        [from, to]
    });
    let scale = Scale::covering(ends, 50.0, LEFT, WIDTH - RIGHT);
    let words = distribution_in_words(&cents, held_to.tolerance_cents);
    let step = round_step(counts.iter().copied().max().unwrap_or(0));
    let most = counts.iter().copied().max().unwrap_or(0).max(1).div_ceil(step) * step;
    let height = |count: usize| (BASE - TOP) * count as f64 / most as f64;
    let chart = html! {
        (cents_axis(&scale, held_to))
        (vertical_label(labels::TAKES_AXIS))
        @for tick in (0..=most).step_by(step) {
            text x=(LEFT - 6.0) y=(px(BASE - height(tick) + 4.0)) text-anchor="end" { (tick) }
        }
        @for (index, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
            @let (from, to) = bar_edges(index);
            @let (x, width) = (scale.px(from), scale.px(to) - scale.px(from));
            rect.bar x=(px(x + 0.5)) y=(px(BASE - height(*count))) width=(px((width - 1.0).max(0.5)))
                height=(px(height(*count))) {
                title {
                    (labels::bar((index > 0).then_some(from), (index + 1 < counts.len()).then_some(to)))
                    ": " (counted(*count, "take"))
                }
            }
        }
    };
    let (_, within) = bar_edges(counts.len().saturating_sub(1));
    let has_beyond = cents.iter().any(|cents| cents.abs() > within);
    let caption = html! { (words) @if has_beyond { " " (labels::BEYOND) } };
    figure("distribution", labels::DISTRIBUTION, &words, chart, caption)
}

/// The round step by which at most five ticks count up to `most`.
fn round_step(most: usize) -> usize {
    let decades = (0..18).map(|power| 10_usize.pow(power));
    let mut steps = decades.flat_map(|ten| [ten, 2 * ten, 5 * ten]);
    steps.find(|step| most.div_ceil(*step) <= 5).unwrap_or(usize::MAX)
}

fn distribution_in_words(cents: &[f64], tolerance: f64) -> String {
    let Some(pitch) = Distribution::of(cents) else {
        return labels::NO_PITCHES.into();
    };
    let within = cents.iter().filter(|cents| cents.abs() <= tolerance).count();
    let flat = cents.iter().filter(|cents| **cents < -tolerance).count();
    let takes = [flat, within, cents.len() - flat - within];
    let middle = [pitch.median, pitch.lower_quartile, pitch.upper_quartile];
    labels::distribution(takes, tolerance, middle.map(|cents| signed(cents, 0)))
}

/// Deviation of the octaves over pitch: one mark a take, its shape the kind.
///
/// * `folder`: what names count from.
pub(super) fn alignment_against_pitch(rows: &[PageRow], folder: &str, held_to: &HeldTo) -> Markup {
    let points: Vec<(usize, &str, Option<Kind>, f64, f64)> = rows
        .iter()
        .enumerate()
        .filter_map(|(index, row)| {
            let figures = row.outcome.as_ref().ok()?;
            Some((
                index + 1,
                name(&row.source, folder),
                figures.kind,
                figures.pitch_cents()?,
                figures.octaves_cents()?,
            ))
        })
        .collect();
    let x = Scale::covering(points.iter().map(|p| p.3), 50.0, LEFT, WIDTH - RIGHT);
    let y = Scale::covering(points.iter().map(|p| p.4), 10.0, BASE, TOP);
    let locked = points.iter().filter(|point| point.4.abs() <= 5.0).count();
    let apart = |figures: &&PageFigures| {
        matches!(figures.kind, Some(Kind::Octaves | Kind::Split))
            && figures.octaves_cents().is_none()
    };
    let missing = rows.iter().filter_map(|row| row.outcome.as_ref().ok()).filter(apart).count();
    let told = labels::octaves(points.len(), locked, LOCKED_CENTS, missing);
    let (left, right) = (LEFT, WIDTH - RIGHT);
    let chart = html! {
        (cents_axis(&x, held_to))
        (vertical_label(labels::OCTAVES_AXIS))
        @for tick in y.ticks() {
            @let at = y.px(tick);
            path.grid d=(format!("M{left} {}H{right}", px(at))) {}
            text x=(left - 6.0) y=(px(at + 4.0)) text-anchor="end" { (signed(tick, 0)) }
        }
        path.target d=(format!("M{left} {}H{right}", px(y.px(0.0)))) {}
        @for (row, source, kind, pitch, alignment) in &points {
            a href=(format!("#take-{row}")) tabindex="-1" {
                path.mark class=(kind_class(*kind)) d=(shape(*kind))
                    transform=(format!("translate({} {})", px(x.px(*pitch)), px(y.px(*alignment)))) {
                    title { (labels::mark(source, &signed(*pitch, 0), &signed(*alignment, 1))) }
                }
            }
        }
    };
    let kinds = [Kind::Octaves, Kind::Blended, Kind::Split, Kind::Single, Kind::Unsettled];
    let shown = |kind: Kind| points.iter().filter(|point| point.2 == Some(kind)).count();
    let caption = html! {
        (told)
        @for kind in kinds.into_iter().filter(|kind| shown(*kind) > 0) {
            " " span.key {
                svg.sign viewBox="-6 -6 12 12" aria-hidden="true" {
                    path.mark class=(kind_class(Some(kind))) d=(shape(Some(kind))) {}
                }
                " " (words::kind(kind, false)) ": " (shown(kind))
            }
        }
    };
    figure("alignment", labels::OCTAVES, &told, chart, caption)
}

/// The outline of a kind's mark about (0, 0).
fn shape(kind: Option<Kind>) -> &'static str {
    match kind {
        Some(Kind::Octaves) => "M-4 0A4 4 0 1 0 4 0A4 4 0 1 0 -4 0Z",
        Some(Kind::Blended) => "M-4.5 -4L0 4.5L4.5 -4Z",
        Some(Kind::Split) => "M-4.5 4L0 -4.5L4.5 4Z",
        Some(Kind::Single) => "M-4 -4H4V4H-4Z",
        _ => "M-5 0L0 -5L5 0L0 5Z",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_of_counts_are_round() {
        let of = [0, 1, 5, 6, 9, 33, 100, 101, 1234].map(round_step);
        assert_eq!(of, [1, 1, 1, 2, 2, 10, 20, 50, 500]);
    }
}
