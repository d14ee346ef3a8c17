//! How the work ended, and what it changed in all.

use super::{Reed, noted, whole};
use crate::comparison::compare;
use crate::log::{Ending, Phase};
use crate::reading::Reading;
use crate::report::account::figure;
use crate::report::account::letter::Item;
use crate::words::account::Sentence;

/// Figures besides pitch whose change an owner hears, with their decimals.
const MANNERS: [(&str, usize); 4] = [
    ("response.low_delay_s", 2),
    ("response.onset_s", 2),
    ("steadiness.spread_cents", 0),
    ("alignment.cents", 0),
];

impl Reed<'_> {
    pub(super) fn ended(&self) -> Vec<Item> {
        let card = &self.history().reed.card;
        let mut said = Vec::new();
        let crowed: Vec<&Phase> =
            self.blown_lately().filter(|phase| phase.stage.crows > 0).collect();
        if let ([first, .., last], Some((was, is))) = (
            crowed.as_slice(),
            crowed
                .first()
                .zip(crowed.last())
                .and_then(|(a, b)| self.comparable(&a.stage, &b.stage)),
        ) {
            let by = whole(is) - whole(was);
            // Of two stages the step between them says it already.
            let several = crowed.len() > 2;
            said.extend(
                several
                    .then(|| self.moved("over-all", by, true, &first.stage, &last.stage))
                    .flatten(),
            );
            if let (Some(before), Some(after)) = (self.kind(&first.stage), self.kind(&last.stage))
                && before != after
            {
                let values = [("before", before.into()), ("after", after.into())];
                said.push(self.say("kind-changed", &values));
            }
            said.extend(self.manners_changed(first.stage.number, last.stage.number));
        }
        // Of a cut that was not crowed after, its step says so.
        let last = self.facts.way.last().filter(|phase| phase.stage.takes > 0);
        let last = last.filter(|phase| phase.cut().is_some());
        said.extend(last.map(|last| self.heard(last, "crowed-last", "blown-last")));
        said.extend(self.shortened());
        let ending = self.words().plain(match card.ending {
            None => "still-open",
            Some(Ending::Done) => "ending-done",
            Some(Ending::SentBack) => "ending-sent-back",
            Some(Ending::GivenUp) => "ending-given-up",
        });
        said.push(match &self.history().reed.ended_at {
            Some(at) => self.say(
                "ended-on",
                &[("ending", ending.into()), ("date", figure(self.manner.day(at)))],
            ),
            None => Sentence::words(ending),
        });
        if let Some(note) = &card.ending_note {
            said.push(self.say("in-makers-words", &[("note", noted(note).into())]));
        }
        said.into_iter().map(Item::from).collect()
    }

    /// What else changed for sure from one stage to another, and by what matters.
    fn manners_changed(&self, first: u32, last: u32) -> Vec<Sentence> {
        let readings = |stage| -> Vec<Reading> {
            self.history().readings_at(stage).into_iter().cloned().collect()
        };
        let compared = compare(&readings(first), &readings(last), &self.told.profile);
        let told = MANNERS.iter().filter_map(|(path, places)| {
            let mut changes = compared.changes.iter();
            let change = changes
                .find(|change| change.figure == *path && change.matters(&self.told.profile))?;
            let number = |value: f64| figure(self.words().number(value.abs(), *places));
            let key = format!("changed-{}", path.replace(['.', '_'], "-"));
            let values = [("before", number(change.before)), ("after", number(change.after))];
            Some(self.say(&key, &values))
        });
        told.collect()
    }

    fn shortened(&self) -> Option<Sentence> {
        let ruler_mm = self.told.profile.tolerance.measuring_mm;
        if !self.history().stages_of_doubted_length(ruler_mm).is_empty() {
            return None;
        }
        let first = self.facts.way.first()?.stage.length?;
        let last = self.facts.way.last()?.stage.length?;
        let (before, after) = (self.manner.length(first.mm), self.manner.length(last.mm));
        (first.mm > last.mm && before != after).then(|| {
            self.say("length-now", &[("before", figure(before)), ("after", figure(after))])
        })
    }
}
