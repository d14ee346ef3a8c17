//! TOML text to a profile: every key known, every value sensible, every complaint with its line.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::{Missing, Wrong, WrongCrow, WrongNumber};
use super::keys::{COUNTS, NUMBERS, SECTIONS, SMALLEST_CHANGE};
use super::{Dimensions, Ear, Lines, Origin, Profile, ProfileError, Tolerance};
use crate::pitch::Note;

/// Reads `text`. What is left out under tolerance, smallest change and advice is as in
/// `otherwise`; with `None` nothing of that may be missing. `path` only goes into complaints.
pub(super) fn parse(
    path: &str,
    text: &str,
    otherwise: Option<&Profile>,
) -> Result<Profile, ProfileError> {
    let page = Page { path, text, is_first: otherwise.is_none() };
    let root = DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        // The reader of TOML has no code for it.
        let wrong = match error.message().contains("recursion") {
            true => Wrong::Nested,
            false => Wrong::NotALine {
                says: error.message().replace('\n', "; "),
                has_comma: page.has_decimal_comma(&span),
            },
        };
        page.wrong(&span, &wrong)
    })?;
    let mut places = Places::new();
    let mut profile = blank(otherwise);
    let (mut name, mut title, mut target, mut registers) = (None, None, None, false);
    let (mut also_at, mut peep_at) = (None, None);
    for (key, value) in root.get_ref().iter() {
        match key.get_ref().as_ref() {
            "name" => name = Some(page.name(value)?),
            "title" => title = Some(page.string("title", value)?.to_owned()),
            section if SECTIONS.contains(&section) => {
                let table = value
                    .get_ref()
                    .as_table()
                    .ok_or_else(|| page.wrong(&value.span(), &Wrong::NotASection(section)))?;
                for (key, value) in table.iter() {
                    let entry = page.entry(section, key, value)?;
                    match (section, entry.name) {
                        ("crow", "target") => target = Some(page.target(&entry)?),
                        ("crow", "registers") => {
                            profile.registers = page.registers(&entry)?;
                            registers = true;
                        }
                        ("crow", "also") => {
                            profile.also = page.also(&entry)?;
                            also_at = Some(entry.span.clone());
                        }
                        ("crow", "peep_above") => {
                            profile.peep_above = Some(page.note(&entry, entry.value)?);
                            peep_at = Some(entry.span.clone());
                        }
                        ("smallest_change", _) => page.smallest_change(&entry, &mut profile)?,
                        _ => page.number_key(&entry, &mut profile)?,
                    }
                    places.insert(format!("{section}.{}", entry.name), entry.span.clone());
                    entry.remember(&mut profile);
                }
            }
            other => {
                let known = ["name", "title"].into_iter().chain(SECTIONS).collect();
                let wrong = Wrong::UnknownKey { key: other, section: None, known };
                return Err(page.wrong(&key.span(), &wrong));
            }
        }
    }
    let missing = |what: Missing| page.wrong(&(0..0), &Wrong::Missing(what));
    profile.name = name.ok_or_else(|| missing(Missing::Name))?;
    profile.title = title.unwrap_or_else(|| profile.name.clone());
    profile.target = target.ok_or_else(|| missing(Missing::Target))?;
    if !registers {
        return Err(missing(Missing::Registers));
    }
    page.octaves(&profile, also_at, peep_at)?;
    page.sense(&profile, &places)?;
    Ok(profile)
}

/// Where each value stands, by `section.key`.
type Places = BTreeMap<String, Range<usize>>;

fn blank(otherwise: Option<&Profile>) -> Profile {
    let mut profile = Profile {
        name: String::new(),
        title: String::new(),
        target: None,
        registers: Vec::new(),
        also: Vec::new(),
        peep_above: None,
        tolerance: otherwise.map_or_else(Tolerance::default, |other| other.tolerance),
        dimensions: Dimensions::default(),
        smallest_change: otherwise.map(|other| other.smallest_change.clone()).unwrap_or_default(),
        advice: otherwise.map_or_else(Lines::default, |other| other.advice),
        ear: Ear::default(),
        blowing: None,
        origins: otherwise.map(|other| other.origins.clone()).unwrap_or_default(),
    };
    profile.origins.retain(|key, _| !key.starts_with("dimensions_mm") && !key.starts_with("crow"));
    profile
}

/// One value with what is said about it.
struct Entry<'a> {
    section: &'a str,
    name: &'a str,
    value: &'a DeValue<'a>,
    span: Range<usize>,
    origin: Option<Origin>,
}

impl Entry<'_> {
    fn remember(self, profile: &mut Profile) {
        let origin = self.origin.unwrap_or_else(|| Origin::new(None, None));
        profile.origins.insert(format!("{}.{}", self.section, self.name), origin);
    }
}

/// The text, for naming lines.
struct Page<'a> {
    path: &'a str,
    text: &'a str,
    /// Whether nothing stands in for what it leaves out.
    is_first: bool,
}

impl Page<'_> {
    fn wrong(&self, span: &Range<usize>, what: &impl Display) -> ProfileError {
        let before = self.text.as_bytes().get(..span.start).unwrap_or(self.text.as_bytes());
        let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
        ProfileError::Line { path: self.path.to_owned(), line, what: what.to_string() }
    }

    fn string<'v>(
        &self,
        key: &str,
        value: &'v Spanned<DeValue<'_>>,
    ) -> Result<&'v str, ProfileError> {
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() && text.chars().count() <= 300 => Ok(text),
            Some(_) => Err(self.wrong(&value.span(), &Wrong::Length(key))),
            None => {
                let is = value.get_ref().type_str();
                Err(self.wrong(&value.span(), &Wrong::NotText { key, is }))
            }
        }
    }

    fn name(&self, value: &Spanned<DeValue<'_>>) -> Result<String, ProfileError> {
        let text = self.string("name", value)?;
        let plain = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_' | '.');
        if text.chars().count() > 60 || !text.chars().all(plain) {
            return Err(self.wrong(&value.span(), &Wrong::NotAWord(text)));
        }
        Ok(text.to_owned())
    }

    /// A value written bare, or as a table of `value`, `from` and `disagree`.
    fn entry<'v>(
        &self,
        section: &'v str,
        key: &'v Spanned<std::borrow::Cow<'_, str>>,
        value: &'v Spanned<DeValue<'v>>,
    ) -> Result<Entry<'v>, ProfileError> {
        let name = key.get_ref().as_ref();
        let Some(table) = value.get_ref().as_table() else {
            let span = value.span();
            return Ok(Entry { section, name, value: value.get_ref(), span, origin: None });
        };
        let (mut inner, mut from, mut disagree) = (None, None, None);
        for (word, said) in table.iter() {
            match word.get_ref().as_ref() {
                "value" => inner = Some(said),
                "from" => from = Some(self.string("from", said)?.to_owned()),
                "disagree" => disagree = Some(self.string("disagree", said)?.to_owned()),
                other => {
                    let wrong = Wrong::UnknownWord { word: other, key: name };
                    return Err(self.wrong(&word.span(), &wrong));
                }
            }
        }
        let inner = inner.ok_or_else(|| self.wrong(&value.span(), &Wrong::NoValue(name)))?;
        let origin = match (from, disagree) {
            (None, None) => None,
            (from, disagree) => Some(Origin::new(from, disagree)),
        };
        Ok(Entry { section, name, value: inner.get_ref(), span: inner.span(), origin })
    }

    fn target(&self, entry: &Entry) -> Result<Option<Note>, ProfileError> {
        let not_text = || self.wrong(&entry.span, &WrongCrow::NotATarget);
        let text = entry.value.as_str().ok_or_else(not_text)?;
        if text == "none" {
            return Ok(None);
        }
        self.note(entry, entry.value).map(Some)
    }

    /// A note in quotes, of those that crows are read in.
    fn note(&self, entry: &Entry, value: &DeValue<'_>) -> Result<Note, ProfileError> {
        let key = entry.name;
        let wrong = |wrong: WrongCrow<'_>| self.wrong(&entry.span, &wrong);
        let text = value.as_str().ok_or_else(|| wrong(WrongCrow::NotNotes(key)))?;
        let note: Note = text.parse().map_err(|why| wrong(WrongCrow::NotANote { key, why }))?;
        if !(45..=95).contains(&note.midi()) {
            return Err(wrong(WrongCrow::OutOfReach { key, note: text }));
        }
        Ok(note)
    }

    fn also(&self, entry: &Entry) -> Result<Vec<Note>, ProfileError> {
        let wrong = || self.wrong(&entry.span, &WrongCrow::Also);
        let list = entry.value.as_array().ok_or_else(wrong)?;
        if list.is_empty() || list.len() > 3 {
            return Err(wrong());
        }
        list.iter().map(|item| self.note(entry, item.get_ref())).collect()
    }

    /// Whether what is said of octaves and other notes goes with the target.
    fn octaves(
        &self,
        profile: &Profile,
        also_at: Option<Range<usize>>,
        peep_at: Option<Range<usize>>,
    ) -> Result<(), ProfileError> {
        match (profile.target, also_at, peep_at) {
            (None, Some(at), _) => Err(self.wrong(&at, &WrongCrow::AlsoAlone)),
            (Some(_), _, Some(at)) => Err(self.wrong(&at, &WrongCrow::PeepWithTarget)),
            (Some(target), Some(at), _)
                if profile.also.iter().any(|note| (note.midi() - target.midi()) % 12 == 0) =>
            {
                Err(self.wrong(&at, &WrongCrow::AlsoTarget(target)))
            }
            _ => Ok(()),
        }
    }

    fn registers(&self, entry: &Entry) -> Result<Vec<i32>, ProfileError> {
        let wrong = || self.wrong(&entry.span, &WrongCrow::Registers);
        let list = entry.value.as_array().ok_or_else(wrong)?;
        let numbers: Option<Vec<i32>> = list
            .iter()
            .map(|item| item.get_ref().as_integer()?.to_string().parse::<i32>().ok())
            .collect();
        let numbers = numbers.ok_or_else(wrong)?;
        let rising = numbers.is_sorted_by(|a, b| a < b);
        let within = numbers.iter().all(|number| (-2..=4).contains(number));
        if numbers.is_empty() || numbers.len() > 5 || !rising || !within {
            return Err(wrong());
        }
        Ok(numbers)
    }

    fn number(&self, entry: &Entry) -> Result<f64, ProfileError> {
        let number = match entry.value {
            DeValue::Integer(number) => number.to_string().replace('_', "").parse().ok(),
            DeValue::Float(number) => number.as_str().replace('_', "").parse().ok(),
            _ => None,
        };
        number.ok_or_else(|| {
            let (key, is) = (entry.name, entry.value.type_str());
            let in_mm = entry.section == "dimensions_mm" || key.ends_with("_mm");
            self.wrong(&entry.span, &WrongNumber::NotANumber { key, in_mm, is })
        })
    }

    /// Whether a digit, a comma and a digit stand in the line of `span`, outside quotes and lists.
    fn has_decimal_comma(&self, span: &Range<usize>) -> bool {
        let bytes = self.text.as_bytes();
        let at = span.start.min(bytes.len());
        let start = bytes[..at].iter().rposition(|&b| b == b'\n').map_or(0, |feed| feed + 1);
        let line = bytes[start..].split(|&b| b == b'\n').next().unwrap_or_default();
        let (mut in_quotes, mut depth) = (false, 0_i32);
        line.iter().enumerate().any(|(index, &byte)| {
            match byte {
                b'"' | b'\'' => in_quotes = !in_quotes,
                b'[' => depth += 1,
                b']' => depth -= 1,
                _ => {}
            }
            let is_digit = |place: Option<usize>| {
                place.and_then(|place| line.get(place)).is_some_and(u8::is_ascii_digit)
            };
            byte == b','
                && !in_quotes
                && depth == 0
                && is_digit(index.checked_sub(1))
                && is_digit(Some(index + 1))
        })
    }

    fn within(
        &self,
        entry: &Entry,
        least: f64,
        most: f64,
        unit: &str,
    ) -> Result<f64, ProfileError> {
        let (number, key) = (self.number(entry)?, entry.name);
        let wrong = |wrong: WrongNumber<'_>| Err(self.wrong(&entry.span, &wrong));
        // NaN is in no range.
        if !(least..=most).contains(&number) {
            return wrong(WrongNumber::OutOfRange { key, number, least, most, unit });
        }
        if COUNTS.contains(&key) && number.fract() != 0.0 {
            return wrong(WrongNumber::NotWhole { key, number, least, most });
        }
        Ok(number)
    }

    fn number_key(&self, entry: &Entry, profile: &mut Profile) -> Result<(), ProfileError> {
        let mut of_section = NUMBERS.iter().filter(|key| key.section == entry.section);
        match of_section.clone().find(|key| key.name == entry.name) {
            Some(key) => {
                (key.set)(profile, self.within(entry, key.least, key.most, key.unit)?);
                Ok(())
            }
            None => {
                let mut known: Vec<&str> = of_section.by_ref().map(|key| key.name).collect();
                if entry.section == "crow" {
                    known = vec!["target", "registers", "also", "peep_above"];
                }
                let section = Some(entry.section);
                Err(self.wrong(&entry.span, &Wrong::UnknownKey { key: entry.name, section, known }))
            }
        }
    }

    fn smallest_change(&self, entry: &Entry, profile: &mut Profile) -> Result<(), ProfileError> {
        // The American profile leaves nothing out: what it names is what can be named.
        let known = &profile.smallest_change;
        if !self.is_first && !known.contains_key(entry.name) {
            let known = known.keys().map(String::as_str).collect();
            return Err(
                self.wrong(&entry.span, &WrongNumber::NotAFigure { name: entry.name, known })
            );
        }
        let (least, most) = SMALLEST_CHANGE;
        let number = self.within(entry, least, most, "")?;
        profile.smallest_change.insert(entry.name.to_owned(), number);
        Ok(())
    }

    /// Values that make sense one by one and not together.
    fn sense(&self, profile: &Profile, places: &Places) -> Result<(), ProfileError> {
        let place = |section: &str, keys: [&str; 2]| {
            let mut spans = keys.iter().filter_map(|key| places.get(&format!("{section}.{key}")));
            spans.next().cloned().unwrap_or(0..0)
        };
        let size = &profile.dimensions;
        let rising = [
            ("staple", size.staple),
            ("window_bottom", size.window_bottom),
            ("heart_bottom", size.heart_bottom),
            ("tip_start", size.tip_start),
            ("shortest_length", size.shortest_length),
            ("length", size.length),
        ];
        let given: Vec<(&str, f64)> =
            rising.into_iter().filter_map(|(name, value)| Some((name, value?))).collect();
        for pair in given.windows(2) {
            if let [lower, upper] = *pair
                && lower.1 > upper.1
            {
                let at = place("dimensions_mm", [lower.0, upper.0]);
                return Err(self.wrong(&at, &WrongNumber::Beyond { lower, upper }));
            }
        }
        let lines = &profile.advice;
        if lines.smallest_clip_mm > lines.first_clip_mm {
            let at = place("advice", ["smallest_clip_mm", "first_clip_mm"]);
            let (smallest_mm, first_mm) = (lines.smallest_clip_mm, lines.first_clip_mm);
            return Err(self.wrong(&at, &WrongNumber::Clips { smallest_mm, first_mm }));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
