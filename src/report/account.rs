//! The owner's account of one reed: what was found, what was done, how it changed, what to change
//! in the making, what to take care of. Markdown that reads as plain text.

use super::comparison::sentence;
use super::format::{counted, number};
use super::history::{LengthUnit, length, measurements, stage_pitch};
use super::terminal::words;
use crate::comparison::{Comparison, Verdict};
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
    /// As it came against as it is; `None` unless it was crowed at both.
    pub comparison: Option<&'a Comparison>,
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
        let first = self.history.measurements.iter().find(|logged| logged.after_step == 0);
        lines.extend(first.map(|logged| {
            format!(
                "It measured, from the bottom of the staple: {}.",
                measurements(&logged.measurements, LengthUnit::Millimetres)
            )
        }));
        if let Some(stage) = self.stages().first().filter(|stage| stage.crows > 0) {
            lines.push(format!(
                "Crowed as it came ({}): {}.",
                counted(stage.crows, "crow"),
                self.sound(stage)
            ));
        }
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
        if let Some(comparison) = self.comparison {
            let told = |verdict| matches!(verdict, Verdict::Rose | Verdict::Fell | Verdict::Same);
            for change in comparison
                .changes
                .iter()
                .filter(|change| OWNERS.contains(&change.figure.as_str()) && told(change.verdict))
            {
                lines.push(format!("{}.", capital(&sentence(change, self.profile))));
            }
        }
        let crowed = |stage: &&Stage| stage.crows > 0;
        if let Some(last) = stages.iter().rev().find(crowed).filter(|stage| stage.number > 0) {
            lines.push(format!(
                "Crowed at the end ({}): {}.",
                counted(last.crows, "crow"),
                self.sound(last)
            ));
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
        self.findings
            .iter()
            .map(|finding| {
                let sure = if finding.sure >= 0.9 { "" } else { " (likely, not certain)" };
                format!(
                    "{}{sure}. On the next reed: {}. On this one: {}.",
                    capital(&finding.says),
                    finding.on_the_next,
                    finding.on_this_reed
                )
            })
            .collect()
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

    /// How a stage sounds, in words.
    fn sound(&self, stage: &Stage) -> String {
        let kind = stage.kind.map(words::kind).unwrap_or_default();
        let off = stage.target_cents.map(|cents| (number(cents.abs(), 0), cents < 0.0));
        let pitch = match off {
            Some((cents, _)) if cents == "0" => "on the target".to_owned(),
            Some((cents, true)) => format!("{cents} cents flat of the target"),
            Some((cents, false)) => format!("{cents} cents sharp of the target"),
            None => stage_pitch(stage, &self.history.reed.card),
        };
        match pitch.is_empty() {
            true => kind.to_owned(),
            false => format!("{pitch}, {kind}"),
        }
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
