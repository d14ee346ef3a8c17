//! An account as a page has it: titles, sentences and pictures in their places, before it becomes
//! HTML, PDF or text.

use super::drawing::Drawing;
use crate::words::account::{self as words, Piece, Sentence};

/// Who sends it.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Sender {
    /// Name of the maker or the workshop.
    pub name: String,
    /// Where to be found, a line each: address, telephone, mail.
    #[serde(default)]
    pub lines: Vec<String>,
}

/// An account of one reed or of several.
#[derive(Debug, Clone, PartialEq)]
pub struct Letter {
    /// Code of its language (BCP 47).
    pub language: String,
    /// Who sends it.
    pub sender: Option<Sender>,
    /// When, in words.
    pub date: String,
    /// For whom.
    pub owner: Option<String>,
    /// Its title.
    pub title: String,
    /// The reeds side by side, where there are several.
    pub table: Option<Table>,
    /// One part for each reed.
    pub parts: Vec<Part>,
    /// What to take care of, of all reeds.
    pub care: Section,
    /// What stands at the foot of a page; `{page}` and `{pages}` are put in.
    pub foot: String,
}

/// Rows and columns of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// What it shows.
    pub title: String,
    /// Names of the columns.
    pub head: Vec<String>,
    /// As many cells each.
    pub rows: Vec<Vec<String>>,
}

/// What is said of one reed.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its heading, where there are several reeds.
    pub title: Option<String>,
    /// The reed with its measurements, and what stands under it.
    pub drawing: Option<(Drawing, String)>,
    /// In their order.
    pub sections: Vec<Section>,
}

/// Some sentences under a title.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Names it in a draft.
    pub id: &'static str,
    /// Its title.
    pub title: String,
    /// Its sentences.
    pub items: Vec<Item>,
}

/// A sentence, and a picture beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What it says.
    pub sentence: Sentence,
    /// A picture that belongs to it.
    pub picture: Option<Drawing>,
}

impl From<Sentence> for Item {
    fn from(sentence: Sentence) -> Self {
        Self { sentence, picture: None }
    }
}

/// What stands before and after a figure in a draft.
const FIGURE: [char; 2] = ['⟨', '⟩'];

impl Letter {
    /// Every sentence with its name, to be edited.
    pub fn draft(&self) -> String {
        let mut text = words::DRAFT_HEAD.to_owned();
        for (name, section) in self.sections() {
            text += &format!("\n# {}\n", section.title);
            for (number, item) in (1..).zip(&section.items) {
                text += &format!("{name}.{number}  {}\n", marked(&item.sentence));
            }
        }
        text
    }

    /// The same letter in the words of an edited draft.
    ///
    /// Errors: one line each with its number in the draft: a sentence the letter does not have, or a
    /// figure that was not measured.
    pub fn edited(&mut self, draft: &str) -> Result<(), String> {
        let names: Vec<String> = self.sections().into_iter().map(|(name, _)| name).collect();
        let mut left_out: Vec<(usize, usize)> = Vec::new();
        for (number, line) in (1..).zip(draft.trim_start_matches('\u{feff}').lines()) {
            let line = line.trim();
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            let wrong = |what: &str| words::draft_line(number, what);
            let is_new = line.starts_with('+');
            let line = line.trim_start_matches('+').trim_start();
            let (name, words) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
            let (section, item) = match is_new {
                true => (name, None),
                false => {
                    let (section, item) = name.rsplit_once('.').unwrap_or((name, ""));
                    (section, item.parse::<usize>().ok().and_then(|item| item.checked_sub(1)))
                }
            };
            let unknown = || wrong(&words::draft_unknown(name));
            let place = names.iter().position(|known| known == section).ok_or_else(unknown)?;
            let section = self.section_mut(place).ok_or_else(unknown)?;
            let sentence = read_marked(words.trim());
            if is_new {
                if let Some(figure) = sentence.figures().next() {
                    return Err(wrong(&words::draft_not_there(figure)));
                }
                section.items.push(sentence.into());
                continue;
            }
            let item = item.ok_or_else(unknown)?;
            let kept = section.items.get_mut(item).ok_or_else(unknown)?;
            let mut measured: Vec<&str> = kept.sentence.figures().collect();
            for figure in sentence.figures() {
                match measured.iter().position(|known| *known == figure) {
                    Some(known) => drop(measured.remove(known)),
                    None => {
                        return Err(wrong(&words::draft_not_measured(&format!("⟨{figure}⟩"))));
                    }
                }
            }
            if let Some(number) = new_number(&kept.sentence, &sentence) {
                return Err(wrong(&words::draft_not_measured(&number)));
            }
            if words.trim().is_empty() {
                left_out.push((place, item));
            }
            kept.sentence = sentence;
        }
        left_out.sort_unstable();
        for (place, item) in left_out.into_iter().rev() {
            if let Some(section) = self.section_mut(place)
                && item < section.items.len()
            {
                section.items.remove(item);
            }
        }
        Ok(())
    }

    /// Every section with its name in a draft.
    fn sections(&self) -> Vec<(String, &Section)> {
        let parts = (1..).zip(&self.parts);
        let of_reeds = parts.flat_map(|(number, part)| {
            part.sections.iter().map(move |section| (format!("{number}.{}", section.id), section))
        });
        of_reeds.chain([(self.care.id.to_owned(), &self.care)]).collect()
    }

    fn section_mut(&mut self, place: usize) -> Option<&mut Section> {
        let of_reeds = self.parts.iter_mut().flat_map(|part| &mut part.sections);
        of_reeds.chain([&mut self.care]).nth(place)
    }
}

/// A number among the plain words of a changed sentence that was not there before, where the sentence tells
/// what was measured.
fn new_number(kept: &Sentence, changed: &Sentence) -> Option<String> {
    kept.figures().next()?;
    let known: Vec<String> = numbers(kept).collect();
    numbers(changed).find(|number| !known.contains(number))
}

/// The numbers among its plain words.
fn numbers(sentence: &Sentence) -> impl Iterator<Item = String> {
    let plain = sentence.pieces.iter().filter_map(|piece| match piece {
        Piece::Words(text) => Some(text.as_str()),
        Piece::Figure(_) => None,
    });
    let is_part = |letter: char| letter.is_numeric() || matches!(letter, '.' | ',');
    let words = plain.flat_map(move |text| text.split(move |letter| !is_part(letter)));
    let numbers = words.map(|word| word.trim_matches(['.', ',']));
    numbers.filter(|word| !word.is_empty()).map(str::to_owned)
}

fn marked(sentence: &Sentence) -> String {
    let [open, close] = FIGURE;
    let each = sentence.pieces.iter().map(|piece| match piece {
        // What a maker noted may hold the marks themselves.
        Piece::Words(text) => text.replace(FIGURE, " ").replace(['\n', '\r'], " "),
        Piece::Figure(text) => format!("{open}{text}{close}"),
    });
    each.collect()
}

fn read_marked(text: &str) -> Sentence {
    let [open, close] = FIGURE;
    let mut pieces = Vec::new();
    let mut rest = text;
    while let Some((before, (figure, after))) =
        rest.split_once(open).and_then(|(before, rest)| Some((before, rest.split_once(close)?)))
    {
        pieces.push(Piece::Words(before.to_owned()));
        pieces.push(Piece::Figure(figure.trim().to_owned()));
        rest = after;
    }
    pieces.push(Piece::Words(rest.replace(FIGURE, " ")));
    pieces.retain(|piece| !matches!(piece, Piece::Words(text) if text.is_empty()));
    Sentence { pieces }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letter() -> Letter {
        let pitch = Sentence {
            pieces: vec![
                Piece::Words("It was ".into()),
                Piece::Figure("57".into()),
                Piece::Words(" cents flat.".into()),
            ],
        };
        let section = |id, sentences: Vec<Sentence>| Section {
            id,
            title: id.to_owned(),
            items: sentences.into_iter().map(Item::from).collect(),
        };
        Letter {
            language: "en".into(),
            sender: None,
            date: String::new(),
            owner: None,
            title: "Reed A".into(),
            table: None,
            parts: vec![Part {
                title: None,
                drawing: None,
                sections: vec![section("found", vec![Sentence::words("It leaked."), pitch])],
            }],
            care: section("care", vec![Sentence::words("Rinse it.")]),
            foot: String::new(),
        }
    }

    fn sentences(letter: &Letter) -> Vec<String> {
        letter.sections().iter().flat_map(|(_, s)| &s.items).map(|i| i.sentence.text()).collect()
    }

    #[test]
    fn a_draft_read_back_unchanged_changes_nothing() {
        let mut read = letter();
        read.edited(&letter().draft()).unwrap();
        assert_eq!(read, letter());
    }

    #[test]
    fn sentences_are_changed_left_out_and_added_and_figures_are_not() {
        let mut read = letter();
        let draft = "1.found.1\n1.found.2  Flat by ⟨57⟩ cents, I am afraid.\n\
                     + 1.found  Try it on your own oboe.\ncare.1 Keep it dry.\n";
        read.edited(draft).unwrap();
        let said = ["Flat by 57 cents, I am afraid.", "Try it on your own oboe.", "Keep it dry."];
        assert_eq!(sentences(&read), said);
        for (draft, wrong) in [
            ("1.found.2 Flat by ⟨5⟩ cents.", "line 1: ⟨5⟩ was not measured"),
            ("1.found.2 It was 5 cents flat.", "line 1: 5 was not measured"),
            ("1.found.2 ⟨57⟩ or ⟨57⟩", "line 1: ⟨57⟩ was not measured"),
            ("\n1.lost.1 x", "line 2: '1.lost.1' is not in this account"),
            ("1.found.9 x", "line 1: '1.found.9'"),
            ("+ care ⟨3⟩", "line 1: ⟨3⟩ was not measured"),
        ] {
            let error = letter().edited(draft).unwrap_err();
            assert!(error.starts_with(wrong), "{error}");
        }
    }

    #[test]
    fn notes_that_hold_marks_or_lines_of_their_own_stay_one_sentence() {
        let mut odd = letter();
        odd.parts[0].sections[0].items[0] = Sentence::words("torn ⟨9⟩\n1.found.2  x").into();
        let draft = odd.draft();
        assert!(draft.contains("1.found.1  torn  9  1.found.2  x\n"), "{draft}");
        odd.edited(&draft).unwrap();
    }
}
