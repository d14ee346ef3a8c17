//! Options by which the maker says what the reed measures and looks like; shared by the commands
//! that give advice.

use crate::reed::{
    Bark, Corners, Heart, Inspection, Leak, MeasurementError, Measurements, Overlap, Sizes,
    Symmetry, TipSides,
};
use crate::units::Millimetres;

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
    length_mm: Option<Millimetres>,
    /// Length of the staple
    #[arg(long, value_name = "MM")]
    staple_mm: Option<Millimetres>,
    /// Where the winding ends
    #[arg(long, value_name = "MM")]
    wound_to_mm: Option<Millimetres>,
    /// Where the windows begin, over the bark
    #[arg(long, value_name = "MM")]
    window_mm: Option<Millimetres>,
    /// Where the heart ends towards the windows
    #[arg(long, value_name = "MM")]
    heart_mm: Option<Millimetres>,
    /// Where the tip begins, at its corners
    #[arg(long, value_name = "MM")]
    tip_mm: Option<Millimetres>,
    /// Height of the opening between the blades
    #[arg(long, value_name = "MM")]
    opening_mm: Option<Millimetres>,
    /// Width of the cane where it leaves the winding
    #[arg(long, value_name = "MM")]
    throat_mm: Option<Millimetres>,
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

    /// What was seen.
    pub fn inspection(&self) -> Inspection {
        self.looks.inspection()
    }
}

impl Lengths {
    /// As [`Measured::measurements`].
    pub fn measurements(&self) -> Result<Measurements, MeasurementError> {
        let mm = |length: Option<Millimetres>| length.map(|length| length.0);
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
