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
        let last = self.facts.way.last().filter(|phase| phase.cut().is_some());
        let mut said = Vec::new();
        if self.is_cut_since_it_crowed() {
            said.push(self.say("not-crowed-last", &[]));
        }
        said.extend(self.changed_in_all());
        // Of a cut that was not crowed after, it says so above.
        let blown = last.filter(|phase| phase.stage.takes > 0);
        said.extend(blown.map(|last| self.heard(last, "crowed-last", "blown-last")));
        said.extend(self.shortened());
        said.push(self.ending());
        let note = self.history().reed.card.ending_note.as_deref().map(noted);
        said.extend(
            note.filter(|note| !note.is_empty())
                .map(|note| self.say("in-makers-words", &[("note", note.into())])),
        );
        said.into_iter().map(Item::from).collect()
    }

    fn ending(&self) -> Sentence {
        let ending = self.words().plain(match self.history().reed.card.ending {
            None => "still-open",
            // What was cut since nobody heard: that it plays was not found.
            Some(Ending::Done) if self.is_cut_since_it_crowed() => "ending-done-not-crowed",
            Some(Ending::Done) => "ending-done",
            Some(Ending::SentBack) => "ending-sent-back",
            Some(Ending::GivenUp) => "ending-given-up",
        });
        match &self.history().reed.ended_at {
            Some(at) => self.say(
                "ended-on",
                &[("ending", ending.into()), ("date", figure(self.manner.day(at)))],
            ),
            None => Sentence::words(ending),
        }
    }

    /// Whether it crowed since it came last, and was not blown after its last cut.
    fn is_cut_since_it_crowed(&self) -> bool {
        let is_unheard = |last: &Phase| last.cut().is_some() && last.stage.takes == 0;
        self.facts.way.last().is_some_and(is_unheard)
            && self.blown_lately().any(|phase| phase.stage.crows > 0)
    }

    /// What changed from the first crows to the last; told as past where those are not of the reed as it
    /// ended.
    fn changed_in_all(&self) -> Vec<Sentence> {
        let crowed: Vec<&Phase> =
            self.blown_lately().filter(|phase| phase.stage.crows > 0).collect();
        let [first, .., last] = crowed.as_slice() else { return Vec::new() };
        let Some((was, is)) = self.comparable(&first.stage, &last.stage) else {
            return Vec::new();
        };
        let is_past =
            self.facts.way.last().is_some_and(|phase| phase.stage.number != last.stage.number);
        let mut said = Vec::new();
        // Of two stages the step between them says it already.
        if crowed.len() > 2 {
            let which = if is_past { "until-last" } else { "over-all" };
            let by = whole(is) - whole(was);
            said.extend(self.moved(which, by, true, &first.stage, &last.stage));
        }
        if let (Some(before), Some(after)) = (self.kind(&first.stage), self.kind(&last.stage))
            && before != after
        {
            let key = if is_past { "kind-had-changed" } else { "kind-changed" };
            said.push(self.say(key, &[("before", before.into()), ("after", after.into())]));
        }
        let key = if is_past { "had-changed" } else { "changed" };
        said.extend(self.manners_changed(key, first.stage.number, last.stage.number));
        said
    }

    /// What else changed for sure from one stage to another, and by what matters.
    ///
    /// * `which`: what the names of its sentences begin with.
    fn manners_changed(&self, which: &str, first: u32, last: u32) -> Vec<Sentence> {
        let readings = |stage| -> Vec<Reading> {
            self.history().readings_at(stage).into_iter().cloned().collect()
        };
        let compared = compare(&readings(first), &readings(last), &self.told.profile);
        let told = MANNERS.iter().filter_map(|(path, places)| {
            let mut changes = compared.changes.iter();
            let change = changes
                .find(|change| change.figure == *path && change.matters(&self.told.profile))?;
            let number = |value: f64| figure(self.words().number(value.abs(), *places));
            let key = format!("{which}-{}", path.replace(['.', '_'], "-"));
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
