//! What is known of one reed, as conditions that rules are written in.

use super::Reason;
use super::condition::Condition;
use super::words;
use crate::comparison::{Cut, Effects, Estimate, NORMAL_95, median, pitch_estimate};
use crate::profile::Profile;
use crate::reading::{Crow, Figures, Kind, LOCKED_CENTS, Reading, WarningCode};
use crate::reed::{Fault, Finding, Inspection, Measurements, findings};

/// From this far off the target, either way, it does not sound like a crow of this kind of reed, in
/// cents (our choice): makers argue over a tone or so, and clips and tip work move a crow by far less
/// than a minor third.
const FAR_CENTS: f64 = 300.0;

/// Octaves that go out and come back more often than this are not said to sound together, per
/// second (our choice): a crow of a second then loses one of them at least once.
const OUT_PER_S: f64 = 1.0;

/// Share of a wild rattle's depth from which a rattle is worth naming (our choice).
const NAMED_RATTLE: f64 = 0.5;

/// The figure that says how far off the target a crow is.
pub(super) const TARGET: &str = "fundamental.target_cents";

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

    fn summary(&self) -> &Figures {
        &self.case.reading.summary.figures
    }

    fn sounding(&self) -> impl Iterator<Item = &Crow> {
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

    fn over(
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

    fn target(&self) -> Option<Estimate> {
        self.profile().target?;
        self.summary().fundamental.target_cents?;
        pitch_estimate(self.case.reading, self.profile().advice.usual_spread_cents)
    }

    /// Half width of the 95 % interval of the pitch, and what it must be known to, where it is known
    /// no better: no cut can be reckoned from it.
    pub fn pitch_unknown(&self) -> Option<(f64, f64)> {
        let estimate = self.target()?;
        let (half_width, limit) = (estimate.half_width(), self.pitch_limit(&estimate));
        (half_width > limit).then_some((half_width, limit))
    }

    /// What a pitch must be known to: to what counts as in tune or, where it is farther off, to half
    /// of how far.
    fn pitch_limit(&self, estimate: &Estimate) -> f64 {
        self.profile().tolerance.target_cents.max(estimate.value.abs() / 2.0)
    }

    /// Sample standard deviation of the pitch between the crows, where they differ by more than is
    /// usual, and by more than lets the pitch be known.
    pub fn crows_differ(&self) -> Option<f64> {
        let spread = self.summary().fundamental.spread_between_crows_cents?;
        let usual = self.profile().advice.usual_spread_cents;
        let estimate = pitch_estimate(self.case.reading, usual)?;
        let unknown = estimate.half_width() > self.pitch_limit(&estimate);
        (spread > usual && unknown).then_some(spread)
    }

    /// The crows sound in different octaves, and no two thirds of them agree on one.
    pub fn octaves_differ(&self) -> Condition {
        let octave = |crow: &Crow| {
            crow.figures.fundamental.hz.filter(|hz| hz.is_finite() && *hz > 0.0).map(f64::log2)
        };
        let octaves: Vec<f64> = self.sounding().filter_map(octave).collect();
        let near = |middle: f64| octaves.iter().filter(|o| (**o - middle).abs() < 0.5).count();
        let most = octaves.iter().map(|middle| near(*middle)).max().unwrap_or(0);
        let all = octaves.len();
        let reason = Reason {
            figure: "fundamental.hz".into(),
            value: None,
            says: format!("the lowest tones lie in different octaves ({most} of {all} in one)"),
        };
        let share = (most as f64 + 0.5) / (all as f64 + 1.0);
        Condition::new(3 * most < 2 * all, 1.0 - share, reason)
    }

    /// Cents from the target, where there is one.
    pub fn target_cents(&self) -> Option<f64> {
        self.target().map(|estimate| estimate.value)
    }

    fn target_reason(&self, cents: f64) -> Reason {
        Reason {
            figure: TARGET.into(),
            value: Some(cents),
            says: words::against_target(cents, self.profile(), self.summary().fundamental.register),
        }
    }

    /// Flat by more than `cents`.
    fn flat_by(&self, cents: f64) -> Condition {
        self.target().map_or_else(Condition::never, |estimate| {
            let value = estimate.value;
            let sure = 1.0 - estimate.probability_over(-cents);
            Condition::new(value < -cents, sure, self.target_reason(value))
        })
    }

    /// So far off, either way, that it may be another reed, or no crow at all.
    pub fn far_off(&self) -> Condition {
        self.target().map_or_else(Condition::never, |estimate| {
            let value = estimate.value;
            let sure =
                estimate.probability_over(FAR_CENTS) + 1.0 - estimate.probability_over(-FAR_CENTS);
            Condition::new(value.abs() >= FAR_CENTS, sure, self.target_reason(value))
        })
    }

    pub fn flat(&self) -> Condition {
        self.flat_by(self.profile().tolerance.target_cents)
    }

    /// So flat that a clip comes first.
    pub fn very_flat(&self) -> Condition {
        self.flat_by(self.profile().advice.room_to_clip_cents)
    }

    pub fn sharp(&self) -> Condition {
        self.target().map_or_else(Condition::never, |estimate| {
            let limit = self.profile().tolerance.target_cents;
            let value = estimate.value;
            let sure = estimate.probability_over(limit);
            Condition::new(value > limit, sure, self.target_reason(value))
        })
    }

    /// Within the tolerance; a profile without a target gives no verdict on pitch and holds too.
    pub fn in_tune(&self) -> Condition {
        if self.profile().target.is_none() {
            return Condition::known(true);
        }
        self.target().map_or_else(Condition::never, |estimate| {
            let limit = self.profile().tolerance.target_cents;
            let value = estimate.value;
            let sure = estimate.probability_over(-limit) - estimate.probability_over(limit);
            Condition::new(value.abs() <= limit, sure, self.target_reason(value))
        })
    }

    /// The take's kind is this one, as sure as the crows agree on it: (k + ½) / (n + 1) for k of
    /// n crows (the Jeffreys estimate of a share). A crow counts by how sure its own octave is
    /// locked, or is not.
    pub fn is(&self, kind: Kind) -> Condition {
        let summary = &self.case.reading.summary;
        let all = self.sounding().count().max(summary.crow_count).max(1);
        let alike = self.sounding().filter(|crow| crow.kind == kind).count();
        let holds = summary.kind == Some(kind);
        let votes: f64 = self
            .sounding()
            .filter(|crow| crow.kind == kind)
            .map(|crow| sure_of_kind(kind, &crow.figures))
            .sum();
        let (alike, votes) = match (holds, alike) {
            (true, 0) => (1, sure_of_kind(kind, self.summary())),
            _ => (alike, votes),
        };
        let sure = (votes + 0.5) / (all as f64 + 1.0);
        let reason = Reason {
            figure: "kind".into(),
            value: None,
            says: words::of_kind(kind, alike, all, summary.figures.alignment.cents, self.how()),
        };
        Condition::new(holds, sure, reason)
    }

    /// How octaves that are true sound together.
    fn how(&self) -> words::Together {
        let sustained = self.summary().rungs.iter().filter(|rung| rung.sustained);
        let most = sustained.map(|rung| rung.switches_per_s).fold(0.0, f64::max);
        if most > self.profile().advice.switches_per_s && most.is_finite() {
            words::Together::Turns { per_s: most }
        } else if most > OUT_PER_S && most.is_finite() {
            words::Together::OneGoesOut { per_s: most }
        } else if self.low_octave_hard().holds {
            words::Together::OnceBothSound
        } else {
            words::Together::Throughout
        }
    }

    /// The pitch glides while the crows sound, so that there is no one pitch.
    pub fn glides(&self) -> Condition {
        let limit = self.profile().advice.glide_cents_per_s;
        let drift = |figures: &Figures| {
            figures.steadiness.drift_cents_per_s.filter(|drift| drift.is_finite())
        };
        let of_crows: Vec<f64> = self.sounding().filter_map(|crow| drift(&crow.figures)).collect();
        let each = match of_crows.is_empty() {
            true => drift(self.summary()).into_iter().collect(),
            false => of_crows,
        };
        let sizes: Vec<f64> = each.iter().map(|drift| drift.abs()).collect();
        let path = "steadiness.drift_cents_per_s";
        let usual = 2.0 * self.profile().smallest_change(path).unwrap_or(1.0);
        let Some(estimate) = Estimate::over_crows(&sizes, &[], usual) else {
            return Condition::never();
        };
        let reason = Reason {
            figure: path.into(),
            value: median(&each),
            says: words::glide(estimate.value, &each),
        };
        Condition::new(estimate.value > limit, estimate.probability_over(limit), reason)
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

    /// Its lowest tone lies over the lowest expected register, and in one that is expected: the low
    /// octave is missing.
    pub fn low_octave_missing(&self) -> Condition {
        let profile = self.profile();
        let expected = profile.lowest_register() + 1..=profile.highest_register();
        self.register(|register| expected.contains(&register), "; the low octave is missing")
    }

    /// Its lowest tone lies where no crow of this kind of reed sounds.
    pub fn other_register(&self) -> Condition {
        let profile = self.profile();
        let expected = profile.lowest_register()..=profile.highest_register();
        self.register(|register| !expected.contains(&register), "")
    }

    fn register(&self, holds: impl Fn(i32) -> bool, so: &str) -> Condition {
        let (Some(register), Some(_)) =
            (self.summary().fundamental.register, self.profile().target)
        else {
            return Condition::never();
        };
        // As sure as the crows agree on it.
        let registers = || self.sounding().filter_map(|crow| crow.figures.fundamental.register);
        let alike = registers().filter(|of_crow| *of_crow == register).count().max(1);
        let all = registers().count().max(1);
        let reason = Reason {
            figure: "fundamental.register".into(),
            value: Some(f64::from(register)),
            says: words::of_register(register, self.profile()) + so,
        };
        Condition::new(holds(register), (alike as f64 + 0.5) / (all as f64 + 1.0), reason)
    }

    /// The low octave is late, weak, comes and goes, or takes turns with the upper.
    pub fn low_octave_hard(&self) -> Condition {
        let lines = &self.profile().advice;
        let lowest = |figures: &Figures| figures.rungs.iter().find(|rung| rung.sustained).cloned();
        let late = self.over(
            "response.low_delay_s",
            lines.slow_low_s,
            |figures| figures.response.low_delay_s,
            |value| format!("the low octave comes {:.0} ms after the first tone", value * 1000.0),
        );
        let weak = self
            .over(
                "rungs[0].level_db",
                lines.weak_low_db,
                |figures| lowest(figures).map(|rung| rung.level_db),
                |value| format!("the low octave is weak, {:.0} dB under the whole", -value),
            )
            .inverted();
        let gone = self
            .over(
                "rungs[0].present",
                lines.low_present,
                |figures| lowest(figures).map(|rung| rung.present),
                |value| format!("the low octave sounds {:.0} % of the time", value * 100.0),
            )
            .inverted();
        let turns = self.over(
            "rungs[0].switches_per_s",
            lines.switches_per_s,
            |figures| lowest(figures).map(|rung| rung.switches_per_s),
            |value| format!("the octaves take turns {value:.1} times a second"),
        );
        late.or(weak).or(gone).or(turns)
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

/// Degrees of freedom of an error that the reading itself worked out.
const KNOWN_NOISE: f64 = 1e6;

/// How sure one crow is of its kind: by the interval of its alignment, octaves locked or not; never
/// less than ½, since its kind is what it is most likely to be.
fn sure_of_kind(kind: Kind, figures: &Figures) -> f64 {
    let alignment = &figures.alignment;
    let (Some(cents), Some(ci95)) = (alignment.cents, alignment.ci95_cents) else { return 1.0 };
    let estimate =
        Estimate { value: cents, standard_error: ci95.abs() / NORMAL_95, freedom: KNOWN_NOISE };
    let locked = estimate.probability_over(-LOCKED_CENTS) - estimate.probability_over(LOCKED_CENTS);
    match kind {
        Kind::Octaves => locked.max(0.5),
        Kind::Split => (1.0 - locked).max(0.5),
        Kind::Single | Kind::Unsettled | Kind::Breath => 1.0,
    }
}

impl Condition {
    /// The other side of the same limit, with the same reasons.
    fn inverted(self) -> Self {
        if self.reasons.is_empty() {
            return self;
        }
        Self { holds: !self.holds, sure: 1.0 - self.sure, reasons: self.reasons }
    }
}
