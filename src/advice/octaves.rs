//! Which octaves sound, and how they stand together, as conditions.

use super::Reason;
use super::case::Facts;
use super::condition::Condition;
use super::words;
use crate::comparison::{Estimate, NORMAL_95};
use crate::pitch::{A4, register};
use crate::reading::{Crow, Figures, Kind, LOCKED_CENTS, Rung};
use crate::units::Hertz;

/// Octaves that go out and come back more often than this are not said to sound together, per
/// second (our choice): a crow of a second then loses one of them at least once.
const OUT_PER_S: f64 = 1.0;

impl Facts<'_> {
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

    /// The crows sound in different octaves, and no two thirds of them agree on one.
    pub fn octaves_differ(&self) -> Condition {
        let octave = |crow: &Crow| {
            let hz = match self.growl_under(&crow.figures) {
                Some(_) => self.own_lowest(&crow.figures)?.hz,
                None => crow.figures.fundamental.hz?,
            };
            (hz.is_finite() && hz > 0.0).then(|| hz.log2())
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

    /// Whether a rung is a growl: below the lowest octave that is expected, and too weak to be the
    /// one the crow stands on.
    fn growls(&self, rung: &Rung) -> bool {
        let a4 = A4::new(self.case.reading.a4_hz).unwrap_or_default();
        let Some(target) = self.profile().target_frequency(a4) else { return false };
        let below = |hz| register(hz, target) < self.profile().lowest_register();
        Hertz::new(rung.hz).is_some_and(below) && rung.level_db < self.profile().advice.growl_db
    }

    /// The rung a crow stands on: the lowest that is sustained, growls left out.
    fn own_lowest<'b>(&self, figures: &'b Figures) -> Option<&'b Rung> {
        let sustained = || figures.rungs.iter().filter(|rung| rung.sustained);
        sustained().find(|rung| !self.growls(rung)).or_else(|| sustained().next())
    }

    /// The growl under the rung a crow stands on.
    fn growl_under<'b>(&self, figures: &'b Figures) -> Option<&'b Rung> {
        let lowest = figures.rungs.iter().find(|rung| rung.sustained)?;
        let own = self.own_lowest(figures)?;
        (lowest.hz < own.hz).then_some(lowest)
    }

    /// The register a crow stands in: a growl under it does not count.
    fn register_of(&self, figures: &Figures) -> Option<i32> {
        if self.growl_under(figures).is_none() {
            return figures.fundamental.register;
        }
        let a4 = A4::new(self.case.reading.a4_hz).unwrap_or_default();
        let target = self.profile().target_frequency(a4)?;
        Some(register(Hertz::new(self.own_lowest(figures)?.hz)?, target))
    }

    /// The register all crows together stand in.
    pub fn own_register(&self) -> Option<i32> {
        self.register_of(self.summary())
    }

    /// A growl under the octaves the crow stands on, which does not count.
    pub fn growl(&self) -> Option<Reason> {
        let growl = self.growl_under(self.summary())?;
        let a4 = A4::new(self.case.reading.a4_hz).unwrap_or_default();
        let hz = Hertz::new(growl.hz)?;
        let target = self.profile().target_frequency(a4)?;
        let note = self.profile().note_in(register(hz, target))?;
        let says = format!(
            "a growl near {note} is left out of account, {:.0} dB under the whole",
            -growl.level_db
        );
        Some(Reason { figure: "rungs[0].level_db".into(), value: Some(growl.level_db), says })
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
        let (Some(register), Some(_)) = (self.own_register(), self.profile().target) else {
            return Condition::never();
        };
        // As sure as the crows agree on it.
        let registers = || self.sounding().filter_map(|crow| self.register_of(&crow.figures));
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
        let lowest = |figures: &Figures| self.own_lowest(figures).cloned();
        let delay = |figures: &Figures| {
            if self.growl_under(figures).is_none() {
                return figures.response.low_delay_s;
            }
            Some(lowest(figures)?.entry_s? - figures.response.onset_s?)
        };
        let place = lowest(self.summary())
            .and_then(|own| self.summary().rungs.iter().position(|rung| rung.hz == own.hz));
        let path = |figure: &str| format!("rungs[{}].{figure}", place.unwrap_or(0));
        let late = self.over("response.low_delay_s", lines.slow_low_s, delay, |value| {
            format!("the low octave comes {:.0} ms after the first tone", value * 1000.0)
        });
        let weak = self
            .over(
                &path("level_db"),
                lines.weak_low_db,
                |figures| lowest(figures).map(|rung| rung.level_db),
                |value| format!("the low octave is weak, {:.0} dB under the whole", -value),
            )
            .inverted();
        let gone = self
            .over(
                &path("present"),
                lines.low_present,
                |figures| lowest(figures).map(|rung| rung.present),
                |value| format!("the low octave sounds {:.0} % of the time", value * 100.0),
            )
            .inverted();
        let turns = self.over(
            &path("switches_per_s"),
            lines.switches_per_s,
            |figures| lowest(figures).map(|rung| rung.switches_per_s),
            |value| format!("the octaves take turns {value:.1} times a second"),
        );
        late.or(weak).or(gone).or(turns)
    }
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
