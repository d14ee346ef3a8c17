//! What is wrong with a line of a profile, and where its values come from.

use std::fmt::{Display, Formatter, Result};

use crate::profile::{Missing, OfItself, StartedFrom, Wrong, WrongCrow, WrongNumber};

impl Display for OfItself {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str("the profile's own")
    }
}

impl Display for StartedFrom<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        let like = self.0;
        write!(
            f,
            "# A profile of your own, started from {like}. Change what differs, delete what does not\n\
             # matter (what is left out under [tolerance], [smallest_change] and [advice] is as for the\n\
             # American oboe reed), and use it with --profile and this file's path.\n"
        )
    }
}

impl Display for Wrong<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NotUtf8 => f.write_str(
                "is not text (UTF-8); 'reedcrow profile new FILE' writes one to start from",
            ),
            Self::BuiltIn(name) => {
                write!(f, "the name '{name}' is built in; give yours another")
            }
            Self::Nested => f.write_str(
                "is nested too deep; a value is a number, a text in quotation marks or a list",
            ),
            Self::NotALine { says, has_comma } => {
                let point = match has_comma {
                    true => "; decimals are written with a point: 15.0",
                    false => "",
                };
                write!(
                    f,
                    "is not a line of a profile; write a key, = and a number, a text in quotation \
                     marks or a list in [brackets] ({says}){point}"
                )
            }
            Self::NotASection(section) => write!(f, "{section} must be a section: [{section}]"),
            Self::UnknownKey { key, section, known } => {
                let under = section.map_or(String::new(), |section| format!(" under [{section}]"));
                write!(f, "unknown key '{key}'{under}; known are {}", known.join(", "))
            }
            Self::UnknownWord { word, key } => {
                write!(f, "unknown word '{word}' in {key}; known are value, from, disagree")
            }
            Self::Missing(what) => f.write_str(match what {
                Missing::Name => "no name: write name = \"my-reed\"",
                Missing::Target => "no target: write target = \"C5\" or \"none\" under [crow]",
                Missing::Registers => "no registers: write registers = [0, 1] under [crow]",
            }),
            Self::NoValue(key) => write!(f, "{key} has no value"),
            Self::Length(key) => write!(f, "{key} must have 1 to 300 characters"),
            Self::NotText { key, is } => write!(f, "{key} must be text in quotes, not {is}"),
            Self::NotAWord(name) => write!(
                f,
                "name '{name}' must be one word of letters, digits and '-', such as my-reed"
            ),
        }
    }
}

impl Display for WrongCrow<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NotATarget => {
                f.write_str("target must be a note in quotes, such as \"C5\", or \"none\"")
            }
            Self::NotNotes(key) => write!(f, "{key} must name notes in quotes, such as \"C5\""),
            Self::NotANote { key, why } => write!(f, "{key} {why}"),
            Self::OutOfReach { key, note } => {
                write!(f, "{key} {note} is out of reach: crows are read from A2 to B6")
            }
            Self::Also => f.write_str("also must be one to three notes, such as [\"B4\"]"),
            Self::AlsoAlone => f.write_str("also names notes beside a target, and there is none"),
            Self::AlsoTarget(target) => write!(f, "also names the target, {target}, again"),
            Self::PeepWithTarget => f.write_str(
                "peep_above is for reeds without a target; with one, registers tell the octave",
            ),
            Self::Registers => f.write_str(
                "registers must be one to five whole numbers from -2 to 4 in rising order, such as \
                 [0, 1]",
            ),
        }
    }
}

impl Display for WrongNumber<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::NotANumber { key, in_mm, is } => {
                let such = match in_mm {
                    true => " in mm, without quotes and unit, such as 70.0",
                    false => "",
                };
                write!(f, "{key} must be a number{such}, not {is}")
            }
            Self::NotWhole { key, number, least, most } => {
                write!(f, "{key} = {number} is not a whole number; give one from {least} to {most}")
            }
            Self::OutOfRange { key, number, least, most, unit } => {
                let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
                write!(f, "{key} = {number}{unit} is out of range; give {least} to {most}{unit}")?;
                match *key {
                    "first_clip_mm" | "smallest_clip_mm" => {
                        f.write_str(": cane cannot be put back")
                    }
                    _ => Ok(()),
                }
            }
            Self::NotAFigure { name, known } => write!(
                f,
                "'{name}' under [smallest_change] is not a figure; known are {} (in quotes)",
                known.join(", ")
            ),
            Self::Beyond { lower: (lower_name, lower), upper: (upper_name, upper) } => {
                write!(f, "{lower_name} {lower} mm lies beyond {upper_name} {upper} mm")
            }
            Self::Clips { smallest_mm, first_mm } => {
                write!(f, "smallest_clip_mm {smallest_mm} is longer than first_clip_mm {first_mm}")
            }
        }
    }
}
