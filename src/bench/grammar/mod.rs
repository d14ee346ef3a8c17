//! What may be said at the bench: typed at the prompt, pressed on the page, or written behind `reed
//! step`, `reed inspect` and `reed measure`. The words stand in tables here, once.
//!
//! A line is read whole or refused with the nearest right form: nothing said ever becomes another entry.

mod help;
mod meant;
mod tables;
#[cfg(test)]
mod tests;

pub(crate) use help::{help, help_on_cuts, help_on_looks, help_on_rating, help_on_sizes};
pub use tables::phrases;
pub(crate) use tables::{ENDINGS, HEARD, SIZES, answered_by, cuts};

use crate::log::{CardField, Ending, Grade, HeardAs, Rated, Rating, Step};
use crate::reed::{Cut, Inspection, LOOKS, LookWords, Row, Sizes, WORK};
use crate::units::{LengthError, Millimetres, is_unit};
use crate::words::prompt::{help as words, incomplete};
use tables::ALONE;

/// Something said at the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A cut, or a note.
    Step(Step),
    /// What was seen.
    Look(Inspection),
    /// What was measured.
    Measure(Sizes),
    /// What the maker hears of the last crow.
    Heard(HeardAs),
    /// How good the reed is, and who says so where it is not the maker.
    Rate(Rating, Option<String>),
    /// What was set aside last was the reed: read it as a crow.
    Keep,
    /// The work on the reed is over, and why.
    Close(Ending, Option<String>),
    /// It is not over after all.
    Reopen,
    /// Write the account for the owner; with the maker's notes or without.
    Account {
        /// Whether they stand in it.
        with_notes: bool,
    },
    /// Tell the reed against the model.
    Model,
    /// The reed on the bench is the model from now on.
    ThisIsModel,
    /// Take the last entry back.
    Undo,
    /// Make it again.
    Redo,
    /// Show the way so far.
    Way,
    /// Explain the next move.
    Why,
    /// Stop listening, or go on.
    Pause,
    /// Go on listening.
    GoOn,
    /// What the card of the reed on the bench says there.
    Card(CardField, String),
    /// Put the reed of that name on the bench.
    Reed(String),
    /// Put the next waiting reed on the bench.
    Next,
    /// Enter a new reed and put it on the bench.
    New(String),
    /// Enter a new reed with the card of the one on the bench.
    Like(String),
    /// Sound takes of the reed: one, or two in turn; the last where none is named.
    Play(Vec<u32>),
    /// Sound the target note.
    Tone,
    /// Crow a practice take in place of the microphone.
    Practice(String),
    /// Check the microphone, or end its check.
    Check,
    /// Listen to a microphone: the named one, or the default.
    Listen(String),
    /// Show what may be said.
    Help,
    /// End.
    Quit,
}

/// Why a line is not an entry. Nothing was written down.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// Not a line of the grammar; as typed.
    #[error("{}", meant::not_understood(.0))]
    Unknown(String),
    /// An amount or length that is none.
    #[error("{}", words::nothing_written(.0))]
    Length(#[from] LengthError),
    /// No kind of work; as typed.
    #[error("{}", meant::no_such_work(.0))]
    NoWork(String),
    /// Wants something after it.
    #[error("{}", words::nothing_written(.0))]
    Incomplete(&'static str),
    /// Is no entry of the bench but a command, which is named.
    #[error("{}", words::nothing_written(.0))]
    Command(&'static str),
}

impl Refusal {
    /// In words, where `shown_by` says what shows all that may be said.
    ///
    /// * `before`: what was put before the line that was typed.
    pub fn told(&self, before: &str, shown_by: &str) -> String {
        match self {
            Self::Unknown(said) => meant::not_understood_in(said, before, shown_by),
            Self::Length(_) | Self::NoWork(_) | Self::Incomplete(_) | Self::Command(_) => {
                self.to_string()
            }
        }
    }
}

/// The kind of work that `words` name, without an amount; also what only earlier logs hold.
///
/// Errors: there is none of that name.
pub fn kind_of_work(words: &[String]) -> Result<Cut, Refusal> {
    let phrase = words.join(" ").to_lowercase();
    let found = WORK.iter().find(|row| is_called(row, &phrase));
    found.map(|row| row.cut).ok_or_else(|| Refusal::NoWork(words.join(" ")))
}

fn is_called(row: &Row, phrase: &str) -> bool {
    [row.words, row.code, row.letters].contains(&phrase)
}

/// Reads one line; `None` for an empty one.
pub fn parse(line: &str) -> Result<Option<Entry>, Refusal> {
    let line = line.trim();
    if line.is_empty() {
        return Ok(None);
    }
    if let Some(entry) = with_free_words(line)? {
        return Ok(Some(entry));
    }
    let (head, words) = match line.split_once(':') {
        Some((head, words)) => (head, Some(words.trim())),
        None => (line, None),
    };
    let head = head.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>();
    let head = with_units(&head);
    let phrase = head.join(" ");
    let words = words.filter(|words| !words.is_empty()).map(str::to_owned);
    if let Some(step) = step(&head, &phrase, words.clone())? {
        return Ok(Some(Entry::Step(step)));
    }
    if let Some((_, ending)) = ENDINGS.iter().find(|(phrase_of, _)| *phrase_of == phrase) {
        return Ok(Some(Entry::Close(*ending, words)));
    }
    let refused = || Refusal::Unknown(line.to_owned());
    if words.is_some() {
        return Err(refused());
    }
    if let Some((_, _, entry)) =
        ALONE.iter().find(|(whole, short, _)| [*whole, *short].contains(&phrase.as_str()))
    {
        return Ok(Some(entry.clone()));
    }
    if let Some(seen) = looks(&head)? {
        return Ok(Some(Entry::Look(seen)));
    }
    if let ["heard", heard] = head.iter().map(String::as_str).collect::<Vec<_>>().as_slice()
        && let Some(row) = HEARD.iter().find(|row| row.word == *heard)
    {
        return Ok(Some(Entry::Heard(row.heard)));
    }
    if let ["play", numbers @ ..] = head.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        let numbers: Result<Vec<u32>, _> = numbers.iter().map(|number| number.parse()).collect();
        return match numbers {
            Ok(numbers) if numbers.len() <= 2 => Ok(Some(Entry::Play(numbers))),
            _ => Err(Refusal::Incomplete(incomplete::PLAY)),
        };
    }
    sizes(&head)?.map(|sizes| Some(Entry::Measure(sizes))).ok_or_else(refused)
}

/// What is said with words of the maker's own after it, which keep their capitals.
fn with_free_words(line: &str) -> Result<Option<Entry>, Refusal> {
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim();
    let named = |entry: fn(String) -> Entry, wanted: &'static str| match rest {
        "" => Err(Refusal::Incomplete(wanted)),
        name => Ok(Some(entry(name.to_owned()))),
    };
    let word = word.to_lowercase();
    if let Some(field) = CardField::ALL.into_iter().find(|field| field.code() == word) {
        return match rest {
            "" => Err(Refusal::Incomplete(incomplete::card(field))),
            words => Ok(Some(Entry::Card(field, words.to_owned()))),
        };
    }
    match word.as_str() {
        "n" | "note" => match rest {
            "" => Err(Refusal::Incomplete(incomplete::NOTE)),
            words => Ok(Some(Entry::Step(Step::note(words)))),
        },
        "reed" => named(Entry::Reed, incomplete::REED),
        "new" => named(Entry::New, incomplete::NEW),
        "like" => named(Entry::Like, incomplete::LIKE),
        "practice" => named(Entry::Practice, incomplete::PRACTICE),
        "rate" => rate(rest).map(Some),
        "correct" => Err(Refusal::Command(words::CORRECT)),
        "listen" => Ok(Some(Entry::Listen(rest.to_owned()))),
        _ => Ok(None),
    }
}

/// Grades, each behind the side that has it, how long the reed lived, and who says so.
fn rate(said: &str) -> Result<Entry, Refusal> {
    const WANTED: Refusal = Refusal::Incomplete(incomplete::RATE);
    let mut words = said.split_whitespace().peekable();
    let (mut rating, mut by) = (Rating::default(), None);
    while let Some(word) = words.next() {
        let word = word.to_lowercase();
        if word == "by" {
            by = Some(words.by_ref().collect::<Vec<_>>().join(" "));
            break;
        }
        let value = words.next().ok_or(WANTED)?.to_lowercase();
        let is_twice = if word == "lived" {
            let hours =
                value.trim_end_matches('h').replace(',', ".").parse().map_err(|_| WANTED)?;
            words.next_if(|unit| ["h", "hours", "hour"].contains(unit));
            rating.lived_hours.replace(hours).is_some()
        } else {
            let side = Rated::ALL.into_iter().find(|side| side.code() == word).ok_or(WANTED)?;
            let is_meant =
                |grade: &Grade| grade.code() == value || grade.number().to_string() == value;
            let grade = Grade::ALL.into_iter().find(is_meant).ok_or(WANTED)?;
            rating.of_mut(side).replace(grade).is_some()
        };
        if is_twice {
            return Err(Refusal::Incomplete(incomplete::RATED_TWICE));
        }
    }
    match rating == Rating::default() || by.as_deref() == Some("") {
        true => Err(WANTED),
        false => Ok(Entry::Rate(rating, by)),
    }
}

/// Words with each unit joined to the number before it: `70.2 mm` is one length.
pub(crate) fn with_units(words: &[String]) -> Vec<String> {
    let mut joined: Vec<String> = Vec::new();
    for word in words {
        match joined.last_mut() {
            Some(number) if is_unit(word) && number.ends_with(|c: char| c.is_ascii_digit()) => {
                *number += &format!(" {word}");
            }
            _ => joined.push(word.clone()),
        }
    }
    joined
}

/// A cut with its amount.
fn step(head: &[String], phrase: &str, note: Option<String>) -> Result<Option<Step>, Refusal> {
    if let [word, amount @ ..] = head
        && ["clip", "c"].contains(&word.as_str())
    {
        let [amount] = amount else {
            return Err(Refusal::Incomplete(incomplete::CLIP));
        };
        let amount: Millimetres = amount.parse()?;
        return Ok(Some(Step { note, ..Step::new(Cut::Clip, Some(amount.0)) }));
    }
    let found = cuts().find(|row| is_called(row, phrase));
    Ok(found.map(|found| Step { note, ..Step::new(found.cut, None) }))
}

/// What was seen, of one part or of several; `None` where a word is not a look.
fn looks(head: &[String]) -> Result<Option<Inspection>, Refusal> {
    let (mut rest, mut seen, mut parts) = (head, Inspection::default(), Vec::new());
    while !rest.is_empty() {
        let said = |look: &&LookWords| {
            let words = look.words();
            let count = words.split(' ').count();
            rest.get(..count).is_some_and(|said| said.join(" ") == words)
        };
        let Some(look) = LOOKS.iter().find(said) else { return Ok(None) };
        if parts.contains(&look.part) {
            return Err(Refusal::Incomplete(incomplete::SEEN_TWICE));
        }
        parts.push(look.part);
        seen = look.seen.over(seen);
        rest = &rest[look.words().split(' ').count()..];
    }
    Ok(Some(seen).filter(|seen| *seen != Inspection::default()))
}

/// Lengths, each with the name of what was measured before it; one without a name behind `m` or
/// `measure` is the length. `None` where the line is none of this.
fn sizes(head: &[String]) -> Result<Option<Sizes>, Refusal> {
    let mut words = head.iter().map(String::as_str).peekable();
    let is_said = words.next_if(|word| ["m", "measure"].contains(word)).is_some();
    let mut sizes = Sizes::default();
    if is_said && words.peek().is_some_and(|word| word.starts_with(|c: char| c.is_ascii_digit())) {
        let length = words.next().unwrap_or_default();
        sizes.length_mm = Some(length.parse::<Millimetres>()?.0);
    }
    while let Some(word) = words.next() {
        let Some(size) = SIZES.iter().find(|size| size.word() == word) else { return Ok(None) };
        let Some(number) = words.next() else { return Ok(None) };
        if !number.starts_with(|c: char| c.is_ascii_digit() || ".,-".contains(c)) {
            return Ok(None);
        }
        let place = (size.field)(&mut sizes);
        if place.is_some() {
            return Err(Refusal::Incomplete(incomplete::MEASURED_TWICE));
        }
        *place = Some(number.parse::<Millimetres>()?.0);
    }
    match (is_said, sizes == Sizes::default()) {
        (true, true) => Err(Refusal::Incomplete(incomplete::MEASURE)),
        (_, is_none) => Ok((!is_none).then_some(sizes)),
    }
}
