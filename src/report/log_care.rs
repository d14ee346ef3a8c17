//! What looking after the log found, as text.

use super::format::{cents, counted, percent};
use super::table::table;
use crate::comparison::Effects;
use crate::log::{CheckUp, Fault, Outcome, Reread, cut_words};

/// What a check of the log found.
pub fn check_up(check_up: &CheckUp) -> String {
    let mut text = format!(
        "{}, {} looked at: {}\n",
        counted(check_up.reeds, "reed"),
        counted(check_up.recordings, "recording"),
        match check_up.faults.len() {
            0 => "all whole".to_owned(),
            count => counted(count, "fault"),
        }
    );
    let line = |fault: &Fault| format!("{}\n    mend: {}\n", fault.what, fault.mend);
    text.extend(check_up.faults.iter().map(line));
    text.extend(check_up.leftovers.iter().map(line));
    text
}

/// What reading takes again changed.
pub fn reread(outcomes: &[Reread]) -> String {
    let mut text = String::new();
    let mut same = 0;
    for one in outcomes {
        let head = format!("{} take {}", one.label, one.take);
        match &one.outcome {
            Outcome::Same => same += 1,
            Outcome::Failed(error) => text += &format!("{head}: not read: {error}\n"),
            Outcome::Changed { earlier_program, figures } => {
                let by = earlier_program
                    .as_ref()
                    .map_or("there was no reading".to_owned(), |by| format!("was read by {by}"));
                text += &format!("{head}: changed ({by})\n");
                for change in figures {
                    text +=
                        &format!("    {}: {} -> {}\n", change.figure, change.before, change.after);
                }
                if figures.is_empty() && earlier_program.is_some() {
                    text += "    its summary is the same, single crows are not\n";
                }
            }
        }
    }
    text + &format!("{}, {same} as before\n", counted(outcomes.len(), "take"))
}

/// What each kind of cut did.
pub fn effects(effects: &Effects, reeds: usize) -> String {
    if effects.cuts.is_empty() {
        return format!(
            "{}: no cut with crows before and after it yet; crow before and after each cut\n",
            counted(reeds, "reed")
        );
    }
    let rows = effects.cuts.iter().map(|effect| {
        vec![
            cut_words(effect.cut).to_owned(),
            effect.count.to_string(),
            effect.pitch_cents.map(cents).unwrap_or_default(),
            effect.pitch_cents_per_mm.map(cents).unwrap_or_default(),
            effect.octaves_came.map(percent).unwrap_or_default(),
        ]
    });
    let head = ["cut", "times", "pitch, median", "per mm clipped", "octaves came"];
    table(&head, rows.collect())
}
