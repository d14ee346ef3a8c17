//! Every numeric figure of the crows on both sides, under its JSON path.

use super::estimate::median;
use super::sides::{Sides, Takes};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Figures, Rung};

/// One crow's value of one figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    pub value: f64,
    /// Half width of the crow's own 95 % interval, where the figure has one.
    pub own_ci95: Option<f64>,
    pub level_dbfs: Option<f64>,
}

/// One side's crows.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Samples(pub Vec<Sample>);

/// One figure on both sides.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Figure {
    pub path: String,
    /// Where the rung is that it is a figure of.
    pub octave_hz: Option<f64>,
    pub before: Samples,
    pub after: Samples,
    /// Whether it moves with blowing strength as pitch does.
    pub is_pitch: bool,
    /// Whether it wraps at ±600 cents.
    wraps: bool,
}

impl Samples {
    pub fn values(&self) -> Vec<f64> {
        self.0.iter().map(|sample| sample.value).collect()
    }

    pub fn own_ci95(&self) -> Vec<f64> {
        self.0.iter().filter_map(|sample| sample.own_ci95).collect()
    }

    /// Levels of all crows; `None` unless each has one.
    pub fn levels(&self) -> Option<Vec<f64>> {
        self.0.iter().map(|sample| sample.level_dbfs).collect()
    }
}

impl Figure {
    /// A median over unwrapped values, folded back to how the figure is told.
    pub fn folded(&self, value: f64) -> f64 {
        if self.wraps && value > 600.0 { value - 1200.0 } else { value }
    }
}

type Of = fn(&Figures) -> Option<f64>;

/// Figures that are one number a crow: path, value, own interval, whether pitch.
const PLAIN: [(&str, Of, Of, bool); 16] = [
    ("fundamental.hz", |f| f.fundamental.hz, hz_interval, true),
    ("fundamental.note_cents", |f| f.fundamental.note_cents, cents_interval, true),
    ("fundamental.target_cents", |f| f.fundamental.target_cents, cents_interval, true),
    ("fundamental.register", |f| f.fundamental.register.map(f64::from), none, false),
    ("alignment.cents", |f| f.alignment.cents, |f| f.alignment.ci95_cents, false),
    ("balance.centroid_hz", |f| f.balance.centroid_hz, none, false),
    ("balance.tilt_db_per_octave", |f| f.balance.tilt_db_per_octave, none, false),
    ("balance.low_high_db", |f| f.balance.low_high_db, none, false),
    ("steadiness.spread_cents", |f| f.steadiness.spread_cents, none, false),
    ("steadiness.drift_cents_per_s", |f| f.steadiness.drift_cents_per_s, none, false),
    ("steadiness.level_sd_db", |f| f.steadiness.level_sd_db, none, false),
    ("steadiness.rattle_hz", |f| f.steadiness.rattle_hz, none, false),
    ("steadiness.rattle_depth", |f| f.steadiness.rattle_depth, none, false),
    ("response.onset_s", |f| f.response.onset_s, none, false),
    ("response.low_delay_s", |f| f.response.low_delay_s, none, false),
    ("breath.noise_db", |f| f.breath.noise_db, none, false),
];

fn none(_: &Figures) -> Option<f64> {
    None
}

fn cents_interval(figures: &Figures) -> Option<f64> {
    figures.fundamental.ci95_cents
}

fn hz_interval(figures: &Figures) -> Option<f64> {
    let fundamental = &figures.fundamental;
    // One cent is f · ln 2 / 1200, for intervals small against an octave.
    Some(fundamental.hz? * std::f64::consts::LN_2 / 1200.0 * fundamental.ci95_cents?)
}

/// All figures that any crow has, in the order of the reading.
pub(super) fn of(sides: &Sides, profile: &Profile) -> Vec<Figure> {
    let mut figures = plain(sides);
    let at = figures.iter().position(|figure| figure.path == "alignment.cents").unwrap_or(0);
    figures.splice(at..at, rungs(sides, profile));
    let at = figures.iter().position(|figure| figure.path == "balance.centroid_hz").unwrap_or(0);
    figures.splice(at..at, bands(sides));
    figures.push(Figure::gathered("level_dbfs", sides, false, |crow| {
        sample(crow.figures.level_dbfs?, None, crow)
    }));
    figures
}

/// Those of them that are one number a crow.
pub(super) fn plain(sides: &Sides) -> Vec<Figure> {
    let mut figures: Vec<Figure> = PLAIN
        .into_iter()
        .map(|(path, value, own, is_pitch)| {
            Figure::gathered(path, sides, is_pitch, |crow| {
                sample(value(&crow.figures)?, own(&crow.figures), crow)
            })
        })
        .collect();
    for figure in &mut figures {
        match figure.path.as_str() {
            "fundamental.target_cents" => figure.unwrap(),
            // Cents from different notes are not on one scale.
            "fundamental.note_cents" if !one_note(sides) => figure.before = Samples::default(),
            _ => {}
        }
    }
    figures
}

fn sample(value: f64, own_ci95: Option<f64>, crow: &Crow) -> Option<Sample> {
    let finite = |value: &f64| value.is_finite();
    Some(Sample {
        value: Some(value).filter(finite)?,
        own_ci95: own_ci95.filter(finite).map(f64::abs),
        level_dbfs: crow.figures.level_dbfs.filter(finite),
    })
}

impl Figure {
    fn gathered(
        path: impl Into<String>,
        sides: &Sides,
        is_pitch: bool,
        of: impl Fn(&Crow) -> Option<Sample>,
    ) -> Self {
        let side = |takes: &Takes| Samples(takes.crows().filter_map(&of).collect());
        Self {
            path: path.into(),
            octave_hz: None,
            before: side(&sides.before),
            after: side(&sides.after),
            is_pitch,
            wraps: false,
        }
    }

    /// Cents that straddle ±600 belong together: the flat ones are counted up from the target
    /// below.
    fn unwrap(&mut self) {
        let all: Vec<f64> = [self.before.values(), self.after.values()].concat();
        let least = all.iter().copied().fold(f64::INFINITY, f64::min);
        let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if most - least <= 600.0 {
            return;
        }
        let wrapped: Vec<f64> =
            all.iter().map(|x| if *x < 0.0 { x + 1200.0 } else { *x }).collect();
        let least_wrapped = wrapped.iter().copied().fold(f64::INFINITY, f64::min);
        let most_wrapped = wrapped.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // Crows all over the octave stay as they are: no folding makes them one pitch.
        if most_wrapped - least_wrapped >= most - least {
            return;
        }
        self.wraps = true;
        for sample in self.before.0.iter_mut().chain(&mut self.after.0) {
            if sample.value < 0.0 {
                sample.value += 1200.0;
            }
        }
    }
}

fn one_note(sides: &Sides) -> bool {
    let mut notes = sides
        .before
        .crows()
        .chain(sides.after.crows())
        .filter_map(|crow| crow.figures.fundamental.note.as_ref());
    let first = notes.next();
    notes.all(|note| Some(note) == first)
}

/// Rungs of both sides on one ladder: crows that begin on different octaves would otherwise have
/// their rungs compared across octaves. The index counts the rungs of that ladder from below.
fn rungs(sides: &Sides, profile: &Profile) -> Vec<Figure> {
    let crows = || sides.before.crows().chain(sides.after.crows());
    let all = || crows().flat_map(|crow| &crow.figures.rungs).filter(|rung| rung.hz > 0.0);
    let lowest = all().map(|rung| rung.hz).fold(f64::INFINITY, f64::min);
    let a4 = sides.readings().next().and_then(|reading| A4::new(reading.a4_hz).ok());
    let target = profile.target_frequency(a4.unwrap_or_default());
    let reference = target.map_or(lowest, |target| target.hz());
    let step = |rung: &Rung| (rung.hz / reference).log2().round() as i32;
    let ladder: std::collections::BTreeSet<i32> = all().map(step).collect();
    let mut figures = Vec::new();
    for (index, register) in ladder.into_iter().enumerate() {
        let at = |crow: &Crow| {
            crow.figures.rungs.iter().find(|rung| rung.hz > 0.0 && step(rung) == register).cloned()
        };
        let octave_hz = median(&crows().filter_map(at).map(|rung| rung.hz).collect::<Vec<_>>());
        let mut add = |name: &str, is_pitch: bool, of: fn(&Rung) -> Option<f64>| {
            let path = format!("rungs[{index}].{name}");
            let figure =
                Figure::gathered(path, sides, is_pitch, |crow| sample(of(&at(crow)?)?, None, crow));
            figures.push(Figure { octave_hz, ..figure });
        };
        add("hz", true, |rung| Some(rung.hz));
        add("level_db", false, |rung| Some(rung.level_db));
        add("switches_per_s", false, |rung| Some(rung.switches_per_s));
        add("entry_s", false, |rung| rung.entry_s);
        // A rung that is not there sounds for no part of the time, which is a figure; a crow
        // without any rung says nothing.
        let path = format!("rungs[{index}].present");
        let figure = Figure::gathered(path, sides, false, |crow| {
            let any = !crow.figures.rungs.is_empty();
            let share = at(crow).map(|rung| rung.present).or(any.then_some(0.0));
            sample(share?, None, crow)
        });
        figures.push(Figure { octave_hz, ..figure });
    }
    figures
}

fn bands(sides: &Sides) -> Vec<Figure> {
    let most = |takes: &Takes| {
        takes.crows().map(|crow| crow.figures.balance.bands_db.len()).max().unwrap_or(0)
    };
    (0..most(&sides.before).min(most(&sides.after)))
        .map(|index| {
            Figure::gathered(format!("balance.bands_db[{index}].db"), sides, false, |crow| {
                sample(crow.figures.balance.bands_db.get(index)?.db?, None, crow)
            })
        })
        .collect()
}
