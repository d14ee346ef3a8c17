//! Which octaves sound, and how they stand together, as conditions.

use super::Reason;
use super::case::Facts;
use super::condition::Condition;
use super::words;
use crate::comparison::{Estimate, NORMAL_95, pitch_estimate};
use crate::dsp::statistics::median;
use crate::pitch::{A4, Note, register};
use crate::reading::{Crow, Figures, Kind, LOCKED_CENTS, Rung};
use crate::units::Hertz;

/// Octaves that go out and come back more often than this are not said to sound together, per
/// second (our choice): a crow of a second then loses one of them at least once.
const OUT_PER_S: f64 = 1.0;

/// How well a note that parts low octaves from high ones is known, in cents (standard deviation,
/// our choice): a semitone either way may be either.
const OCTAVE_LIMIT_CENTS: f64 = 100.0;

/// How sure it is that the low octave is there, where nothing tells which octave was meant (our
/// choice).
const OCTAVE_NOT_TOLD: f64 = 0.85;

impl Facts<'_> {
    /// The take's kind is this one, as sure as the crows agree on it: (k + ½) / (n + 1) for k of
    /// n crows (the Jeffreys estimate of a share). A crow counts by how sure its own octave is
    /// locked, or is not. Crows that the profile wants and that were not made count as if they
    /// differed: of two crows alike where three are wanted that leaves (2 + ½) / 4, less than a cut
    /// asks for; of four where five are wanted it leaves (4 + ½) / 6, and what is plain is cut.
    pub fn is(&self, kind: Kind) -> Condition {
        let summary = &self.case.reading.summary;
        let all = self.sounding().count().max(summary.crow_count).max(1);
        let wanted = all.max(self.profile().advice.crows_wanted as usize);
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
        let sure = (votes + 0.5) / (wanted as f64 + 1.0);
        let reason = Reason {
            figure: "kind".into(),
            value: None,
            says: words::of_kind(kind, alike, all, self.off_octave(kind), self.how()),
        };
        Condition::new(holds, sure, reason)
    }

    /// How far off the octave the crows of a kind are, on the median.
    fn off_octave(&self, kind: Kind) -> Option<f64> {
        let of_kind = self.sounding().filter(|crow| crow.kind == kind);
        let cents: Vec<f64> = of_kind
            .filter_map(|crow| crow.figures.alignment.cents.filter(|cents| cents.is_finite()))
            .collect();
        median(cents).or(self.summary().alignment.cents)
    }

    /// How often a second one of the two lowest octaves of its own goes out and comes back.
    fn switches_per_s(&self, figures: &Figures) -> Option<f64> {
        let own = self.own_lowest(figures)?.hz;
        let octaves = figures.rungs.iter().filter(|rung| rung.sustained && rung.hz >= own);
        let rates = octaves.take(2).map(|rung| rung.switches_per_s);
        rates.filter(|rate| rate.is_finite()).reduce(f64::max)
    }

    /// How octaves that are true sound together.
    fn how(&self) -> words::Together {
        let most = self.switches_per_s(self.summary()).unwrap_or(0.0);
        if self.takes_turns().holds {
            words::Together::Turns
        } else if most > OUT_PER_S {
            words::Together::OneGoesOut { per_s: most }
        } else if self.low_octave_late().or(self.low_octave_goes()).holds {
            words::Together::OnceBothSound
        } else if self.low_octave_weak().holds {
            words::Together::LowWeak
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
    /// octave is missing. Without a target it is missing where the lowest tone lies above the note
    /// that the profile names for that.
    pub fn low_octave_missing(&self) -> Condition {
        let profile = self.profile();
        if profile.target.is_none() {
            return self.above_the_low_octave().unwrap_or_else(Condition::never);
        }
        let expected = profile.lowest_register() + 1..=profile.highest_register();
        self.register(|register| expected.contains(&register), "; the low octave is missing")
    }

    fn above_the_low_octave(&self) -> Option<Condition> {
        let limit = self.profile().peep_above?;
        let a4 = A4::new(self.case.reading.a4_hz).unwrap_or_default();
        let hz = Hertz::new(self.summary().fundamental.hz?)?;
        let pitch = pitch_estimate(self.case.reading, self.profile().advice.usual_spread_cents)?;
        let above = limit.frequency(a4).cents_to(hz).0;
        let standard_error = pitch.standard_error.hypot(OCTAVE_LIMIT_CENTS);
        let sure = Estimate { value: above, standard_error, ..pitch }.probability_over(0.0);
        let note = Note::nearest(hz, a4).0.named_like(Some(limit));
        let so = if above > 0.0 { "; the low octave is missing" } else { "" };
        let says = format!(
            "the lowest tone is near {note}, and above {limit} it is the upper octave alone{so}"
        );
        let reason = Reason { figure: "fundamental.hz".into(), value: Some(hz.hz()), says };
        Some(Condition::new(above > 0.0, sure, reason))
    }

    /// Whether anything tells which octave was meant. Where nothing does it is less sure that the
    /// low one is there: any plain tone has its own second partial.
    pub fn octave_told(&self) -> Condition {
        if self.profile().target.is_some() || self.profile().peep_above.is_some() {
            return Condition::known(true);
        }
        let reason = Reason {
            figure: "fundamental.hz".into(),
            value: self.summary().fundamental.hz.filter(|hz| hz.is_finite()),
            says: "nothing tells which octave was meant: the profile names neither a target nor \
                   'peep_above'"
                .into(),
        };
        Condition::new(true, OCTAVE_NOT_TOLD, reason)
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
        self.low_octave_late()
            .or(self.low_octave_weak())
            .or(self.low_octave_goes())
            .or(self.takes_turns())
    }

    /// The low octave comes in late.
    pub fn low_octave_late(&self) -> Condition {
        let delay = |figures: &Figures| {
            if self.growl_under(figures).is_none() {
                return figures.response.low_delay_s;
            }
            Some(self.own_lowest(figures)?.entry_s? - figures.response.onset_s?)
        };
        let limit = self.profile().advice.slow_low_s;
        self.over("response.low_delay_s", limit, delay, |value, over| {
            let ms = value * 1000.0;
            format!("the low octave comes {ms:.0} ms after the first tone")
                + &words::near(over, "late")
        })
    }

    /// The low octave is weak for as long as it sounds.
    pub fn low_octave_weak(&self) -> Condition {
        let limit = self.profile().advice.weak_low_db;
        let level = |figures: &Figures| self.own_lowest(figures).map(|rung| rung.level_db);
        self.over(&self.path_of_lowest("level_db"), limit, level, |value, over| match over {
            false => format!("the low octave is weak, {:.0} dB under the whole", -value),
            true => {
                format!("the low octave lies {:.1} dB under the whole", -value)
                    + &words::near(false, "weak")
            }
        })
        .inverted()
    }

    /// The low octave comes and goes.
    pub fn low_octave_goes(&self) -> Condition {
        let limit = self.profile().advice.low_present;
        let present = |figures: &Figures| self.own_lowest(figures).map(|rung| rung.present);
        self.over(&self.path_of_lowest("present"), limit, present, |value, over| {
            format!("the low octave sounds {:.0} % of the time", value * 100.0)
                + &words::near(!over, "too little")
        })
        .inverted()
    }

    /// The octaves take turns instead of sounding together.
    pub fn takes_turns(&self) -> Condition {
        let limit = self.profile().advice.switches_per_s;
        let rate = |figures: &Figures| self.switches_per_s(figures);
        self.over(&self.path_of_lowest("switches_per_s"), limit, rate, |value, over| match over {
            true => format!("the octaves take turns {value:.1} times a second"),
            false => {
                format!("one octave goes out and comes back {value:.1} times a second")
                    + &words::near(false, "taking turns")
            }
        })
    }

    /// The JSON path of a figure of the tone the crows stand on.
    fn path_of_lowest(&self, figure: &str) -> String {
        let rungs = &self.summary().rungs;
        let own = self.own_lowest(self.summary());
        let place = own.and_then(|own| rungs.iter().position(|rung| rung.hz == own.hz));
        format!("rungs[{}].{figure}", place.unwrap_or(0))
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
        Kind::Blended | Kind::Single | Kind::Unsettled | Kind::Breath => 1.0,
    }
}
