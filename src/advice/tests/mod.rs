//! Advice for reeds made by hand: what is given, and then a file for each thing it must hold to.

mod any_reading;
mod cases;
mod doubt;
mod few;
mod octave;
mod opening;
mod practice;
mod reasons;
mod seen;
mod words;

use super::case::Case;
use super::rules::first_that_holds;
use super::*;
use crate::reading::{Crow, Figures, Kind, Reading, Rung, Summary};
use crate::reed::{Cut, Sizes};

/// A reading of `crows` crows that are all alike.
fn reading(kind: Kind, cents: Option<f64>, crows: usize, figures: Figures) -> Reading {
    let mut figures = figures;
    figures.fundamental.target_cents = cents;
    figures.fundamental.ci95_cents = cents.map(|_| 1.0);
    let crow = Crow { start_s: 0.0, end_s: 1.0, kind, figures: figures.clone() };
    Reading {
        schema: 1,
        source: "made by hand".into(),
        sample_rate_hz: 48_000,
        channels: 1,
        channel: 1,
        duration_s: 5.0,
        a4_hz: 440.0,
        profile: "american-oboe".into(),
        crows: vec![crow; crows],
        summary: Summary {
            crow_count: crows,
            kind: (crows > 0).then_some(kind),
            figures: if crows > 0 { figures } else { Figures::default() },
        },
        others: Vec::new(),
        warnings: Vec::new(),
    }
}

/// A take of three puffs of air in which nothing crows.
fn blown_in_vain() -> Reading {
    let mut reading = reading(Kind::Octaves, None, 0, Figures::default());
    let figures = Figures::default();
    reading.crows = vec![Crow { start_s: 0.5, end_s: 1.5, kind: Kind::Breath, figures }; 3];
    reading
}

fn rung(level_db: f64, present: f64) -> Rung {
    Rung { hz: 520.0, level_db, present, switches_per_s: 0.0, entry_s: Some(0.0), sustained: true }
}

/// Figures of a crow that answers at once and stands still.
fn easy() -> Figures {
    let mut figures =
        Figures { rungs: vec![rung(-6.0, 1.0), rung(-2.0, 1.0)], ..Figures::default() };
    figures.fundamental.register = Some(0);
    figures.steadiness.spread_cents = Some(3.0);
    figures.response.onset_s = Some(0.03);
    figures.response.low_delay_s = Some(0.02);
    figures.breath.noise_db = Some(-30.0);
    figures
}

fn in_register(register: i32) -> Figures {
    let mut figures = easy();
    figures.fundamental.register = Some(register);
    figures
}

fn peep() -> Figures {
    in_register(1)
}

fn gliding(cents_per_s: f64) -> Figures {
    let mut figures = easy();
    figures.steadiness.drift_cents_per_s = Some(cents_per_s);
    figures
}

fn stuffy() -> Figures {
    let mut figures = easy();
    figures.response.onset_s = Some(0.6);
    figures
}

fn wild() -> Figures {
    let mut figures = easy();
    figures.steadiness.spread_cents = Some(60.0);
    figures
}

fn late() -> Figures {
    let mut figures = easy();
    figures.response.low_delay_s = Some(0.6);
    figures
}

fn after(cut: Cut) -> Effects {
    Effects { cuts: Vec::new(), last: Some(cut) }
}

/// The octaves go out and come back.
fn turning() -> Figures {
    let mut figures = easy();
    figures.rungs[0].switches_per_s = 4.0;
    figures
}

fn with_low(level_db: f64, present: f64) -> Figures {
    let mut figures = easy();
    figures.rungs[0] = rung(level_db, present);
    figures
}

fn opening(mm: f64) -> Sizes {
    Sizes { opening_mm: Some(mm), ..Sizes::default() }
}

/// Corners and sides of the tip seen thin.
fn tip_thin() -> Inspection {
    Inspection {
        corners: Some(crate::reed::Corners::Thin),
        tip_sides: Some(crate::reed::TipSides::Thinnest),
        ..Inspection::default()
    }
}

fn length(mm: f64) -> Sizes {
    Sizes { length_mm: Some(mm), ..Sizes::default() }
}

#[derive(Clone)]
struct Given {
    profile: &'static str,
    reading: Reading,
    sizes: Sizes,
    seen: Inspection,
    effects: Effects,
}

fn given(kind: Kind, cents: f64, figures: Figures) -> Given {
    Given {
        profile: "american-oboe",
        reading: reading(kind, Some(cents), 3, figures),
        sizes: Sizes::default(),
        seen: Inspection::default(),
        effects: Effects::default(),
    }
}

impl Given {
    fn held_to(self, profile: &'static str) -> Self {
        Self { profile, ..self }
    }
    /// So many crows that are all alike.
    fn crows(mut self, count: usize) -> Self {
        let crow = self.reading.crows[0].clone();
        self.reading.crows = vec![crow; count];
        self.reading.summary.crow_count = count;
        self
    }
    fn seen(self, seen: Inspection) -> Self {
        Self { seen, ..self }
    }
    fn sizes(self, sizes: Sizes) -> Self {
        Self { sizes, ..self }
    }
    fn after(self, cut: Cut) -> Self {
        Self { effects: after(cut), ..self }
    }
    /// Three crows that lie off the pitch given by so many cents each.
    fn spread(mut self, off: [f64; 3]) -> Self {
        for (crow, off) in self.reading.crows.iter_mut().zip(off) {
            let cents = &mut crow.figures.fundamental.target_cents;
            *cents = cents.map(|cents| cents + off);
        }
        let spread = crate::dsp::statistics::sample_sd(&off);
        self.reading.summary.figures.fundamental.spread_between_crows_cents = spread;
        self
    }
    fn rule(&self) -> &'static str {
        let measured = Measurements::new(self.sizes).unwrap();
        let profile = crate::profile::load(self.profile).unwrap();
        let case = Case {
            reading: &self.reading,
            measured: &measured,
            seen: &self.seen,
            profile: &profile,
            effects: &self.effects,
        };
        first_that_holds(&case.facts()).rule.name
    }
    fn advice(&self) -> Advice {
        let measured = Measurements::new(self.sizes).unwrap();
        let profile = crate::profile::load(self.profile).unwrap();
        advise(&self.reading, &measured, &self.seen, &profile, &self.effects)
    }
    /// All reasons in one line.
    fn says(&self) -> String {
        let advice = self.advice();
        advice.because.iter().map(|reason| reason.says.as_str()).collect::<Vec<_>>().join("; ")
    }
}
