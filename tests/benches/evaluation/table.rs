//! Tables as Markdown, with floors under some of their figures.

use std::fmt;

/// One table.
#[derive(Debug)]
pub struct Table {
    title: String,
    columns: Vec<&'static str>,
    rows: Vec<Vec<String>>,
    losses: Vec<String>,
}

impl Table {
    pub fn new(title: impl Into<String>, columns: &[&'static str]) -> Self {
        Self {
            title: title.into(),
            columns: columns.to_vec(),
            rows: Vec::new(),
            losses: Vec::new(),
        }
    }

    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// In the short form a figure under `floor` is a loss. `trials` widens it by what chance
    /// alone may take: three standard deviations of a share of that size.
    pub fn at_least(&mut self, what: &str, percent: f64, floor: f64, trials: usize) {
        let share = (floor / 100.0).clamp(0.01, 0.99);
        let chance = 300.0 * (share * (1.0 - share) / trials as f64).sqrt();
        if percent.is_nan() || percent < floor - chance {
            self.losses.push(format!("{what}: {percent:.1} % is under {floor} %"));
        }
    }

    /// A figure over `ceiling` is a loss; so is one that is missing.
    pub fn at_most(&mut self, what: &str, value: f64, ceiling: f64) {
        if value.is_nan() || value > ceiling {
            self.losses.push(format!("{what}: {value:.3} is over {ceiling}"));
        }
    }

    /// Prints what was lost; true when something was.
    pub fn report_losses(&self) -> bool {
        for loss in &self.losses {
            eprintln!("LOST in '{}': {loss}", self.title);
        }
        !self.losses.is_empty()
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let width = |column: usize| {
            let cells = self.rows.iter().filter_map(|row| row.get(column));
            let heading = self.columns[column].chars().count();
            cells.map(|cell| cell.chars().count()).max().unwrap_or(0).max(heading)
        };
        let widths: Vec<usize> = (0..self.columns.len()).map(width).collect();
        writeln!(f, "### {}\n", self.title)?;
        let line = |f: &mut fmt::Formatter<'_>, cells: &[&str]| {
            for (cell, width) in cells.iter().zip(&widths) {
                write!(f, "| {cell:<width$} ")?;
            }
            writeln!(f, "|")
        };
        line(f, &self.columns)?;
        let dashes: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        line(f, &dashes.iter().map(String::as_str).collect::<Vec<_>>())?;
        for row in &self.rows {
            line(f, &row.iter().map(String::as_str).collect::<Vec<_>>())?;
        }
        Ok(())
    }
}

/// A share in per cent.
pub fn percent(count: usize, of: usize) -> f64 {
    100.0 * count as f64 / of.max(1) as f64
}

/// One decimal and a per cent sign.
pub fn show_percent(count: usize, of: usize) -> String {
    format!("{:.1} %", percent(count, of))
}

/// Three significant digits; a dash for nothing.
pub fn show(value: Option<f64>) -> String {
    match value {
        None => "–".into(),
        Some(0.0) => "0".into(),
        Some(value) => {
            let digits = (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
            format!("{value:.digits$}")
        }
    }
}

/// Root mean square; `None` for nothing.
pub fn rms(values: &[f64]) -> Option<f64> {
    (!values.is_empty())
        .then(|| (values.iter().map(|x| x * x).sum::<f64>() / values.len() as f64).sqrt())
}

/// Quantile by nearest rank; `None` for nothing.
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(((sorted.len() as f64 - 1.0).max(0.0) * share).round() as usize).copied()
}
