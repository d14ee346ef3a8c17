//! Quantities that travel between modules.
//!
//! Each type holds one `f64` in the unit its name says. Bare numbers with the unit in their name
//! (`_hz`, `_cents`, `_s`, `_db`, `_mm`) stand where serde, JSON or a tight loop wants them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A frequency in hertz: finite and above zero.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Hertz(f64);

impl Hertz {
    /// `None` unless `hz` is finite and above zero.
    pub fn new(hz: f64) -> Option<Self> {
        (hz.is_finite() && hz > 0.0).then_some(Self(hz))
    }

    /// The bare number, in hertz.
    pub fn hz(self) -> f64 {
        self.0
    }

    /// The interval from `self` up to `other`; negative when `other` is lower.
    pub fn cents_to(self, other: Self) -> Cents {
        Cents(1200.0 * (other.0 / self.0).log2())
    }

    /// The frequency `cents` above `self`.
    pub fn raised(self, cents: Cents) -> Self {
        Self(self.0 * (cents.0 / 1200.0).exp2())
    }
}

/// An interval in cents: a hundredth of an equal-tempered semitone.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Cents(pub f64);

/// A difference of levels, in decibels.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Decibels(pub f64);

/// A level relative to a full-scale sine (AES17: a full-scale sine is 0 dBFS).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Dbfs(pub f64);

impl Dbfs {
    /// Level of a signal whose mean square is `mean_square` (full-scale samples being ±1); a
    /// full-scale sine has the mean square ½. Zero power has no level.
    ///
    /// Source: AES17, level definition (from memory).
    pub fn from_mean_square(mean_square: f64) -> Option<Self> {
        (mean_square > 0.0).then(|| Self(10.0 * (2.0 * mean_square).log10()))
    }
}

/// Cents of a small relative change of frequency, for each unit of it: 1200/ln 2.
pub(crate) const CENTS_PER_E: f64 = 1200.0 / std::f64::consts::LN_2;

impl std::ops::Sub for Dbfs {
    type Output = Decibels;
    fn sub(self, other: Self) -> Decibels {
        Decibels(self.0 - other.0)
    }
}

/// A length in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millimetres(pub f64);

/// Text that is not a length in millimetres or inches.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub struct LengthError {
    /// As typed.
    pub(crate) said: String,
    /// How many centimetres it is, where it is that.
    pub(crate) centimetres: Option<f64>,
}

impl Millimetres {
    /// Millimetres in one inch, exactly (international inch, 1959).
    pub const PER_INCH: f64 = 25.4;

    /// The same length in inches.
    pub fn inches(self) -> f64 {
        self.0 / Self::PER_INCH
    }
}

impl fmt::Display for Millimetres {
    /// As sentences tell a length: to a twentieth of a millimetre, which is what a gauge or a clip
    /// at the bench is good for: `66.55 mm`, `70 mm`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let rounded = (self.0 * 20.0).round() / 20.0;
        let text = format!("{:.2}", rounded.abs());
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let sign = if rounded < 0.0 { "−" } else { "" };
        write!(f, "{sign}{text} mm")
    }
}

impl FromStr for Millimetres {
    type Err = LengthError;

    /// Millimetres (`70.2`, `70.2mm`, `70,2`) or inches (`2.76in`, `2.76"`).
    fn from_str(text: &str) -> Result<Self, LengthError> {
        let error = |centimetres| LengthError { said: text.trim().to_owned(), centimetres };
        let lower = text.trim().to_lowercase().replace(',', ".");
        let unit = UNITS.iter().find_map(|(unit, mm)| Some((lower.strip_suffix(unit)?, *mm)));
        let (number, scale) = unit.unwrap_or((&lower, 1.0));
        // No length of a reed has seven digits; a slip of the keys has.
        let value = number.trim().parse().ok().filter(|value: &f64| value.abs() < 1e6);
        match value.ok_or_else(|| error(None))? {
            // A slip of the point is likelier than a reed measured so: what is meant is said, not taken.
            value if scale == PER_CENTIMETRE => Err(error(Some(value))),
            value => Ok(Self(value * scale)),
        }
    }
}

const PER_CENTIMETRE: f64 = 10.0;

/// The units behind a length, each with its millimetres; what ends in another one stands before it.
const UNITS: [(&str, f64); 6] = [
    ("mm", 1.0),
    ("cm", PER_CENTIMETRE),
    ("inches", Millimetres::PER_INCH),
    ("inch", Millimetres::PER_INCH),
    ("in", Millimetres::PER_INCH),
    ("\"", Millimetres::PER_INCH),
];

/// Whether `word` is a unit of length that may stand behind a number.
pub(crate) fn is_unit(word: &str) -> bool {
    UNITS.iter().any(|(unit, _)| *unit == word.to_lowercase())
}

/// Whether a length is typed in inches.
pub(crate) fn is_in_inches(text: &str) -> bool {
    let text = text.trim_end().to_lowercase();
    let ends = |unit: &(&str, f64)| unit.1 == Millimetres::PER_INCH && text.ends_with(unit.0);
    UNITS.iter().any(ends)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// International inch, 1959: 25.4 mm exactly.
    #[test]
    fn lengths_are_typed_in_millimetres_or_inches() {
        for (text, mm) in
            [("70.2", 70.2), (" 70,2 mm", 70.2), ("1in", 25.4), ("0.5\"", 12.7), ("2 inches", 50.8)]
        {
            let length: Millimetres = text.parse().unwrap();
            assert!((length.0 - mm).abs() < 1e-12, "{text}");
        }
        assert_eq!(Millimetres(50.8).inches(), 2.0);
        for bad in ["", "mm", "70 cm", "nan", "inf", "1e999", "1e308", "-1e7"] {
            assert!(bad.parse::<Millimetres>().is_err(), "{bad}");
        }
    }

    #[test]
    fn centimetres_are_no_length_and_what_they_are_in_millimetres_is_said() {
        let told = "7 cm".parse::<Millimetres>().unwrap_err().to_string();
        insta::assert_snapshot!(told, @"lengths are written in millimetres (70.2) or inches (2.76in): for 7 cm write 70");
    }

    #[test]
    fn sentences_tell_lengths_to_a_twentieth_of_a_millimetre() {
        for (mm, text) in [
            (66.548, "66.55 mm"),
            (0.1016, "0.1 mm"),
            (70.0, "70 mm"),
            (0.15, "0.15 mm"),
            (-1.52, "−1.5 mm"),
            (-0.01, "0 mm"),
        ] {
            assert_eq!(Millimetres(mm).to_string(), text);
        }
    }

    /// AES17 (from memory): a full-scale sine is 0 dBFS, a full-scale square +3.01 dBFS.
    #[test]
    fn a_full_scale_sine_is_0_dbfs() {
        assert_eq!(Dbfs::from_mean_square(0.5), Some(Dbfs(0.0)));
        let square = Dbfs::from_mean_square(1.0).map(|level| level.0).unwrap();
        assert!((square - 3.0103).abs() < 1e-4, "{square}");
        assert_eq!(Dbfs::from_mean_square(0.0), None);
    }

    #[test]
    fn an_octave_is_1200_cents_both_ways() {
        let low = Hertz::new(440.0).unwrap();
        let high = Hertz::new(880.0).unwrap();
        assert_eq!(low.cents_to(high), Cents(1200.0));
        assert_eq!(high.cents_to(low), Cents(-1200.0));
        assert!((low.raised(Cents(1200.0)).hz() - 880.0).abs() < 1e-9);
    }

    #[test]
    fn no_frequency_is_zero_negative_or_undefined() {
        for hz in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(Hertz::new(hz), None);
        }
    }
}
