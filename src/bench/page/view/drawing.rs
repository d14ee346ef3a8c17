//! The reed, its lengths to scale, over the usual one of its profile.

use maud::{Markup, html};

use crate::bench::state::State;
use crate::profile::Dimensions;
use crate::reed::Sizes;
use crate::words::format::LengthUnit;
use crate::words::format::number;
use crate::words::page as labels;
use crate::words::reed as reed_words;

/// Units of the drawing for a millimetre.
const PER_MM: f64 = 10.0;
/// Height of one row of labels.
const ROW: f64 = 32.0;
/// Rows of labels, so that none stands on another.
const ROWS: f64 = 4.0;
/// Half the height that a reed takes.
const HALF: f64 = 42.0;
/// Width of the cane at the winding where none is known, in millimetres (common practice, no source).
const THROAT_MM: f64 = 6.0;
/// How much wider the tip is than the cane at the winding. Widths are a sketch: only lengths are to scale.
const FLARE: f64 = 1.15;

/// One reed as it is drawn; `None` for what is not known.
#[derive(Debug, Clone, Copy, Default)]
struct Drawn {
    length: Option<f64>,
    staple: Option<f64>,
    wound: Option<f64>,
    window: Option<f64>,
    heart: Option<f64>,
    tip: Option<f64>,
    throat: Option<f64>,
}

impl Drawn {
    fn measured(sizes: &Sizes) -> Self {
        Self {
            length: sizes.length_mm,
            staple: sizes.staple_mm,
            wound: sizes.wound_to_mm,
            window: sizes.window_bottom_mm,
            heart: sizes.heart_bottom_mm,
            tip: sizes.tip_start_mm,
            throat: sizes.throat_width_mm,
        }
    }

    fn usual(usual: &Dimensions) -> Self {
        Self {
            length: usual.length,
            staple: usual.staple,
            wound: usual.wound_to,
            window: usual.window_bottom,
            heart: usual.heart_bottom,
            tip: usual.tip_start,
            throat: usual.throat_width,
        }
    }

    /// What is not known, as `other` has it.
    fn or(self, other: Self) -> Self {
        Self {
            length: self.length.or(other.length),
            staple: self.staple.or(other.staple),
            wound: self.wound.or(other.wound),
            window: self.window.or(other.window),
            heart: self.heart.or(other.heart),
            tip: self.tip.or(other.tip),
            throat: self.throat.or(other.throat),
        }
    }

    /// What is named: word, place, row of its label, and how that stands at its place. Those of the
    /// staple's end reach to the left, out of the way of the heart's.
    fn labels(self) -> [(&'static str, Option<f64>, f64, &'static str); 6] {
        let [length, tip, window, heart, wound, staple] = labels::LENGTHS;
        [
            (length, self.length, 0.0, "middle"),
            (tip, self.tip, 1.0, "middle"),
            (window, self.window, 1.0, "end"),
            (heart, self.heart, 2.0, "middle"),
            (wound, self.wound, 2.0, "end"),
            (staple, self.staple, 3.0, "end"),
        ]
    }
}

/// The reed on the bench with its measurements.
pub fn reed(state: &State) -> Markup {
    let Some(on_bench) = &state.reed else { return html! {} };
    let sizes = *on_bench.history.measured_now();
    let usual = Drawn::usual(&state.profile.dimensions);
    let measured = Drawn::measured(&sizes);
    let seen = reed_words::inspection(&on_bench.history.seen_now());
    let lengths = [measured.length, usual.length].into_iter().flatten();
    let Some(longest) = lengths.reduce(f64::max) else { return html! {} };
    let width = (longest + 9.0) * PER_MM;
    // What was not measured is not drawn as if it were this reed.
    let is_measured = measured.labels().iter().any(|(_, mm, ..)| mm.is_some());
    let over = if is_measured { ROWS * ROW + 16.0 } else { 0.0 };
    let above = over + HALF;
    let below = if is_measured { over + 3.6 * HALF } else { HALF };
    let height = below + HALF + ROWS * ROW + 10.0;
    html! {
        figure.reed {
            svg viewBox=(format!("0 0 {width:.0} {height:.0}")) role="img" aria-label=(described(&sizes, state)) {
                @if is_measured { g.mine { (drawn(measured.or(usual), above, true)) (labels(measured, above, true)) } }
                g.usual { (drawn(usual, below, false)) (labels(usual, below, false)) }
            }
            figcaption { (labels::drawing(&state.profile.title, is_measured)) }
        }
        @if !seen.is_empty() { p { (labels::seen(&seen)) } }
        @if !on_bench.findings.is_empty() {
            ul.findings { @for finding in &on_bench.findings { li { (finding.says) } } }
        }
    }
}

fn described(sizes: &Sizes, state: &State) -> String {
    let measured = reed_words::measurements(sizes, LengthUnit::Millimetres);
    let usual: Vec<String> = Drawn::usual(&state.profile.dimensions)
        .labels()
        .into_iter()
        .filter_map(|(word, mm, ..)| Some(format!("{word} {}", number(mm?, 1))))
        .collect();
    labels::drawn(&measured, &usual.join(", "))
}

/// Staple, winding, and the parts of the blades.
fn drawn(reed: Drawn, middle: f64, is_measured: bool) -> Markup {
    let throat = reed.throat.unwrap_or(THROAT_MM) / 2.0 * PER_MM;
    let length = reed.length.unwrap_or_default();
    let wound = reed.wound.or(reed.staple).unwrap_or(0.6 * length).min(length);
    let staple = reed.staple.unwrap_or(wound);
    let half_at = |mm: f64| {
        let share = ((mm - wound) / (length - wound).max(1.0)).clamp(0.0, 1.0);
        throat * (1.0 + (FLARE - 1.0) * share)
    };
    let part = |from: f64, to: f64| {
        let (from, to) = (from.clamp(wound, length), to.clamp(wound, length));
        let (a, b) = (half_at(from), half_at(to));
        let (x, y) = (from * PER_MM, to * PER_MM);
        format!(
            "{x:.1},{:.1} {y:.1},{:.1} {y:.1},{:.1} {x:.1},{:.1}",
            middle - a,
            middle - b,
            middle + b,
            middle + a
        )
    };
    let window = reed.window.unwrap_or(wound);
    let heart = reed.heart.unwrap_or(length);
    let tip = reed.tip.unwrap_or(length);
    let tube = 0.62 * throat;
    html! {
        rect.staple x="0" y=(format!("{:.1}", middle - tube)) width=(format!("{:.1}", staple * PER_MM)) height=(format!("{:.1}", 2.0 * tube)) rx="3" {}
        polygon.bark points=(part(wound, window)) {}
        polygon.windows points=(part(window, heart)) {}
        polygon.heart points=(part(heart, tip)) {}
        polygon.tip points=(part(tip, length)) {}
        @if is_measured {
            // The spine, left thicker through the windows.
            line.spine x1=(format!("{:.1}", window * PER_MM)) x2=(format!("{:.1}", tip * PER_MM)) y1=(format!("{middle:.1}")) y2=(format!("{middle:.1}")) {}
        }
        rect.winding x=(format!("{:.1}", 0.56 * wound * PER_MM)) y=(format!("{:.1}", middle - throat - 1.0)) width=(format!("{:.1}", 0.44 * wound * PER_MM)) height=(format!("{:.1}", 2.0 * throat + 2.0)) rx="4" {}
    }
}

/// Numbers over or under a reed, each with a line to its place.
fn labels(reed: Drawn, middle: f64, is_above: bool) -> Markup {
    let side = if is_above { -1.0 } else { 1.0 };
    html! {
        @for (word, mm, row, anchor) in reed.labels() {
            @if let Some(mm) = mm {
                @let x = format!("{:.1}", mm * PER_MM);
                @let edge = format!("{:.1}", middle + side * HALF);
                @let end = middle + side * (HALF + ROW * (ROWS - row) - 18.0);
                line.leader x1=(x) x2=(x) y1=(edge) y2=(format!("{end:.1}")) {}
                text x=(x) y=(format!("{:.1}", end + if is_above { -4.0 } else { 22.0 })) text-anchor=(anchor) {
                    (named(word, mm))
                }
            }
        }
    }
}

fn named(word: &str, mm: f64) -> String {
    format!("{word} {}", number(mm, 1).trim_end_matches(".0"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A letter of the drawing's text is some 17 units wide in the widest of the fonts that are asked for
    /// (0.62 of 27, measured in DejaVu Sans).
    const LETTER: f64 = 17.0;

    /// The README's reed, and the usual one of the profile.
    #[test]
    fn no_label_stands_on_another() {
        let mirek = Drawn {
            length: Some(70.3),
            staple: Some(47.0),
            wound: Some(46.8),
            window: Some(50.5),
            heart: Some(61.3),
            tip: Some(66.2),
            throat: None,
        };
        let usual = Drawn::usual(&crate::profile::Profile::default().dimensions);
        for reed in [mirek, usual] {
            let spans: Vec<(f64, f64, f64)> = reed
                .labels()
                .into_iter()
                .filter_map(|(word, mm, row, anchor)| {
                    let (at, wide) = (mm? * PER_MM, LETTER * named(word, mm?).len() as f64);
                    let from = if anchor == "end" { at - wide } else { at - wide / 2.0 };
                    Some((row, from, from + wide))
                })
                .collect();
            for (index, (row, from, to)) in spans.iter().enumerate() {
                for (other, other_from, other_to) in &spans[index + 1..] {
                    assert!(row != other || to < other_from || other_to < from, "{spans:?}");
                }
            }
        }
    }
}
