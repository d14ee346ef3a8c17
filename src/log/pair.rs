//! Two stages of a reed to be compared.

use super::conditions::{Conditions, Difference};
use super::history::History;
use super::step::Step;
use crate::reading::Reading;

/// The crows of two stages, and what was done between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Their numbers, the earlier one first.
    pub stages: (u32, u32),
    /// Latest readings of the takes of the earlier stage.
    pub before: Vec<Reading>,
    /// The same of the later one.
    pub after: Vec<Reading>,
    /// The cuts between.
    pub between: Vec<Step>,
    /// What else differed.
    pub beware: Vec<Difference>,
}

/// Stages `before` and `after` of one reed, whether or not they were crowed.
pub fn pair(history: &History, before: u32, after: u32) -> Pair {
    let readings = |stage| history.readings_at(stage).into_iter().cloned().collect();
    let cuts = history
        .steps
        .iter()
        .filter(|logged| logged.number.is_some_and(|number| number > before && number <= after));
    Pair {
        stages: (before, after),
        before: readings(before),
        after: readings(after),
        between: cuts.map(|logged| logged.step.clone()).collect(),
        beware: Conditions::differences(&said(history, before), &said(history, after)),
    }
}

/// The stage the reed is in and the last one before it that was crowed; `None` where the reed was
/// not blown since the last cut, or not crowed before it since it came last.
pub fn latest_pair(history: &History) -> Option<Pair> {
    let now = history.stage();
    if history.readings_at(now).is_empty() {
        return None;
    }
    (history.began(now)..now)
        .rev()
        .find(|stage| is_crowed(history, *stage))
        .map(|before| pair(history, before, now))
}

fn is_crowed(history: &History, stage: u32) -> bool {
    history.readings_at(stage).iter().any(|reading| reading.summary.crow_count > 0)
}

/// How the reed was crowed at a stage: what the last take there says.
fn said(history: &History, stage: u32) -> Conditions {
    let takes = history.takes.iter().filter(|take| take.take.after_step == stage);
    takes.filter_map(|take| take.take.conditions.clone()).next_back().unwrap_or_default()
}
