//! Numbers, notes and units as text: one place for the whole program.
//!
//! A figure is shown to the digit its interval supports, with the minus sign U+2212; where a
//! terminal cannot show that, [`to_ascii`] turns the finished text into ASCII.

use std::fmt::Display;

use crate::pitch::{A4, Note};
use crate::text::is_unseen;
use crate::units::{Hertz, Millimetres};

/// Words on one line: what a maker wrote over several, for tables and lists. What turns the direction of
/// writing is left out: it would turn what stands after it too.
pub fn one_line(text: &str) -> String {
    text.split(|letter: char| letter.is_whitespace() || letter.is_control())
        .map(|word| word.chars().filter(|letter| !is_unseen(*letter)).collect::<String>())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// With a capital at its head.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

/// A number with `places` decimals; negative ones begin with U+2212, and what rounds to zero has
/// no sign.
pub fn number(value: f64, places: usize) -> String {
    let text = format!("{:.places$}", value.abs());
    let is_zero = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if value < 0.0 && !is_zero { format!("−{text}") } else { text }
}

/// As [`number`], with a plus sign above zero.
pub fn signed(value: f64, places: usize) -> String {
    let text = number(value, places);
    let is_zero = text.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    if value > 0.0 && !is_zero { format!("+{text}") } else { text }
}

/// A half width of a 95 % interval: `±0.9`, with the decimals that show two of its digits, at most
/// `most_places`. Rounded up, so that it never looks surer than it is.
pub fn interval(half_width: f64, most_places: usize) -> String {
    let digits = if half_width >= 10.0 {
        0
    } else if half_width >= 1.0 {
        1
    } else {
        2
    };
    plus_minus(half_width, most_places.min(digits))
}

/// As [`interval`], with as many decimals as the value before it has.
pub fn plus_minus(half_width: f64, places: usize) -> String {
    let scale = 10f64.powi(places as i32);
    // What stands on a step but for the last bits of the division stays there.
    let steps = match half_width > 0.0 {
        true => (half_width * scale - 1e-6).ceil().max(1.0),
        // What is known to the last digit is told as that.
        false => 0.0,
    };
    format!("±{:.places$}", steps / scale)
}

/// Cents with their sign: `−38 cents`.
pub fn cents(value: f64) -> String {
    let text = signed(value, 0);
    let unit = if matches!(text.as_str(), "+1" | "−1") { "cent" } else { "cents" };
    format!("{text} {unit}")
}

/// An interval in octaves, in words: `an octave above`, `two octaves below`, `on` for none.
pub fn octaves_away(octaves: i32) -> String {
    let side = if octaves < 0 { "below" } else { "above" };
    match octaves.unsigned_abs() {
        0 => "on".into(),
        1 => format!("an octave {side}"),
        2 => format!("two octaves {side}"),
        3 => format!("three octaves {side}"),
        more => format!("{more} octaves {side}"),
    }
}

/// A frequency: `512.4 Hz`, from 10 kHz on without decimals.
pub fn hertz(value: f64) -> String {
    format!("{} Hz", number(value, usize::from(value < 10_000.0)))
}

/// A level or a difference of levels: `−9.5 dB`.
pub fn decibels(value: f64) -> String {
    format!("{} dB", number(value, 1))
}

/// A level relative to a full-scale sine: `−18.2 dB`.
pub fn dbfs(value: f64) -> String {
    format!("{} dB", number(value, 1))
}

/// A time: `0.12 s`.
pub fn seconds(value: f64) -> String {
    format!("{} s", number(value, 2))
}

/// A length: `0.15 mm`, from 10 mm on to a tenth, which is what a ruler tells: `70.4 mm`.
pub fn millimetres(value: f64) -> String {
    format!("{} mm", millimetres_alone(value))
}

/// As [`millimetres`], without the unit.
pub fn millimetres_alone(value: f64) -> String {
    let text = number(value, if value.abs() < 10.0 { 2 } else { 1 });
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A length in inches, to a thousandth: `2.772 in`.
pub fn inches(mm: f64) -> String {
    format!("{} in", number(Millimetres(mm).inches(), 3))
}

/// In what lengths are shown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres, as they are kept.
    #[default]
    Millimetres,
    /// Inches, to a thousandth.
    Inches,
    /// Both, where what was typed in inches is read back.
    Both,
}

impl LengthUnit {
    /// A length with its unit.
    pub fn text(self, mm: f64) -> String {
        match self {
            Self::Millimetres => millimetres(mm),
            Self::Inches => inches(mm),
            Self::Both => format!("{} ({})", millimetres(mm), inches(mm)),
        }
    }

    /// A length as sentences tell it: to a twentieth of a millimetre, with inches behind it unless
    /// millimetres are enough.
    pub fn told(self, mm: f64) -> String {
        self.beside(&Millimetres(mm).to_string(), mm)
    }

    /// A length that `text` tells in millimetres, with inches behind it unless millimetres are enough.
    pub fn beside(self, text: &str, mm: f64) -> String {
        match self {
            Self::Millimetres => text.to_owned(),
            Self::Inches | Self::Both => format!("{text} ({})", inches(mm)),
        }
    }
}

/// A share of 0 … 1 as `98 %`.
pub fn percent(share: f64) -> String {
    format!("{} %", number(100.0 * share, 0))
}

/// How many of how many.
pub fn out_of(count: usize, of: usize) -> String {
    format!("{count} of {of}")
}

/// The same with the percents between which the true share lies: `2 of 10 (6–51 %)`.
pub fn share_within(out_of: &str, low_percent: &str, high_percent: &str) -> String {
    format!("{out_of} ({low_percent}–{high_percent} %)")
}

/// A range.
pub fn from_to(from: impl Display, to: impl Display) -> String {
    format!("{from} to {to}")
}

/// The nearest note and the distance from it: `C5 −38 cents`.
pub fn note_and_cents(note: &str, cents_above: f64) -> String {
    format!("{note} {}", cents(cents_above))
}

/// Name of the note nearest to a frequency, with flats where `target` has one; empty for what is no
/// frequency.
pub fn nearest_note(hz: f64, a4: A4, target: Option<Note>) -> String {
    let near = Hertz::new(hz).map(|hertz| Note::nearest(hertz, a4).0.named_like(target));
    near.map(|note| note.to_string()).unwrap_or_default()
}

/// A note's name as readings have it, with flats where `target` has one.
pub fn note_name(name: &str, target: Option<Note>) -> String {
    match name.parse::<Note>() {
        Ok(note) => note.named_like(target).to_string(),
        Err(_) => name.to_owned(),
    }
}

/// `1 crow`, `2 crows`.
pub fn counted(count: usize, thing: &str) -> String {
    counted_number(&count.to_string(), thing)
}

/// As [`counted`], with a number that is text already: `1 cent`, `1.5 cents`.
pub fn counted_number(number: &str, thing: &str) -> String {
    format!("{number} {thing}{}", if number == "1" { "" } else { "s" })
}

/// The same text in ASCII, for terminals whose locale is not UTF-8. Signs become their usual
/// stand-ins, anything else a question mark.
pub fn to_ascii(text: &str) -> String {
    let mut ascii = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '−' | '–' | '‐' => ascii.push('-'),
            '—' => ascii.push_str("--"),
            '±' => ascii.push_str("+/-"),
            '…' => ascii.push_str("..."),
            '×' => ascii.push('x'),
            '·' | '░' => ascii.push('.'),
            '█' => ascii.push('#'),
            '▁' => ascii.push('_'),
            '▂' => ascii.push('.'),
            '▃' => ascii.push('-'),
            '▄' => ascii.push('~'),
            '▅' => ascii.push('='),
            '▆' => ascii.push('+'),
            '▇' => ascii.push('*'),
            '’' | '‘' => ascii.push('\''),
            '“' | '”' => ascii.push('"'),
            '→' => ascii.push_str("->"),
            '≤' => ascii.push_str("<="),
            '≥' => ascii.push_str(">="),
            '♯' => ascii.push('#'),
            '♭' => ascii.push('b'),
            '°' => ascii.push_str(" deg"),
            character if character.is_ascii() => ascii.push(character),
            _ => ascii.push('?'),
        }
    }
    ascii
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_the_writing_is_left_out_of_a_line() {
        assert_eq!(one_line("Zo\u{202e}ë\nand\u{1b}[2J \u{2066}Bram"), "Zoë and [2J Bram");
    }

    #[test]
    fn what_rounds_to_zero_has_no_sign() {
        assert_eq!(cents(-0.4), "0 cents");
        assert_eq!(cents(0.4), "0 cents");
        assert_eq!(number(-0.04, 1), "0.0");
    }

    #[test]
    fn figures_carry_a_real_minus_their_sign_and_their_unit() {
        assert_eq!(cents(-38.2), "−38 cents");
        assert_eq!(cents(12.0), "+12 cents");
        assert_eq!(cents(-1.0), "−1 cent");
        assert_eq!(hertz(512.44), "512.4 Hz");
        assert_eq!(hertz(48_000.0), "48000 Hz");
        assert_eq!(decibels(-9.53), "−9.5 dB");
        assert_eq!(millimetres(0.3), "0.3 mm");
        assert_eq!(millimetres(70.0), "70 mm");
        // 2.77 in, read back: a ruler tells no hundredths.
        assert_eq!(millimetres(2.77 * 25.4), "70.4 mm");
        assert_eq!(millimetres(0.15), "0.15 mm");
        assert_eq!(inches(70.358), "2.770 in");
        assert_eq!(LengthUnit::Both.text(70.358), "70.4 mm (2.770 in)");
        assert_eq!(LengthUnit::Millimetres.told(66.5), "66.5 mm");
        assert_eq!(LengthUnit::Inches.told(66.5), "66.5 mm (2.618 in)");
        // The inches are those of the length itself, not of what a ruler tells of it.
        assert_eq!(LengthUnit::Both.told(2.77 * 25.4), "70.35 mm (2.770 in)");
        assert_eq!(percent(0.984), "98 %");
        assert_eq!(counted(1, "crow"), "1 crow");
    }

    #[test]
    fn intervals_are_rounded_up_to_the_digits_they_support() {
        assert_eq!(interval(0.834, 2), "±0.84");
        assert_eq!(interval(0.834, 1), "±0.9");
        assert_eq!(interval(0.8, 1), "±0.8");
        assert_eq!(interval(3.21, 2), "±3.3");
        assert_eq!(interval(14.2, 2), "±15");
        assert_eq!(interval(0.001, 1), "±0.1");
        assert_eq!((plus_minus(0.0, 0), plus_minus(0.0162, 3)), ("±0".into(), "±0.017".into()));
    }

    #[test]
    fn ascii_keeps_every_sign_readable() {
        assert_eq!(to_ascii("C5 −38 ±1.2 ██░░"), "C5 -38 +/-1.2 ##..");
    }
}
