//! What was done, and what each step changed.

use super::{Reed, code, noted, whole};
use crate::log::{LoggedStep, Phase, Stage};
use crate::reed::Cut;
use crate::report::account::drawing::Drawing;
use crate::report::account::letter::Item;
use crate::report::account::{figure, pictures};
use crate::words::account::{Sentence, joined};
use crate::words::format::capital;

/// Cents to either side of the target that a step's picture shows at least, and by what steps it grows.
const REACH_CENTS: f64 = 50.0;

/// Changes of pitch up to this count as none where the profile does not say, in cents.
const SAME_CENTS: f64 = 5.0;

impl Reed<'_> {
    pub(super) fn done(&self) -> Vec<Item> {
        let reach = self.reach();
        let mut items = Vec::new();
        for logged in &self.history().steps {
            let note = logged
                .step
                .note
                .as_deref()
                .filter(|_| self.manner.with_notes)
                .map(|note| self.say("note", &[("note", capital(&noted(note)).into())]));
            if logged.step.is_return() {
                items.push(self.came_back(logged).into());
                continue;
            }
            let Some((cut, number)) = logged.step.cut.zip(logged.number) else {
                items.extend(note.map(Item::from));
                continue;
            };
            let place = self.facts.way.iter().position(|phase| phase.stage.number == number);
            let (before, after) = place.map_or((None, None), |at| {
                (
                    self.blown_before(at).or(self.facts.way.get(at.wrapping_sub(1))),
                    self.facts.way.get(at),
                )
            });
            let pair = before.zip(after);
            let mut said = self.say(
                "step",
                &[
                    ("number", number.to_string().into()),
                    ("date", figure(self.manner.day(&logged.at))),
                    ("done", self.did(cut, logged.step.amount_mm).into()),
                ],
            );
            if let Some(note) = note {
                said = said.and(note);
            }
            if let Some(changed) = pair.and_then(|(before, after)| self.led_to(before, after)) {
                said = said.and(changed);
            }
            said = joined([said, self.looked_after(number)], " ");
            let picture = pair.and_then(|(before, after)| self.picture(before, after, reach));
            items.push(Item { sentence: said, picture });
        }
        if items.is_empty() {
            items.push(self.say("nothing-done", &[]).into());
        }
        items
    }

    /// That it came back, how it crowed and what was seen then.
    fn came_back(&self, logged: &LoggedStep) -> Sentence {
        let said = self.say("came-back", &[("date", figure(self.manner.day(&logged.at)))]);
        let mut way = self.facts.way.iter();
        let blown = way.find(|phase| Some(phase.stage.number) == logged.number);
        let blown = blown.filter(|phase| phase.stage.takes > 0);
        let crowed = blown.map(|phase| self.heard(phase, "crowed-back", "blown-back"));
        let looked = logged.number.map(|number| self.looked_after(number));
        joined([said].into_iter().chain(crowed).chain(looked), " ")
    }

    /// The last phase before that place of the way in which it was blown, since it came last.
    fn blown_before(&self, at: usize) -> Option<&Phase> {
        let before = self.facts.way.get(..at)?;
        let came = before.iter().rposition(Phase::is_return).unwrap_or(0);
        before.get(came..)?.iter().rfind(|phase| phase.stage.takes > 0)
    }

    /// What the steps from one phase to another changed together; `None` where nothing is told of it.
    fn led_to(&self, before: &Phase, after: &Phase) -> Option<Sentence> {
        let changed = self.changed(before, after);
        if changed.is_empty() {
            return None;
        }
        let said = joined(changed, " ");
        let (first, last) = (before.stage.number + 1, after.stage.number);
        if after.stage.takes == 0 || first >= last {
            return Some(said);
        }
        let key = if last - first == 1 { "of-two-steps" } else { "of-several-steps" };
        let numbers = [("first", first.to_string().into()), ("last", last.to_string().into())];
        Some(self.say(key, &numbers).and(said))
    }

    fn did(&self, cut: Cut, amount_mm: Option<f64>) -> Sentence {
        let amount = amount_mm.map(|mm| figure(self.manner.length(mm)));
        let amount = amount.unwrap_or_else(|| "".into());
        self.words().cut(&code(cut), &[("amount", amount)])
    }

    /// What one step changed.
    fn changed(&self, before: &Phase, after: &Phase) -> Vec<Sentence> {
        let Some(changed) = after.changed_from(before, self.history()) else {
            let said = match (before.stage.crows, after.stage.takes, after.stage.crows) {
                (0, _, 1..) if before.stage.takes > 0 => Some("crow-came"),
                (1.., 0, _) => Some("not-crowed"),
                _ => None,
            };
            return said.map(|key| self.say(key, &[])).into_iter().collect();
        };
        if after.stage.crows == 0 {
            return vec![self.say("crow-lost", &[])];
        }
        let mut said: Vec<Sentence> = Vec::new();
        if let Some((was, is)) = self.comparable(&before.stage, &after.stage) {
            let by = whole(is) - whole(was);
            let sure = changed.ci95_cents.is_some_and(|half| f64::from(by).abs() > half);
            said.extend(self.moved("pitch", by, sure, &before.stage, &after.stage));
        }
        match (changed.octaves_before, changed.octaves_after) {
            (Some(false), Some(true)) => said.push(self.say("octaves-came", &[])),
            (Some(true), Some(false)) => said.push(self.say("octaves-lost", &[])),
            _ => {}
        }
        said
    }

    /// How the pitch went from one stage to another. It is told as it was crowed on both sides, and the
    /// change is the difference of the two, so that the figures agree with each other.
    pub(super) fn moved(
        &self,
        which: &str,
        by: i32,
        sure: bool,
        before: &Stage,
        after: &Stage,
    ) -> Option<Sentence> {
        let matters = self.told.profile.smallest_change("fundamental.target_cents");
        let matters = matters.unwrap_or(SAME_CENTS);
        let key = match (f64::from(by.abs()) <= matters, sure) {
            (true, _) => "same",
            (false, false) => "unsure",
            (false, true) if by > 0 => "rose",
            (false, true) => "fell",
        };
        // Of the whole way nothing is said that is not sure.
        if which != "pitch" && key == "unsure" {
            return None;
        }
        Some(self.say(
            &format!("{which}-{key}"),
            &[
                ("cents", figure(by.abs().to_string())),
                ("before", self.pitch(before)?.into()),
                ("after", self.pitch(after)?.into()),
            ],
        ))
    }

    /// How far a step's picture reaches, the same for all of a reed.
    fn reach(&self) -> f64 {
        let furthest = self.facts.way.iter().filter_map(|phase| phase.stage.target_cents);
        let furthest = furthest.map(f64::abs).fold(REACH_CENTS, f64::max);
        (furthest / REACH_CENTS).ceil() * REACH_CENTS
    }

    fn picture(&self, before: &Phase, after: &Phase, reach: f64) -> Option<Drawing> {
        let (was, is) = self.comparable(&before.stage, &after.stage)?;
        let tolerance = self.told.profile.tolerance.target_cents;
        Some(pictures::step(was, is, tolerance, reach, self.words()))
    }
}
