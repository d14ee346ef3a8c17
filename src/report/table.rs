//! Columns of text.

use super::terminal::Style;
use crate::words::format::one_line;

/// A [`table`] where it fits into the style's width; else each row over several lines, each cell
/// after the name of its column, since half a word in a column is none.
pub fn within(head: &[&str], rows: Vec<Vec<String>>, style: &Style) -> String {
    let whole = table(head, rows.clone());
    if whole.lines().all(|line| line.chars().count() <= style.width) {
        return whole;
    }
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
    fn a_table_too_wide_is_told_a_row_at_a_time_and_breaks_no_word() {
        let rows = || vec![vec!["anouk-9".to_owned(), "22 flat of C5".to_owned(), String::new()]];
        let head = ["reed", "last crow", "owner"];
        let at = |width| within(&head, rows(), &Style { width, ..Style::default() });
        assert_eq!(at(80), table(&head, rows()));
        assert_eq!(at(22), "anouk-9\n  last crow  22 flat\n             of C5\n");
    }
}
