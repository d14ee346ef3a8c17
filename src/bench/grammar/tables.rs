//! The words of the grammar, each once.

use super::Entry;
use crate::advice::Wanted;
use crate::log::{Ending, HeardAs, Rated};
use crate::reed::{Cut, LOOKS, LookWords, Row, Size, Sizes, WORK};

/// Every cut that may be said: those of the table but for two that only earlier logs hold, which do not
/// say where or which way.
pub fn cuts() -> impl Iterator<Item = &'static Row> {
    WORK.iter().filter(|row| !matches!(row.cut, Cut::Opening | Cut::Seal))
}

/// A measurement, as it is said.
#[derive(Debug, Clone, Copy)]
pub struct SizeWords {
    /// The key of its line.
    pub key: char,
    /// Which.
    pub size: Size,
    /// What is measured.
    pub about: &'static str,
    /// Where it is kept.
    pub field: fn(&mut Sizes) -> &mut Option<f64>,
}

impl SizeWords {
    /// The word before the number.
    pub fn word(&self) -> &'static str {
        self.size.code()
    }
}

/// Every measurement.
pub const SIZES: [SizeWords; 8] = [
    SizeWords { key: 'a', size: Size::Length, about: "whole length", field: |s| &mut s.length_mm },
    SizeWords {
        key: 'b',
        size: Size::Tip,
        about: "where the tip begins",
        field: |s| &mut s.tip_start_mm,
    },
    SizeWords {
        key: 'c',
        size: Size::Heart,
        about: "where the heart ends",
        field: |s| &mut s.heart_bottom_mm,
    },
    SizeWords {
        key: 'd',
        size: Size::Window,
        about: "where the windows begin",
        field: |s| &mut s.window_bottom_mm,
    },
    SizeWords {
        key: 'e',
        size: Size::Winding,
        about: "where the winding ends",
        field: |s| &mut s.wound_to_mm,
    },
    SizeWords {
        key: 'g',
        size: Size::Staple,
        about: "length of the staple",
        field: |s| &mut s.staple_mm,
    },
    SizeWords {
        key: 'h',
        size: Size::Opening,
        about: "height of the opening",
        field: |s| &mut s.opening_mm,
    },
    SizeWords {
        key: 'i',
        size: Size::Throat,
        about: "width at the winding",
        field: |s| &mut s.throat_width_mm,
    },
];

/// What may be heard, as it is said.
#[derive(Debug, Clone, Copy)]
pub struct HeardWords {
    /// The key of its button.
    pub key: char,
    /// The word behind `heard`.
    pub word: &'static str,
    /// What it is.
    pub heard: HeardAs,
}

impl HeardWords {
    /// As it is typed: `heard octaves`.
    pub fn words(&self) -> String {
        format!("heard {}", self.word)
    }
}

/// All that may be heard.
pub const HEARD: [HeardWords; 6] = [
    HeardWords { key: 'a', word: "octaves", heard: HeardAs::Octaves },
    HeardWords { key: 'b', word: "low", heard: HeardAs::Low },
    HeardWords { key: 'c', word: "high", heard: HeardAs::High },
    HeardWords { key: 'd', word: "split", heard: HeardAs::Split },
    HeardWords { key: 'e', word: "wild", heard: HeardAs::Wild },
    HeardWords { key: 'g', word: "air", heard: HeardAs::Air },
];

/// How the work on a reed ends.
pub const ENDINGS: [(&str, Ending); 3] = [
    ("close done", Ending::Done),
    ("close sent back", Ending::SentBack),
    ("close given up", Ending::GivenUp),
];

/// What is said with nothing after it, in full and in short.
pub static ALONE: [(&str, &str, Entry); 18] = [
    ("undo", "u", Entry::Undo),
    ("redo", "r", Entry::Redo),
    ("way so far", "w", Entry::Way),
    ("why", "y", Entry::Why),
    ("pause", "p", Entry::Pause),
    ("go on", "g", Entry::GoOn),
    ("keep", "k", Entry::Keep),
    ("open again", "", Entry::Reopen),
    ("account", "", Entry::Account { with_notes: false }),
    ("account with notes", "", Entry::Account { with_notes: true }),
    ("model", "", Entry::Model),
    ("model this", "", Entry::ThisIsModel),
    ("next", "", Entry::Next),
    ("check", "", Entry::Check),
    ("tone", "", Entry::Tone),
    ("play", "", Entry::Play(Vec::new())),
    ("help", "?", Entry::Help),
    ("quit", "q", Entry::Quit),
];

/// Every phrase that may be said, as it is printed, with an example for what wants more.
pub fn phrases() -> Vec<String> {
    let cuts = cuts().map(|row| match row.cut {
        Cut::Clip => "clip 0.3".to_owned(),
        _ => row.words.to_owned(),
    });
    let looks = LOOKS.iter().map(LookWords::words);
    let sizes = SIZES.iter().map(|size| size.size.example().to_owned());
    let alone = ALONE.iter().map(|(whole, _, _)| (*whole).to_owned());
    let heard = HEARD.iter().map(HeardWords::words);
    let endings = ENDINGS.iter().map(|(phrase, _)| (*phrase).to_owned());
    let rates = Rated::ALL.iter().map(|side| format!("rate {} good", side.code()));
    let all = cuts.chain(looks).chain(sizes).chain(heard).chain(alone).chain(endings);
    all.chain(rates).collect()
}

/// What is said to answer a question: a part that is looked at, a measurement, or `heard`.
pub fn answered_by(asked: Wanted) -> &'static str {
    match asked {
        Wanted::Length => "length",
        Wanted::Staple => "staple",
        Wanted::Winding => "wound",
        Wanted::Window => "window",
        Wanted::Heart => "heart",
        Wanted::Tip => "tip",
        Wanted::Opening => "opening",
        Wanted::Leak => "leak",
        Wanted::TipSides => "tip sides",
        Wanted::Corners => "corners",
        Wanted::Bark => "bark",
        Wanted::Symmetry => "symmetry",
        Wanted::Overlap => "overlap",
        Wanted::Ear => "heard",
    }
}
