//! Words of the account, which stand in a data file for each language: sentences with places for
//! figures, names and notes.

use std::collections::BTreeMap;

use serde::Deserialize;

/// The sentences of one language.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Words {
    /// Its code (BCP 47).
    pub language: String,
    decimal: String,
    months: Vec<String>,
    say: BTreeMap<String, String>,
    kind: BTreeMap<String, String>,
    cut: BTreeMap<String, String>,
    was: BTreeMap<String, String>,
    fault: BTreeMap<String, String>,
    finding: BTreeMap<String, String>,
    now: BTreeMap<String, String>,
    #[serde(rename = "on-next")]
    on_next: BTreeMap<String, String>,
}

/// What is said of a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OfFault {
    /// What was found.
    Finding,
    /// What can be done about it on this reed.
    Now,
    /// What to change on the next.
    OnNext,
}

const ENGLISH: &str = include_str!("account.en.toml");

/// What is put into a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A measured figure, which nobody edits.
    Figure(String),
    /// A name, a note, or another piece of the sentence.
    Words(Sentence),
}

/// A sentence whose figures are told apart from its words.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sentence {
    /// In their order.
    pub pieces: Vec<Piece>,
}

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// Words.
    Words(String),
    /// A figure with its unit.
    Figure(String),
}

impl Sentence {
    /// Words without a figure.
    pub fn words(text: impl Into<String>) -> Self {
        Self { pieces: vec![Piece::Words(text.into())] }
    }

    /// As it is read.
    pub fn text(&self) -> String {
        self.pieces
            .iter()
            .map(|piece| match piece {
                Piece::Words(text) | Piece::Figure(text) => text.as_str(),
            })
            .collect()
    }

    /// Its figures.
    pub fn figures(&self) -> impl Iterator<Item = &str> {
        self.pieces.iter().filter_map(|piece| match piece {
            Piece::Figure(text) => Some(text.as_str()),
            Piece::Words(_) => None,
        })
    }

    /// This sentence and, after a space, another.
    pub fn and(mut self, other: Self) -> Self {
        self.pieces.push(Piece::Words(" ".into()));
        self.pieces.extend(other.pieces);
        self
    }

    fn is_empty(&self) -> bool {
        self.text().is_empty()
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Words(Sentence::words(text))
    }
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Words(Sentence::words(text))
    }
}

impl From<Sentence> for Value {
    fn from(sentence: Sentence) -> Self {
        Self::Words(sentence)
    }
}

impl Words {
    /// English, which is part of the program.
    pub fn english() -> Self {
        // A test reads it.
        toml::from_str(ENGLISH).expect("the program's own sentences are whole")
    }

    /// From a translation of the English file.
    ///
    /// Errors: what is wrong in it, in one line: no such file, a sentence that is missing, a place that
    /// English does not have.
    pub fn from_toml(text: &str) -> Result<Self, String> {
        let words: Self = toml::from_str(text).map_err(|error| {
            error.message().lines().next().unwrap_or("is not a file of sentences").to_owned()
        })?;
        let english = Self::english();
        if words.months.len() != 12 {
            return Err("months: give twelve names".into());
        }
        let tables = [
            ("say", &words.say, &english.say),
            ("kind", &words.kind, &english.kind),
            ("cut", &words.cut, &english.cut),
            ("was", &words.was, &english.was),
            ("fault", &words.fault, &english.fault),
            ("finding", &words.finding, &english.finding),
            ("now", &words.now, &english.now),
            ("on-next", &words.on_next, &english.on_next),
        ];
        for (table, mine, theirs) in tables {
            for (key, original) in theirs {
                let Some(sentence) = mine.get(key) else {
                    return Err(format!("{table}.{key} is missing"));
                };
                let wrong = places(sentence).find(|p| !places(original).any(|known| known == *p));
                if let Some(wrong) = wrong {
                    return Err(format!("{table}.{key} has {{{wrong}}}, which is never put in"));
                }
            }
            if let Some(key) = mine.keys().find(|key| !theirs.contains_key(*key)) {
                return Err(format!("{table}.{key} is not a sentence of the account"));
            }
        }
        Ok(words)
    }

    /// A sentence with its places filled.
    pub fn say(&self, key: &str, values: &[(&str, Value)]) -> Sentence {
        filled(self.say.get(key).map(String::as_str).unwrap_or(key), values)
    }

    /// A sentence without places, as text.
    pub fn plain(&self, key: &str) -> String {
        self.say(key, &[]).text()
    }

    /// A kind of crow, by its code. An owner reads the code's own word before what it means, which a maker
    /// knows by another (`words/voices.rs`).
    pub fn kind(&self, code: &str) -> String {
        self.kind.get(code).cloned().unwrap_or_else(|| code.to_owned())
    }

    /// What was done, by the cut's code.
    pub fn cut(&self, code: &str, values: &[(&str, Value)]) -> Sentence {
        filled(self.cut.get(code).map_or(code, String::as_str), values)
    }

    /// What is wrong with the making, by the fault's code.
    pub fn fault(&self, code: &str) -> String {
        self.fault.get(code).cloned().unwrap_or_else(|| code.to_owned())
    }

    /// What is said of a fault, by its code.
    pub fn of_fault(&self, what: OfFault, code: &str, values: &[(&str, Value)]) -> Sentence {
        let said = match what {
            OfFault::Finding => &self.finding,
            OfFault::Now => &self.now,
            OfFault::OnNext => &self.on_next,
        };
        filled(said.get(code).map_or(code, String::as_str), values)
    }

    /// A fault that was mended since, as it was; `None` of one that is told as it is.
    pub fn was(&self, code: &str) -> Option<String> {
        self.was.get(code).cloned()
    }

    /// A number with that many decimals, as the language writes it; negative ones with U+2212.
    pub fn number(&self, value: f64, places: usize) -> String {
        crate::words::format::number(value, places).replace('.', &self.decimal)
    }

    /// A day (YYYY-MM-DD) in words; as it is where it is not a day.
    pub fn day(&self, day: &str) -> String {
        let Ok(date) = day.parse::<jiff::civil::Date>() else { return day.to_owned() };
        let month = usize::try_from(date.month()).ok().and_then(|m| self.months.get(m - 1));
        self.say(
            "date",
            &[
                ("day", date.day().to_string().into()),
                ("month", month.cloned().unwrap_or_default().into()),
                ("year", date.year().to_string().into()),
            ],
        )
        .text()
    }
}

/// The names in braces.
fn places(sentence: &str) -> impl Iterator<Item = &str> {
    sentence.split('{').skip(1).filter_map(|rest| Some(rest.split_once('}')?.0))
}

fn filled(template: &str, values: &[(&str, Value)]) -> Sentence {
    let mut pieces = Vec::new();
    let mut rest = template;
    while let Some((before, (place, after))) =
        rest.split_once('{').and_then(|(before, rest)| Some((before, rest.split_once('}')?)))
    {
        pieces.push(Piece::Words(before.to_owned()));
        match values.iter().find(|(name, _)| *name == place) {
            Some((_, Value::Figure(figure))) => pieces.push(Piece::Figure(figure.clone())),
            Some((_, Value::Words(words))) => pieces.extend(words.pieces.clone()),
            None => {}
        }
        rest = after;
    }
    pieces.push(Piece::Words(rest.to_owned()));
    pieces.retain(|piece| !matches!(piece, Piece::Words(text) if text.is_empty()));
    Sentence { pieces }
}

/// Sentences in a row, with `between` between them; empty ones left out.
pub fn joined(sentences: impl IntoIterator<Item = Sentence>, between: &str) -> Sentence {
    let mut all = Sentence::default();
    for sentence in sentences.into_iter().filter(|sentence| !sentence.is_empty()) {
        if !all.pieces.is_empty() {
            all.pieces.push(Piece::Words(between.to_owned()));
        }
        all.pieces.extend(sentence.pieces);
    }
    all
}

/// What stands over a draft that is to be edited.
pub const DRAFT_HEAD: &str = "\
# A draft of the account. Change any sentence; a line without words leaves its sentence out; a line
# that begins with + adds one to that section. What stands in ⟨ ⟩ was measured: it may be moved or left
# out, and not be changed. Then: reedcrow reed account … --from THIS-FILE
";

/// Where in a draft something is wrong.
pub fn draft_line(number: usize, what: &str) -> String {
    format!("line {number}: {what}")
}

/// A line of a draft that names no sentence.
pub fn draft_unknown(name: &str) -> String {
    format!("'{name}' is not in this account; write the draft again")
}

/// A figure in a sentence that was added to a section.
pub fn draft_not_there(figure: &str) -> String {
    format!("⟨{figure}⟩ was not measured in that section")
}

/// A figure that stands in a sentence only since it was edited.
pub fn draft_not_measured(figure: &str) -> String {
    format!("{figure} was not measured; figures stay in ⟨ ⟩ as they are, or are left out")
}

/// The program's own font cannot be read.
pub const PDF_FONT: &str =
    "the PDF's font is damaged; install the program again, or write the page with --html";

/// A PDF that could not be put together.
pub fn pdf_not_made(why: &str) -> String {
    format!("the PDF could not be put together ({why}); write the page with --html and print it")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Kind;
    use crate::reed::WORK;
    use crate::words::voices::means;

    #[test]
    fn english_is_whole_and_has_every_cut() {
        let words = Words::from_toml(ENGLISH).unwrap();
        for row in WORK {
            assert!(words.cut.contains_key(row.code), "{}", row.code);
        }
        for said in [&words.finding, &words.now, &words.on_next] {
            assert!(said.keys().eq(words.fault.keys()), "each fault has all of them");
        }
    }

    /// The words of an account are a file that is handed out and translated, so they stand there once more.
    #[test]
    fn an_owner_is_told_of_a_kind_what_its_maker_is() {
        let words = Words::english();
        for (kind, code) in [
            (Kind::Octaves, "octaves"),
            (Kind::Blended, "blended"),
            (Kind::Single, "single"),
            (Kind::Split, "split"),
            (Kind::Unsettled, "unsettled"),
            (Kind::Breath, "breath"),
        ] {
            let told = words.kind(code);
            assert!(told.ends_with(means(kind, false)), "{told}");
        }
        assert!(words.kind("upper-alone").ends_with(means(Kind::Single, true)));
    }

    #[test]
    fn figures_are_told_apart_from_words() {
        let words = Words::english();
        let cents = Value::Figure("33".into());
        let told = words.say("flat", &[("cents", cents), ("note", "C5".into())]);
        assert!(told.text().contains("33") && told.text().contains("C5"), "{}", told.text());
        assert_eq!(told.figures().collect::<Vec<_>>(), ["33"]);
        // A name with braces in it is not a place.
        assert_eq!(words.say("for", &[("owner", "{cents}".into())]).text(), "For {cents}");
    }

    #[test]
    fn a_translation_must_have_every_sentence_and_no_place_of_its_own() {
        let german = ENGLISH.replace("decimal = \".\"", "decimal = \",\"");
        let words = Words::from_toml(&german).unwrap();
        assert_eq!(words.number(-70.25, 1), "−70,2");
        let lacking = ENGLISH.replace("care = \"Please note\"\n", "");
        assert!(Words::from_toml(&lacking).unwrap_err().starts_with("say.care "));
        let strange = ENGLISH.replace("For {owner}", "For {who}");
        assert!(Words::from_toml(&strange).unwrap_err().starts_with("say.for "));
        assert!(Words::from_toml("language = 3").is_err());
    }

    #[test]
    fn days_are_told_in_words() {
        assert_eq!(Words::english().day("2026-03-07"), "7 March 2026");
        assert_eq!(Words::english().day("soon"), "soon");
    }
}
