//! Frequencies as notes: equal temperament about a settable A4, and registers about a target.
//!
//! Source: ISO 16:1975 for A4 = 440 Hz (from memory); scientific pitch names, C4 = MIDI key 60.

use std::fmt;
use std::str::FromStr;

use crate::units::{Cents, Hertz};

/// The pitch of A4: 380 to 480 Hz.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct A4(Hertz);

/// Why a text or number is no A4 or no note.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PitchError {
    /// Outside 380 … 480 Hz.
    A4Range(String),
    /// No number.
    A4NoNumber(String),
    /// Not a note name such as `C5`, `F#4` or `Bb3`.
    Name(String),
}

impl A4 {
    /// The standard pitch, 440 Hz (ISO 16).
    pub const STANDARD_HZ: f64 = 440.0;

    /// Errors: outside 380 … 480 Hz or not a number.
    pub fn new(hz: f64) -> Result<Self, PitchError> {
        match Hertz::new(hz) {
            Some(frequency) if (380.0..=480.0).contains(&hz) => Ok(Self(frequency)),
            _ => Err(PitchError::A4Range(hz.to_string())),
        }
    }

    /// In hertz.
    pub fn hz(self) -> f64 {
        self.0.hz()
    }
}

impl Default for A4 {
    fn default() -> Self {
        Self(Hertz::new(Self::STANDARD_HZ).expect("440 is a frequency"))
    }
}

impl FromStr for A4 {
    type Err = PitchError;
    fn from_str(text: &str) -> Result<Self, PitchError> {
        let number = text
            .trim()
            .replace(',', ".")
            .parse()
            .map_err(|_| PitchError::A4NoNumber(text.to_owned()))?;
        Self::new(number)
    }
}

/// An equal-tempered note, by its MIDI key number (A4 = 69, C5 = 72). It is named with sharps,
/// unless it was written with a flat: A#4 and Bb4 are the same note.
#[derive(Clone, Copy)]
pub struct Note {
    key: i32,
    flats: bool,
}

const SHARPS: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const FLATS: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"];

impl Note {
    /// By MIDI key number; any integer names a note.
    pub const fn from_midi(key: i32) -> Self {
        Self { key, flats: false }
    }

    /// MIDI key number.
    pub const fn midi(self) -> i32 {
        self.key
    }

    /// The note `octaves` higher, written as this one is.
    pub fn octaves_up(self, octaves: i32) -> Self {
        Self { key: self.key.saturating_add(octaves.saturating_mul(12)), ..self }
    }

    /// The same note named as one who writes `other` would: with flats where that has one.
    pub fn named_like(self, other: Option<Self>) -> Self {
        Self { flats: other.is_some_and(|other| other.flats), ..self }
    }

    /// Equal-tempered frequency, 440·2^((key − 69)/12) at the standard A4.
    pub fn frequency(self, a4: A4) -> Hertz {
        a4.0.raised(Cents(f64::from(self.key - 69) * 100.0))
    }

    /// The nearest note to `frequency`, and how far `frequency` lies above it (−50 … +50 cents).
    pub fn nearest(frequency: Hertz, a4: A4) -> (Self, Cents) {
        let cents_above_a4 = a4.0.cents_to(frequency).0;
        let semitones = (cents_above_a4 / 100.0).round();
        (Self::from_midi(69 + semitones as i32), Cents(cents_above_a4 - 100.0 * semitones))
    }
}

impl PartialEq for Note {
    fn eq(&self, other: &Self) -> bool {
        self.key == other.key
    }
}

impl Eq for Note {}

/// How it is written is not part of what it is: readings and settings do not depend on it.
impl fmt::Debug for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Note({})", self.key)
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names = if self.flats { FLATS } else { SHARPS };
        let name = names[self.key.rem_euclid(12) as usize];
        write!(f, "{name}{}", self.key.div_euclid(12) - 1)
    }
}

impl FromStr for Note {
    type Err = PitchError;
    fn from_str(text: &str) -> Result<Self, PitchError> {
        let error = || PitchError::Name(text.to_owned());
        let mut rest = text.trim().chars();
        let step = match rest.next().map(|letter| letter.to_ascii_uppercase()) {
            Some('C') => 0,
            Some('D') => 2,
            Some('E') => 4,
            Some('F') => 5,
            Some('G') => 7,
            Some('A') => 9,
            Some('B') => 11,
            _ => return Err(error()),
        };
        let tail = rest.as_str();
        let (accidental, octave) = match tail.chars().next() {
            Some('#' | '♯') => (1, tail.trim_start_matches(['#', '♯'])),
            Some('b' | '♭') => (-1, tail.trim_start_matches(['b', '♭'])),
            _ => (0, tail),
        };
        if tail.chars().count() > octave.chars().count() + 1 {
            return Err(error());
        }
        let octave: i32 = octave.parse().map_err(|_| error())?;
        if !(-1..=9).contains(&octave) {
            return Err(error());
        }
        Ok(Self { key: (octave + 1) * 12 + step + accidental, flats: accidental < 0 })
    }
}

/// Which octave a tone is in, counted from `target`: round(log2(frequency / target)).
pub fn register(frequency: Hertz, target: Hertz) -> i32 {
    (target.cents_to(frequency).0 / 1200.0).round() as i32
}

/// Distance of `frequency` from the pitch class of `target`, folded into the nearest register:
/// −600 … +600 cents, negative is flat.
pub fn cents_from_target(frequency: Hertz, target: Hertz) -> Cents {
    let cents = target.cents_to(frequency).0;
    Cents(cents - 1200.0 * (cents / 1200.0).round())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(a4_hz: f64) -> A4 {
        A4::new(a4_hz).unwrap()
    }

    /// Equal temperament about A4 = 440 (ISO 16:1975) and 442 Hz; 440·2^((key − 69)/12), four
    /// printed places, hence the tolerance.
    #[test]
    fn note_frequencies_match_the_equal_tempered_table() {
        for (name, standard_hz, high_hz) in [
            ("A#3", 233.0819, 234.1413),
            ("C4", 261.6256, 262.8148),
            ("F#4", 369.9944, 371.6762),
            ("A4", 440.0, 442.0),
            ("B4", 493.8833, 496.1282),
            ("C5", 523.2511, 525.6295),
            ("C6", 1046.5023, 1051.2591),
        ] {
            let note: Note = name.parse().unwrap();
            assert!((note.frequency(at(440.0)).hz() - standard_hz).abs() < 6e-5, "{name}");
            assert!((note.frequency(at(442.0)).hz() - high_hz).abs() < 6e-5, "{name}");
            assert_eq!(note.to_string(), name);
        }
    }

    #[test]
    fn flats_and_sharps_name_the_same_key() {
        assert_eq!("Bb3".parse::<Note>(), "A#3".parse());
        let b_flat: Note = "bb3".parse().unwrap();
        assert_eq!([b_flat, b_flat.octaves_up(1)].map(|note| note.to_string()), ["Bb3", "Bb4"]);
        assert_eq!(Note::from_midi(61).named_like(Some(b_flat)).to_string(), "Db4");
        assert_eq!(b_flat.named_like(None).to_string(), "A#3");
        assert_eq!("c5".parse::<Note>(), Ok(Note::from_midi(72)));
        for bad in ["", "H4", "C", "C##5", "C5x", "5", "Cb", "C99"] {
            assert!(bad.parse::<Note>().is_err(), "{bad}");
        }
    }

    #[test]
    fn registers_and_target_distance_fold_about_the_octave() {
        let target = Hertz::new(523.2511).unwrap();
        let flat_c6 = Hertz::new(1046.5023).unwrap().raised(Cents(-38.0));
        assert_eq!(register(flat_c6, target), 1);
        assert!((cents_from_target(flat_c6, target).0 + 38.0).abs() < 1e-3);
        let b4 = Hertz::new(493.8833).unwrap();
        assert_eq!(register(b4, target), 0);
        assert!((cents_from_target(b4, target).0 + 100.0).abs() < 1e-3);
    }

    #[test]
    fn a4_outside_380_to_480_is_refused() {
        assert!(A4::new(379.9).is_err());
        assert!(A4::new(480.1).is_err());
        assert!("nan".parse::<A4>().is_err());
        assert_eq!("442".parse::<A4>(), Ok(at(442.0)));
    }
}
