//! What may be typed at the bench.

use crate::comparison::Cut;
use crate::log::Step;
use crate::units::{LengthError, Millimetres};

/// Something typed at the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// A cut, or a note.
    Step(Step),
    /// The length, measured anew.
    Length(Millimetres),
    /// Take the last thing back.
    Undo,
    /// Make it again.
    Redo,
    /// Show the way so far.
    Way,
    /// Show what may be typed.
    Help,
    /// End.
    Quit,
}

/// Why a line is no command.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CommandError {
    /// Begins with a word that is none.
    #[error("'{0}' is no command here; ? shows them")]
    Unknown(String),
    /// An amount or length that is none.
    #[error(transparent)]
    Length(#[from] LengthError),
    /// Wants something after it.
    #[error("{0}")]
    Incomplete(&'static str),
}

/// What may be typed, for `?`.
pub const HELP: &str = "\
c 0.3      clip of 0.3 mm        h   heart               u   undo the last
t          tip sides             hc  heart channels      r   redo it
tc         tip corners           b   back, windows       w   the way so far
tf         tip surface           ra  rails               l 70.1  length measured
ts         tip start, rooftop    o   opening             n words  a note
s          seal                  words after a cut are kept with it: t left more
?          this                  q   end
";

const CUTS: [(&str, Cut); 11] = [
    ("c", Cut::Clip),
    ("t", Cut::TipSides),
    ("tc", Cut::TipCorners),
    ("tf", Cut::TipSurface),
    ("ts", Cut::TipStart),
    ("h", Cut::Heart),
    ("hc", Cut::HeartChannels),
    ("b", Cut::Back),
    ("ra", Cut::Rails),
    ("o", Cut::Opening),
    ("s", Cut::Seal),
];

impl Command {
    /// Reads one line; `None` for an empty one.
    pub fn parse(line: &str) -> Result<Option<Self>, CommandError> {
        let line = line.trim();
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        let rest = rest.trim();
        let word = word.to_lowercase();
        if let Some((_, cut)) = CUTS.iter().find(|(name, _)| *name == word) {
            return Ok(Some(Self::Step(step(*cut, rest)?)));
        }
        Ok(Some(match word.as_str() {
            "" => return Ok(None),
            "n" if rest.is_empty() => {
                return Err(CommandError::Incomplete("n wants words: n dull"));
            }
            "n" => Self::Step(Step::note(rest)),
            "l" if rest.is_empty() => {
                return Err(CommandError::Incomplete("l wants the length: l 70.1"));
            }
            "l" => Self::Length(rest.parse()?),
            "u" => Self::Undo,
            "r" => Self::Redo,
            "w" => Self::Way,
            "?" => Self::Help,
            "q" => Self::Quit,
            _ => return Err(CommandError::Unknown(word)),
        }))
    }
}

/// A cut with what stands after it: a clip's amount, and words.
fn step(cut: Cut, rest: &str) -> Result<Step, CommandError> {
    let words = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    if cut != Cut::Clip {
        return Ok(Step { note: words(rest), ..Step::new(cut, None) });
    }
    if rest.is_empty() {
        return Err(CommandError::Incomplete("c wants millimetres: c 0.3"));
    }
    let (amount, more) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
    let amount: Millimetres = amount.parse()?;
    Ok(Step { note: words(more), ..Step::new(cut, Some(amount.0)) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(line: &str) -> Command {
        Command::parse(line).unwrap().unwrap()
    }

    #[test]
    fn a_clip_takes_its_amount_and_words() {
        assert_eq!(parsed("c 0.3"), Command::Step(Step::new(Cut::Clip, Some(0.3))));
        assert_eq!(parsed(" C 0,3 "), Command::Step(Step::new(Cut::Clip, Some(0.3))));
        let Command::Step(step) = parsed("c 0.01in twice") else { panic!() };
        assert!((step.amount_mm.unwrap() - 0.254).abs() < 1e-12);
        assert_eq!(step.note.as_deref(), Some("twice"));
    }

    #[test]
    fn every_cut_has_its_letters_and_the_help_names_them() {
        for cut in <Cut as clap::ValueEnum>::value_variants() {
            let (letters, _) = CUTS.iter().find(|(_, other)| other == cut).unwrap();
            let named = HELP.split_whitespace().any(|word| word == *letters);
            assert!(named, "{letters}");
        }
        assert_eq!(parsed("t left more"), {
            Command::Step(Step { note: Some("left more".into()), ..Step::new(Cut::TipSides, None) })
        });
    }

    #[test]
    fn what_is_no_command_is_refused_and_an_empty_line_is_nothing() {
        assert_eq!(Command::parse("  "), Ok(None));
        for line in ["x", "c", "c much", "n", "l", "l long", "clip 0.3"] {
            assert!(Command::parse(line).is_err(), "{line}");
        }
    }
}
