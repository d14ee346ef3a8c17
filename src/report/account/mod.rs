//! The owner's account: what came in, what was found, what was done and what each step changed, how it
//! ended, what to change on the next reeds, what to take care of.
//!
//! What the log holds enters; a [`Letter`] leaves, which is shown as HTML (the master), PDF or text. Its
//! sentences stand in [`words`](crate::words::account), one file for each language.

mod drawing;
mod html;
mod letter;
mod pdf;
mod pictures;
mod reed;
mod text;

pub use html::html;
pub use letter::{Letter, Section, Sender, Table};
pub use pdf::{Paper, pdf};
pub use text::text;

use jiff::tz::TimeZone;

use super::dates::day;
use crate::log::History;
use crate::profile::Profile;
use crate::reed::{Finding, Measurements, findings};
use crate::words::account::{Value, Words};
use crate::words::format::LengthUnit;
use crate::words::format::one_line;

/// Under what the log keeps who sends its accounts.
pub const SENDER: &str = "sender";

/// One reed of an account.
#[derive(Debug, Clone)]
pub struct Told {
    /// Everything of the reed.
    pub history: History,
    /// What it is held to.
    pub profile: Profile,
    /// What is wrong with its making, by its measurements and looks.
    pub findings: Vec<Finding>,
    /// What eyes found on it only when they looked again.
    pub later: Vec<Finding>,
    /// What of all that is still so: nothing was done about it since.
    pub left: Vec<Finding>,
}

/// How an account is written.
#[derive(Debug, Clone, Copy)]
pub struct Manner<'a> {
    /// Its sentences.
    pub words: &'a Words,
    /// Who sends it.
    pub sender: Option<&'a Sender>,
    /// The day it is written, YYYY-MM-DD.
    pub today: &'a str,
    /// In what lengths are told.
    pub unit: LengthUnit,
    /// The maker's zone.
    pub zone: &'a TimeZone,
    /// Whether what the maker noted at the bench stands in it: it was written for no owner's eyes.
    pub with_notes: bool,
}

impl Told {
    /// Of a reed with what it is held to.
    pub fn of(history: History, profile: Profile) -> Self {
        let certain = |sizes| {
            let sizes = history.without_doubted(sizes, profile.tolerance.measuring_mm);
            Measurements::new(sizes).unwrap_or_default()
        };
        let now = certain(*history.measured_now());
        let left = findings(&now, &history.seen_now(), &profile);
        // How it came is what the next ones can be made better by, whatever was mended on this one.
        let came = Measurements::new(history.first_measured()).map_or(now, |came| certain(*came));
        let came_with = findings(&came, &history.first_seen(), &profile);
        let mut later: Vec<Finding> = Vec::new();
        for (_, seen) in history.seen_again() {
            for found in findings(&Measurements::default(), &seen, &profile) {
                if !came_with.iter().chain(&later).any(|known| known.fault == found.fault) {
                    later.push(found);
                }
            }
        }
        Self { history, profile, findings: came_with, later, left }
    }
}

impl Manner<'_> {
    /// A length with its unit.
    fn length(&self, mm: f64) -> String {
        let put = |key, value: String| self.words.say(key, &[("value", value.into())]).text();
        match self.unit {
            LengthUnit::Inches => {
                put("inches", self.words.number(crate::units::Millimetres(mm).inches(), 3))
            }
            _ => {
                let number = self.words.number(mm, if mm.abs() < 10.0 { 2 } else { 1 });
                // 0.30 mm is 0.3 mm; 70.0 mm is 70 mm.
                let decimals = number.contains(['.', ',']);
                let short = number.trim_end_matches('0').trim_end_matches(['.', ',']);
                put("millimetres", if decimals { short.to_owned() } else { number.clone() })
            }
        }
    }

    /// A moment's day, in words.
    fn day(&self, at: &str) -> String {
        self.words.day(&day(at, self.zone))
    }
}

/// A figure in a sentence.
fn figure(text: impl Into<String>) -> Value {
    Value::Figure(text.into())
}

/// The account of one reed or of several.
pub fn letter(reeds: &[Told], manner: Manner<'_>) -> Letter {
    let words = manner.words;
    let several = reeds.len() > 1;
    let told: Vec<reed::Reed<'_>> = reeds.iter().map(|told| reed::Reed::of(told, manner)).collect();
    let title = match reeds {
        [one] => {
            words.say("title-one", &[("reed", one.history.reed.card.label.clone().into())]).text()
        }
        _ => words.say("title-many", &[("count", reeds.len().to_string().into())]).text(),
    };
    let table = several.then(|| Table {
        title: words.plain("compared"),
        head: reed::COLUMNS.iter().map(|column| words.plain(column)).collect(),
        rows: told.iter().map(reed::Reed::row).collect(),
    });
    let mut owners: Vec<&str> = Vec::new();
    for owner in reeds.iter().filter_map(|told| told.history.reed.card.owner.as_deref()) {
        if !owners.contains(&owner) {
            owners.push(owner);
        }
    }
    let owner = words.say("for", &[("owner", one_line(&owners.join(", ")).into())]).text();
    Letter {
        language: words.language.clone(),
        sender: manner.sender.cloned(),
        date: words.day(manner.today),
        owner: (!owners.is_empty()).then_some(owner),
        title,
        table,
        parts: told.iter().map(|reed| reed.part(several)).collect(),
        care: Section { id: "care", title: words.plain("care"), items: reed::care(&told, words) },
        foot: words.say("page", &[("page", "{page}".into()), ("pages", "{pages}".into())]).text(),
    }
}
