//! What looking after the log found, as text.

use super::format::{cents, counted, number};
use super::table::within;
use super::terminal::Style;
use crate::comparison::Effects;
use crate::log::{CheckUp, Fault, Outcome, Reread};

/// What a check of the log found.
pub fn check_up(check_up: &CheckUp, style: &Style) -> String {
    let summary = format!(
        "{}, {} looked at: {}",
        counted(check_up.reeds, "reed"),
        counted(check_up.recordings, "recording"),
        match check_up.faults.len() {
            0 => "all whole".to_owned(),
            count => counted(count, "fault"),
        }
    );
    let mut text = style.wrapped("", &summary).join("\n") + "\n";
    for Fault { what, mend } in check_up.faults.iter().chain(&check_up.leftovers) {
        let lines = style.wrapped("", what).into_iter().chain(style.wrapped("    mend: ", mend));
        text.extend(lines.map(|line| line + "\n"));
    }
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
                    let (before, after) = (figure(&change.before), figure(&change.after));
                    let line = match before == after {
                        true => format!("{}: by less than is shown here", change.figure),
                        false => format!("{}: {before} → {after}", change.figure),
                    };
                    text += &format!("    {line}\n");
                }
                if figures.is_empty() && earlier_program.is_some() {
                    text += "    its summary is the same, single crows are not\n";
                }
            }
        }
    }
    text + &format!("{}, {same} as before\n", counted(outcomes.len(), "take"))
}

/// A figure of the summary to four digits, as many as any of them is good for; a word as it is.
fn figure(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Null => "–".to_owned(),
        serde_json::Value::String(word) => word.clone(),
        whole if whole.is_i64() => number(whole.as_f64().unwrap_or_default(), 0),
        other => match other.as_f64() {
            Some(value) => {
                let before_the_point = value.abs().max(1e-3).log10().floor();
                number(value, (3.0 - before_the_point).clamp(0.0, 4.0) as usize)
            }
            None => other.to_string(),
        },
    }
}

/// What each kind of cut did.
///
/// * `table_style`: for the table alone, which may be wider than the words below it.
pub fn effects(effects: &Effects, reeds: usize, style: &Style, table_style: &Style) -> String {
    let told = |text: &str| style.wrapped("", text).join("\n") + "\n";
    if effects.cuts.is_empty() {
        return told(&format!(
            "{}: no cut with crows before and after it yet; crow before and after each cut",
            counted(reeds, "reed")
        ));
    }
    let share = |share: Option<f64>, of: usize| match share {
        Some(share) => format!("{:.0} of {of}", share * of as f64),
        None => String::new(),
    };
    let rows = effects.cuts.iter().map(|effect| {
        vec![
            effect.cut.words().to_owned(),
            effect.pitch_cents.map(cents).unwrap_or_default(),
            if effect.count > 0 { counted(effect.count, "cut") } else { String::new() },
            effect.pitch_cents_per_mm.map(cents).unwrap_or_default(),
            share(effect.octaves_came, effect.without_octaves),
            share(effect.octaves_lost, effect.with_octaves),
        ]
    });
    let head = ["cut", "pitch", "of", "per mm", "octaves came", "octaves lost"];
    let adjusted: usize = effects.cuts.iter().map(|effect| effect.level_adjusted).sum();
    let text = within(&head, rows.collect(), table_style)
        + "\n"
        + &told(
            "Pitch is the median change over the cuts with crows before and after, and what it comes \
             to per mm clipped. Octaves came: of the cuts before which they were not in order. \
             Octaves lost: of those before which they were.",
        );
    match adjusted {
        0 => text,
        count => {
            text + &told(&format!(
                "Of {} pitch is told at one blowing strength, as 'reedcrow compare' does.",
                counted(count, "cut")
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::comparison::Effect;
    use crate::reed::Cut;

    #[test]
    fn figures_read_again_are_told_to_four_digits() {
        for (value, told) in [
            (serde_json::json!(511.123_456_789_012), "511.1"),
            (serde_json::json!(-41.234_567), "−41.23"),
            (serde_json::json!(0.012_345), "0.0123"),
            (serde_json::json!(12_345.6), "12346"),
            (serde_json::json!(3), "3"),
            (serde_json::json!("octaves"), "octaves"),
            (serde_json::json!(null), "–"),
            (serde_json::json!(true), "true"),
        ] {
            assert_eq!(figure(&value), told);
        }
    }

    #[test]
    fn effects_tell_what_was_counted_and_how_pitch_was_compared() {
        let clip = Effect {
            cut: Cut::Clip,
            count: 4,
            pitch_cents: Some(36.2),
            pitch_cents_per_mm: Some(121.0),
            pitch_rose: 4,
            level_adjusted: 3,
            octaves_came: Some(0.5),
            without_octaves: 2,
            octaves_lost: Some(0.0),
            with_octaves: 3,
        };
        let found = Effects { cuts: vec![clip], past: Vec::new() };
        let text = effects(&found, 5, &Style::default(), &Style::default());
        insta::assert_snapshot!(text, @r"
        cut   pitch      of      per mm      octaves came  octaves lost
        clip  +36 cents  4 cuts  +121 cents  1 of 2        0 of 3

        Pitch is the median change over the cuts with crows before and after, and what
        it comes to per mm clipped. Octaves came: of the cuts before which they were not
        in order. Octaves lost: of those before which they were.
        Of 3 cuts pitch is told at one blowing strength, as 'reedcrow compare' does.
        ");
        let narrow = Style { width: 40, ..Style::default() };
        let text = effects(&found, 5, &narrow, &narrow);
        assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
    }
}
