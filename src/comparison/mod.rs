//! Two readings: what changed, and whether it is more than the spread between crows.

mod effects;
mod estimate;

pub use effects::{Cut, Effect, Effects};
pub use estimate::{Estimate, NORMAL_95, median};
