//! What an interval says, and how many crows would make it say something.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::estimate::median_widening;
use super::welch::{Difference, Plan};
use crate::dsp::statistics::t_975;

/// What became of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Up: the interval excludes 0.
    Rose,
    /// Down: the interval excludes 0.
    Fell,
    /// The interval lies inside the smallest change that matters.
    Same,
    /// Neither.
    Unclear,
}

/// Nobody crows a reed more often than this to settle a doubt.
const MOST_CROWS: usize = 200;

/// The verdict, and for an unclear one the crows a side that would settle it.
pub(super) fn of(found: &Difference, smallest_change: f64) -> (Verdict, Option<usize>) {
    let Some(half) = found.ci95 else { return (Verdict::Unclear, None) };
    let size = found.difference.abs();
    if size > half {
        let verdict = if found.difference > 0.0 { Verdict::Rose } else { Verdict::Fell };
        return (verdict, None);
    }
    if size + half <= smallest_change {
        return (Verdict::Same, None);
    }
    (Verdict::Unclear, found.plan.and_then(|plan| crows_needed(&plan, size, smallest_change)))
}

/// Crows a side with which, were difference and spread to stay as they are, the interval would
/// either exclude 0 or lie inside the smallest change.
fn crows_needed(plan: &Plan, size: f64, smallest_change: f64) -> Option<usize> {
    let narrow_enough = size.max(smallest_change - size);
    (plan.fewest + 1..=MOST_CROWS).find(|&count| {
        let freedom = (2 * count).saturating_sub(2 + plan.slopes) as f64;
        let ratio = if plan.medians { median_widening(count) } else { 1.0 };
        let half = t_975(freedom) * (plan.variance * ratio / count as f64).sqrt();
        half.hypot(plan.fixed) < narrow_enough
    })
}
