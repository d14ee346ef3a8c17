//! What may be typed at the bench.

use crate::log::Step;
use crate::reed::{Cut, Sizes};
use crate::units::{LengthError, Millimetres};

/// Something typed at the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// A cut, or a note.
    Step(Step),
    /// What was measured: the length where nothing else is named.
    Measure(Sizes),
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
c 0.3      clip of 0.3 mm        h   heart surface       u   undo the last
t          tip sides             hs  heart sides         r   redo it
tc         tip corners           b   back windows        w   the way so far
tf         tip surface           ra  back rails          n words  a note
ts         tip step              ow  opening wider       ?   this
sl         seal low              on  opening narrower    q   end
sh         seal heart            rt  retie
m 70.1     length measured, in mm (or 2.76in); m tip 66 heart 61.2 others (also
           staple, wound, window, opening, throat)
Words after a cut are kept with it: t left more. Whole words do too: clip 0.3.
";

impl Command {
    /// Reads one line; `None` for an empty one.
    pub fn parse(line: &str) -> Result<Option<Self>, CommandError> {
        let line = line.trim();
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        let rest = rest.trim();
        let word = word.to_lowercase();
        let (second, after) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
        if let Some(cut) = Cut::named(&format!("{word} {second}")) {
            return Ok(Some(Self::Step(step(cut, after)?)));
        }
        if let Some(cut) = Cut::named(&word) {
            return Ok(Some(Self::Step(step(cut, rest)?)));
        }
        Ok(Some(match word.as_str() {
            "" => return Ok(None),
            "n" | "note" if rest.is_empty() => {
                return Err(CommandError::Incomplete("n wants words: n dull"));
            }
            "n" | "note" => Self::Step(Step::note(rest)),
            "m" | "measure" | "l" | "length" => Self::Measure(sizes(rest)?),
            "u" | "undo" => Self::Undo,
            "r" | "redo" => Self::Redo,
            "w" | "way" => Self::Way,
            "?" | "help" => Self::Help,
            "q" | "quit" | "end" => Self::Quit,
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

/// Lengths with the names of what was measured before them; one without a name is the length.
fn sizes(text: &str) -> Result<Sizes, CommandError> {
    const WANTED: CommandError =
        CommandError::Incomplete("m wants millimetres: m 70.1, or m tip 66 heart 61.2");
    let mut sizes = Sizes::default();
    let mut words = text.split_whitespace();
    while let Some(word) = words.next() {
        let field = match word {
            "length" => &mut sizes.length_mm,
            "staple" => &mut sizes.staple_mm,
            "wound" => &mut sizes.wound_to_mm,
            "window" => &mut sizes.window_bottom_mm,
            "heart" => &mut sizes.heart_bottom_mm,
            "tip" => &mut sizes.tip_start_mm,
            "opening" => &mut sizes.opening_mm,
            "throat" => &mut sizes.throat_width_mm,
            length => {
                sizes.length_mm = Some(length.parse::<Millimetres>()?.0);
                continue;
            }
        };
        *field = Some(words.next().ok_or(WANTED)?.parse::<Millimetres>()?.0);
    }
    if sizes == Sizes::default() { Err(WANTED) } else { Ok(sizes) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reed::moves::WORK;

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
    fn whole_words_do_as_well_as_letters() {
        for (whole, letters) in [
            ("clip 0.3", "c 0.3"),
            ("heart thinner", "h thinner"),
            ("undo", "u"),
            ("measure 70.1", "l 70.1"),
            ("note dull", "n dull"),
            ("quit", "q"),
        ] {
            assert_eq!(parsed(whole), parsed(letters));
        }
    }

    #[test]
    fn a_measurement_without_a_name_is_the_length() {
        let sizes = Sizes { length_mm: Some(70.1), ..Sizes::default() };
        assert_eq!(parsed("m 70.1"), Command::Measure(sizes));
        let sizes =
            Sizes { tip_start_mm: Some(66.0), heart_bottom_mm: Some(61.2), ..Sizes::default() };
        assert_eq!(parsed("m tip 66 heart 61,2"), Command::Measure(sizes));
    }

    #[test]
    fn every_cut_has_its_letters_and_the_help_names_them() {
        for row in WORK.iter().filter(|row| row.place.is_some()) {
            let named = HELP.split_whitespace().any(|word| word == row.letters);
            assert!(named, "{}", row.letters);
            let line = if row.cut == Cut::Clip { "clip 0.3" } else { row.words };
            let Command::Step(step) = parsed(line) else { panic!("{line}") };
            assert_eq!((step.cut, step.note), (Some(row.cut), None));
        }
        assert_eq!(parsed("t left more"), {
            Command::Step(Step { note: Some("left more".into()), ..Step::new(Cut::TipSides, None) })
        });
    }

    #[test]
    fn what_is_no_command_is_refused_and_an_empty_line_is_nothing() {
        assert_eq!(Command::parse("  "), Ok(None));
        for line in ["x", "c", "c much", "n", "l", "l long", "m", "m tip", "m tip heart", "clip"] {
            assert!(Command::parse(line).is_err(), "{line}");
        }
    }
}
