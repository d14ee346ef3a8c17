//! The owner's account of one reed: what was found, what was done, how it changed, what to change
//! in the making, what to take care of. Markdown that reads as plain text.

mod changes;
mod words;

use super::format::{LengthUnit, counted, number, one_line, percent, seconds};
use super::history::{a4, conditions, length};
use super::stage::{heard, octaves_off, pitch_in_full, stage_name};
use super::terminal::{Style, words as figures};
use crate::comparison::{Comparison, NoteCode};
use crate::log::{Ending, History, Stage, timeline};
use crate::profile::Profile;
use crate::reading::{Kind, pooled};
use crate::reed::{Corners, Cut, Fault, Finding};

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
    /// In what lengths are told.
    pub unit: LengthUnit,
}

/// Of a reed that was cut, and not only sealed or pressed.
const FRESH: &str = "Cane moves for days after it was cut: play it in for some minutes a day, and \
                     judge it after.";

const SCRAPING: &str = "If you scrape further yourself: away from your fingers, with a plaque \
                        between the blades; cane cannot be put back.";

const CHIPPED: &str = "A corner of the tip was chipped when it was last looked at: a splinter there \
                       can cut a lip. Look before you blow.";

const MOUTHS: &str = "A reed belongs in one mouth: rinse it and disinfect it by your local hygiene \
                      rules before anyone else plays it.";

const MOUTHS_CROWED: &str = "A reed belongs in one mouth. It was crowed here: rinse it and disinfect \
                             it by your local hygiene rules before you play it, and before anyone \
                             else does.";

const SEALED: &str = "A leak was sealed on it. Keep the sealer off your lips as its label says, and \
                      follow local rules.";

impl Account<'_> {
    /// The account, in Markdown, wrapped at the style's width.
    pub fn wrapped(&self, style: &Style) -> String {
        let text = self.text();
        let lines = text.lines().flat_map(|line| match line.strip_prefix("- ") {
            Some(words) => style.wrapped("- ", words),
            None => style.wrapped("", line),
        });
        style.letters(lines.map(|line| line + "\n").collect())
    }

    /// The account, in Markdown, a paragraph to a line.
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
        let complaint = card.complaint.as_deref().map(sentence);
        lines.extend(complaint.map(|words| format!("Your complaint: {words}.")));
        let measured = self.history.measured();
        lines.extend(measured.first().and_then(|measured| {
            let state = measured.state.map_or(String::new(), |state| format!(" {}", state.words()));
            let sizes = self.history.without_doubted(measured.now, self.ruler_mm());
            let sizes = words::sizes(&sizes, self.unit);
            (!sizes.is_empty()).then(|| {
                let when = later(measured.after_step);
                format!("Measured{state}{when}, from the bottom of the staple: {sizes}.")
            })
        }));
        lines.extend(self.doubted());
        let in_order = words::in_order(&self.history.first_seen());
        if !in_order.is_empty() {
            lines.push(format!("Looked over: {}.", in_order.join(", ")));
        }
        let first = self.stages().into_iter().find(|stage| stage.takes > 0);
        lines.extend(first.map(|stage| self.heard(&stage_name(stage.number), &stage)));
        lines.extend(self.findings.iter().map(|finding| format!("{}.", self.says(finding))));
        lines
    }

    fn ruler_mm(&self) -> f64 {
        self.profile.tolerance.measuring_mm
    }

    /// That measurements contradict each other, and that nothing rests on them.
    fn doubted(&self) -> Option<String> {
        let found = self.history.contradictions(self.ruler_mm());
        let each: Vec<String> = found.iter().map(|one| words::apart(one, self.unit)).collect();
        let which = each.join("; ");
        (!each.is_empty()).then(|| {
            format!(
                "Doubtful, since two measurements do not agree: {which}. Nothing rests on them."
            )
        })
    }

    /// What is wrong, or, where it was worked on since, what was.
    fn says(&self, finding: &Finding) -> String {
        let was = words::as_it_was(finding.fault).filter(|_| !self.is_left(finding));
        capital(&self.unit.retold(was.unwrap_or(&finding.says)))
    }

    fn is_left(&self, finding: &Finding) -> bool {
        self.left.iter().any(|left| left.fault == finding.fault)
    }

    fn is_given_up(&self) -> bool {
        self.history.reed.card.ending == Some(Ending::GivenUp)
    }

    fn done(&self) -> Vec<String> {
        let steps = self.history.steps.iter().map(|logged| {
            let note = capital(logged.step.note.as_deref().unwrap_or_default());
            let done =
                logged.step.cut.map(|cut| words::done(cut, logged.step.amount_mm, self.unit));
            match done.zip(logged.number) {
                Some((done, number)) if note.is_empty() => format!("Step {number}: {done}."),
                Some((done, number)) => format!("Step {number}: {done}. {note}."),
                None => format!("Noted: {note}."),
            }
        });
        let mut lines: Vec<String> = steps.collect();
        if lines.is_empty() {
            lines.push("Nothing was done to it.".into());
        }
        lines
    }

    fn changed(&self) -> Vec<String> {
        let stages = self.stages();
        let mut lines = Vec::new();
        if let Some((comparison, (first, last))) = self.comparison {
            if (first, last) != (0, self.history.stage()) {
                let (first, last) = (stage_name(first), stage_name(last));
                lines.push(format!("The crows {first} are compared with those {last}."));
            }
            lines.extend(changes::told(comparison, self.profile));
            let apart = comparison.notes.iter().find(|note| note.code == NoteCode::LevelsApart);
            lines.extend(apart.map(|note| capital(&note.text) + "."));
        }
        let mut blown = stages.iter().filter(|stage| stage.takes > 0);
        if let (Some(first), Some(last)) = (blown.next(), blown.next_back()) {
            if first.crows == 0 && last.crows > 0 {
                lines.insert(0, "It did not crow, and now it does.".to_owned());
            }
            let when = match last.number == self.history.stage() {
                true => "at the end".to_owned(),
                false => format!("last {}", stage_name(last.number)),
            };
            lines.push(self.heard(&when, last));
        }
        let ends = stages.first().and_then(|stage| stage.length);
        if let Some((first, last)) = ends.zip(stages.last().and_then(|stage| stage.length)) {
            // A clip smaller than a ruler tells stands above as what was done.
            let is_shorter = self.unit.text(first.mm) != self.unit.text(last.mm);
            let doubted = self.history.stages_of_doubted_length(self.ruler_mm());
            if first.mm > last.mm && is_shorter && doubted.is_empty() {
                let told = |reached| length(reached, self.unit);
                lines.push(format!("It was {} long and is now {}.", told(first), told(last)));
            }
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
        // The maker's judgement at the instrument, which no measuring of the crow contradicts.
        let why = card
            .ending_note
            .as_ref()
            .map(|note| format!("In the maker's words: {}.", sentence(note)));
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
                "{}{sure}. On the next reed: {}.{}",
                capital(words::short(finding.fault)),
                self.unit.retold(&finding.on_the_next),
                self.on_this_one(finding)
            )
        });
        each.collect()
    }

    /// What came of a fault, or can still be done about it; nothing more of a reed that was given up.
    fn on_this_one(&self, finding: &Finding) -> String {
        let seen = self.history.seen_now();
        match self.is_left(finding) {
            true if self.is_given_up() => String::new(),
            true => format!(" On this one: {}.", self.unit.retold(&finding.on_this_reed)),
            false if words::is_found_mended(finding.fault, &seen) => {
                " On this one it is mended.".to_owned()
            }
            false => match finding.fault {
                Fault::LeakLow | Fault::LeakByHeart => {
                    " It was sealed here, not yet checked.".to_owned()
                }
                _ => " On this one it was worked on, and not looked at since.".to_owned(),
            },
        }
    }

    fn cautions(&self) -> Vec<String> {
        let sealed =
            self.history.steps.iter().any(|logged| {
                logged.step.cut.is_some_and(|cut| cut.of() == crate::reed::Move::Seal)
            });
        let mouths = if self.history.takes.is_empty() { MOUTHS } else { MOUTHS_CROWED };
        let is_cut = Cut::takes_cane;
        let is_fresh = self.history.steps.iter().any(|logged| logged.step.cut.is_some_and(is_cut));
        let of_use = !self.is_given_up();
        // By the last look, whatever was cut since: a clip may leave a splinter.
        let corners = self.history.seen().into_iter().rev().find_map(|seen| seen.now.corners);
        let chipped = corners == Some(Corners::Chipped);
        std::iter::once(mouths)
            .chain(chipped.then_some(CHIPPED))
            .chain((of_use && is_fresh).then_some(FRESH))
            .chain(of_use.then_some(SCRAPING))
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
        let kind = stage.kind.map(figures::kind).unwrap_or_default();
        let pitch = pitch_in_full(stage, self.profile.lowest_note(), a4(card));
        let pitch =
            pitch.map(|pitch| format!("{pitch}{}, ", self.in_tune(stage))).unwrap_or_default();
        let more: String = self.manners(stage).iter().map(|words| format!("; {words}")).collect();
        format!("Crowed {when} ({}{how}): {pitch}{kind}{more}.", heard(stage))
    }

    /// Whether a crow of one tone in the octave it is held to counts as in tune; empty of others.
    fn in_tune(&self, stage: &Stage) -> String {
        let target = self.profile.lowest_note();
        let is_one_tone = matches!(stage.kind, Some(Kind::Octaves | Kind::Blended | Kind::Single));
        let held_to = is_one_tone && octaves_off(stage, target) == 0;
        let Some(off) = stage.target_cents.filter(|_| held_to) else {
            return String::new();
        };
        let limit = self.profile.tolerance.target_cents;
        let counts = number(limit, 0);
        match off.abs() - limit {
            past if past <= 0.0 => format!(" (in tune: up to {counts} count as that)"),
            past if past < 1.0 => format!(" (just past the {counts} that count as in tune)"),
            _ => format!(" (not in tune: up to {counts} count as that)"),
        }
    }

    /// What besides pitch and octaves is plain to hear: a low octave that is late, octaves that take
    /// turns, a rattle, a slow answer, a pitch that wanders.
    fn manners(&self, stage: &Stage) -> Vec<String> {
        let lines = &self.profile.advice;
        let all = pooled(&self.history.readings_at(stage.number));
        let Some(all) = all else { return Vec::new() };
        let heard = &all.summary.figures;
        let over = |value: Option<f64>, limit: f64| value.filter(|value| *value > limit);
        let upper = heard.fundamental.register.is_some_and(|r| self.profile.is_peep(r));
        let late = over(heard.response.low_delay_s, lines.slow_low_s).filter(|_| !upper);
        let rattle = over(heard.steadiness.rattle_depth, lines.wild_rattle_depth / 2.0);
        let rattle = heard.steadiness.rattle_hz.zip(rattle);
        [
            over(heard.response.onset_s, lines.slow_onset_s)
                .map(|s| format!("it speaks after {} of breath", seconds(s))),
            late.map(|s| format!("the low octave comes {} after the first tone", seconds(s))),
            figures::turns(heard, self.profile),
            over(heard.steadiness.spread_cents, lines.unsteady_cents)
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

fn section(title: &str, lines: Vec<String>) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let list: String = lines.iter().map(|line| format!("- {line}\n")).collect();
    format!("## {title}\n\n{list}\n")
}

/// Words as they were written, on one line, without a full stop at their end.
fn sentence(text: &str) -> String {
    one_line(text).trim_end_matches('.').to_owned()
}

/// As [`sentence`], with a capital at its head.
fn capital(text: &str) -> String {
    let text = sentence(text);
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}
