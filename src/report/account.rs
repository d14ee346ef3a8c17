//! The owner's account of one reed: what was found, what was done, how it changed, what to change
//! in the making, what to take care of. Markdown that reads as plain text.

use super::comparison::sentence;
use super::format::counted;
use super::history::{LengthUnit, a4, conditions, inspection, length, measurements};
use super::stage::{heard, pitch_in_full, stage_name};
use super::terminal::words;
use crate::comparison::{Change, Comparison, NoteCode, Verdict};
use crate::log::{Ending, History, Stage, timeline};
use crate::profile::Profile;
use crate::reed::Finding;

/// What an account rests on.
#[derive(Debug, Clone, Copy)]
pub struct Account<'a> {
    /// Everything of the reed.
    pub history: &'a History,
    /// What it is held to.
    pub profile: &'a Profile,
    /// What is wrong with its making, by its measurements and looks.
    pub findings: &'a [Finding],
    /// The first stage that was crowed against the last, and their numbers; `None` where there are no
    /// two.
    pub comparison: Option<(&'a Comparison, (u32, u32))>,
}

/// The cautions that every account ends with.
const CAUTIONS: [&str; 3] = [
    "A reed belongs in one mouth. It was crowed here: rinse it and disinfect it by your local \
     hygiene rules before you play it, and before anyone else does.",
    "Cane moves for days after it was cut: play it in for some minutes a day, and judge it after.",
    "If you scrape further yourself: away from your fingers, with a plaque between the blades; \
     cane cannot be put back.",
];

const SEALED: &str = "A leak was sealed on it. Keep the sealer off your lips as its label says, and \
                      follow local rules.";

impl Account<'_> {
    /// The account, in Markdown.
    pub fn text(&self) -> String {
        let card = &self.history.reed.card;
        let mut text = format!("# Reed {}\n\n", card.label);
        if let Some(owner) = &card.owner {
            text += &format!("For {owner}.\n\n");
        }
        text += &section("What was found", self.found());
        text += &section("What was done", self.done());
        text += &section("How it changed", self.changed());
        text += &section("How it ended", self.ended());
        text += &section("What to change in the making", self.making());
        text + &section("Please note", self.cautions())
    }

    fn stages(&self) -> Vec<Stage> {
        timeline(self.history)
    }

    fn found(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let card = &self.history.reed.card;
        lines.extend(card.complaint.as_ref().map(|words| format!("Your complaint: {words}.")));
        lines.extend(self.history.measured().first().map(|measured| {
            let state =
                measured.state.map_or(String::new(), |state| format!(", {}", state.words()));
            format!(
                "It measured, from the bottom of the staple{}{state}: {}.",
                later(measured.after_step),
                measurements(&measured.now, LengthUnit::Millimetres)
            )
        }));
        lines.extend(self.history.seen().first().map(|seen| {
            format!("Looked over{}: {}.", later(seen.after_step), inspection(&seen.now))
        }));
        let first = self.stages().into_iter().find(|stage| stage.takes > 0);
        lines.extend(first.map(|stage| self.heard(&stage_name(stage.number), &stage)));
        lines.extend(self.findings.iter().map(|finding| format!("{}.", capital(&finding.says))));
        lines
    }

    fn done(&self) -> Vec<String> {
        let steps = self.history.steps.iter().map(|logged| match logged.step.cut {
            Some(_) => capital(&logged.step.words()) + ".",
            None => format!("Noted: {}.", logged.step.note.as_deref().unwrap_or_default()),
        });
        let mut lines: Vec<String> = steps.collect();
        if lines.is_empty() {
            lines.push("Nothing was cut.".into());
        }
        lines
    }

    fn changed(&self) -> Vec<String> {
        let stages = self.stages();
        let mut lines = Vec::new();
        if let Some((comparison, (first, last))) = self.comparison {
            if (first, last) != (0, self.history.stage()) {
                let (first, last) = (stage_name(first), stage_name(last));
                lines.push(format!("Compared are the crows {first} and {last}."));
            }
            // What cannot be told is told of pitch alone.
            let told = |change: &&Change| {
                change.verdict != Verdict::Unclear || change.figure == "fundamental.target_cents"
            };
            let owners = |change: &&Change| OWNERS.contains(&change.figure.as_str());
            let changes = comparison.changes.iter().filter(owners).filter(told);
            lines.extend(changes.map(|change| capital(&sentence(change, self.profile)) + "."));
            let apart = comparison.notes.iter().find(|note| note.code == NoteCode::LevelsApart);
            lines.extend(apart.map(|note| capital(&note.text) + "."));
        }
        let mut blown = stages.iter().filter(|stage| stage.takes > 0);
        if let (Some(_), Some(last)) = (blown.next(), blown.next_back()) {
            lines.push(self.heard("at the end", last));
        }
        if let (Some(first), Some(last)) = (
            stages.first().and_then(|stage| stage.length),
            stages.last().and_then(|stage| stage.length),
        ) && first.mm != last.mm
        {
            let told = |reached| length(reached, LengthUnit::Millimetres);
            lines.push(format!("Length: {}, now {}.", told(first), told(last)));
        }
        lines
    }

    fn ended(&self) -> Vec<String> {
        let card = &self.history.reed.card;
        let state = match card.ending {
            None => "The work on it is not finished.",
            Some(Ending::Done) => "It is finished and plays.",
            Some(Ending::SentBack) => "It goes back to you.",
            Some(Ending::GivenUp) => "It could not be brought further and was given up.",
        };
        let why = card.ending_note.as_ref().map(|note| format!("{}.", capital(note)));
        std::iter::once(state.to_owned()).chain(why).collect()
    }

    fn making(&self) -> Vec<String> {
        if self.findings.is_empty() {
            let looked = self.history.measurements.len() + self.history.inspections.len() > 0;
            return vec![
                match looked {
                    true => {
                        "Nothing in the making asks for a change, by what was measured and seen."
                    }
                    false => {
                        "Nothing was measured or looked over, so nothing is said of the making."
                    }
                }
                .to_owned(),
            ];
        }
        let each = self.findings.iter().map(|finding| {
            let sure = if finding.sure >= 0.9 { "" } else { " (likely, not certain)" };
            format!(
                "{}{sure}. On the next reed: {}. On this one: {}.",
                capital(&finding.says),
                finding.on_the_next,
                finding.on_this_reed
            )
        });
        each.collect()
    }

    fn cautions(&self) -> Vec<String> {
        let sealed = self
            .history
            .steps
            .iter()
            .any(|logged| logged.step.cut == Some(crate::comparison::Cut::Seal));
        CAUTIONS
            .iter()
            .map(|caution| (*caution).to_owned())
            .chain(sealed.then(|| SEALED.to_owned()))
            .collect()
    }

    /// What was heard at a stage, and how it was crowed.
    fn heard(&self, when: &str, stage: &Stage) -> String {
        let card = &self.history.reed.card;
        let how: Vec<String> = conditions(self.history)
            .into_iter()
            .filter(|(_, stages)| stages.contains(&stage.number))
            .map(|(words, _)| words)
            .collect();
        let how: String = how.iter().map(|words| format!("; {words}")).collect();
        if stage.crows == 0 {
            let takes = counted(stage.takes, "take");
            return format!("Blown {when} ({takes}{how}): {}.", heard(stage));
        }
        let kind = stage.kind.map(words::kind).unwrap_or_default();
        let pitch = pitch_in_full(stage, self.profile.lowest_note(), a4(card));
        let pitch = pitch.map(|pitch| format!("{pitch}, ")).unwrap_or_default();
        format!("Crowed {when} ({}{how}): {pitch}{kind}.", heard(stage))
    }
}

/// Where it was not as the reed came: `, after step 2`.
fn later(after_step: u32) -> String {
    match after_step {
        0 => String::new(),
        number => format!(", {}", stage_name(number)),
    }
}

/// The figures an owner is told.
const OWNERS: [&str; 5] = [
    "fundamental.target_cents",
    "alignment.cents",
    "response.onset_s",
    "response.low_delay_s",
    "steadiness.spread_cents",
];

fn section(title: &str, lines: Vec<String>) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let list: String = lines.iter().map(|line| format!("- {line}\n")).collect();
    format!("## {title}\n\n{list}\n")
}

/// With a capital at its head, without a full stop at its end.
fn capital(text: &str) -> String {
    let text = text.trim().trim_end_matches('.');
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
