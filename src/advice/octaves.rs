//! Which octaves sound, and how they stand together, as conditions.

use super::Reason;
use super::case::Facts;
use super::condition::Condition;
use super::words;
use crate::comparison::{Estimate, NORMAL_95};
use crate::reading::{Crow, Figures, Kind, LOCKED_CENTS};

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
