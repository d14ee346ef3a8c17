//! Columns of text.

use super::terminal::Style;
use crate::words::format::one_line;

/// A [`table`] where it fits into the style's width. Where it does not, columns without anything in them
/// are left out and cells are broken between words, where that takes the fewest lines; where that would take more lines, each row is told over several lines, each
/// cell after the name of its column.
pub fn within(head: &[&str], rows: Vec<Vec<String>>, style: &Style) -> String {
    let whole = table(head, rows.clone());
    if whole.lines().all(|line| line.chars().count() <= style.width) {
        return whole;
    }
    let is_used = |column: &usize| {
        rows.iter().any(|row| row.get(*column).is_some_and(|cell| !cell.is_empty()))
    };
    let used: Vec<usize> = (0..head.len()).filter(is_used).collect();
    let names: Vec<&str> = used.iter().filter_map(|&column| head.get(column).copied()).collect();
    let cells = |row: &Vec<String>| used.iter().filter_map(|&at| row.get(at).cloned()).collect();
    let filled: Vec<Vec<String>> = rows.iter().map(cells).collect();
    let stacked = stacked(head, &rows, style);
    let narrowed = narrowed(&names, &filled, style);
    let lines = |text: &String| text.lines().count();
    narrowed.filter(|narrowed| lines(narrowed) <= lines(&stacked)).unwrap_or(stacked)
}

/// How many lines each row's cell takes in one column.
type Lines = Vec<usize>;

/// Columns that give way, a letter at a time, to fit side by side.
struct Narrowing<'a> {
    rows: &'a [Vec<String>],
    style: &'a Style,
    widths: Vec<usize>,
    lines: Vec<Lines>,
    /// The same a letter narrower, of columns for which that was asked.
    narrower: Vec<Option<Lines>>,
}

impl<'a> Narrowing<'a> {
    fn of(rows: &'a [Vec<String>], widths: Vec<usize>, style: &'a Style) -> Self {
        let lines = vec![vec![1; rows.len()]; widths.len()];
        Self { rows, style, narrower: vec![None; widths.len()], lines, widths }
    }

    /// How many lines the whole takes once that column is a letter narrower.
    fn if_narrower(&mut self, column: usize) -> usize {
        let (rows, style) = (self.rows, self.style);
        let width = self.widths.get(column).map_or(0, |width| width.saturating_sub(1));
        let Some(narrower) = self.narrower.get_mut(column) else { return usize::MAX };
        let narrower = &*narrower.get_or_insert_with(|| {
            let cells = rows.iter().map(|row| row.get(column).map_or("", String::as_str));
            cells.map(|cell| broken(style, width, cell).len()).collect()
        });
        let others = || self.lines.iter().enumerate().filter(|(other, _)| *other != column);
        let of_row = |row: usize| others().filter_map(move |(_, lines)| lines.get(row)).copied();
        narrower.iter().enumerate().map(|(row, own)| of_row(row).fold(*own, usize::max)).sum()
    }

    /// Takes a letter from the column where that takes the fewest lines more, the widest of equals; whether
    /// one could give it.
    ///
    /// * `least`: how narrow each may become.
    fn narrow(&mut self, least: &[usize]) -> bool {
        let can_give = |column: &usize| self.widths.get(*column) > least.get(*column);
        let giving: Vec<usize> = (0..self.widths.len()).filter(can_give).collect();
        let cost = |column: &usize| {
            let width = self.widths.get(*column).copied();
            (self.if_narrower(*column), std::cmp::Reverse(width))
        };
        let Some(column) = giving.into_iter().min_by_key(cost) else { return false };
        if let (Some(width), Some(lines), Some(narrower)) = (
            self.widths.get_mut(column),
            self.lines.get_mut(column),
            self.narrower.get_mut(column).and_then(Option::take),
        ) {
            *width -= 1;
            *lines = narrower;
        }
        true
    }
}

/// A cell in lines of that width.
fn broken(style: &Style, width: usize, cell: &str) -> Vec<String> {
    Style { width, ..*style }.wrapped("", cell)
}

/// Columns broken between words until they fit; `None` where whole words do not.
fn narrowed(head: &[&str], rows: &[Vec<String>], style: &Style) -> Option<String> {
    let cells = |row: &[String]| row.iter().map(|cell| one_line(cell)).collect::<Vec<_>>();
    let names: Vec<String> = head.iter().map(|name| (*name).to_owned()).collect();
    let rows: Vec<Vec<String>> =
        std::iter::once(cells(&names)).chain(rows.iter().map(|row| cells(row))).collect();
    let widest = |of: &dyn Fn(&str) -> usize| -> Vec<usize> {
        let of_column =
            |column: usize| rows.iter().filter_map(|row| Some(of(row.get(column)?.as_str()))).max();
        (0..head.len()).map(|column| of_column(column).unwrap_or(0)).collect()
    };
    let widths = widest(&|cell| cell.chars().count());
    // A width of one letter leaves nothing together that can be parted.
    let least = widest(&|cell| {
        broken(style, 1, cell).iter().map(|line| line.chars().count()).max().unwrap_or(0)
    });
    let room = style.width.checked_sub(2 * head.len().saturating_sub(1))?;
    let mut narrowing = Narrowing::of(&rows, widths, style);
    while narrowing.widths.iter().sum::<usize>() > room {
        narrowing.narrow(&least).then_some(())?;
    }
    let widths = narrowing.widths;
    let mut text = String::new();
    for row in &rows {
        let cells: Vec<Vec<String>> =
            row.iter().zip(&widths).map(|(cell, width)| broken(style, *width, cell)).collect();
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1);
        for line in 0..lines {
            let pieces = cells.iter().zip(&widths).map(|(cell, &width)| {
                let piece = cell.get(line).map_or("", String::as_str);
                format!("{piece}{}", " ".repeat(width.saturating_sub(piece.chars().count())))
            });
            text += &(pieces.collect::<Vec<_>>().join("  ").trim_end().to_owned() + "\n");
        }
    }
    Some(text)
}

/// Each row over several lines, each cell after the name of its column.
fn stacked(head: &[&str], rows: &[Vec<String>], style: &Style) -> String {
    let widest = head.iter().map(|name| name.chars().count()).max().unwrap_or(0);
    let block = |row: &Vec<String>| -> String {
        let first = row.first().map(|cell| one_line(cell)).unwrap_or_default();
        let cells = head.iter().zip(row).skip(1).filter(|(_, cell)| !cell.is_empty());
        let rest = cells.flat_map(|(name, cell)| {
            style.wrapped(&format!("  {name:<widest$}  "), &one_line(cell))
        });
        std::iter::once(first).chain(rest).map(|line| line + "\n").collect()
    };
    rows.iter().map(block).collect()
}

/// Columns as wide as what stands in them; the last one ragged.
pub fn table(head: &[&str], rows: Vec<Vec<String>>) -> String {
    let on_one_line = |row: &Vec<String>| row.iter().map(|cell| one_line(cell)).collect();
    let rows: Vec<Vec<String>> = rows.iter().map(on_one_line).collect();
    let widths: Vec<usize> = head
        .iter()
        .enumerate()
        .map(|(column, name)| {
            let cells = rows.iter().filter_map(|row| row.get(column)).map(|c| c.chars().count());
            cells.chain([name.chars().count()]).max().unwrap_or(0)
        })
        .collect();
    let line = |cells: Vec<&str>| {
        let padded = cells.iter().zip(&widths).map(|(cell, &width)| {
            let fill = width.saturating_sub(cell.chars().count());
            format!("{cell}{}", " ".repeat(fill))
        });
        padded.collect::<Vec<_>>().join("  ").trim_end().to_owned() + "\n"
    };
    let body = rows.iter().map(|row| line(row.iter().map(String::as_str).collect()));
    line(head.to_vec()) + &body.collect::<String>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_too_wide_is_broken_between_words_or_told_a_row_at_a_time() {
        let rows = || vec![vec!["anouk-9".to_owned(), "22 flat of C5".to_owned(), String::new()]];
        let head = ["reed", "last crow", "owner"];
        let at = |width| within(&head, rows(), &Style { width, ..Style::default() });
        assert_eq!(at(80), table(&head, rows()));
        // A column without anything in it is left out first.
        assert_eq!(at(22), "reed     last crow\nanouk-9  22 flat of C5\n");
        assert_eq!(at(19), "reed     last crow\nanouk-9  22 flat of\n         C5\n");
        assert_eq!(
            at(12),
            "anouk-9\n  last crow  22\n             flat\n             of\n             C5\n"
        );
    }

    /// A long name in one row takes no width from what every row says.
    #[test]
    fn the_column_gives_way_that_takes_the_fewest_lines() {
        let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
        let rows = vec![
            row(["a1", "21 flat, octaves", "Anouk van den Broek"]),
            row(["a2", "57 flat, octaves", ""]),
            row(["a3", "36 sharp, octaves", ""]),
        ];
        let style = Style { width: 80, ..Style::default() };
        let at = |width| {
            within(&["reed", "last crow", "owner"], rows.clone(), &Style { width, ..style })
        };
        assert_eq!(at(80).lines().count(), 4);
        assert_eq!(
            at(34),
            "reed  last crow          owner\n\
             a1    21 flat, octaves   Anouk van\n                         den Broek\n\
             a2    57 flat, octaves\na3    36 sharp, octaves\n"
        );
    }
}
