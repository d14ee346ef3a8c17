//! The small picture of a take: its octaves as bars, its crows as dots about the target.

use maud::{Markup, html};

use super::row::PageFigures;
use crate::words::format::{decibels, number, signed};
use crate::words::takes as words;

const HEIGHT: f64 = 26.0;
const BAR: f64 = 9.0;
/// Octaves that have room, the target's or a lower one first.
const PLACES: i32 = 4;
/// Octaves told apart by colour, as in the pictures of takes.
const COLOURS: i32 = 5;
/// Where the dots begin, and the room for them.
const DOTS: (f64, f64) = (52.0, 92.0);
/// Cents at the upper and lower edge of the dots.
const DOT_RANGE: f64 = 100.0;

/// Bars from −40 dB up, each at the place of its octave and as wide as that is present; dots for crows in order of time, held
/// at the edge beyond 100 cents.
pub(super) fn small_picture(figures: &PageFigures) -> Markup {
    if figures.rungs.is_empty() && figures.crow_cents.is_empty() {
        return html! {};
    }
    let finite = figures.rungs.iter().filter(|rung| rung.level_db.is_finite());
    let lowest = figures.rungs.iter().map(|rung| rung.octave).fold(0, i32::min);
    let placed = finite.map(|rung| (rung.octave.saturating_sub(lowest), rung));
    let (base, middle) = (HEIGHT - 1.0, HEIGHT / 2.0);
    let apart = DOTS.1 / figures.crow_cents.len().max(1) as f64;
    html! {
        svg.small viewBox=(format!("0 0 {} {HEIGHT}", DOTS.0 + DOTS.1)) role="img" aria-label=(in_words(figures)) {
            path.axis d=(format!("M0 {base}H46")) {}
            @for (place, rung) in placed.filter(|(place, _)| *place < PLACES) {
                @let height = ((rung.level_db + 40.0) / 40.0).clamp(0.04, 1.0) * (HEIGHT - 2.0);
                @let width = BAR * rung.present.clamp(0.15, 1.0);
                rect class=(format!("rung{}", rung.octave.rem_euclid(COLOURS)))
                    x=(format!("{:.1}", 1.0 + 11.5 * f64::from(place))) y=(format!("{:.1}", base - height))
                    width=(format!("{width:.1}")) height=(format!("{height:.1}")) {}
            }
            path.axis d=(format!("M{} {middle}H{}", DOTS.0, DOTS.0 + DOTS.1)) {}
            @for (index, cents) in figures.crow_cents.iter().enumerate() {
                @if let Some(cents) = cents.filter(|cents| cents.is_finite()) {
                    @let share = (cents / DOT_RANGE).clamp(-1.0, 1.0);
                    circle.dot cx=(format!("{:.1}", DOTS.0 + apart * (index as f64 + 0.5)))
                        cy=(format!("{:.1}", middle - share * (middle - 3.0))) r="2.4" {}
                }
            }
        }
    }
}

fn in_words(figures: &PageFigures) -> String {
    let rungs: Vec<String> = figures
        .rungs
        .iter()
        .map(|rung| words::at(&number(rung.hz, 0), &decibels(rung.level_db)))
        .collect();
    let crows: Vec<String> = figures
        .crow_cents
        .iter()
        .map(|cents| cents.map_or(words::NONE.into(), |cents| signed(cents, 0)))
        .collect();
    words::small_picture(&rungs.join(", "), &crows.join(", "))
}
