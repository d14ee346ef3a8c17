//! What looking after the log found, as text.

use super::format::{cents, counted};
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
    let share = |share: Option<f64>, of: usize| match share {
        Some(share) => format!("{:.0} of {of}", share * of as f64),
        None => String::new(),
    };
    let rows = effects.cuts.iter().map(|effect| {
        vec![
            cut_words(effect.cut).to_owned(),
            effect.pitch_cents.map(cents).unwrap_or_default(),
            if effect.count > 0 { counted(effect.count, "cut") } else { String::new() },
            effect.pitch_cents_per_mm.map(cents).unwrap_or_default(),
            share(effect.octaves_came, effect.without_octaves),
            share(effect.octaves_lost, effect.with_octaves),
        ]
    });
    let head = ["cut", "pitch", "of", "per mm", "octaves came", "octaves lost"];
    let adjusted: usize = effects.cuts.iter().map(|effect| effect.level_adjusted).sum();
    let text = table(&head, rows.collect())
        + "\nPitch is the median change over the cuts with crows before and after, and what\n\
           it comes to per mm clipped. Octaves came: of the cuts before which they were\n\
           not in order. Octaves lost: of those before which they were.\n";
    match adjusted {
        0 => text,
        count => {
            text + &format!(
                "Of {} pitch is told at one blowing strength, as 'reedcrow compare' does.\n",
                counted(count, "cut")
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::{Cut, Effect};

    #[test]
    fn effects_tell_what_was_counted_and_how_pitch_was_compared() {
        let clip = Effect {
            cut: Cut::Clip,
            count: 4,
            pitch_cents: Some(36.2),
            pitch_cents_per_mm: Some(121.0),
            level_adjusted: 3,
            octaves_came: Some(0.5),
            without_octaves: 2,
            octaves_lost: Some(0.0),
            with_octaves: 3,
        };
        let text = effects(&Effects { cuts: vec![clip], last: None }, 5);
        insta::assert_snapshot!(text, @r"
        cut   pitch      of      per mm      octaves came  octaves lost
        clip  +36 cents  4 cuts  +121 cents  1 of 2        0 of 3

        Pitch is the median change over the cuts with crows before and after, and what
        it comes to per mm clipped. Octaves came: of the cuts before which they were
        not in order. Octaves lost: of those before which they were.
        Of 3 cuts pitch is told at one blowing strength, as 'reedcrow compare' does.
        ");
    }
}
