//! What is known of one reed, as conditions that rules are written in.

use super::Reason;
use super::condition::Condition;
use super::words;
use crate::comparison::{Effects, Estimate};
use crate::profile::Profile;
use crate::reading::{Crow, Figures, Kind, Reading, WarningCode};
use crate::reed::{Cut, Finding, Inspection, Measurements, findings};

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

    /// A plain figure over a limit, with its reason. `says` is told the value and whether it is over;
    /// where it is not, the sentence is needed only near the limit.
    pub fn over(
        &self,
        path: &str,
        limit: f64,
        of: impl Fn(&Figures) -> Option<f64>,
        says: impl Fn(f64, bool) -> String,
    ) -> Condition {
        let Some(estimate) = self.plain(path, of) else { return Condition::never() };
        let value = estimate.value;
        let over = value > limit;
        let reason = Reason { figure: path.into(), value: Some(value), says: says(value, over) };
        Condition::new(over, estimate.probability_over(limit), reason)
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
            |value, over| {
                format!("the pitch wanders by {}", words::of_limit(value, lines.unsteady_cents))
                    + &words::near(over, "unsteady")
            },
        );
        let rattles = self.over(
            "steadiness.rattle_depth",
            lines.wild_rattle_depth,
            |figures| figures.steadiness.rattle_depth,
            |value, over| words::rattle(value, lines.wild_rattle_depth, over),
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
            |value, over| {
                let ms = value * 1000.0;
                format!("it takes {ms:.0} ms of breath before it speaks")
                    + &words::near(over, "slow")
            },
        );
        let stuffy = self.over(
            "breath.noise_db",
            lines.stuffy_db,
            |figures| figures.breath.noise_db,
            |value, over| {
                let noise = words::signed(value);
                let so = if over { ": stuffy".into() } else { words::near(over, "stuffy") };
                format!("breath noise is {noise} dB against the tone{so}")
            },
        );
        slow.or(stuffy)
    }

    /// What asks for a cut besides pitch and the octaves there are.
    pub fn faults(&self) -> Condition {
        self.wild().or(self.low_octave_hard()).or(self.hard())
    }

    /// That it is not hard to blow, as far as that was heard.
    pub fn easy(&self) -> Condition {
        let figures = self.summary();
        let hard = self.hard();
        let onset_s = figures.response.onset_s.filter(|onset| onset.is_finite());
        let reason = Reason {
            figure: "response.onset_s".into(),
            value: onset_s,
            says: match onset_s {
                Some(onset) => format!(
                    "it speaks easily, after {:.0} ms of breath: less is taken, since sharp and easy \
                     is often past help",
                    onset * 1000.0
                ),
                None => {
                    "how easily it speaks is not known: less is taken, since sharp and easy is \
                         often past help"
                        .into()
                }
            },
        };
        Condition::new(!hard.holds, 1.0 - hard.sure, reason)
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
