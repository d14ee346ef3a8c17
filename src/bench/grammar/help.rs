//! What may be said, as it is told after `?`.

use super::tables::{HEARD, SIZES, cuts};
use crate::log::{Grade, Rated};
use crate::reed::{Cut, LOOKS, Row};
use crate::words::prompt::help as words;

/// What may be typed, for `?`.
pub fn help() -> String {
    let lines = [
        help_on_cuts(),
        help_on_looks(),
        help_on_sizes(),
        format!("{}\n", help_on_hearing()),
        words::ELSE.to_owned(),
    ];
    lines.concat()
}

/// What may be done.
pub fn help_on_cuts() -> String {
    let cut = |row: &Row| match row.cut {
        Cut::Clip => "c 0.3  clip 0.3".to_owned(),
        _ => format!("{:<6} {}", row.letters, row.words),
    };
    let cuts: Vec<String> = cuts().map(cut).collect();
    let rows = cuts.chunks(3).map(|row| {
        let cells: Vec<String> = row.iter().map(|cell| format!("{cell:<24}")).collect();
        format!("  {}\n", cells.concat().trim_end())
    });
    format!("{}\n{}", words::CUTS, rows.collect::<String>())
}

/// What may be seen.
pub fn help_on_looks() -> String {
    let mut parts: Vec<&str> = LOOKS.iter().map(|look| look.part).collect();
    parts.dedup();
    let rows = parts.into_iter().map(|part| {
        let found: Vec<&str> =
            LOOKS.iter().filter(|look| look.part == part).map(|look| look.found).collect();
        format!("  {part} {}\n", found.join(" | "))
    });
    format!("{}\n{}", words::LOOKS, rows.collect::<String>())
}

/// What may be measured.
pub fn help_on_sizes() -> String {
    let sizes: Vec<&str> = SIZES.iter().map(|size| size.size.example()).collect();
    let rows = sizes.chunks(4).map(|row| format!("  {}\n", row.join(" | ")));
    format!("{}\n{}", words::SIZES, rows.collect::<String>())
}

/// What may be rated.
pub fn help_on_rating() -> String {
    let sides: Vec<&str> = Rated::ALL.iter().map(|side| side.code()).collect();
    let grades: Vec<String> =
        Grade::ALL.iter().map(|grade| format!("{} ({})", grade.code(), grade.number())).collect();
    words::rating(&sides.join(" | "), &grades.join(" | "))
}

/// What may be heard.
fn help_on_hearing() -> String {
    let heard: Vec<&str> = HEARD.iter().map(|row| row.word).collect();
    format!("{} {}", words::HEARD, heard.join(" | "))
}
