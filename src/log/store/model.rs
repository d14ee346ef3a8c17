//! The model: a finished good reed that the next ones of its kind are told against.

use super::Log;
use crate::log::LogError;
use crate::reading::Reading;

/// Under what the log keeps the model of a profile.
fn kept_as(profile: &str) -> String {
    format!("model:{profile}")
}

impl Log {
    /// The model of a profile; `None` where none was named, or it is there no more.
    pub fn model(&self, profile: &str) -> Result<Option<String>, LogError> {
        let label: Option<String> = self.setting(&kept_as(profile))?;
        Ok(label.filter(|label| self.reed(label).is_ok()))
    }

    /// Names the model of a profile, in place of the one before.
    ///
    /// Errors: there is no such reed, or it was never crowed.
    pub fn set_model(&mut self, profile: &str, label: &str) -> Result<(), LogError> {
        let label = self.reed(label)?.card.label;
        if self.last_crowed(&label)?.is_empty() {
            return Err(LogError::Invalid(format!(
                "{label}: was never crowed, so nothing can be told against it; crow it first"
            )));
        }
        self.set(&kept_as(profile), &label)
    }

    /// The readings of a reed as it was crowed last; empty where it never was.
    pub fn last_crowed(&self, label: &str) -> Result<Vec<Reading>, LogError> {
        let history = self.history(label)?;
        let at = |stage| -> Vec<Reading> {
            let readings = history.readings_at(stage).into_iter();
            readings.filter(|reading| reading.summary.crow_count > 0).cloned().collect()
        };
        let stages = (0..=history.stage()).rev().map(at);
        Ok(stages.into_iter().find(|readings| !readings.is_empty()).unwrap_or_default())
    }
}
