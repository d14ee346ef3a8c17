//! Every numeric figure of the crows on both sides, under its JSON path.

use super::sides::{Sides, Takes};
use crate::dsp::statistics::median;
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::catalogue::{self, Compared};
use crate::reading::{Crow, Rung};

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

/// All figures that any crow has, in the order of the reading.
pub(super) fn of(sides: &Sides, profile: &Profile) -> Vec<Figure> {
    let mut figures = plain(sides);
    let at = figures.iter().position(|figure| figure.path == "alignment.cents").unwrap_or(0);
    figures.splice(at..at, rungs(sides, profile));
    let at = figures.iter().position(|figure| figure.path == "balance.centroid_hz").unwrap_or(0);
    figures.splice(at..at, bands(sides));
    figures
}

/// Those of them that are one number a crow.
pub(super) fn plain(sides: &Sides) -> Vec<Figure> {
    let compared = catalogue::FIGURES.iter().filter(|entry| entry.about.compared != Compared::No);
    let mut figures: Vec<Figure> = compared
        .map(|entry| {
            Figure::gathered(entry.about.path, sides, |crow| {
                sample(entry.number(&crow.figures)?, entry.own_ci95(&crow.figures), crow)
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
        of: impl Fn(&Crow) -> Option<Sample>,
    ) -> Self {
        let path = path.into();
        let is_pitch =
            catalogue::about(&path).is_some_and(|about| about.compared == Compared::Pitch);
        let side = |takes: &Takes| Samples(takes.crows().filter_map(&of).collect());
        Self {
            path,
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
        let octave_hz = median(crows().filter_map(at).map(|rung| rung.hz));
        for entry in catalogue::OF_A_RUNG.iter().filter(|e| e.about.compared != Compared::No) {
            let path = entry.about.path.replacen("rungs", &format!("rungs[{index}]"), 1);
            let figure = Figure::gathered(path, sides, |crow| {
                // A rung that is not there sounds for no part of the time, which is a figure; a crow
                // without any rung says nothing.
                let absent = (entry.about.path == "rungs.present"
                    && !crow.figures.rungs.is_empty())
                .then_some(0.0);
                let value = at(crow).map_or(absent, |rung| entry.number(&rung));
                sample(value?, None, crow)
            });
            figures.push(Figure { octave_hz, ..figure });
        }
    }
    figures
}

fn bands(sides: &Sides) -> Vec<Figure> {
    let most = |takes: &Takes| {
        takes.crows().map(|crow| crow.figures.balance.bands_db.len()).max().unwrap_or(0)
    };
    (0..most(&sides.before).min(most(&sides.after)))
        .map(|index| {
            Figure::gathered(format!("balance.bands_db[{index}].db"), sides, |crow| {
                let band = crow.figures.balance.bands_db.get(index)?;
                sample(catalogue::OF_A_BAND.number(band)?, None, crow)
            })
        })
        .collect()
}
