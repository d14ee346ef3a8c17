//! Columns of text.

use super::format::one_line;

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
