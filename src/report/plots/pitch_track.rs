//! The pitch of each rung over time against the target.
//!
//! Every octave is measured from the target's note in its own register, so that octaves that lock
//! lie on one line, and octaves that do not stand apart by their deviation.

use plotters::element::{PathElement, Rectangle};
use plotters::prelude::DrawingBackend;
use plotters::style::Color;

use super::axes::{self, Axis, Chart};
use super::canvas::{Area, Drawn};
use super::legend::{self, Entry, Form};
use super::octaves::Octaves;
use super::spectrum::{note, octave_name, shade};
use super::style;
use crate::reading::{Analysis, TrackPoint};
use crate::words::pictures::{CENTS, cents_from, take as words};

/// Cents shown to each side of the target at least.
const LEAST_CENTS: f64 = 25.0;
/// Columns a track is thinned to.
const COLUMNS: f64 = 1000.0;

/// Draws the tracks of all crows of a take that lasts `duration_s`.
pub(super) fn draw<DB: DrawingBackend>(
    area: &Area<DB>,
    analysis: &Analysis,
    reference: Option<&Octaves>,
    duration_s: f64,
) -> Drawn<DB> {
    let tracks = reference.map(|octaves| tracks(analysis, octaves, duration_s)).unwrap_or_default();
    let (low, high) = range(&tracks);
    let unit = match reference {
        Some(octaves) => match lowest(&tracks) {
            // The target's own octave is not there: the note that is meant is another.
            Some(octave) if octave != 0 => cents_from(&octaves.note(octave).to_string()),
            _ => cents_from(&octaves.reference()),
        },
        None => CENTS.to_owned(),
    };
    let x = Axis::time(duration_s);
    let y = Axis::linear(low, high, 7, &unit);
    let chart = axes::chart(area, words::PITCH, &x, &y)?;
    for crow in &analysis.reading.crows {
        shade(&chart, (crow.start_s.max(x.from), crow.end_s.min(x.to)), (low, high))?;
    }
    for tick in y.tick_values() {
        axes::line(&chart, vec![(x.from, tick), (x.to, tick)], style::GRID.stroke_width(1), None)?;
    }
    if reference.is_some() {
        axes::line(&chart, vec![(x.from, 0.0), (x.to, 0.0)], style::INK.stroke_width(2), None)?;
    }
    draw_steady_parts(&chart, analysis, (low, high))?;
    if tracks.is_empty() {
        note(&chart, &x, &y, words::NO_TONE)?;
    }
    let mut names: Vec<(i32, Entry)> = Vec::new();
    for track in &tracks {
        let mark = style::octave_mark(track.octave);
        draw_track(&chart, track, mark, (low, high), (x.to - x.from) / 24.0)?;
        if names.iter().all(|(known, _)| *known != track.octave) {
            let name = octave_name(reference, track.octave, 0);
            names.push((track.octave, Entry { name, mark, form: Form::Both }));
        }
    }
    names.sort_by_key(|(octave, _)| *octave);
    let mut entries: Vec<Entry> = names.into_iter().map(|(_, entry)| entry).collect();
    if analysis.tracks.iter().any(|tracks| tracks.steady_s.is_some()) {
        let mark = style::Mark { color: style::FAINT, ..style::STRAY };
        entries.insert(0, Entry { name: words::STEADY.into(), mark, form: Form::Line });
    }
    let (width, _) = area.dim_in_pixel();
    legend::draw(area, &entries, width as i32 - 24, 22)
}

/// The octave of the lowest track, counted from the target's.
fn lowest(tracks: &[Track]) -> Option<i32> {
    tracks.iter().map(|track| track.octave).min()
}

/// One rung of one crow: stretches of `(time_s, cents)` without a gap.
struct Track {
    octave: i32,
    stretches: Vec<Vec<(f64, f64)>>,
}

fn tracks(analysis: &Analysis, octaves: &Octaves, duration_s: f64) -> Vec<Track> {
    let crows = analysis.reading.crows.iter().zip(&analysis.tracks);
    // Octaves over the expected ones go with those below them and would only hide them.
    let rungs = crows.flat_map(|(crow, tracks)| {
        let lowest = crow.figures.rungs.first().map_or(0, |rung| octaves.octave(rung.hz));
        let highest = octaves.highest().max(lowest);
        let rungs = crow.figures.rungs.iter().zip(&tracks.rungs);
        rungs.filter(move |(rung, _)| octaves.octave(rung.hz) <= highest)
    });
    rungs
        .map(|(rung, points)| {
            let octave = octaves.octave(rung.hz);
            let mut stretches = stretches(points, octaves, octave);
            for stretch in &mut stretches {
                thin(stretch, duration_s / COLUMNS);
            }
            Track { octave, stretches }
        })
        .filter(|track| !track.stretches.is_empty())
        .collect()
}

fn stretches(points: &[TrackPoint], octaves: &Octaves, octave: i32) -> Vec<Vec<(f64, f64)>> {
    let cents = points.iter().map(|point| {
        let cents = point.hz.and_then(|hz| octaves.cents(hz, octave));
        cents.map(|cents| (point.time_s, cents))
    });
    let cents: Vec<Option<(f64, f64)>> = cents.collect();
    let runs = cents.split(Option::is_none);
    runs.map(|run| run.iter().flatten().copied().collect::<Vec<_>>())
        .filter(|run| !run.is_empty())
        .collect()
}

/// Leaves the lowest and the highest point of each `column_s` seconds, in order of time.
fn thin(points: &mut Vec<(f64, f64)>, column_s: f64) {
    if points.len() <= 2 || column_s <= 0.0 {
        return;
    }
    let column = |point: &(f64, f64)| (point.0 / column_s) as i64;
    let mut kept = Vec::new();
    for run in points.chunk_by(|a, b| column(a) == column(b)) {
        let by_height = |a: &&(f64, f64), b: &&(f64, f64)| a.1.total_cmp(&b.1);
        let ends = (run.iter().min_by(by_height), run.iter().max_by(by_height));
        let (Some(low), Some(high)) = ends else { continue };
        let (first, second) = if low.0 <= high.0 { (low, high) } else { (high, low) };
        kept.push(*first);
        if second.0 > first.0 {
            kept.push(*second);
        }
    }
    *points = kept;
}

/// Cents to show: all but the wildest hundredth of the points, and the target.
fn range(tracks: &[Track]) -> (f64, f64) {
    let points = tracks.iter().flat_map(|track| track.stretches.iter().flatten());
    let mut cents: Vec<f64> = points.map(|point| point.1).filter(|c| c.is_finite()).collect();
    cents.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let index = (share * cents.len().saturating_sub(1) as f64).round() as usize;
        cents.get(index).copied().unwrap_or(0.0)
    };
    let low = at(0.01).min(0.0) - 10.0;
    let high = at(0.99).max(0.0) + 10.0;
    (low.clamp(-700.0, -LEAST_CENTS), high.clamp(LEAST_CENTS, 700.0))
}

/// A bar along the bottom for each steady part.
fn draw_steady_parts<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    analysis: &Analysis,
    (low, high): (f64, f64),
) -> Drawn<DB> {
    for (from, to) in analysis.tracks.iter().filter_map(|tracks| tracks.steady_s) {
        let bar = [(from, low + 0.018 * (high - low)), (to, low)];
        chart.plotting_area().draw(&Rectangle::new(bar, style::FAINT.filled()))?;
    }
    Ok(())
}

/// Draws a track with a mark about every `apart_s` seconds; those of neighbouring octaves fall
/// between each other, so that both show where the octaves lock.
fn draw_track<DB: DrawingBackend>(
    chart: &Chart<'_, DB>,
    track: &Track,
    mark: style::Mark,
    (low, high): (f64, f64),
    apart_s: f64,
) -> Drawn<DB> {
    let offset = if track.octave.rem_euclid(2) == 0 { 0.0 } else { apart_s / 2.0 };
    let start_s = track.stretches.first().and_then(|stretch| stretch.first());
    let mut next_mark_s = start_s.map_or(0.0, |point| point.0 + offset);
    for stretch in &track.stretches {
        let clipped: Vec<_> =
            stretch.iter().map(|(t, cents)| (*t, cents.clamp(low, high))).collect();
        let marked: Vec<_> = clipped
            .iter()
            .copied()
            .filter(|point| {
                let due = point.0 >= next_mark_s;
                if due {
                    next_mark_s = point.0 + apart_s;
                }
                due
            })
            .collect();
        let under = mark.color.mix(0.4).stroke_width(4);
        if clipped.len() > 1 {
            chart.plotting_area().draw(&PathElement::new(clipped.clone(), under))?;
        }
        axes::line(chart, clipped, mark.color.stroke_width(2), mark.dash)?;
        for at in marked {
            axes::mark(chart.plotting_area(), at, 5, mark)?;
        }
    }
    Ok(())
}
