//! What may be said, as it is told: after `?`, and to whoever said something else.

use super::tables::{HEARD, LOOKS, SIZES, cuts, example, phrases};
use crate::reed::{Cut, Row};

/// Where all that may be said is shown, at the prompt and on the page.
const SHOWN_BY: &str = "? shows what may be typed";

/// That a line is none of the grammar, with the right forms nearest to it.
pub fn not_understood(said: &str) -> String {
    not_understood_in(said, SHOWN_BY)
}

/// The same where something else shows what may be said.
pub fn not_understood_in(said: &str, shown_by: &str) -> String {
    let head = said.split(':').next().unwrap_or_default();
    let phrase = head.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ");
    let meant = match nearest(&phrase).as_slice() {
        [] => format!("; {shown_by}"),
        [one] => format!(". Is it '{one}'? Type it so"),
        [first @ .., last] => format!(". Is it '{}' or '{last}'? Type one so", first.join("', '")),
    };
    format!("'{said}' is not understood, and nothing was written down{meant}")
}

/// The phrases nearest to what was said: those it begins, else those a slip or two away.
fn nearest(said: &str) -> Vec<String> {
    const MOST: usize = 4;
    let begun: Vec<String> =
        phrases().into_iter().filter(|phrase| phrase.starts_with(said)).take(MOST).collect();
    if !begun.is_empty() {
        return begun;
    }
    let mut near: Vec<(usize, String)> = phrases()
        .into_iter()
        .map(|phrase| (strsim::damerau_levenshtein(said, &phrase), phrase))
        .filter(|(slips, phrase)| *slips <= 2.max(phrase.len() / 4))
        .collect();
    near.sort();
    let least = near.first().map_or(0, |(slips, _)| *slips);
    near.into_iter().filter(|(slips, _)| *slips == least).take(MOST).map(|(_, p)| p).collect()
}

/// What may be typed, for `?`.
pub fn help() -> String {
    let lines = [
        help_on_cuts(),
        help_on_looks(),
        help_on_sizes(),
        format!("{}\n", help_on_hearing()),
        "Else:\n".to_owned(),
        "  u undo   r redo   w the way so far   y why   p pause   g go on   q end\n".to_owned(),
        "  play 2 3   tone   keep (what was set aside)   note WORDS\n".to_owned(),
        "  reed NAME   next   new NAME   like NAME   account   model   model this\n".to_owned(),
        "  close done | sent back | given up   open again\n".to_owned(),
        "  Words of your own follow a colon: tip sides: left more than right\n".to_owned(),
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
    format!("What you did:\n{}", rows.collect::<String>())
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
    format!("What you saw:\n{}", rows.collect::<String>())
}

/// What may be measured.
pub fn help_on_sizes() -> String {
    let sizes: Vec<String> =
        SIZES.iter().map(|size| format!("{} {}", size.word, example(size))).collect();
    let rows = sizes.chunks(4).map(|row| format!("  {}\n", row.join(" | ")));
    format!("What you measured, in mm from the bottom (or 2.76in):\n{}", rows.collect::<String>())
}

/// What may be heard.
fn help_on_hearing() -> String {
    let heard: Vec<&str> = HEARD.iter().map(|(word, _)| *word).collect();
    format!("What you heard: heard {}", heard.join(" | "))
}
