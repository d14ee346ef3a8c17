//! What a reed's card and the log say besides its crow.

use super::effects::last_cut;
use super::history::History;
use crate::advice::{Advice, Reason, advise};
use crate::comparison::Effects;
use crate::profile::Profile;
use crate::reading::{Reading, pooled};
use crate::reed::{Inspection, Measurements};

/// What a next move rests on besides the crow.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// What was last measured on the reed, its length less the clips since.
    pub measurements: Measurements,
    /// What was last seen on it.
    pub inspection: Inspection,
    /// What past cuts did, and what was done last.
    pub effects: Effects,
    /// The takes of the reed as it is now, made since the last cut.
    pub heard: Vec<Reading>,
}

impl Known {
    /// * `effects`: what past cuts did over all reeds.
    pub fn of(history: &History, effects: &Effects) -> Self {
        Self {
            measurements: history.measured_now(),
            inspection: history.seen_now(),
            effects: Effects { last: last_cut(history), ..effects.clone() },
            heard: history.readings_at(history.stage()).into_iter().cloned().collect(),
        }
    }

    /// The next move after one more take, by all crows since the last cut.
    pub fn advise_after(&self, take: &Reading, profile: &Profile) -> Advice {
        let is_this =
            |other: &&Reading| other.crows == take.crows && other.duration_s == take.duration_s;
        let before = self.heard.iter().filter(|other| !is_this(other));
        let takes: Vec<&Reading> = before.chain([take]).collect();
        self.by_all(&takes, profile).unwrap_or_else(|| self.by(take, profile))
    }

    /// The next move by all crows since the last cut; `None` where it was not blown since.
    pub fn advise(&self, profile: &Profile) -> Option<Advice> {
        self.by_all(&self.heard.iter().collect::<Vec<_>>(), profile)
    }

    fn by_all(&self, takes: &[&Reading], profile: &Profile) -> Option<Advice> {
        let all = pooled(takes)?;
        let mut advice = self.by(&all, profile);
        if takes.len() > 1 {
            let crows = all.summary.crow_count;
            advice.because.insert(
                0,
                Reason {
                    figure: "crow_count".into(),
                    value: Some(crows as f64),
                    says: format!(
                        "judged by {crows} crow{} in {} takes of the reed as it is now",
                        if crows == 1 { "" } else { "s" },
                        takes.len()
                    ),
                },
            );
        }
        Some(advice)
    }

    fn by(&self, reading: &Reading, profile: &Profile) -> Advice {
        advise(reading, &self.measurements, &self.inspection, profile, &self.effects)
    }
}
