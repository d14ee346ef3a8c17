//! How likely a maker is to call a crow octaves: a logistic model of what was measured.
//!
//! Its first constants were fitted on 41 real double-reed notes and 656 mixtures of two of them at
//! exactly 2:1, and on no crow and no listening test: they are where an ear is taught from.

use std::f64::consts::PI;

/// What of a crow tells one tone from octaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// How far the upper octave stands out.
    pub stand_out_db: f64,
    /// Half width of its 95 % interval.
    pub ci95_db: f64,
    /// How long the upper octave comes before the lower; negative: after it.
    pub lead_ms: Option<f64>,
}

/// Log odds at a stand-out of 0, their rise with a decibel of it and with a millisecond between the
/// entries, where both entries are known …
const WITH_LEAD: (f64, f64, f64) = (-3.09, 0.433, 0.095);
/// … and where they are not.
const WITHOUT_LEAD: (f64, f64) = (-2.60, 0.456);

/// Chance that a maker calls it octaves, 0 … 1.
pub fn octaves_chance(heard: &Heard) -> f64 {
    let (log_odds, per_db) = match heard.lead_ms {
        Some(lead_ms) => {
            let (at_zero, per_db, per_ms) = WITH_LEAD;
            (at_zero + per_db * heard.stand_out_db + per_ms * lead_ms.abs(), per_db)
        }
        None => (WITHOUT_LEAD.0 + WITHOUT_LEAD.1 * heard.stand_out_db, WITHOUT_LEAD.1),
    };
    let sd = per_db * heard.ci95_db / 2.0;
    // The mean of a logistic over a normal doubt (MacKay, Neural Computation 4:720, 1992, eq. 10).
    logistic(log_odds / (1.0 + PI * sd * sd / 8.0).sqrt())
}

fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}
