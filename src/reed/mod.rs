//! What the maker sees and measures on one reed, and what follows from it by the profile's
//! dimensions. Positions are millimetres from the bottom of the staple (of the tube where there is
//! no staple). Nothing here has heard the reed.

mod geometry;
mod inspection;
mod measurements;
mod moves;

pub(crate) use geometry::Found;
pub use geometry::{About, Fault, Finding, findings};
pub use inspection::{Bark, Corners, Heart, Inspection, Leak, Overlap, Symmetry, TipSides};
pub(crate) use inspection::{LOOKS, LookWords};
pub(crate) use measurements::{Meant, SHORTEST_TIP_MM};
pub use measurements::{MeasurementError, Measurements, Size, Sizes};
pub use moves::{Cut, Move, Place, Row, WORK};
