//! The spectrum of a crow: its partials marked by octave, over the noise of the room.

use plotters::prelude::{DrawingBackend, Rectangle};
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, TextStyle};

use super::axes::{self, Axis, Chart, octaves};
use super::canvas::{Area, Drawn};
use super::legend::{self, Entry, Form};
use super::octaves::Octaves;
use super::spectral::{Spectrum, mean_spectrum};
use super::style;
use crate::reading::{Analysis, Crow, CrowTracks, Kind};
use crate::take::Take;
use crate::words::pictures::{octave_number, octave_of, take as words};

/// Lowest frequency drawn: no figure looks below it.
pub(super) const LOWEST_HZ: f64 = 100.0;
/// Highest frequency drawn, where the sample rate reaches it.
const HIGHEST_HZ: f64 = 10_000.0;

/// Frequencies that a take of this rate can show.
pub(super) fn shown_hz(sample_rate_hz: u32) -> (f64, f64) {
    let highest = (f64::from(sample_rate_hz) / 2.0).min(HIGHEST_HZ);
    (LOWEST_HZ, highest.max(10.0 * LOWEST_HZ))
}

/// Draws the spectrum of the longest crow that sounds, or of the whole take.
pub(super) fn draw<DB: DrawingBackend>(
    area: &Area<DB>,
    take: &Take,
    analysis: &Analysis,
    reference: Option<&Octaves>,
) -> Drawn<DB> {
    let shown = longest_crow(analysis);
    let span_s = shown.map_or((0.0, take.duration_s()), |(_, crow, tracks)| {
        tracks.steady_s.unwrap_or((crow.start_s, crow.end_s))
    });
    let spectrum = mean_spectrum(span(take, span_s), take.sample_rate_hz);
    let (from_hz, to_hz) = shown_hz(take.sample_rate_hz);
    let tracks = shown.map(|(_, _, tracks)| tracks);
    let curve = spectrum.as_ref().map(|spectrum| curve(spectrum, from_hz, to_hz));
    let floor = spectrum.as_ref().map(|spectrum| floor(analysis, spectrum, from_hz, to_hz));
    let has_floor = floor.as_ref().is_some_and(|floor| !floor.is_empty());
    let (low, high) = levels(curve.as_deref(), floor.as_deref(), tracks);

    let x = Axis::frequency(from_hz, to_hz);
    let y = Axis::linear(low, high, 7, words::LEVEL);
    let chart = axes::chart(area, words::SPECTRUM, &x, &y)?;
    if let Some(reference) = reference {
        draw_notes(&chart, reference, (from_hz, to_hz), (low, high))?;
    }
    let clip = |points: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        points.into_iter().map(|(hz, db)| (octaves(hz), db.clamp(low, high))).collect()
    };
    match (curve, floor) {
        (Some(curve), Some(floor)) => {
            axes::line(&chart, clip(floor), style::FAINT.stroke_width(2), Some(FLOOR_DASH))?;
            axes::line(&chart, clip(curve), style::INK.stroke_width(1), None)?;
        }
        _ => note(&chart, &x, &y, words::SHORT_SPECTRUM)?,
    }
    let mut names = Vec::new();
    if has_floor {
        let mark = style::Mark { dash: Some(FLOOR_DASH), ..style::STRAY };
        names.push(Entry { name: words::ROOM.into(), mark, form: Form::Line });
    }
    if let Some(tracks) = tracks {
        names.extend(draw_partials(&chart, tracks, shown.map(|s| s.1), reference, (low, high))?);
    }
    let (width, _) = area.dim_in_pixel();
    legend::draw(area, &names, width as i32 - 24, 22)
}

const FLOOR_DASH: (u32, u32) = (6, 4);

/// A sentence across an empty chart.
pub(super) fn note<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    x: &Axis,
    y: &Axis,
    sentence: &str,
) -> Drawn<DB> {
    // Over the middle, where a line through 0 would cross it out.
    let middle = ((x.from + x.to) / 2.0, y.from + 0.65 * (y.to - y.from));
    let look = style::anchored(style::text(style::TITLE, style::FAINT), HPos::Center);
    let words = plotters::element::Text::new(sentence.to_owned(), middle, look);
    chart.plotting_area().draw(&words)
}

/// Which of several crows the spectrum in a picture is of, and why: `crow 2 of 3, the longest`.
/// `None` where there is no choice.
pub fn crow_shown(analysis: &Analysis) -> Option<String> {
    let count = analysis.reading.crows.len();
    let (index, _, _) = longest_crow(analysis).filter(|_| count > 1)?;
    Some(words::longest(index + 1, count))
}

/// The crow that sounds longest, with its place in the take and its tracks.
fn longest_crow(analysis: &Analysis) -> Option<(usize, &Crow, &CrowTracks)> {
    let crows = analysis.reading.crows.iter().zip(&analysis.tracks).enumerate();
    crows
        .map(|(index, (crow, tracks))| (index, crow, tracks))
        .filter(|(_, crow, _)| crow.kind != Kind::Breath)
        .max_by(|(_, a, _), (_, b, _)| (a.end_s - a.start_s).total_cmp(&(b.end_s - b.start_s)))
}

/// The steady part of the longest crow that sounds, in seconds; all of it where it has none.
pub(super) fn sounding_span(analysis: &Analysis) -> Option<(f64, f64)> {
    let (_, crow, tracks) = longest_crow(analysis)?;
    Some(tracks.steady_s.unwrap_or((crow.start_s, crow.end_s)))
}

/// The samples between two moments, in seconds; empty where the take has none there.
pub(super) fn span(take: &Take, (from_s, to_s): (f64, f64)) -> &[f32] {
    let index = |time_s: f64| {
        ((time_s * f64::from(take.sample_rate_hz)).max(0.0) as usize).min(take.samples.len())
    };
    take.samples.get(index(from_s)..index(to_s)).unwrap_or_default()
}

/// Level relative to a full-scale sine; what holds no power stands at −200.
pub(super) fn dbfs(mean_square: f64) -> f64 {
    10.0 * (2.0 * mean_square.max(5e-21)).log10()
}

/// The highest level in each of some 1000 equal steps of log frequency: `(hz, dbfs)`, at the bin
/// where it stands.
pub(super) fn curve(spectrum: &Spectrum, from_hz: f64, to_hz: f64) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut step_of_last = None;
    for (bin, power) in spectrum.mean_square.iter().enumerate() {
        let hz = bin as f64 * spectrum.bin_hz;
        if !(from_hz..=to_hz).contains(&hz) {
            continue;
        }
        let step = (1000.0 * (hz / from_hz).ln() / (to_hz / from_hz).ln()) as i32;
        let point = (hz, dbfs(*power));
        match points.last_mut() {
            Some(last) if step_of_last == Some(step) => {
                if point.1 > last.1 {
                    *last = point;
                }
            }
            _ => points.push(point),
        }
        step_of_last = Some(step);
    }
    points
}

/// The noise of the room as it would stand in `spectrum`.
fn floor(analysis: &Analysis, spectrum: &Spectrum, from_hz: f64, to_hz: f64) -> Vec<(f64, f64)> {
    let inside = analysis.floor.iter().filter(|(hz, density)| {
        (from_hz..=to_hz).contains(hz) && density.is_finite() && *density > 0.0
    });
    inside.map(|(hz, density)| (*hz, dbfs(density * spectrum.noise_bandwidth_hz))).collect()
}

/// Lowest and highest level to show, in tens of decibels: 50 to 110 dB apart.
fn levels(
    curve: Option<&[(f64, f64)]>,
    floor: Option<&[(f64, f64)]>,
    tracks: Option<&CrowTracks>,
) -> (f64, f64) {
    let curve = curve.unwrap_or_default();
    let partials = tracks.iter().flat_map(|tracks| &tracks.partials).map(|p| p.level_dbfs);
    let highest = curve.iter().map(|point| point.1).chain(partials).filter(|db| db.is_finite());
    let highest = highest.fold(f64::NEG_INFINITY, f64::max).clamp(-150.0, 10.0);
    let lowest = curve.iter().chain(floor.unwrap_or_default()).map(|point| point.1);
    let lowest = lowest.fold(f64::INFINITY, f64::min).clamp(highest - 100.0, highest - 40.0);
    (10.0 * ((lowest - 3.0) / 10.0).floor(), 10.0 * ((highest + 8.0) / 10.0).ceil())
}

/// How the name of the target in `octave` is set: bold where the profile expects a rung.
pub(super) fn note_look(reference: &Octaves, octave: i32) -> TextStyle<'static> {
    if reference.expects(octave) {
        style::bold(style::SMALL, style::INK)
    } else {
        style::text(style::SMALL, style::FAINT)
    }
}

/// Draws a line and the name of the target in each octave in range.
pub(super) fn draw_notes<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    reference: &Octaves,
    (from_hz, to_hz): (f64, f64),
    (low, high): (f64, f64),
) -> Drawn<DB> {
    for octave in reference.within(from_hz, to_hz) {
        let x = octaves(reference.hz(octave));
        axes::line(chart, vec![(x, low), (x, high)], style::FAINT.stroke_width(1), Some((2, 4)))?;
        let (left, top) = chart.backend_coord(&(x, high));
        let base = chart.plotting_area().strip_coord_spec();
        let (origin_x, origin_y) = base.get_base_pixel();
        let look = note_look(reference, octave);
        let at = (left - origin_x + 4, top - origin_y + 6);
        base.draw_text(&reference.note(octave).to_string(), &look, at)?;
    }
    Ok(())
}

/// Draws the partials of a crow and returns the names of their octaves.
fn draw_partials<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    tracks: &CrowTracks,
    crow: Option<&Crow>,
    reference: Option<&Octaves>,
    (low, high): (f64, f64),
) -> Result<Vec<Entry>, plotters::drawing::DrawingAreaErrorKind<DB::ErrorType>> {
    let rungs = crow.map(|crow| crow.figures.rungs.as_slice()).unwrap_or_default();
    let mut names: Vec<(i32, Entry)> = Vec::new();
    let mut stray = None;
    for partial in &tracks.partials {
        let rung = partial.rung.and_then(|index| rungs.get(index).map(|rung| (index, rung)));
        let look = match rung {
            None => {
                stray = Some(Entry {
                    name: words::COMBINATION.into(),
                    mark: style::STRAY,
                    form: Form::Marks,
                });
                style::STRAY
            }
            Some((index, rung)) => {
                let octave = reference.map_or(index as i32, |octaves| octaves.octave(rung.hz));
                let mark = style::octave_mark(octave);
                if names.iter().all(|(known, _)| *known != octave) {
                    let name = octave_name(reference, octave, index);
                    names.push((octave, Entry { name, mark, form: Form::Marks }));
                }
                mark
            }
        };
        let (from, to) = (octaves(LOWEST_HZ), octaves(HIGHEST_HZ));
        let at = (octaves(partial.hz), partial.level_dbfs.clamp(low, high));
        if (from..=to).contains(&at.0) && partial.level_dbfs.is_finite() {
            axes::mark(chart.plotting_area(), at, 6, look)?;
        }
    }
    names.sort_by_key(|(octave, _)| *octave);
    Ok(names.into_iter().map(|(_, entry)| entry).chain(stray).collect())
}

/// What an octave is called in a legend.
pub(super) fn octave_name(reference: Option<&Octaves>, octave: i32, index: usize) -> String {
    match reference {
        Some(octaves) => octave_of(&octaves.note(octave).to_string()),
        None => octave_number(index as i64 + 1),
    }
}

/// Shades a stretch of time from the bottom of the chart to its top.
pub(super) fn shade<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    (from, to): (f64, f64),
    (low, high): (f64, f64),
) -> Drawn<DB> {
    let ground = Rectangle::new([(from, high), (to, low)], style::SHADE.filled());
    chart.plotting_area().draw(&ground)
}
