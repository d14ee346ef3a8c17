//! Lengths and positions, checked when they are made.

use std::ops::Deref;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::Millimetres;

choice! {
    /// What may be measured, by the word that is typed for it.
    Size {
        /// Whole length.
        Length = "length",
        /// Length of the staple.
        Staple = "staple",
        /// Where the winding ends.
        Winding = "wound",
        /// Where the windows begin.
        Window = "window",
        /// Where the heart ends.
        Heart = "heart",
        /// Where the tip begins.
        Tip = "tip",
        /// Height of the opening.
        Opening = "opening",
        /// Width where the cane leaves the winding.
        Throat = "throat",
    }
}

impl Size {
    /// What may be typed for it: its word with a value that such a part may have.
    pub fn example(self) -> &'static str {
        match self {
            Self::Length => "length 70.2",
            Self::Staple => "staple 47",
            Self::Winding => "wound 47",
            Self::Window => "window 50",
            Self::Heart => "heart 61.2",
            Self::Tip => "tip 66",
            Self::Opening => "opening 0.8",
            Self::Throat => "throat 6.9",
        }
    }
}

/// What may be measured on a reed, in millimetres, unchecked; `None` where it was not.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Sizes {
    /// Whole length.
    pub length_mm: Option<f64>,
    /// Length of the staple.
    pub staple_mm: Option<f64>,
    /// Where the winding ends.
    pub wound_to_mm: Option<f64>,
    /// Where the windows begin, over the bark.
    pub window_bottom_mm: Option<f64>,
    /// Where the heart ends towards the windows.
    pub heart_bottom_mm: Option<f64>,
    /// Where the tip begins, at its corners.
    pub tip_start_mm: Option<f64>,
    /// Height of the opening between the blades.
    pub opening_mm: Option<f64>,
    /// Width of the cane where it leaves the winding.
    pub throat_width_mm: Option<f64>,
}

/// The measurements of one reed: each sensible alone and all of them together.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(try_from = "Sizes", into = "Sizes")]
#[schemars(with = "Sizes")]
pub struct Measurements(Sizes);

/// Why numbers are not measurements of a reed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MeasurementError {
    /// Outside what any double reed has.
    Range {
        /// Which.
        size: Size,
        /// As given.
        value: f64,
        /// Least sensible value.
        least: f64,
        /// Greatest sensible value.
        most: f64,
    },
    /// No tip is as short as that.
    Tip {
        /// Where it begins, as given.
        tip_start: f64,
        /// Whole length, as given.
        length: f64,
    },
    /// Two that contradict each other.
    Order {
        /// What should lie lower.
        lower_size: Size,
        /// As given.
        lower: f64,
        /// What should lie higher.
        upper_size: Size,
        /// As given.
        upper: f64,
    },
}

/// The shortest tip that any double reed has, in millimetres (our choice: tips are some
/// millimetres long).
pub(crate) const SHORTEST_TIP_MM: f64 = 1.0;

/// What may have been meant by a value out of range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Meant {
    /// The same number, in inches.
    Inches,
    /// Another number of millimetres: a slip of the point.
    Millimetres(f64),
}

impl MeasurementError {
    /// What explains a value out of range. A slip is named only where it leads to what the reeds of
    /// the built-in kinds have.
    pub(crate) fn meant(&self) -> Option<Meant> {
        let Self::Range { size, value, least, most } = self else { return None };
        if (*least..=*most).contains(&(Millimetres::PER_INCH * value)) {
            return Some(Meant::Inches);
        }
        let slip =
            [value * 10.0, value / 10.0].into_iter().find(|slip| usual(*size).contains(slip));
        slip.map(|slip| Meant::Millimetres((slip * 1000.0).round() / 1000.0))
    }
}

/// What such a part measures on most reeds, in millimetres (common practice, no source): narrower than
/// what can be, since it is offered to the maker as what he may have meant.
fn usual(size: Size) -> std::ops::RangeInclusive<f64> {
    match size {
        Size::Length => 53.0..=80.0,
        Size::Staple => 22.0..=50.0,
        Size::Winding => 20.0..=50.0,
        Size::Window => 24.0..=60.0,
        Size::Heart => 35.0..=68.0,
        Size::Tip => 45.0..=75.0,
        Size::Opening => 0.3..=2.0,
        Size::Throat => 5.0..=12.0,
    }
}

impl Measurements {
    /// As [`Self::new`], of what was just measured: a tip shorter than any is an error too. (What
    /// was once written down stays readable.)
    pub fn just_made(sizes: Sizes) -> Result<Self, MeasurementError> {
        match (sizes.tip_start_mm, sizes.length_mm) {
            (Some(tip_start), Some(length))
                if tip_start <= length && length - tip_start < SHORTEST_TIP_MM =>
            {
                Err(MeasurementError::Tip { tip_start, length })
            }
            _ => Self::new(sizes),
        }
    }

    /// Errors: a value no double reed has, or two that contradict each other.
    pub fn new(sizes: Sizes) -> Result<Self, MeasurementError> {
        let ranges = [
            (Size::Length, sizes.length_mm, 20.0, 150.0),
            (Size::Staple, sizes.staple_mm, 10.0, 80.0),
            (Size::Winding, sizes.wound_to_mm, 5.0, 100.0),
            (Size::Window, sizes.window_bottom_mm, 5.0, 150.0),
            (Size::Heart, sizes.heart_bottom_mm, 5.0, 150.0),
            (Size::Tip, sizes.tip_start_mm, 5.0, 150.0),
            (Size::Opening, sizes.opening_mm, 0.0, 5.0),
            (Size::Throat, sizes.throat_width_mm, 1.0, 25.0),
        ];
        for (size, value, least, most) in ranges {
            // A value that is not a number is in no range.
            if let Some(value) = value
                && !(least..=most).contains(&value)
            {
                return Err(MeasurementError::Range { size, value, least, most });
            }
        }
        let upwards = [
            (Size::Window, sizes.window_bottom_mm),
            (Size::Heart, sizes.heart_bottom_mm),
            (Size::Tip, sizes.tip_start_mm),
            (Size::Length, sizes.length_mm),
        ];
        in_order(&upwards)?;
        for below in [(Size::Staple, sizes.staple_mm), (Size::Winding, sizes.wound_to_mm)] {
            in_order(&[below, (Size::Length, sizes.length_mm)])?;
        }
        Ok(Self(sizes))
    }
}

fn in_order(upwards: &[(Size, Option<f64>)]) -> Result<(), MeasurementError> {
    let given: Vec<(Size, f64)> =
        upwards.iter().filter_map(|(size, value)| Some((*size, (*value)?))).collect();
    for pair in given.windows(2) {
        if let [(lower_size, lower), (upper_size, upper)] = *pair
            && lower > upper
        {
            return Err(MeasurementError::Order { lower_size, lower, upper_size, upper });
        }
    }
    Ok(())
}

impl Sizes {
    /// What is given here, and for what is not, what `earlier` says.
    pub fn over(self, earlier: Self) -> Self {
        self.each(earlier, Option::or)
    }

    /// The values given here that `later` gives otherwise.
    pub fn corrected_by(self, later: Self) -> Self {
        self.each(later, |was, is| was.filter(|was| is.is_some_and(|is| is != *was)))
    }

    fn each(self, other: Self, of: impl Fn(Option<f64>, Option<f64>) -> Option<f64>) -> Self {
        Self {
            length_mm: of(self.length_mm, other.length_mm),
            staple_mm: of(self.staple_mm, other.staple_mm),
            wound_to_mm: of(self.wound_to_mm, other.wound_to_mm),
            window_bottom_mm: of(self.window_bottom_mm, other.window_bottom_mm),
            heart_bottom_mm: of(self.heart_bottom_mm, other.heart_bottom_mm),
            tip_start_mm: of(self.tip_start_mm, other.tip_start_mm),
            opening_mm: of(self.opening_mm, other.opening_mm),
            throat_width_mm: of(self.throat_width_mm, other.throat_width_mm),
        }
    }
}

impl Deref for Measurements {
    type Target = Sizes;
    fn deref(&self) -> &Sizes {
        &self.0
    }
}

impl TryFrom<Sizes> for Measurements {
    type Error = MeasurementError;
    fn try_from(sizes: Sizes) -> Result<Self, MeasurementError> {
        Self::new(sizes)
    }
}

impl From<Measurements> for Sizes {
    fn from(measurements: Measurements) -> Self {
        measurements.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_usual_reed_is_accepted_and_reads_back_the_same() {
        let sizes = Sizes {
            length_mm: Some(70.0),
            staple_mm: Some(47.0),
            wound_to_mm: Some(47.0),
            window_bottom_mm: Some(50.0),
            heart_bottom_mm: Some(61.0),
            tip_start_mm: Some(66.0),
            ..Sizes::default()
        };
        let measured = Measurements::new(sizes).unwrap();
        let line = serde_json::to_string(&measured).unwrap();
        assert_eq!(serde_json::from_str::<Measurements>(&line).unwrap(), measured);
    }

    #[test]
    fn a_slip_of_the_point_is_named_and_a_tip_too_short_is_refused_where_it_is_measured() {
        let refused = |sizes| Measurements::just_made(sizes).unwrap_err();
        let meant = |sizes| refused(sizes).meant();
        let of = |length_mm, staple_mm| Sizes { length_mm, staple_mm, ..Sizes::default() };
        assert_eq!(meant(of(None, Some(4.7))), Some(Meant::Millimetres(47.0)));
        assert_eq!(meant(of(Some(700.0), None)), Some(Meant::Millimetres(70.0)));
        assert_eq!(meant(of(Some(7000.0), None)), None);
        // No reed for which a staple is put on is 50 mm long.
        assert_eq!(meant(of(Some(500.0), None)), None);
        let short = Sizes { tip_start_mm: Some(69.4), ..of(Some(70.0), None) };
        let too_short = MeasurementError::Tip { tip_start: 69.4, length: 70.0 };
        assert_eq!(refused(short), too_short);
        assert!(Measurements::new(short).is_ok());
    }

    #[test]
    fn a_contradiction_says_which_two_values_to_check() {
        let told = |sizes| Measurements::new(sizes).unwrap_err().to_string();
        let length = Sizes { length_mm: Some(70.0), ..Sizes::default() };
        insta::assert_snapshot!(told(Sizes { tip_start_mm: Some(71.0), ..length }), @"the tip begins at 71 mm, and the reed ends at 70 mm, which cannot be: check 'tip' and 'length', both from the bottom of the staple");
        insta::assert_snapshot!(told(Sizes { staple_mm: Some(72.0), ..length }), @"the staple ends at 72 mm, and the reed ends at 70 mm, which cannot be: check 'staple' and 'length', both from the bottom of the staple");
        let heart = Sizes { tip_start_mm: Some(60.0), heart_bottom_mm: Some(61.0), ..length };
        insta::assert_snapshot!(told(heart), @"the heart ends at 61 mm, and the tip begins at 60 mm, which cannot be: check 'heart' and 'tip', both from the bottom of the staple");
    }

    #[test]
    fn what_no_reed_measures_is_refused_from_a_file_too() {
        for sizes in [
            Sizes { length_mm: Some(f64::NAN), ..Sizes::default() },
            Sizes { length_mm: Some(700.0), ..Sizes::default() },
            Sizes { length_mm: Some(70.0), tip_start_mm: Some(71.0), ..Sizes::default() },
            Sizes { tip_start_mm: Some(60.0), heart_bottom_mm: Some(61.0), ..Sizes::default() },
        ] {
            let said = Measurements::new(sizes).unwrap_err().to_string();
            assert_eq!(said.lines().count(), 1);
        }
        assert!(serde_json::from_str::<Measurements>("{\"length_mm\": 700}").is_err());
        assert!(serde_json::from_str::<Measurements>("{\"lenght_mm\": 70}").is_err());
    }
}
