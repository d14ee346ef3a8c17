//! What is known of one reed, as conditions that rules are written in.

use super::Reason;
use super::condition::Condition;
use super::words;
use crate::comparison::{Cut, Effects, Estimate};
use crate::profile::Profile;
use crate::reading::{Crow, Figures, Kind, Reading, WarningCode};
use crate::reed::{Fault, Finding, Inspection, Measurements, findings};

/// Share of a wild rattle's depth from which a rattle is worth naming (our choice).
const NAMED_RATTLE: f64 = 0.5;

/// What enters.
pub(super) struct Case<'a> {
    pub reading: &'a Reading,
    pub measured: &'a Measurements,
    pub seen: &'a Inspection,
    pub profile: &'a Profile,
    pub effects: &'a Effects,
}

impl<'a> Case<'a> {
    pub fn facts(&'a self) -> Facts<'a> {
        Facts { case: self, findings: findings(self.measured, self.seen, self.profile) }
    }
}

/// What enters, and what follows from the measurements.
pub(super) struct Facts<'a> {
    pub case: &'a Case<'a>,
    pub findings: Vec<Finding>,
}

impl Facts<'_> {
    pub fn profile(&self) -> &Profile {
        self.case.profile
    }

    /// The figures over all crows.
    pub fn summary(&self) -> &Figures {
        &self.case.reading.summary.figures
    }

    /// The crows, air alone left out.
    pub fn sounding(&self) -> impl Iterator<Item = &Crow> {
        self.case.reading.crows.iter().filter(|crow| crow.kind != Kind::Breath)
    }

    pub fn crow_count(&self) -> usize {
        self.case.reading.summary.crow_count
    }

    /// A figure without an interval of its own, over the crows; the profile's smallest change that
    /// matters, twice, stands for the scatter to expect between them.
    fn plain(&self, path: &str, of: impl Fn(&Figures) -> Option<f64>) -> Option<Estimate> {
        let usual = 2.0 * self.profile().smallest_change(path).unwrap_or(1.0);
        let value = of(self.summary()).filter(|value| value.is_finite())?;
        let of_crow = |crow: &Crow| of(&crow.figures).filter(|value| value.is_finite());
        let each: Vec<f64> = self.sounding().filter_map(of_crow).collect();
        // A summary may come without its crows: then it counts as one.
        let values = if each.is_empty() { vec![value] } else { each };
        Some(Estimate { value, ..Estimate::over_crows(&values, &[], usual)? })
    }

    /// A plain figure over a limit, with its reason.
    pub fn over(
        &self,
        path: &str,
        limit: f64,
        of: impl Fn(&Figures) -> Option<f64>,
        says: impl Fn(f64) -> String,
    ) -> Condition {
        let Some(estimate) = self.plain(path, of) else { return Condition::never() };
        let value = estimate.value;
        let reason = Reason { figure: path.into(), value: Some(value), says: says(value) };
        Condition::new(value > limit, estimate.probability_over(limit), reason)
    }

    /// A rattle that is not wild, but plain to hear.
    pub fn rattle(&self) -> Option<Reason> {
        let wild = self.profile().advice.wild_rattle_depth;
        let depth = self.summary().steadiness.rattle_depth?;
        (depth > NAMED_RATTLE * wild && depth <= wild).then(|| Reason {
            figure: "steadiness.rattle_depth".into(),
            value: Some(depth),
            says: format!(
                "it rattles, {:.0} % deep, still under the {:.0} % that count as wild",
                depth * 100.0,
                wild * 100.0
            ),
        })
    }

    /// What was measured or seen to be off.
    pub fn found_reasons(&self) -> Vec<Reason> {
        self.findings.iter().flat_map(|finding| self.found(finding.fault).reasons).collect()
    }

    /// No crow sounded.
    pub fn silent(&self) -> Condition {
        let summary = &self.case.reading.summary;
        let breath = self.case.reading.crows.iter().any(|crow| crow.kind == Kind::Breath);
        let says = if breath {
            "air goes through, but no crow sounds"
        } else {
            "no crow was heard in this take"
        };
        let reason = Reason { figure: "crow_count".into(), value: Some(0.0), says: says.into() };
        let none = summary.crow_count == 0 || matches!(summary.kind, None | Some(Kind::Breath));
        Condition::new(none, f64::from(u8::from(none)), reason)
    }

    /// Nothing was recorded: the microphone is muted, and nothing is known of the reed.
    pub fn unheard(&self) -> Condition {
        if !self.warned(WarningCode::Silent) {
            return Condition::never();
        }
        let reason = Reason {
            figure: "warnings".into(),
            value: None,
            says: "the input is silent from beginning to end: muted?".into(),
        };
        Condition::new(true, 1.0, reason)
    }

    /// Air goes through, and no crow comes of it.
    pub fn air_only(&self) -> Condition {
        let breath = self.case.reading.crows.iter().any(|crow| crow.kind == Kind::Breath);
        self.silent().and(Condition::known(breath))
    }

    /// The pitch wanders, or the rattle is wild.
    pub fn wild(&self) -> Condition {
        let lines = &self.profile().advice;
        let wanders = self.over(
            "steadiness.spread_cents",
            lines.unsteady_cents,
            |figures| figures.steadiness.spread_cents,
            |value| format!("the pitch wanders by {value:.0} cents"),
        );
        let rattles = self.over(
            "steadiness.rattle_depth",
            lines.wild_rattle_depth,
            |figures| figures.steadiness.rattle_depth,
            |value| format!("the rattle is {:.0} % deep", value * 100.0),
        );
        wanders.or(rattles)
    }

    /// Stuffy, or slow to answer: the reed is hard to blow.
    pub fn hard(&self) -> Condition {
        let lines = &self.profile().advice;
        let slow = self.over(
            "response.onset_s",
            lines.slow_onset_s,
            |figures| figures.response.onset_s,
            |value| format!("it takes {:.0} ms of breath before it speaks", value * 1000.0),
        );
        let stuffy = self.over(
            "breath.noise_db",
            lines.stuffy_db,
            |figures| figures.breath.noise_db,
            |value| format!("breath noise is {value:+.0} dB against the tone: stuffy"),
        );
        slow.or(stuffy)
    }

    /// The maker's eyes or ruler found this.
    pub fn found(&self, fault: Fault) -> Condition {
        self.findings.iter().find(|finding| finding.fault == fault).map_or_else(
            Condition::never,
            |finding| {
                let reason = Reason {
                    figure: words::measurement(fault).into(),
                    value: finding.value_mm,
                    says: finding.says.clone(),
                };
                Condition::new(true, finding.sure, reason)
            },
        )
    }

    /// There is cane to clip, or nobody measured.
    pub fn long_enough(&self) -> Condition {
        Condition::known(!self.found(Fault::TooShort).holds)
    }

    /// Scraping can only make it worse.
    pub fn spent(&self) -> Condition {
        self.found(Fault::BarkGone).or(self.found(Fault::HeartThin))
    }

    /// The tip was worked on last.
    pub fn tip_was_last(&self) -> Condition {
        let last = self.case.effects.last;
        let reason = Reason {
            figure: "past cuts".into(),
            value: None,
            says: "the tip was worked on last".into(),
        };
        let holds = last.is_some_and(crate::comparison::Cut::is_tip);
        Condition::new(holds, f64::from(u8::from(holds)), reason)
    }

    pub fn warned(&self, code: WarningCode) -> bool {
        self.case.reading.warnings.iter().any(|warning| warning.code == code)
    }

    /// How many past cuts of a kind did what they are wanted for, of how many.
    pub fn past(&self, cuts: &[Cut], wanted: Wanted) -> (f64, f64) {
        let effects = self.case.effects.cuts.iter().filter(|effect| cuts.contains(&effect.cut));
        let each = effects.map(|effect| {
            let (rose, count) = (effect.pitch_rose.min(effect.count) as f64, effect.count as f64);
            match wanted {
                Wanted::Higher => (rose, count),
                Wanted::Lower => (count - rose, count),
                Wanted::Octaves => {
                    let lost = effect.octaves_lost.unwrap_or(0.0).clamp(0.0, 1.0);
                    (effect.with_octaves as f64 * (1.0 - lost), effect.with_octaves as f64)
                }
            }
        });
        each.fold((0.0, 0.0), |(right, all), (r, a)| (right + r, all + a))
    }
}

/// What a cut is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    /// A higher pitch.
    Higher,
    /// A lower pitch.
    Lower,
    /// Octaves in order, or an easier crow: octaves that are there must not be lost.
    Octaves,
}
