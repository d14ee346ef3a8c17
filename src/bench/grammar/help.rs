//! What may be said, as it is told: after `?`, and to whoever said something else.

use super::tables::{HEARD, SIZES, cuts, example, phrases};
use crate::log::{Grade, Rated};
use crate::reed::{Cut, LOOKS, Row, WORK};
use crate::words::prompt::help as words;

/// That a line is none of the grammar, with the right forms nearest to it.
pub fn not_understood(said: &str) -> String {
    not_understood_in(said, words::SHOWN_BY)
}

/// The same where something else shows what may be said.
pub fn not_understood_in(said: &str, shown_by: &str) -> String {
    let meant = meant(said, phrases(), shown_by);
    words::not_understood(said, &meant)
}

/// That a phrase is not a kind of work, with those nearest to it.
pub fn no_such_work(said: &str) -> String {
    let all = WORK.iter().map(|row| row.words.to_owned()).collect();
    words::no_such_work(said, &meant(said, all, words::WORK_SHOWN_BY))
}

/// What may be meant instead, of `phrases`.
fn meant(said: &str, phrases: Vec<String>, shown_by: &str) -> String {
    let head = said.split(':').next().unwrap_or_default();
    let phrase = head.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ");
    words::meant(&nearest(&phrase, &phrases), shown_by)
}

/// The phrases nearest to what was said: those it begins, else those a slip or two away.
fn nearest(said: &str, phrases: &[String]) -> Vec<String> {
    const MOST: usize = 4;
    let begun: Vec<String> =
        phrases.iter().filter(|phrase| phrase.starts_with(said)).take(MOST).cloned().collect();
    if !begun.is_empty() {
        return begun;
    }
    let mut near: Vec<(usize, &String)> = phrases
        .iter()
        .map(|phrase| (strsim::damerau_levenshtein(said, phrase), phrase))
        .filter(|(slips, phrase)| *slips <= 2.max(phrase.len() / 4))
        .collect();
    near.sort();
    let least = near.first().map_or(0, |(slips, _)| *slips);
    let nearest = near.into_iter().filter(|(slips, _)| *slips == least).take(MOST);
    nearest.map(|(_, phrase)| phrase.clone()).collect()
}

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
    let sizes: Vec<String> =
        SIZES.iter().map(|size| format!("{} {}", size.word, example(size))).collect();
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
    let heard: Vec<&str> = HEARD.iter().map(|(word, _)| *word).collect();
    format!("{} {}", words::HEARD, heard.join(" | "))
}
