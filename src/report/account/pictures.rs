//! The drawings of an account: the reed to scale with its measurements, and what a step did to the
//! pitch.

use super::drawing::{Anchor, Drawing, Ink, Shape};
use crate::profile::Dimensions;
use crate::reed::Sizes;
use crate::words::account::Words;
use crate::words::format::signed;

/// Width and height of the reed's drawing, in points.
const REED: (f64, f64) = (480.0, 118.0);
/// Free space at either end of it.
const MARGIN: f64 = 14.0;
/// Where the middle of the reed lies.
const AXIS: f64 = 46.0;

/// The reed from the side of its flat, the staple to the left, to scale along its length.
///
/// * `measured`: what was measured; what was not is drawn where it usually is, and has no number.
/// * `number`: a length with its unit.
///
/// Returns `None` where neither length nor anything usual is known.
pub fn reed(
    measured: &Sizes,
    usual: &Dimensions,
    words: &Words,
    number: impl Fn(f64) -> String,
) -> Option<Drawing> {
    let length = measured.length_mm.or(usual.length)?;
    let staple = measured.staple_mm.or(usual.staple);
    let wound = measured.wound_to_mm.or(usual.wound_to).or(staple).unwrap_or(length * 0.45);
    let tip = measured.tip_start_mm.or(usual.tip_start).filter(|mm| *mm < length);
    let heart = measured.heart_bottom_mm.or(usual.heart_bottom).filter(|mm| *mm < length);
    let window = measured.window_bottom_mm.or(usual.window_bottom).filter(|mm| *mm < length);
    let wound = wound.min(length);
    let longest = [measured.length_mm, usual.length].into_iter().flatten().fold(length, f64::max);
    let scale = (REED.0 - 2.0 * MARGIN) / longest;
    let x = |mm: f64| MARGIN + mm * scale;
    // Half widths: narrow at the bottom, widest at the end, as blades flare.
    let half = |mm: f64| match mm <= wound {
        true => 8.0 + 4.0 * mm / wound.max(1.0),
        false => 12.0 + 9.0 * ((mm - wound) / (length - wound).max(1.0)).sqrt(),
    };
    let mut drawing =
        Drawing { width: REED.0, height: REED.1, shapes: Vec::new(), says: words.plain("drawing") };
    let mut part = |from: f64, to: f64, fill: Ink| {
        if to <= from {
            return;
        }
        const STEPS: usize = 12;
        let at = |n: usize| from + (to - from) * n as f64 / STEPS as f64;
        let upper = (0..=STEPS).map(|n| (x(at(n)), AXIS - half(at(n))));
        let lower = (0..=STEPS).rev().map(|n| (x(at(n)), AXIS + half(at(n))));
        let points = upper.chain(lower).collect();
        drawing.shapes.push(Shape::Polygon { points, fill, rim: Some(Ink::Dark) });
    };
    part(0.0, wound, Ink::Staple);
    let bark_to = window.unwrap_or(wound).clamp(wound, length);
    part(wound, bark_to, Ink::Bark);
    let scraped_to = tip.unwrap_or(length).clamp(bark_to, length);
    let heart_from = heart.unwrap_or(bark_to).clamp(bark_to, scraped_to);
    part(bark_to, heart_from, Ink::Cane);
    part(heart_from, scraped_to, Ink::Bark);
    part(scraped_to, length, Ink::Thin);
    // The winding, as turns of thread.
    let turns = (wound * scale / 5.0) as usize;
    let first = wound * 0.45;
    for n in 0..=turns / 2 {
        let mm = first + (wound - first) * n as f64 / (turns / 2).max(1) as f64;
        let (from, to) = ((x(mm), AXIS - half(mm)), (x(mm), AXIS + half(mm)));
        drawing.shapes.push(Shape::Line { from, to, ink: Ink::Dark, width: 0.5 });
    }
    marks(&mut drawing, measured, usual, words, &x, &number);
    Some(drawing)
}

/// Names and numbers below the reed, each under its place, and grey marks above where it usually is.
fn marks(
    drawing: &mut Drawing,
    measured: &Sizes,
    usual: &Dimensions,
    words: &Words,
    x: &impl Fn(f64) -> f64,
    number: &impl Fn(f64) -> String,
) {
    let mut rows = [
        ("drawing-staple", measured.staple_mm, usual.staple),
        ("drawing-wound", measured.wound_to_mm, usual.wound_to),
        ("drawing-window", measured.window_bottom_mm, usual.window_bottom),
        ("drawing-heart", measured.heart_bottom_mm, usual.heart_bottom),
        ("drawing-tip", measured.tip_start_mm, usual.tip_start),
        ("drawing-length", measured.length_mm, usual.length),
    ];
    rows.sort_by(|a, b| a.1.unwrap_or(0.0).total_cmp(&b.1.unwrap_or(0.0)));
    // Each name stands in the highest of three rows in which it does not run into another.
    let mut ends = [f64::NEG_INFINITY; 3];
    let mut names = Vec::new();
    for (name, mm, usually) in rows {
        if let (Some(usually), Some(_)) = (usually, mm) {
            let (from, to) = ((x(usually), AXIS - 32.0), (x(usually), AXIS - 24.0));
            drawing.shapes.push(Shape::Line { from, to, ink: Ink::Grey, width: 1.4 });
        }
        let Some(mm) = mm else { continue };
        let text = format!("{} {}", words.plain(name), number(mm));
        let wide = text.chars().count() as f64 * 4.6;
        let centre = x(mm).clamp(wide / 2.0, drawing.width - wide / 2.0);
        let row = ends.iter().position(|end| centre - wide / 2.0 > *end + 3.0).unwrap_or(2);
        if let Some(end) = ends.get_mut(row) {
            *end = centre + wide / 2.0;
        }
        let y = AXIS + 42.0 + 12.0 * row as f64;
        let (from, to) = ((x(mm), AXIS - 24.0), (x(mm), y - 9.0));
        drawing.shapes.push(Shape::Line { from, to, ink: Ink::Dark, width: 0.6 });
        // The names before it may stand where later lines pass.
        let (left, right) = (centre - wide / 2.0, centre + wide / 2.0);
        let points = vec![(left, y - 7.5), (right, y - 7.5), (right, y + 2.0), (left, y + 2.0)];
        names.push(Shape::Polygon { points, fill: Ink::White, rim: None });
        let (at, anchor) = ((centre, y), Anchor::Middle);
        names.push(Shape::Text { at, anchor, size: 8.0, ink: Ink::Dark, text });
    }
    drawing.shapes.extend(names);
}

/// Width and height of a step's picture, in points.
const STEP: (f64, f64) = (150.0, 36.0);

/// How wide the number at a dot is at most, in points.
const NUMBER: f64 = 20.0;

/// Where the pitch was before and after a step, on a line with what counts as in tune marked on it.
///
/// * `before`, `after`: in cents from the target.
/// * `tolerance`: what counts as in tune, in cents.
/// * `reach`: how far the line goes to either side, in cents.
pub fn step(before: f64, after: f64, tolerance: f64, reach: f64, words: &Words) -> Drawing {
    let (middle, half) = (STEP.0 / 2.0, STEP.0 / 2.0 - 8.0);
    let x = |cents: f64| middle + (cents / reach).clamp(-1.0, 1.0) * half;
    let y = 16.5;
    let line = |from, to, ink, width| Shape::Line { from, to, ink, width };
    let text = |at, anchor, ink, text: String| Shape::Text { at, anchor, size: 6.5, ink, text };
    let (low, high) = (x(-tolerance), x(tolerance));
    let points = vec![(low, y - 5.0), (high, y - 5.0), (high, y + 5.0), (low, y + 5.0)];
    let mut shapes = vec![
        Shape::Polygon { points, fill: Ink::Thin, rim: Some(Ink::Grey) },
        line((middle - half, y), (middle + half, y), Ink::Grey, 0.6),
        line((middle, y - 7.0), (middle, y + 7.0), Ink::Dark, 0.8),
    ];
    let (from, to) = (x(before), x(after));
    if (to - from).abs() > 9.0 {
        let way = (to - from).signum();
        shapes.push(line((from + 3.0 * way, y), (to - 4.0 * way, y), Ink::Dark, 1.2));
        let head = to - 4.0 * way;
        let points = vec![(head, y), (head - 4.0 * way, y - 2.6), (head - 4.0 * way, y + 2.6)];
        shapes.push(Shape::Polygon { points, fill: Ink::Dark, rim: None });
    }
    shapes.push(Shape::Dot { at: (from, y), radius: 2.8, fill: Ink::White });
    shapes.push(Shape::Dot { at: (to, y), radius: 3.2, fill: Ink::Dark });
    let (was, is) = numbers_at(from, to);
    for (x, cents, ink) in [(was, before, Ink::Grey), (is, after, Ink::Dark)] {
        shapes.push(text((x, y - 9.5), Anchor::Middle, ink, signed(cents, 0)));
    }
    let end = |key: &str| words.say(key, &[("cents", words.number(reach, 0).into())]).text();
    for (x, anchor, says) in [
        (middle - half, Anchor::Start, end("picture-flat")),
        (middle, Anchor::Middle, words.number(0.0, 0)),
        (middle + half, Anchor::End, end("picture-sharp")),
    ] {
        shapes.push(text((x, STEP.1 - 3.5), anchor, Ink::Grey, says));
    }
    let says = format!(
        "{} {}, {} {}",
        words.plain("picture-before"),
        words.number(before, 0),
        words.plain("picture-after"),
        words.number(after, 0)
    );
    Drawing { width: STEP.0, height: STEP.1, shapes, says }
}

/// Where the numbers over two dots stand, so that they do not run into each other.
fn numbers_at(from: f64, to: f64) -> (f64, f64) {
    let short = (NUMBER - (to - from).abs()).max(0.0) / 2.0;
    let way = if to < from { -1.0 } else { 1.0 };
    let (was, is) = (from - way * short, to + way * short);
    // Neither leaves the picture: the other one gives way too.
    let (least, most) = (NUMBER / 2.0, STEP.0 - NUMBER / 2.0);
    let moved = (least - was.min(is)).max(0.0) - (was.max(is) - most).max(0.0);
    ((was + moved).clamp(least, most), (is + moved).clamp(least, most))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(drawing: &Drawing) -> Vec<(f64, &str)> {
        let each = drawing.shapes.iter().filter_map(|shape| match shape {
            Shape::Text { at, text, .. } => Some((at.0, text.as_str())),
            _ => None,
        });
        each.collect()
    }

    #[test]
    fn the_strip_of_pitch_has_numbers_at_its_dots_and_ends() {
        let drawing = step(-57.2, -21.4, 15.0, 100.0, &Words::english());
        let said: Vec<&str> = texts(&drawing).into_iter().map(|text| text.1).collect();
        assert_eq!(said, ["−57", "−21", "100 cents flat", "0", "100 cents sharp"]);
    }

    #[test]
    fn numbers_of_dots_that_lie_together_stand_apart_and_inside() {
        for (before, after) in [
            (-3.0, 2.0),
            (2.0, -3.0),
            (-99.0, -98.0),
            (98.0, 99.0),
            (100.0, 100.0),
            (-100.0, 100.0),
        ] {
            let drawing = step(before, after, 15.0, 100.0, &Words::english());
            let [(was, _), (is, _), ..] = texts(&drawing)[..] else { panic!("{drawing:?}") };
            assert!((was - is).abs() > NUMBER - 1e-9, "{before} {after}: {was} {is}");
            assert!((is - was) * (after - before) >= 0.0, "{before} {after}: {was} {is}");
            for x in [was, is] {
                assert!(x >= NUMBER / 2.0 - 1e-9 && x <= STEP.0 - NUMBER / 2.0 + 1e-9, "{x}");
            }
        }
    }
}
