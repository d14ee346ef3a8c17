//! One reed's part of an account: what is said of it, section by section, and its line in a table.

mod care;
mod done;
mod ended;
mod found;
mod heard;
mod looked;
mod next;

use super::drawing::Drawing;
use super::letter::{Item, Part, Section};
use super::{Manner, Told, pictures};
use crate::log::{Ending, Facts, History, Phase, Stage, Wetness};
use crate::reed::{Finding, Sizes};
use crate::words::account::{Sentence, Value, Words};
use crate::words::stage::octaves_off;

pub(super) use care::care;

/// The columns of the table of several reeds, by their names among the words.
pub(super) const COLUMNS: [&str; 8] = [
    "column-reed",
    "column-came",
    "column-steps",
    "column-before",
    "column-after",
    "column-octaves",
    "column-length",
    "column-ending",
];

/// One reed with what is said of it.
pub(super) struct Reed<'a> {
    told: &'a Told,
    manner: Manner<'a>,
    facts: Facts,
}

/// The code of a fieldless value, as it stands in JSON.
fn code(value: impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(code)) => code,
        _ => String::new(),
    }
}

impl<'a> Reed<'a> {
    pub(super) fn of(told: &'a Told, manner: Manner<'a>) -> Self {
        Self { told, manner, facts: Facts::of(&told.history) }
    }

    fn history(&self) -> &History {
        &self.told.history
    }

    fn words(&self) -> &Words {
        self.manner.words
    }

    fn say(&self, key: &str, values: &[(&str, Value)]) -> Sentence {
        self.words().say(key, values)
    }

    fn blown(&self) -> impl DoubleEndedIterator<Item = &Phase> {
        self.facts.way.iter().filter(|phase| phase.stage.takes > 0)
    }

    /// The same since the reed came last.
    fn blown_lately(&self) -> impl DoubleEndedIterator<Item = &Phase> {
        self.facts.since_it_came().iter().filter(|phase| phase.stage.takes > 0)
    }

    pub(super) fn part(&self, several: bool) -> Part {
        let label = self.history().reed.card.label.clone();
        let title = several.then(|| self.say("title-one", &[("reed", label.into())]).text());
        let section = |id: &'static str, items: Vec<Item>| Section {
            id,
            title: self.words().plain(id),
            items,
        };
        let sections = [
            section("found", self.found()),
            section("done", self.done()),
            section("ended", self.ended()),
            section("next", self.next()),
        ];
        Part {
            title,
            drawing: self.drawing(),
            sections: sections.into_iter().filter(|section| !section.items.is_empty()).collect(),
        }
    }

    /// The reed as it was first measured, corrected values and all.
    fn drawing(&self) -> Option<(Drawing, String)> {
        let sizes = self.first_sizes()?.1;
        let (words, manner) = (self.words(), self.manner);
        let usual = &self.told.profile.dimensions;
        let drawing = pictures::reed(&sizes, usual, words, |mm| manner.length(mm))?;
        Some((drawing, words.plain("drawing")))
    }

    /// The stage of the first measurements, and those that nothing contradicts.
    fn first_sizes(&self) -> Option<(u32, Sizes, Option<Wetness>)> {
        let ruler_mm = self.told.profile.tolerance.measuring_mm;
        let first = self.history().measured().into_iter().next()?;
        let sizes = self.history().without_doubted(first.now, ruler_mm);
        Some((first.after_step, sizes, first.state))
    }

    /// Both pitches, where both sound in the same octave.
    fn comparable(&self, before: &Stage, after: &Stage) -> Option<(f64, f64)> {
        let target = self.told.profile.lowest_note();
        let alike = octaves_off(before, target) == octaves_off(after, target);
        before.target_cents.zip(after.target_cents).filter(|_| alike)
    }

    fn is_left(&self, finding: &Finding) -> bool {
        self.told.left.iter().any(|left| left.fault == finding.fault)
    }

    fn is_given_up(&self) -> bool {
        self.history().reed.card.ending == Some(Ending::GivenUp)
    }

    fn is_done(&self) -> bool {
        self.history().reed.card.ending == Some(Ending::Done)
    }

    /// Its line in the table of several reeds.
    pub(super) fn row(&self) -> Vec<String> {
        let card = &self.history().reed.card;
        let words = self.words();
        let short = |stage: &Stage| -> String {
            match stage.target_cents.map(whole) {
                Some(cents) if octaves_off(stage, self.told.profile.lowest_note()) == 0 => {
                    let key = if cents < 0 { "short-flat" } else { "short-sharp" };
                    let value = ("cents", Value::from(cents.unsigned_abs().to_string()));
                    words.say(key, &[value]).text()
                }
                _ => self.pitch(stage).map(|pitch| pitch.text()).unwrap_or_default(),
            }
        };
        let first = self.blown_lately().find(|phase| phase.stage.crows > 0);
        let last = self.facts.way.last();
        // A reed that no longer crows has no pitch, least of all the one it had.
        let now = |stage: &Stage| match (stage.crows, stage.takes_of_air) {
            (0, 0) if stage.takes == 0 && first.is_some() => words.plain("short-not-crowed"),
            (0, 0) if stage.takes == 0 => String::new(),
            (0, 0) => words.plain("no-crow-silent"),
            (0, _) => words.plain("no-crow-air"),
            _ => short(stage),
        };
        let length = self.facts.way.last().and_then(|phase| phase.stage.length);
        let ending = match card.ending {
            None => "short-open",
            Some(Ending::Done) => "short-done",
            Some(Ending::SentBack) => "short-sent-back",
            Some(Ending::GivenUp) => "short-given-up",
        };
        vec![
            card.label.clone(),
            self.manner.day(&self.history().reed.at),
            self.facts.cuts().to_string(),
            first.map(|phase| short(&phase.stage)).unwrap_or_default(),
            last.map(|phase| now(&phase.stage)).unwrap_or_default(),
            last.and_then(|phase| self.kind(&phase.stage)).unwrap_or_default(),
            length.map(|length| self.manner.length(length.mm)).unwrap_or_default(),
            words.plain(ending),
        ]
    }
}

/// Cents as they are shown.
fn whole(cents: f64) -> i32 {
    cents.round() as i32
}

/// Words as they were written, on one line, without a full stop at their end.
fn noted(text: &str) -> String {
    crate::words::format::one_line(text).trim_end_matches('.').to_owned()
}
