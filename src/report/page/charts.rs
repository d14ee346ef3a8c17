//! The two charts over all takes, with their content in words.

use std::fmt::Write;

use super::markup::escape;
use super::names::name;
use super::table::kind_class;
use super::{HeldTo, PageFigures, PageRow};
use crate::reading::{Kind, LOCKED_CENTS};
use crate::report::distribution::{Distribution, bar_edges, bars};
use crate::report::format::{counted, number, signed};
use crate::words::card as words;

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

fn open(html: &mut String, id: &str, heading: &str, words: &str) {
    let _ = write!(
        html,
        "<figure>\n<h2>{heading}</h2>\n<svg viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" \
         aria-labelledby=\"{id}\">\n<title id=\"{id}\">{heading}. {words}</title>\n",
        heading = escape(heading),
        words = escape(words),
    );
}

fn close(html: &mut String, caption: &str) {
    let _ = write!(html, "</svg>\n<figcaption>{caption}</figcaption>\n</figure>\n");
}

/// The cents axis, with the part that counts as in tune behind it.
fn cents_axis(html: &mut String, scale: &Scale, held_to: &HeldTo) {
    let base = HEIGHT - BOTTOM;
    if held_to.target.is_some() {
        let (from, to) = (scale.px(-held_to.tolerance_cents), scale.px(held_to.tolerance_cents));
        let _ = writeln!(
            html,
            "<rect class=\"tune\" x=\"{from:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            to - from,
            base - TOP,
        );
    }
    for tick in scale.ticks() {
        let x = scale.px(tick);
        let _ = writeln!(
            html,
            "<path class=\"grid\" d=\"M{x:.1} {TOP}V{base}\"/><text x=\"{x:.1}\" y=\"{}\" \
             text-anchor=\"middle\">{}</text>",
            base + 16.0,
            signed(tick, 0),
        );
    }
    let _ = write!(
        html,
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text>\n\
         <path class=\"target\" d=\"M{zero:.1} {TOP}V{base}\"/>\n",
        (LEFT + WIDTH - RIGHT) / 2.0,
        HEIGHT - 6.0,
        escape(&format!("cents from {}", held_to.pitch_from())),
        zero = scale.px(0.0),
    );
}

fn vertical_label(html: &mut String, label: &str) {
    let middle = (TOP + HEIGHT - BOTTOM) / 2.0;
    let _ = writeln!(
        html,
        "<text transform=\"translate(12 {middle}) rotate(-90)\" text-anchor=\"middle\">{label}</text>",
    );
}

/// How many takes lie where against the target.
pub(super) fn pitch_distribution(figures: &[&PageFigures], held_to: &HeldTo) -> String {
    let cents: Vec<f64> = figures.iter().filter_map(|figures| figures.pitch_cents()).collect();
    let counts = bars(&cents);
    let of_use = |index: &usize| counts[*index] > 0;
    let ends = (0..counts.len()).filter(of_use).flat_map(|index| {
        let (from, to) = bar_edges(index);
        [from, to]
    });
    let scale = Scale::covering(ends, 50.0, LEFT, WIDTH - RIGHT);
    let words = distribution_in_words(&cents, held_to.tolerance_cents);
    let mut html = String::new();
    open(&mut html, "distribution", "Pitch of the takes", &words);
    cents_axis(&mut html, &scale, held_to);
    vertical_label(&mut html, "takes");
    let step = round_step(counts.iter().copied().max().unwrap_or(0));
    let most = counts.iter().copied().max().unwrap_or(0).max(1).div_ceil(step) * step;
    let base = HEIGHT - BOTTOM;
    for tick in (0..=most).step_by(step) {
        let y = base - (base - TOP) * tick as f64 / most as f64;
        let _ = writeln!(
            html,
            "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{tick}</text>",
            LEFT - 6.0,
            y + 4.0
        );
    }
    for (index, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
        let (from, to) = bar_edges(index);
        let (x, width) = (scale.px(from), scale.px(to) - scale.px(from));
        let cents = match index {
            0 => format!("under {} cents", signed(to, 0)),
            last if last + 1 == counts.len() => format!("over {} cents", signed(from, 0)),
            _ => format!("{} to {} cents", signed(from, 0), signed(to, 0)),
        };
        let height = (base - TOP) * *count as f64 / most as f64;
        let _ = writeln!(
            html,
            "<rect class=\"bar\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{height:.1}\">\
             <title>{cents}: {}</title></rect>",
            x + 0.5,
            base - height,
            (width - 1.0).max(0.5),
            counted(*count, "take"),
        );
    }
    let (_, within) = bar_edges(counts.len().saturating_sub(1));
    let beyond = match cents.iter().any(|cents| cents.abs() > within) {
        true => " The outermost bar holds what lies beyond it too.",
        false => "",
    };
    close(&mut html, &escape(&(words + beyond)));
    html
}

/// The round step by which at most five ticks count up to `most`.
fn round_step(most: usize) -> usize {
    let decades = (0..18).map(|power| 10_usize.pow(power));
    let mut steps = decades.flat_map(|ten| [ten, 2 * ten, 5 * ten]);
    steps.find(|step| most.div_ceil(*step) <= 5).unwrap_or(usize::MAX)
}

fn distribution_in_words(cents: &[f64], tolerance: f64) -> String {
    let Some(pitch) = Distribution::of(cents) else {
        return "No take holds a pitch.".into();
    };
    let within = cents.iter().filter(|cents| cents.abs() <= tolerance).count();
    let flat = cents.iter().filter(|cents| **cents < -tolerance).count();
    format!(
        "{} with a pitch: {flat} flat, {within} within {tolerance} cents, {} sharp; the median is {} \
         cents. Half of the takes lie from {} to {} cents.",
        counted(cents.len(), "take"),
        cents.len() - flat - within,
        signed(pitch.median, 0),
        signed(pitch.lower_quartile, 0),
        signed(pitch.upper_quartile, 0),
    )
}

/// Deviation of the octaves over pitch: one mark a take, its shape the kind.
///
/// * `folder`: what names count from.
pub(super) fn alignment_against_pitch(rows: &[PageRow], folder: &str, held_to: &HeldTo) -> String {
    let points: Vec<(usize, &str, Option<Kind>, f64, f64)> = rows
        .iter()
        .enumerate()
        .filter_map(|(index, row)| {
            let figures = row.outcome.as_ref().ok()?;
            let alignment = figures.alignment_cents.filter(|cents| cents.is_finite())?;
            Some((
                index + 1,
                name(&row.source, folder),
                figures.kind,
                figures.pitch_cents()?,
                alignment,
            ))
        })
        .collect();
    let x = Scale::covering(points.iter().map(|p| p.3), 50.0, LEFT, WIDTH - RIGHT);
    let y = Scale::covering(points.iter().map(|p| p.4), 10.0, HEIGHT - BOTTOM, TOP);
    let locked = points.iter().filter(|point| point.4.abs() <= 5.0).count();
    let apart = |figures: &&PageFigures| {
        matches!(figures.kind, Some(Kind::Octaves | Kind::Split))
            && !figures.alignment_cents.is_some_and(f64::is_finite)
    };
    let missing = rows.iter().filter_map(|row| row.outcome.as_ref().ok()).filter(apart).count();
    let mut words = format!(
        "{} whose two octaves are measured against each other; {locked} within {LOCKED_CENTS} cents of 2:1.",
        counted(points.len(), "take")
    );
    if missing > 0 {
        words += &format!(
            " {} more in octaves or split not shown: their octaves do not sound together long \
             enough to be measured.",
            counted(missing, "take")
        );
    }
    let mut html = String::new();
    open(&mut html, "alignment", "Octaves against pitch", &words);
    cents_axis(&mut html, &x, held_to);
    vertical_label(&mut html, "octaves off 2:1 (cents)");
    let (left, right) = (LEFT, WIDTH - RIGHT);
    for tick in y.ticks() {
        let at = y.px(tick);
        let _ = writeln!(
            html,
            "<path class=\"grid\" d=\"M{left} {at:.1}H{right}\"/><text x=\"{}\" y=\"{:.1}\" \
             text-anchor=\"end\">{}</text>",
            left - 6.0,
            at + 4.0,
            signed(tick, 0),
        );
    }
    let _ = writeln!(html, "<path class=\"target\" d=\"M{left} {:.1}H{right}\"/>", y.px(0.0));
    for (number_of_row, source, kind, pitch, alignment) in &points {
        let _ = writeln!(
            html,
            "<a href=\"#take-{number_of_row}\" tabindex=\"-1\"><path class=\"mark {}\" \
             transform=\"translate({:.1} {:.1})\" d=\"{}\"><title>{}: {} cents, octaves {} \
             cents off</title></path></a>",
            kind_class(*kind),
            x.px(*pitch),
            y.px(*alignment),
            shape(*kind),
            escape(source),
            signed(*pitch, 0),
            signed(*alignment, 1),
        );
    }
    let mut caption = escape(&words);
    for kind in [Kind::Octaves, Kind::Blended, Kind::Split, Kind::Single, Kind::Unsettled] {
        let shown = points.iter().filter(|point| point.2 == Some(kind)).count();
        if shown > 0 {
            let _ = write!(
                caption,
                " <span class=\"key\"><svg class=\"sign\" viewBox=\"-6 -6 12 12\" \
                 aria-hidden=\"true\"><path class=\"mark {}\" d=\"{}\"/></svg> {}: {}</span>",
                kind_class(Some(kind)),
                shape(Some(kind)),
                escape(words::kind(kind)),
                number(shown as f64, 0),
            );
        }
    }
    close(&mut html, &caption);
    html
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
