//! Two readings: what changed, and whether it is more than the spread between crows.
