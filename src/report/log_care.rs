//! What looking after the log found, as text.

use super::terminal::Style;
use crate::log::{CheckUp, Fault, Mended, Outcome, PROGRAM, Reread};
use crate::words::comparison::names::read_again;
use crate::words::mending as words;

/// What a check of the log found.
pub fn check_up(check_up: &CheckUp, style: &Style) -> String {
    let summary = words::looked_at(check_up.reeds, check_up.recordings, check_up.faults.len());
    let mut text = style.wrapped("", &summary).join("\n") + "\n";
    for Fault { what, mend } in check_up.faults.iter().chain(&check_up.leftovers) {
        let lines = style
            .wrapped("", what)
            .into_iter()
            .chain(style.wrapped(&format!("    {} ", words::MEND), mend));
        text.extend(lines.map(|line| line + "\n"));
    }
    text
}

/// Of what was mended so much is told one by one; JSON has all.
const MOST_TOLD: usize = 40;

/// What mending the log did.
pub fn mended(mended: &Mended, style: &Style) -> String {
    let aside = mended.damaged.as_deref().map(words::put_aside);
    let done = mended.mended.iter().take(MOST_TOLD).map(words::mend);
    let more = mended.mended.len().checked_sub(MOST_TOLD + 1).map(|more| words::more(more + 1));
    let done = done.chain(more);
    let lost = mended.lost.iter().map(words::mend);
    let mut lines: Vec<String> = aside.into_iter().chain(done).chain(lost).collect();
    if lines.is_empty() {
        lines.push(words::NOTHING_TO_MEND.into());
    }
    lines.iter().flat_map(|line| style.wrapped("", line)).map(|line| line + "\n").collect()
}

/// What reading takes again changed.
pub fn reread(outcomes: &[Reread]) -> String {
    let mut text = String::new();
    let mut same = 0;
    for one in outcomes {
        let (label, take) = (&one.label, one.take);
        match &one.outcome {
            Outcome::Same => same += 1,
            Outcome::Failed(error) => text += &(words::not_reread(label, take, error) + "\n"),
            Outcome::Changed { earlier_program, figures } => {
                text += &(words::reread(label, take, earlier_program.as_deref(), PROGRAM) + "\n");
                for change in figures {
                    let line = read_again(&change.figure, &change.before, &change.after);
                    text += &format!("    {line}\n");
                }
                if figures.is_empty() && earlier_program.is_some() {
                    text += &format!("    {}\n", words::ONLY_CROWS_CHANGED);
                }
            }
        }
    }
    text + &words::as_before(outcomes.len(), same) + "\n"
}
