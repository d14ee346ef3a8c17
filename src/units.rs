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

/// Text that is not a length.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct LengthError(pub(crate) String);

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
        let error = || LengthError(text.to_owned());
        let lower = text.trim().to_lowercase().replace(',', ".");
        let (number, scale) =
            if let Some(number) = lower.strip_suffix("in").or_else(|| lower.strip_suffix('"')) {
                (number, Self::PER_INCH)
            } else {
                (lower.strip_suffix("mm").unwrap_or(&lower), 1.0)
            };
        let value: f64 = number.trim().parse().map_err(|_| error())?;
        // No length of a reed has seven digits; a slip of the keys has.
        if value.abs() < 1e6 { Ok(Self(value * scale)) } else { Err(error()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// International inch, 1959: 25.4 mm exactly.
    #[test]
    fn lengths_are_typed_in_millimetres_or_inches() {
        for (text, mm) in [("70.2", 70.2), (" 70,2 mm", 70.2), ("1in", 25.4), ("0.5\"", 12.7)] {
            let length: Millimetres = text.parse().unwrap();
            assert!((length.0 - mm).abs() < 1e-12, "{text}");
        }
        assert_eq!(Millimetres(50.8).inches(), 2.0);
        for bad in ["", "mm", "70 cm", "nan", "inf", "1e999", "1e308", "-1e7"] {
            assert!(bad.parse::<Millimetres>().is_err(), "{bad}");
        }
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
