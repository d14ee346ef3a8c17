//! Options by which the maker says what the reed measures and looks like; shared by the commands
//! that give advice.

use std::str::FromStr;

use super::output;
use crate::profile::Profile;
use crate::reed::{
    Bark, Corners, Heart, Inspection, Leak, MeasurementError, Measurements, Overlap, Sizes,
    Symmetry, TipSides,
};
use crate::report::history::far_from_usual;
use crate::units::{LengthError, Millimetres, is_in_inches};
use crate::words::format::LengthUnit;

/// A length as it was typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Typed {
    /// The length.
    pub length: Millimetres,
    /// Whether it was typed in inches.
    in_inches: bool,
}

impl FromStr for Typed {
    type Err = LengthError;
    fn from_str(text: &str) -> Result<Self, LengthError> {
        Ok(Self { length: text.parse()?, in_inches: is_in_inches(text) })
    }
}

impl Typed {
    /// In what it is read back.
    pub fn unit(self) -> LengthUnit {
        if self.in_inches { LengthUnit::Both } else { LengthUnit::Millimetres }
    }
}

/// In what lengths are shown.
#[derive(Debug, Clone, Copy, Default, clap::Args)]
pub struct Unit {
    /// Show lengths in inches
    #[arg(long)]
    inches: bool,
}

impl Unit {
    /// Inches where they were asked for, else as `typed` was.
    pub fn or(self, typed: LengthUnit) -> LengthUnit {
        if self.inches { LengthUnit::Inches } else { typed }
    }

    /// Inches where they were asked for, else millimetres.
    pub fn unit(self) -> LengthUnit {
        self.or(LengthUnit::Millimetres)
    }
}

/// What the reed measures and what it looks like.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct Measured {
    #[command(flatten)]
    lengths: Lengths,
    #[command(flatten)]
    looks: Looks,
}

/// What the reed measures, from the bottom of the staple.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(
    next_help_heading = "The reed itself, in mm (or inches: 2.76in) from the staple's bottom"
)]
pub struct Lengths {
    /// Whole length
    #[arg(long, value_name = "MM")]
    length_mm: Option<Typed>,
    /// Length of the staple
    #[arg(long, value_name = "MM")]
    staple_mm: Option<Typed>,
    /// Where the winding ends
    #[arg(long, value_name = "MM")]
    wound_to_mm: Option<Typed>,
    /// Where the windows begin, over the bark
    #[arg(long, value_name = "MM")]
    window_mm: Option<Typed>,
    /// Where the heart ends towards the windows
    #[arg(long, value_name = "MM")]
    heart_mm: Option<Typed>,
    /// Where the tip begins, at its corners
    #[arg(long, value_name = "MM")]
    tip_mm: Option<Typed>,
    /// Height of the opening between the blades
    #[arg(long, value_name = "MM")]
    opening_mm: Option<Typed>,
    /// Width of the cane where it leaves the winding
    #[arg(long, value_name = "MM")]
    throat_mm: Option<Typed>,
}

/// What the reed looks like.
#[derive(Debug, Clone, Default, clap::Args)]
#[command(next_help_heading = "What was seen")]
pub struct Looks {
    /// How the blades overlap
    #[arg(long, value_enum, value_name = "HOW")]
    overlap: Option<Overlap>,
    /// Where air escapes
    #[arg(long, value_enum, value_name = "WHERE")]
    leak: Option<Leak>,
    /// Bark on the rails below the heart
    #[arg(long, value_enum, value_name = "STATE")]
    bark: Option<Bark>,
    /// Whether both blades and sides are alike
    #[arg(long, value_enum, value_name = "STATE")]
    symmetry: Option<Symmetry>,
    /// The heart, by eye and touch
    #[arg(long, value_enum, value_name = "STATE")]
    heart: Option<Heart>,
    /// The corners of the tip
    #[arg(long, value_enum, value_name = "STATE")]
    corners: Option<Corners>,
    /// Whether the tip is thinnest at its sides
    #[arg(long, value_enum, value_name = "STATE")]
    tip_sides: Option<TipSides>,
}

impl Measured {
    /// The measurements; all absent where none was given.
    ///
    /// Errors: a value no double reed has, or two that contradict each other.
    pub fn measurements(&self) -> Result<Measurements, MeasurementError> {
        self.lengths.measurements()
    }

    /// Tells which length such reeds hardly have: what is advised rests on it.
    ///
    /// Errors: as [`Self::measurements`].
    pub fn query(&self, profile: &Profile) -> Result<(), MeasurementError> {
        let given = self.measurements()?;
        let doubts = far_from_usual(&given, profile, self.lengths.unit());
        doubts.iter().for_each(|doubt| output::tell(doubt));
        Ok(())
    }

    /// What was seen.
    pub fn inspection(&self) -> Inspection {
        self.looks.inspection()
    }
}

impl Lengths {
    /// As [`Measured::measurements`].
    pub fn measurements(&self) -> Result<Measurements, MeasurementError> {
        let mm = |typed: Option<Typed>| typed.map(|typed| typed.length.0);
        Measurements::just_made(Sizes {
            length_mm: mm(self.length_mm),
            staple_mm: mm(self.staple_mm),
            wound_to_mm: mm(self.wound_to_mm),
            window_bottom_mm: mm(self.window_mm),
            heart_bottom_mm: mm(self.heart_mm),
            tip_start_mm: mm(self.tip_mm),
            opening_mm: mm(self.opening_mm),
            throat_width_mm: mm(self.throat_mm),
        })
    }

    /// In what they are read back: inches beside millimetres where any was typed in inches.
    pub fn unit(&self) -> LengthUnit {
        let typed = [
            self.length_mm,
            self.staple_mm,
            self.wound_to_mm,
            self.window_mm,
            self.heart_mm,
            self.tip_mm,
            self.opening_mm,
            self.throat_mm,
        ];
        let mut units = typed.into_iter().flatten().map(Typed::unit);
        units.find(|unit| *unit == LengthUnit::Both).unwrap_or_default()
    }
}

impl Looks {
    /// As [`Measured::inspection`].
    pub fn inspection(&self) -> Inspection {
        Inspection {
            overlap: self.overlap,
            leak: self.leak,
            bark: self.bark,
            symmetry: self.symmetry,
            heart: self.heart,
            corners: self.corners,
            tip_sides: self.tip_sides,
        }
    }
}
