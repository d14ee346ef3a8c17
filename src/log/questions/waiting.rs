//! What is on the bench: the reeds that are not closed, with what each waits for.

use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, ZonedDateTime};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::advice::Advice;
use crate::log::card::Wetness;
use crate::log::facts::Facts;
use crate::reed::{Cut, Move};

/// What a reed waits for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "for")]
pub enum Waiting {
    /// To be crowed: it never was, or not since the last cut.
    Crow,
    /// To be soaked: it was last crowed dry.
    Soak,
    /// To rest: cane was cut today, and nothing else is wanted before it was crowed another day.
    Rest {
        /// The day from which it can be crowed again, YYYY-MM-DD.
        until: String,
    },
    /// To be measured: a clip is next, and nobody knows how long it is.
    Measure,
    /// The next move.
    Move {
        /// Which.
        advice: Box<Advice>,
    },
    /// Nobody can say: its profile or its readings can no longer be read.
    Unknown,
}

/// A reed on the bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OnBench {
    /// What it is called.
    pub reed: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// What it waits for.
    pub waits: Waiting,
    /// Since when: the last entry (UTC, ISO 8601).
    pub since: String,
    /// Whole days since then, by the calendar.
    pub days: Option<i32>,
    /// Day by which it is wanted, YYYY-MM-DD.
    pub due_on: Option<String>,
    /// Whether that day is over.
    pub overdue: bool,
}

/// The open reeds: those overdue or due first on top, then those that wait longest.
///
/// * `next`: the next move on a reed, where there is one.
/// * `now`: the moment, in the maker's zone.
pub fn waiting(
    reeds: &[Facts],
    mut next: impl FnMut(&Facts) -> Option<Advice>,
    now: &ZonedDateTime,
) -> Vec<OnBench> {
    let open = reeds.iter().filter(|facts| facts.card.ending.is_none());
    let mut found: Vec<OnBench> = open
        .map(|facts| {
            let today = now.date().to_string();
            let days = day_of(&facts.last_at, now.time_zone())
                .and_then(|day| Some(day.until(now.date()).ok()?.get_days()));
            OnBench {
                reed: facts.card.label.clone(),
                owner: facts.card.owner.clone(),
                waits: waits(facts, &mut next, now),
                since: facts.last_at.clone(),
                days,
                overdue: facts.card.due_on.as_ref().is_some_and(|due| *due < today),
                due_on: facts.card.due_on.clone(),
            }
        })
        .collect();
    // A day that is not there comes after every day that is.
    found.sort_by(|a, b| {
        let due = |one: &OnBench| (one.due_on.is_none(), one.due_on.clone());
        due(a).cmp(&due(b)).then_with(|| a.since.cmp(&b.since))
    });
    found
}

fn waits(
    facts: &Facts,
    next: &mut impl FnMut(&Facts) -> Option<Advice>,
    now: &ZonedDateTime,
) -> Waiting {
    let Some(phase) = facts.way.last().filter(|phase| phase.stage.takes > 0) else {
        return Waiting::Crow;
    };
    let last = phase.heard.last().and_then(|heard| heard.conditions.as_ref());
    if last.is_some_and(|said| said.state == Some(Wetness::Dry)) {
        return Waiting::Soak;
    }
    let Some(advice) = next(facts) else { return Waiting::Unknown };
    let cut_today = phase.cut().is_some_and(Cut::takes_cane)
        && day_of(&phase.at, now.time_zone()) == Some(now.date());
    match advice.next {
        Move::Leave if cut_today => {
            let tomorrow = now.date().checked_add(1.day()).unwrap_or(now.date());
            Waiting::Rest { until: tomorrow.to_string() }
        }
        Move::Clip if phase.stage.length.is_none() => Waiting::Measure,
        _ => Waiting::Move { advice: Box::new(advice) },
    }
}

/// The day of a moment in a zone; `None` of what is not a moment.
fn day_of(at: &str, zone: &TimeZone) -> Option<jiff::civil::Date> {
    let moment: Timestamp = at.parse().ok()?;
    Some(moment.to_zoned_datetime(zone.clone()).date())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::card::{Card, Ending};
    use crate::log::conditions::Conditions;
    use crate::log::facts::Heard;
    use crate::log::facts::Phase;
    use crate::log::history::LoggedStep;
    use crate::log::step::Step;
    use crate::log::timeline::Stage;

    fn phase(number: u32, at: &str, takes: usize) -> Phase {
        let step = (number > 0).then(|| LoggedStep {
            at: at.into(),
            number: Some(number),
            step: Step::new(Cut::TipSides, None),
            advised: None,
        });
        let heard = Heard { at: at.into(), cents: None, in_octaves: None, conditions: None };
        Phase {
            stage: Stage { number, step, takes, ..Stage::default() },
            at: at.into(),
            changed: None,
            advised: None,
            heard: vec![heard; takes],
        }
    }

    fn reed(label: &str, way: Vec<Phase>) -> Facts {
        let last_at = way.last().map(|phase| phase.at.clone()).unwrap_or_default();
        let (uid, card, at) = (String::new(), Card::new(label), last_at.clone());
        Facts { uid, card, at, ended_at: None, last_at, way }
    }

    const NOW: &str = "2026-03-10T15:00:00+01:00[Europe/Prague]";

    fn one(facts: &Facts, next: Option<Move>) -> Waiting {
        let now: ZonedDateTime = NOW.parse().unwrap();
        let mut found = waiting(std::slice::from_ref(facts), |_| next.map(Advice::of), &now);
        found.remove(0).waits
    }

    #[test]
    fn each_reed_waits_for_what_comes_first() {
        let (today, yesterday) = ("2026-03-10T09:00:00.000Z", "2026-03-09T09:00:00.000Z");
        assert_eq!(one(&reed("A", vec![phase(0, today, 0)]), None), Waiting::Crow);
        let cut = reed("A", vec![phase(0, today, 1), phase(1, today, 0)]);
        assert_eq!(one(&cut, Some(Move::Leave)), Waiting::Crow);
        let mut dry = reed("A", vec![phase(0, today, 1)]);
        let said = Conditions { state: Some(Wetness::Dry), ..Conditions::default() };
        dry.way[0].heard[0].conditions = Some(said);
        assert_eq!(one(&dry, Some(Move::Clip)), Waiting::Soak);
        let fresh = reed("A", vec![phase(0, today, 1), phase(1, today, 1)]);
        let rest = Waiting::Rest { until: "2026-03-11".into() };
        assert_eq!(one(&fresh, Some(Move::Leave)), rest);
        let rested = reed("A", vec![phase(0, yesterday, 1), phase(1, yesterday, 1)]);
        assert!(matches!(one(&rested, Some(Move::Leave)), Waiting::Move { .. }));
        assert_eq!(one(&rested, Some(Move::Clip)), Waiting::Measure);
        assert_eq!(one(&rested, None), Waiting::Unknown);
    }

    /// 23:30 UTC on the 9th is already the 10th in Prague.
    #[test]
    fn days_are_those_of_the_makers_zone_and_what_is_due_comes_first() {
        let now: ZonedDateTime = NOW.parse().unwrap();
        let mut late = reed("late", vec![phase(0, "2026-03-09T23:30:00.000Z", 1)]);
        late.card.due_on = Some("2026-03-09".into());
        let old = reed("old", vec![phase(0, "2026-03-01T10:00:00.000Z", 1)]);
        let mut closed = reed("closed", vec![phase(0, "2026-03-01T10:00:00.000Z", 1)]);
        closed.card.ending = Some(Ending::Done);
        let found = waiting(&[closed, old, late], |_| None, &now);
        let told: Vec<_> = found.iter().map(|r| (r.reed.as_str(), r.days, r.overdue)).collect();
        assert_eq!(told, [("late", Some(0), true), ("old", Some(9), false)]);
    }
}
