//! What may be said at the bench: typed at the prompt, pressed on the page, or written behind `reed
//! step`, `reed inspect` and `reed measure`. The words stand in tables here, once.
//!
//! A line is read whole or refused with the nearest right form: nothing said ever becomes another entry.

use crate::log::{HeardAs, Step};
use crate::reed::{Bark, Corners, Heart, Inspection, Leak, Overlap, Sizes, Symmetry, TipSides};
use crate::reed::{Cut, Row, WORK};
use crate::units::{LengthError, Millimetres};

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

/// Why a line is no entry. Nothing was written down.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// Not a line of the grammar.
    #[error("'{said}' is not understood, and nothing was written down{}", meant(.nearest))]
    Unknown {
        /// As typed.
        said: String,
        /// The right forms nearest to it.
        nearest: Vec<String>,
    },
    /// An amount or length that is none.
    #[error("{0}; nothing was written down")]
    Length(#[from] LengthError),
    /// Wants something after it.
    #[error("{0}; nothing was written down")]
    Incomplete(&'static str),
}

fn meant(nearest: &[String]) -> String {
    match nearest {
        [] => "; ? shows what may be typed".to_owned(),
        [one] => format!(". Is it '{one}'? Type it so"),
        [first @ .., last] => format!(". Is it '{}' or '{last}'? Type one so", first.join("', '")),
    }
}

/// Every cut that may be said: those of the table but for two that only earlier logs hold, which do not
/// say where or which way.
pub fn cuts() -> impl Iterator<Item = &'static Row> {
    WORK.iter().filter(|row| !matches!(row.cut, Cut::Opening | Cut::Seal))
}

/// A look, as it is said.
#[derive(Debug, Clone, Copy)]
pub struct LookWords {
    /// The part looked at.
    pub part: &'static str,
    /// What was found.
    pub found: &'static str,
    /// What it is.
    pub seen: Inspection,
}

/// Nothing looked at.
const UNSEEN: Inspection = Inspection {
    overlap: None,
    leak: None,
    bark: None,
    symmetry: None,
    heart: None,
    corners: None,
    tip_sides: None,
};

const fn look(part: &'static str, found: &'static str, seen: Inspection) -> LookWords {
    LookWords { part, found, seen }
}

/// Every look.
pub const LOOKS: [LookWords; 18] = [
    look("leak", "none", Inspection { leak: Some(Leak::None), ..UNSEEN }),
    look("leak", "low", Inspection { leak: Some(Leak::Low), ..UNSEEN }),
    look("leak", "heart", Inspection { leak: Some(Leak::Heart), ..UNSEEN }),
    look("corners", "thin", Inspection { corners: Some(Corners::Thin), ..UNSEEN }),
    look("corners", "thick", Inspection { corners: Some(Corners::Thick), ..UNSEEN }),
    look("corners", "chipped", Inspection { corners: Some(Corners::Chipped), ..UNSEEN }),
    look("tip sides", "thinnest", Inspection { tip_sides: Some(TipSides::Thinnest), ..UNSEEN }),
    look("tip sides", "thick", Inspection { tip_sides: Some(TipSides::Thick), ..UNSEEN }),
    look("heart", "good", Inspection { heart: Some(Heart::Good), ..UNSEEN }),
    look("heart", "thick", Inspection { heart: Some(Heart::Thick), ..UNSEEN }),
    look("heart", "thin", Inspection { heart: Some(Heart::Thin), ..UNSEEN }),
    look("symmetry", "even", Inspection { symmetry: Some(Symmetry::Even), ..UNSEEN }),
    look("symmetry", "uneven", Inspection { symmetry: Some(Symmetry::Uneven), ..UNSEEN }),
    look("bark", "kept", Inspection { bark: Some(Bark::Kept), ..UNSEEN }),
    look("bark", "gone", Inspection { bark: Some(Bark::Gone), ..UNSEEN }),
    look("overlap", "even", Inspection { overlap: Some(Overlap::Even), ..UNSEEN }),
    look("overlap", "usual", Inspection { overlap: Some(Overlap::Usual), ..UNSEEN }),
    look("overlap", "backwards", Inspection { overlap: Some(Overlap::Backwards), ..UNSEEN }),
];

impl LookWords {
    /// As it is typed: `leak low`.
    pub fn words(&self) -> String {
        format!("{} {}", self.part, self.found)
    }
}

/// A measurement, as it is said.
#[derive(Debug, Clone, Copy)]
pub struct SizeWords {
    /// The word before the number.
    pub word: &'static str,
    /// What is measured.
    pub about: &'static str,
    /// Where it is kept.
    pub field: fn(&mut Sizes) -> &mut Option<f64>,
}

/// Every measurement.
pub const SIZES: [SizeWords; 8] = [
    SizeWords { word: "length", about: "whole length", field: |s| &mut s.length_mm },
    SizeWords { word: "tip", about: "where the tip begins", field: |s| &mut s.tip_start_mm },
    SizeWords { word: "heart", about: "where the heart ends", field: |s| &mut s.heart_bottom_mm },
    SizeWords {
        word: "window",
        about: "where the windows begin",
        field: |s| &mut s.window_bottom_mm,
    },
    SizeWords { word: "wound", about: "where the winding ends", field: |s| &mut s.wound_to_mm },
    SizeWords { word: "staple", about: "length of the staple", field: |s| &mut s.staple_mm },
    SizeWords { word: "opening", about: "height of the opening", field: |s| &mut s.opening_mm },
    SizeWords { word: "throat", about: "width at the winding", field: |s| &mut s.throat_width_mm },
];

/// What may be heard: the word behind `heard`, and what it is.
pub const HEARD: [(&str, HeardAs); 6] = [
    ("octaves", HeardAs::Octaves),
    ("low", HeardAs::Low),
    ("high", HeardAs::High),
    ("split", HeardAs::Split),
    ("wild", HeardAs::Wild),
    ("air", HeardAs::Air),
];

/// What is said with nothing after it, in full and in short.
static ALONE: [(&str, &str, Entry); 12] = [
    ("undo", "u", Entry::Undo),
    ("redo", "r", Entry::Redo),
    ("way", "w", Entry::Way),
    ("why", "y", Entry::Why),
    ("pause", "p", Entry::Pause),
    ("go on", "g", Entry::GoOn),
    ("next", "", Entry::Next),
    ("check", "", Entry::Check),
    ("tone", "", Entry::Tone),
    ("play", "", Entry::Play(Vec::new())),
    ("help", "?", Entry::Help),
    ("quit", "q", Entry::Quit),
];

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
    let phrase = head.join(" ");
    let words = words.filter(|words| !words.is_empty()).map(str::to_owned);
    if let Some(step) = step(&head, &phrase, words.clone())? {
        return Ok(Some(Entry::Step(step)));
    }
    let refused = || Refusal::Unknown { said: line.to_owned(), nearest: nearest(&phrase) };
    if words.is_some() {
        return Err(refused());
    }
    if let Some((_, _, entry)) =
        ALONE.iter().find(|(whole, short, _)| [*whole, *short].contains(&phrase.as_str()))
    {
        return Ok(Some(entry.clone()));
    }
    if let Some(look) = LOOKS.iter().find(|look| look.words() == phrase) {
        return Ok(Some(Entry::Look(look.seen)));
    }
    if let ["heard", heard] = head.iter().map(String::as_str).collect::<Vec<_>>().as_slice()
        && let Some((_, heard)) = HEARD.iter().find(|(word, _)| word == heard)
    {
        return Ok(Some(Entry::Heard(*heard)));
    }
    if let ["play", numbers @ ..] = head.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        let numbers: Result<Vec<u32>, _> = numbers.iter().map(|number| number.parse()).collect();
        return match numbers {
            Ok(numbers) if numbers.len() <= 2 => Ok(Some(Entry::Play(numbers))),
            _ => Err(Refusal::Incomplete("play wants the number of a take, or of two: play 2 3")),
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
    match word.to_lowercase().as_str() {
        "n" | "note" => match rest {
            "" => Err(Refusal::Incomplete("a note wants its words: note dull below")),
            words => Ok(Some(Entry::Step(Step::note(words)))),
        },
        "reed" => named(Entry::Reed, "reed wants the name on a card: reed mirek-12"),
        "new" => named(Entry::New, "new wants the new reed's name: new mirek-13"),
        "like" => named(Entry::Like, "like wants the new reed's name: like mirek-13"),
        "practice" => named(Entry::Practice, "practice wants the name of a practice take"),
        "listen" => Ok(Some(Entry::Listen(rest.to_owned()))),
        _ => Ok(None),
    }
}

/// A cut with its amount.
fn step(head: &[String], phrase: &str, note: Option<String>) -> Result<Option<Step>, Refusal> {
    if let [word, amount @ ..] = head
        && ["clip", "c"].contains(&word.as_str())
    {
        let [amount] = amount else {
            return Err(Refusal::Incomplete("clip wants millimetres and nothing more: clip 0.3"));
        };
        let amount: Millimetres = amount.parse()?;
        return Ok(Some(Step { note, ..Step::new(Cut::Clip, Some(amount.0)) }));
    }
    let found = cuts().find(|row| [row.words, row.code, row.letters].contains(&phrase));
    Ok(found.map(|found| Step { note, ..Step::new(found.cut, None) }))
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
        let Some(size) = SIZES.iter().find(|size| size.word == word) else { return Ok(None) };
        let Some(number) = words.next() else { return Ok(None) };
        if !number.starts_with(|c: char| c.is_ascii_digit() || ".,-".contains(c)) {
            return Ok(None);
        }
        let place = (size.field)(&mut sizes);
        if place.is_some() {
            return Err(Refusal::Incomplete("one thing is measured twice in this line"));
        }
        *place = Some(number.parse::<Millimetres>()?.0);
    }
    match (is_said, sizes == Sizes::default()) {
        (true, true) => Err(Refusal::Incomplete("measure wants what and how long: length 70.2")),
        (_, is_none) => Ok((!is_none).then_some(sizes)),
    }
}

/// Every phrase that may be said, as it is printed, with an example for what wants more.
pub fn phrases() -> Vec<String> {
    let cuts = cuts().map(|row| match row.cut {
        Cut::Clip => "clip 0.3".to_owned(),
        _ => row.words.to_owned(),
    });
    let looks = LOOKS.iter().map(LookWords::words);
    let sizes = SIZES.iter().map(|size| format!("{} {}", size.word, example(size)));
    let alone = ALONE.iter().map(|(whole, _, _)| (*whole).to_owned());
    let heard = HEARD.iter().map(|(word, _)| format!("heard {word}"));
    cuts.chain(looks).chain(sizes).chain(heard).chain(alone).collect()
}

/// A value such a measurement may have, for an example.
fn example(size: &SizeWords) -> &'static str {
    match size.word {
        "length" => "70.2",
        "tip" => "66",
        "heart" => "61.2",
        "window" => "50",
        "opening" => "0.8",
        "throat" => "6.9",
        _ => "47",
    }
}

/// The phrases nearest to what was said: those it begins, else those a slip or two away.
fn nearest(said: &str) -> Vec<String> {
    const MOST: usize = 4;
    let begun: Vec<String> =
        phrases().into_iter().filter(|phrase| phrase.starts_with(said)).take(MOST).collect();
    if !begun.is_empty() {
        return begun;
    }
    let mut near: Vec<(usize, String)> = phrases()
        .into_iter()
        .map(|phrase| (strsim::damerau_levenshtein(said, &phrase), phrase))
        .filter(|(slips, phrase)| *slips <= 2.max(phrase.len() / 4))
        .collect();
    near.sort();
    let least = near.first().map_or(0, |(slips, _)| *slips);
    near.into_iter().filter(|(slips, _)| *slips == least).take(MOST).map(|(_, p)| p).collect()
}

/// What may be typed, for `?`.
pub fn help() -> String {
    let mut lines = vec!["What you did:".to_owned()];
    let cut = |row: &Row| match row.cut {
        Cut::Clip => "c 0.3  clip 0.3".to_owned(),
        _ => format!("{:<6} {}", row.letters, row.words),
    };
    let cuts: Vec<String> = cuts().map(cut).collect();
    lines.extend(cuts.chunks(3).map(|row| {
        let cells: Vec<String> = row.iter().map(|cell| format!("{cell:<24}")).collect();
        format!("  {}", cells.concat().trim_end())
    }));
    lines.push("What you saw:".to_owned());
    let mut parts: Vec<&str> = LOOKS.iter().map(|look| look.part).collect();
    parts.dedup();
    for part in parts {
        let found: Vec<&str> =
            LOOKS.iter().filter(|look| look.part == part).map(|look| look.found).collect();
        lines.push(format!("  {part} {}", found.join(" | ")));
    }
    lines.push("What you measured, in mm from the bottom (or 2.76in):".to_owned());
    let sizes: Vec<String> =
        SIZES.iter().map(|size| format!("{} {}", size.word, example(size))).collect();
    lines.extend(sizes.chunks(4).map(|row| format!("  {}", row.join(" | "))));
    let heard: Vec<&str> = HEARD.iter().map(|(word, _)| *word).collect();
    lines.push(format!("What you heard: heard {}", heard.join(" | ")));
    lines.push("Else:".to_owned());
    lines.extend(
        [
            "  u undo   r redo   w the way so far   y why   p pause   g go on   q end",
            "  play 2 3   tone   reed NAME   next   new NAME   like NAME   note WORDS",
            "  Words of your own follow a colon: tip sides: left more than right",
        ]
        .map(str::to_owned),
    );
    lines.join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn parsed(line: &str) -> Entry {
        parse(line).unwrap().unwrap()
    }

    #[test]
    fn every_phrase_typed_as_it_is_printed_gives_just_itself() {
        for row in cuts() {
            let (said, amount) = match row.cut {
                Cut::Clip => ("clip 0.3".to_owned(), Some(0.3)),
                _ => (row.words.to_owned(), None),
            };
            let step = Step::new(row.cut, amount);
            assert_eq!(parsed(&said), Entry::Step(step.clone()), "{said}");
            assert!(step.words().starts_with(row.words), "printed as it is typed");
        }
        for look in &LOOKS {
            assert_eq!(parsed(&look.words()), Entry::Look(look.seen));
        }
        for size in &SIZES {
            let mut sizes = Sizes::default();
            *(size.field)(&mut sizes) = Some(66.0);
            assert_eq!(parsed(&format!("{} 66", size.word)), Entry::Measure(sizes));
        }
        for (whole, short, entry) in &ALONE {
            assert_eq!(parsed(whole), *entry);
            if !short.is_empty() {
                assert_eq!(parsed(short), *entry);
            }
        }
        for phrase in phrases() {
            assert!(parse(&phrase).is_ok(), "{phrase}");
        }
    }

    /// Everything that may follow from a phrase but for its numbers.
    fn without_numbers(entry: &Entry) -> String {
        match entry {
            Entry::Measure(sizes) => {
                let named = SIZES.iter().filter(|size| (size.field)(&mut sizes.clone()).is_some());
                named.map(|size| size.word).collect()
            }
            Entry::Step(step) if step.cut == Some(Cut::Clip) => "clip".into(),
            other => format!("{other:?}"),
        }
    }

    proptest! {
        #[test]
        fn one_letter_wrong_gives_the_phrase_itself_or_is_refused(
            which in 0_usize..200,
            at in 0_usize..24,
            letter in proptest::char::range('a', 'z'),
            slip in 0_u8..4,
        ) {
            let phrases = phrases();
            let phrase = &phrases[which % phrases.len()];
            let meant = parsed(phrase);
            // The words, not the numbers after them: another number is another amount.
            let letters = phrase.find(|c: char| c.is_ascii_digit()).unwrap_or(phrase.len());
            let mut wrong: Vec<char> = phrase.chars().collect();
            let at = at % letters;
            match slip {
                0 => wrong[at] = letter,
                1 => { wrong.remove(at); }
                2 => wrong.insert(at, letter),
                _ if at + 1 < wrong.len() => wrong.swap(at, at + 1),
                _ => {}
            }
            let wrong: String = wrong.into_iter().collect();
            match parse(&wrong) {
                Ok(Some(entry)) => prop_assert_eq!(
                    without_numbers(&entry), without_numbers(&meant), "{} for {}", wrong, phrase
                ),
                Ok(None) => prop_assert!(wrong.trim().is_empty()),
                Err(_) => {}
            }
        }

        #[test]
        fn what_begins_a_phrase_is_that_phrase_a_short_form_or_a_question(
            which in 0_usize..200,
            length in 1_usize..24,
        ) {
            let phrases = phrases();
            let phrase = &phrases[which % phrases.len()];
            let begun: String = phrase.chars().take(length).collect();
            match parse(&begun) {
                Err(_) => {}
                Ok(entry) => {
                    let is_whole = phrases.contains(&begun.trim().to_owned());
                    let is_short = cuts().any(|row| row.letters == begun.trim())
                        || ALONE.iter().any(|(_, short, _)| *short == begun.trim());
                    let has_number = begun.contains(|c: char| c.is_ascii_digit());
                    prop_assert!(is_whole || is_short || has_number, "{} gave {:?}", begun, entry);
                }
            }
        }

        #[test]
        fn no_line_panics(line in "\\PC{0,40}") {
            let _ = parse(&line);
        }
    }

    #[test]
    fn a_cut_of_two_words_is_read_whole_and_a_look_is_no_cut() {
        assert_eq!(parsed("tip corners"), Entry::Step(Step::new(Cut::TipCorners, None)));
        assert_eq!(parsed("TIP  Step"), Entry::Step(Step::new(Cut::TipStep, None)));
        let Entry::Look(seen) = parsed("corners chipped") else { panic!() };
        assert_eq!(seen.corners, Some(Corners::Chipped));
        for refused in [
            "tip cornes",
            "corners",
            "tip",
            "heart thinner",
            "clip",
            "clip 0.3 0.4",
            "t left",
            "length",
            "m",
        ] {
            assert!(parse(refused).is_err(), "{refused}");
        }
    }

    #[test]
    fn words_of_the_makers_own_follow_a_colon() {
        let Entry::Step(step) = parsed("tip sides: Left more") else { panic!() };
        assert_eq!((step.cut, step.note.as_deref()), (Some(Cut::TipSides), Some("Left more")));
        let Entry::Step(step) = parsed("c 0,3: end was torn") else { panic!() };
        assert_eq!((step.amount_mm, step.note.as_deref()), (Some(0.3), Some("end was torn")));
        assert_eq!(parsed("note Dull, below"), Entry::Step(Step::note("Dull, below")));
        assert!(parse("leak low: by the winding").is_err());
    }

    #[test]
    fn several_measurements_may_stand_in_one_line() {
        let sizes =
            Sizes { tip_start_mm: Some(66.0), heart_bottom_mm: Some(61.2), ..Sizes::default() };
        assert_eq!(parsed("tip 66 heart 61,2"), Entry::Measure(sizes));
        let length = Sizes { length_mm: Some(70.1), ..Sizes::default() };
        assert_eq!(parsed("m 70.1"), Entry::Measure(length));
        assert!(parse("tip 66 tip 65").is_err() && parse("tip 66 heart").is_err());
    }

    #[test]
    fn a_refusal_names_the_nearest_right_form() {
        let said = |line: &str| parse(line).unwrap_err().to_string();
        assert!(said("tip corner").contains("'tip corners'"), "{}", said("tip corner"));
        assert!(said("hart thin").contains("'heart thin'"), "{}", said("hart thin"));
        assert!(said("tip s").contains("'tip sides'") && said("tip s").contains("'tip step'"));
        assert!(said("qwertz").contains("? shows"));
    }
}
