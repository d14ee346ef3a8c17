//! Keys of the page. A button that stands for something said has its key in the row of that; here stand
//! the others: those that are always there, those of the groups of buttons, and those of waiting reeds.

use crate::words::page::group;

/// Keeps what was set aside.
pub const KEEP: char = 'k';
/// Sounds the last take.
pub const LAST: char = 'l';
/// Stops listening, or goes on.
pub const PAUSE: char = 'p';
/// Takes the last entry back.
pub const UNDO: char = 'u';
/// Sounds the note that the reed is held to.
pub const TONE: char = 'f';
/// Sounds before and after in turn.
pub const TURN: char = 'x';

/// Puts the next waiting reed on the bench.
pub const NEXT: char = 'a';
/// Put the waiting reeds on the bench, in their order.
pub const REEDS: [char; 12] = ['b', 'c', 'd', 'e', 'g', 'h', 'i', 'j', 'm', 'n', 'o', 'q'];

/// A group of buttons, of which the page's script shows one at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Group {
    /// Work on the reed.
    Cut,
    /// What is seen.
    Look,
    /// What is measured.
    Measure,
    /// What the maker hears.
    Heard,
    /// Another reed, and what the card of this one says.
    Reeds,
}

impl Group {
    /// In the order of the page.
    pub const ALL: [Self; 5] = [Self::Cut, Self::Look, Self::Measure, Self::Heard, Self::Reeds];

    /// The name of its element.
    pub fn id(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::Look => "look",
            Self::Measure => "measure",
            Self::Heard => "heard",
            Self::Reeds => "reed-change",
        }
    }

    /// Shows it.
    pub fn key(self) -> char {
        match self {
            Self::Cut => '1',
            Self::Look => '2',
            Self::Measure => '3',
            Self::Heard => '4',
            Self::Reeds => '5',
        }
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Cut => group::CUT,
            Self::Look => group::LOOK,
            Self::Measure => group::MEASURE,
            Self::Heard => group::HEARD,
            Self::Reeds => group::REEDS,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::grammar::{self, HEARD, SIZES};
    use crate::reed::LOOKS;

    #[test]
    fn no_key_of_a_group_is_given_twice_or_begins_as_one_of_the_whole_page() {
        let cuts: Vec<String> = grammar::cuts().map(|row| row.letters.to_owned()).collect();
        let of = |keys: &[char]| -> Vec<String> { keys.iter().map(char::to_string).collect() };
        let groups = [
            cuts,
            of(&LOOKS.map(|look| look.key)),
            of(&SIZES.map(|size| size.key)),
            of(&HEARD.map(|heard| heard.key)),
            of(&[&[NEXT], &REEDS[..]].concat()),
        ];
        let page =
            [&[KEEP, LAST, PAUSE, UNDO, TONE, TURN], &Group::ALL.map(Group::key)[..]].concat();
        for group in groups {
            for (place, key) in group.iter().enumerate() {
                assert!(!group[place + 1..].contains(key), "{key} is given twice: {group:?}");
                assert!(!key.starts_with(&page[..]), "{key} is a key of the whole page");
            }
        }
    }
}
