//! How the spectrum goes on over time: dark is loud.

use plotters::element::{BitMapElement, Rectangle};
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::HPos;
use plotters::style::{Color, WHITE};

use super::axes::{self, Axis, octaves};
use super::canvas::{Area, Drawn};
use super::octaves::Octaves;
use super::spectral;
use super::spectrum::{dbfs, note, note_look, shown_hz};
use super::style;
use crate::reading::Analysis;
use crate::take::Take;
use crate::words::pictures::take as labels;

/// Levels shown under the loudest, in decibels.
const DEPTH_DB: f64 = 70.0;

/// Draws the spectrogram of a take.
pub(super) fn draw<DB: DrawingBackend>(
    area: &Area<DB>,
    take: &Take,
    analysis: &Analysis,
    reference: Option<&Octaves>,
) -> Drawn<DB> {
    let (from_hz, to_hz) = shown_hz(take.sample_rate_hz);
    let duration_s = take.duration_s();
    let (x, y) = (Axis::time(duration_s), Axis::frequency(from_hz, to_hz));
    let title = labels::spectrogram(DEPTH_DB);
    let chart = axes::chart(area, &title, &x, &y)?;
    let (width, height) = chart.plotting_area().dim_in_pixel();
    let grid = spectral::spectrogram(
        &take.samples,
        take.sample_rate_hz,
        (from_hz, to_hz),
        width.saturating_sub(2) as usize,
        height.saturating_sub(2) as usize,
    );
    let Some(grid) = grid else {
        return note(&chart, &x, &y, labels::SHORT_SPECTROGRAM);
    };
    let base = chart.plotting_area().strip_coord_spec();
    let loudest = loudest(&grid, analysis, duration_s);
    let bitmap = pixels(&grid, loudest)
        .and_then(|(size, rgb)| BitMapElement::with_owned_buffer((1, 1), size, rgb));
    if let Some(bitmap) = bitmap {
        base.draw(&bitmap)?;
    }
    if loudest <= 0.0 {
        note(&chart, &x, &y, labels::SILENCE)?;
    }
    if let Some(reference) = reference {
        for octave in reference.within(from_hz, to_hz) {
            let height = octaves(reference.hz(octave));
            let ends = vec![(x.from, height), (x.to, height)];
            axes::line(&chart, ends, style::FAINT.stroke_width(1), Some((2, 6)))?;
            let look = style::anchored(note_look(reference, octave), HPos::Right);
            let (_, y) = chart.backend_coord(&(x.to, height));
            let (_, top) = base.get_base_pixel();
            let name = reference.note(octave).to_string();
            let (wide, tall) = base.estimate_text_size(&name, &look)?;
            let (right, half) = (width as i32 - 6, tall as i32 / 2 + 1);
            // Under its line, and over it where the chart ends there.
            let under = y - top + 12;
            let middle =
                if under + half < base.dim_in_pixel().1 as i32 { under } else { y - top - 12 };
            // On a light ground: what is loud is as dark as the letters.
            let ground = [(right - wide as i32 - 3, middle - half), (right + 3, middle + half)];
            base.draw(&Rectangle::new(ground, WHITE.mix(0.85).filled()))?;
            base.draw_text(&name, &look, (right, middle))?;
        }
    }
    Ok(())
}

/// The most power in the columns in which a crow sounds; in all columns where there is none.
fn loudest(grid: &spectral::Spectrogram, analysis: &Analysis, duration_s: f64) -> f64 {
    let count = grid.columns.len() as f64;
    let column = |time_s: f64| (time_s / duration_s.max(1e-9) * count).max(0.0) as usize;
    let crows = analysis.reading.crows.iter().filter_map(|crow| {
        grid.columns.get(column(crow.start_s)..=column(crow.end_s).min(grid.columns.len() - 1))
    });
    let most = |columns: &[Vec<f64>]| columns.iter().flatten().copied().fold(0.0, f64::max);
    let in_crows = crows.map(most).fold(0.0, f64::max);
    if in_crows > 0.0 { in_crows } else { most(&grid.columns) }
}

/// The grid as RGB rows from the top, and its size.
fn pixels(grid: &spectral::Spectrogram, loudest: f64) -> Option<((u32, u32), Vec<u8>)> {
    let (columns, rows) = (grid.columns.len(), grid.columns.first()?.len());
    let top = dbfs(loudest);
    let mut rgb = Vec::with_capacity(3 * columns * rows);
    for row in (0..rows).rev() {
        for column in &grid.columns {
            let power = column.get(row).copied().unwrap_or(0.0);
            let darkness = if loudest > 0.0 { 1.0 + (dbfs(power) - top) / DEPTH_DB } else { 0.0 };
            rgb.extend(shade_of(darkness.clamp(0.0, 1.0)));
        }
    }
    Some(((columns as u32, rows as u32), rgb))
}

/// White through blue to near black: lightness falls evenly, so that a grey print keeps the order.
fn shade_of(darkness: f64) -> [u8; 3] {
    const STOPS: [[f64; 3]; 4] =
        [[255.0, 255.0, 255.0], [150.0, 190.0, 225.0], [20.0, 95.0, 160.0], [8.0, 16.0, 40.0]];
    let place = darkness * (STOPS.len() - 1) as f64;
    let below = (place as usize).min(STOPS.len() - 2);
    let share = place - below as f64;
    std::array::from_fn(|channel| {
        let (from, to) = (STOPS[below][channel], STOPS[below + 1][channel]);
        (from + share * (to - from)).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance weights of sRGB (IEC 61966-2-1, from memory), without its curve: enough
    /// for the order.
    #[test]
    fn louder_is_darker_in_grey_print_too() {
        let grey = |step: u32| {
            let [red, green, blue] = shade_of(f64::from(step) / 64.0).map(f64::from);
            0.2126 * red + 0.7152 * green + 0.0722 * blue
        };
        for step in 0..64 {
            assert!(grey(step + 1) < grey(step), "{step}");
        }
    }
}
