//! What is asked of the log from the bench's page, and the answers: tables, sentences and pictures.

use std::collections::HashMap;
use std::path::Path;

use jiff::tz::TimeZone;
use serde::Deserialize;

use crate::clock;
use crate::log::questions::{self, Condition, Field, Liked, Question};
use crate::log::{Card, Facts, Log, LoggedReed, Query, State, is_practice, timeline};
use crate::profile::{self, Profile};
use crate::reed::Cut;
use crate::report::answers::{self, Answer, Block, Show};
use crate::report::history::sheet;
use crate::report::plots::{
    PictureFormat, WayOf, condition_picture, cuts_picture, groups_picture, history_picture,
    kinds_picture, trust_picture,
};
use crate::report::terminal::Style;
use crate::words::format::LengthUnit;

/// What was asked, as an address says it.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Asked {
    /// The question.
    pub ask: Question,
    /// By what reeds are grouped, or cuts parted.
    pub by: Option<Field>,
    /// A kind of cut by its code; empty for all.
    pub cut: String,
    /// A condition.
    pub with: Option<Condition>,
    /// What counts as a good reed.
    pub of: Option<Liked>,
    /// Words of an owner's name.
    pub owner: String,
    /// The label of a reed.
    pub reed: String,
}

/// The answer, and whether a picture goes with it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Told {
    /// Tables and sentences.
    pub answer: Answer,
    /// Whether [`picture`] draws one.
    pub has_picture: bool,
}

impl Asked {
    fn cut(&self) -> Option<Cut> {
        Cut::named(&self.cut)
    }

    /// By what reeds are grouped.
    pub fn by(&self) -> Field {
        self.by.unwrap_or(Field::Cane)
    }

    /// The condition that is drawn.
    pub fn with(&self) -> Condition {
        self.with.unwrap_or(Condition::Temperature)
    }

    /// What counts as a good reed.
    pub fn of(&self) -> Liked {
        self.of.unwrap_or(Liked::All)
    }

    fn query(&self) -> Query {
        match self.ask {
            Question::Waiting => Query { state: Some(State::Open), ..Query::default() },
            Question::Owner if !self.owner.trim().is_empty() => {
                Query { owner: vec![self.owner.clone()], ..Query::default() }
            }
            _ => Query::default(),
        }
    }

    /// Those for practice count for no answer but the list of reeds.
    fn facts(&self, log: &Log) -> anyhow::Result<Vec<Facts>> {
        let query = self.query();
        let counts =
            |reed: &LoggedReed| self.ask == Question::Owner || !is_practice(&reed.card.label);
        Ok(log.facts(|reed| query.matches(reed) && counts(reed))?.whole)
    }
}

/// The profile of a card; `None` of one that can no longer be read.
///
/// * `usual`: what a reed is held to whose card does not say.
fn held_to(card: &Card, usual: &Profile) -> Option<Profile> {
    match &card.profile {
        Some(name) => profile::load(name).ok(),
        None => Some(usual.clone()),
    }
}

/// The answer by the log at `path`.
///
/// * `usual`: what a reed is held to whose card does not say.
///
/// Errors: a log that cannot be read, no such reed.
pub fn answer(path: &Path, asked: &Asked, usual: &Profile) -> anyhow::Result<Told> {
    let log = Log::open_existing(path)?;
    let zone = TimeZone::system();
    let show = Show { unit: LengthUnit::Millimetres, zone: &zone };
    let told = |answer, has_picture| Told { answer, has_picture };
    Ok(match asked.ask {
        Question::Waiting => {
            let next = log.next_moves(|card| held_to(card, usual));
            let found = questions::waiting(&asked.facts(&log)?, next, &clock::now()?);
            told(answers::bench(&found, show), false)
        }
        Question::Groups => {
            let found = questions::groups(&asked.facts(&log)?, asked.by());
            told(answers::groups(&found), !found.groups.is_empty())
        }
        Question::Cuts => {
            let found = questions::cuts(&asked.facts(&log)?, asked.cut(), asked.by);
            let listed = asked.cut().is_some();
            told(answers::cuts(&found, listed, show), !found.cuts.is_empty())
        }
        Question::Conditions => {
            let found = questions::conditions(&asked.facts(&log)?, &Condition::ALL);
            let any = found.influences.iter().any(|one| one.condition == asked.with());
            told(answers::conditions(&found), any)
        }
        Question::Trust => {
            let found = trust(&log, asked, usual)?;
            told(answers::trust(&found, false), !found.all.is_empty())
        }
        Question::Likes => {
            let rated = log.rated(|_| true)?.whole;
            told(answers::likes(&questions::likes(&rated, asked.of(), None)), false)
        }
        Question::Owner => {
            let target = |card: &Card| held_to(card, usual).and_then(|held| held.lowest_note());
            told(answers::reeds(&asked.facts(&log)?, target, show), false)
        }
        Question::Way if asked.reed.is_empty() => Told::default(),
        Question::Way => {
            let history = log.history(&asked.reed)?;
            let held = held_to(&history.reed.card, usual).unwrap_or_default();
            let text = sheet(&history, &held, show.unit, &Style::default(), &zone);
            told(Answer(vec![Block::Plain(text)]), true)
        }
    })
}

fn trust(log: &Log, asked: &Asked, usual: &Profile) -> anyhow::Result<questions::TrustAnswer> {
    let mut known: HashMap<Option<String>, f64> = HashMap::new();
    let tolerance = |card: &Card| {
        let of = || held_to(card, usual).map_or(0.0, |held| held.tolerance.target_cents);
        *known.entry(card.profile.clone()).or_insert_with(of)
    };
    Ok(questions::trust(&asked.facts(log)?, tolerance))
}

/// The picture that goes with the answer; `None` where none does.
///
/// Errors: as [`answer`].
pub fn picture(path: &Path, asked: &Asked, usual: &Profile) -> anyhow::Result<Option<Vec<u8>>> {
    let log = Log::open_existing(path)?;
    let (zone, format) = (TimeZone::system(), PictureFormat::Svg);
    Ok(match asked.ask {
        Question::Waiting | Question::Likes | Question::Owner => None,
        Question::Groups => {
            Some(groups_picture(&questions::groups(&asked.facts(&log)?, asked.by()), format)?)
        }
        Question::Cuts => {
            let found = questions::cuts(&asked.facts(&log)?, asked.cut(), asked.by);
            Some(match asked.cut() {
                Some(cut) => cuts_picture(&found, cut, &zone, format)?,
                None => kinds_picture(&found, format)?,
            })
        }
        Question::Conditions => {
            let found = questions::conditions(&asked.facts(&log)?, &[asked.with()]);
            let first = found.influences.first();
            first.map(|found| condition_picture(found, &zone, format)).transpose()?
        }
        Question::Trust => Some(trust_picture(&trust(&log, asked, usual)?, format)?),
        Question::Way => {
            let history = log.history(&asked.reed)?;
            let held = held_to(&history.reed.card, usual).unwrap_or_default();
            let doubted = history.stages_of_doubted_length(held.tolerance.measuring_mm);
            let of = WayOf { label: &history.reed.card.label, came: &history.reed.at, zone: &zone };
            let target = held.lowest_note().map(|note| (note, held.tolerance.target_cents));
            let unit = LengthUnit::Millimetres;
            Some(history_picture(of, &timeline(&history), target, &doubted, unit, format)?)
        }
    })
}
