//! The owner's account of one reed: what was found, what was done, how it changed, what to change
//! in the making, what to take care of. Markdown that reads as plain text.

use super::comparison::with_ends;
use super::format::{LengthUnit, counted, millimetres, number, one_line, percent, seconds};
use super::history::{a4, conditions, inspection, length, measurements};
use super::stage::{heard, pitch_in_full, stage_name};
use super::terminal::words;
use crate::comparison::{Change, Comparison, Cut, NoteCode, Verdict};
use crate::log::{Ending, History, Stage, timeline};
use crate::profile::Profile;
use crate::reading::pooled;
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
    /// Those of them on which nothing was done since.
    pub left: &'a [Finding],
    /// The first stage that was crowed against the last, and their numbers; `None` where there are no
    /// two.
    pub comparison: Option<(&'a Comparison, (u32, u32))>,
}

/// The cautions that every account ends with.
const CAUTIONS: [&str; 2] = [
    "Cane moves for days after it was cut: play it in for some minutes a day, and judge it after.",
    "If you scrape further yourself: away from your fingers, with a plaque between the blades; \
     cane cannot be put back.",
];

const MOUTHS: &str = "A reed belongs in one mouth: rinse it and disinfect it by your local hygiene \
                      rules before anyone else plays it.";

const MOUTHS_CROWED: &str = "A reed belongs in one mouth. It was crowed here: rinse it and disinfect \
                             it by your local hygiene rules before you play it, and before anyone \
                             else does.";

const SEALED: &str = "A leak was sealed on it. Keep the sealer off your lips as its label says, and \
                      follow local rules.";

impl Account<'_> {
    /// The account, in Markdown.
    pub fn text(&self) -> String {
        let card = &self.history.reed.card;
        let mut text = format!("# Reed {}\n\n", card.label);
        if let Some(owner) = &card.owner {
            text += &format!("For {}.\n\n", one_line(owner));
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
        let complaint = card.complaint.as_deref().map(capital);
        lines.extend(complaint.map(|words| format!("Your complaint: {words}.")));
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
        let steps = self.history.steps.iter().map(|logged| {
            let note = capital(logged.step.note.as_deref().unwrap_or_default());
            let done = logged.step.cut.map(|cut| done(cut, logged.step.amount_mm));
            match done.zip(logged.number) {
                Some((done, number)) if note.is_empty() => format!("Step {number}: {done}."),
                Some((done, number)) => format!("Step {number}: {done}. {note}."),
                None => format!("Noted: {note}."),
            }
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
            if let (Some(before), Some(after)) = (comparison.before.kind, comparison.after.kind)
                && before != after
            {
                let (before, after) = (words::kind(before), words::kind(after));
                lines.push(format!("It was {before}; now it is {after}."));
            }
            let has_target = comparison.changes.iter().any(|change| change.figure == OWNERS[0]);
            let owners = |change: &&Change| {
                let path = change.figure.as_str();
                OWNERS.contains(&path) || !has_target && path == "fundamental.hz"
            };
            let changes = comparison.changes.iter().filter(owners);
            lines.extend(changes.filter_map(|change| self.change(change)));
            let apart = comparison.notes.iter().find(|note| note.code == NoteCode::LevelsApart);
            lines.extend(apart.map(|note| capital(&note.text) + "."));
        }
        let mut blown = stages.iter().filter(|stage| stage.takes > 0);
        if let (Some(first), Some(last)) = (blown.next(), blown.next_back()) {
            if first.crows == 0 && last.crows > 0 {
                lines.insert(0, "It did not crow, and now it does.".to_owned());
            }
            lines.push(self.heard("at the end", last));
        }
        if let (Some(first), Some(last)) = (
            stages.first().and_then(|stage| stage.length),
            stages.last().and_then(|stage| stage.length),
        ) && first.mm > last.mm
        {
            let told = |reached| length(reached, LengthUnit::Millimetres);
            lines.push(format!("Length: {}, now {}.", told(first), told(last)));
        }
        lines
    }

    /// One figure; what cannot be told is told of pitch alone.
    fn change(&self, change: &Change) -> Option<String> {
        match change.verdict {
            Verdict::Unclear if !PITCH.contains(&change.figure.as_str()) => None,
            Verdict::Unclear => {
                Some("Whether its pitch moved, these crows do not tell.".to_owned())
            }
            _ => Some(capital(&with_ends(change, self.profile)) + "."),
        }
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
            let on_this = match self.left.iter().any(|left| left.fault == finding.fault) {
                true => format!("On this one: {}", finding.on_this_reed),
                false => "On this one it was worked on".to_owned(),
            };
            format!(
                "{}{sure}. On the next reed: {}. {on_this}.",
                capital(&finding.says),
                finding.on_the_next
            )
        });
        each.collect()
    }

    fn cautions(&self) -> Vec<String> {
        let sealed = self.history.steps.iter().any(|logged| logged.step.cut == Some(Cut::Seal));
        let mouths = if self.history.takes.is_empty() { MOUTHS } else { MOUTHS_CROWED };
        std::iter::once(mouths)
            .chain(CAUTIONS)
            .map(str::to_owned)
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
        let more: String = self.manners(stage).iter().map(|words| format!("; {words}")).collect();
        format!("Crowed {when} ({}{how}): {pitch}{kind}{more}.", heard(stage))
    }

    /// What besides pitch and octaves is plain to hear: a low octave that is late, octaves that take
    /// turns, a rattle, a slow answer, a pitch that wanders.
    fn manners(&self, stage: &Stage) -> Vec<String> {
        let lines = &self.profile.advice;
        let all = pooled(&self.history.readings_at(stage.number));
        let Some(figures) = all.map(|reading| reading.summary.figures) else { return Vec::new() };
        let over = |value: Option<f64>, limit: f64| value.filter(|value| *value > limit);
        let upper = figures.fundamental.register.is_some_and(|register| {
            self.profile.target.is_some() && register > self.profile.lowest_register()
        });
        let late = over(figures.response.low_delay_s, lines.slow_low_s).filter(|_| !upper);
        let rattle = over(figures.steadiness.rattle_depth, lines.wild_rattle_depth / 2.0);
        let rattle = figures.steadiness.rattle_hz.zip(rattle);
        [
            over(figures.response.onset_s, lines.slow_onset_s)
                .map(|s| format!("it speaks after {} of breath", seconds(s))),
            late.map(|s| format!("the low octave comes {} after the first tone", seconds(s))),
            words::turns(&figures, self.profile),
            over(figures.steadiness.spread_cents, lines.unsteady_cents)
                .map(|cents| format!("the pitch wanders by {} cents", number(cents, 0))),
            rattle.map(|(hz, depth)| {
                format!("it rattles {} times a second, {} deep", number(hz, 0), percent(depth))
            }),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// Where it was not as the reed came: `, after step 2`.
fn later(after_step: u32) -> String {
    match after_step {
        0 => String::new(),
        number => format!(", {}", stage_name(number)),
    }
}

/// What was done, to somebody who was not there.
fn done(cut: Cut, amount_mm: Option<f64>) -> String {
    let amount = amount_mm.map(|mm| format!(" by {}", millimetres(mm))).unwrap_or_default();
    let what = match cut {
        Cut::Clip => {
            let amount = amount_mm.map(millimetres).unwrap_or_default();
            return format!("clipped {amount} off the end");
        }
        Cut::TipSides => "thinned the sides of the tip",
        Cut::TipCorners => "thinned the corners of the tip",
        Cut::TipSurface => "thinned the whole tip",
        Cut::TipStart => "worked on the step from heart to tip",
        Cut::Heart => "scraped the heart",
        Cut::HeartChannels => "scraped the sides of the heart",
        Cut::Back => "scraped the back",
        Cut::Rails => "scraped the rails",
        Cut::Opening => "pressed the opening into shape",
        Cut::Seal => "sealed a leak",
    };
    format!("{what}{amount}")
}

/// The figures that tell of pitch.
const PITCH: [&str; 2] = ["fundamental.target_cents", "fundamental.hz"];

/// The figures an owner is told; the frequency where there is no target.
const OWNERS: [&str; 6] = [
    "fundamental.target_cents",
    "alignment.cents",
    "response.onset_s",
    "response.low_delay_s",
    "steadiness.spread_cents",
    "steadiness.rattle_depth",
];

fn section(title: &str, lines: Vec<String>) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let list: String = lines.iter().map(|line| format!("- {line}\n")).collect();
    format!("## {title}\n\n{list}\n")
}

/// On one line, with a capital at its head, without a full stop at its end.
fn capital(text: &str) -> String {
    let text = one_line(text);
    let text = text.trim_end_matches('.');
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
