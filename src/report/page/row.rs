//! What the page shows of one take, and what it is held to.

use std::path::PathBuf;

use crate::advice::{Advice, Move, Place};
use crate::comparison::{Estimate, NORMAL_95};
use crate::pitch::{Note, register};
use crate::profile::Profile;
use crate::reading::{Kind, Reading, Summary};
use crate::units::Hertz;
use crate::words::pictures::the_target;
use crate::words::takes as words;

/// Crows of one take kept for its small picture.
const MOST_CROWS: usize = 24;

/// One take of the page.
#[derive(Debug, Clone, PartialEq)]
pub struct PageRow {
    /// Path or other name of the take.
    pub source: String,
    /// Its figures, or why it could not be read.
    pub outcome: Result<PageFigures, String>,
    /// Where its picture is; `None` where there is none.
    pub picture: Option<PathBuf>,
}

/// What the page shows of a reading: medians over the take's crows, in the units of the reading.
#[derive(Debug, Clone, PartialEq)]
pub struct PageFigures {
    /// The commonest kind; `None` with no crow.
    pub kind: Option<Kind>,
    /// Crows that sound.
    pub crow_count: usize,
    /// Nearest note.
    pub note: Option<String>,
    /// Which octave it is in, counted from the target; `None` without a target.
    pub register: Option<i32>,
    /// Distance above that note, in cents.
    pub note_cents: Option<f64>,
    /// Distance from the target, in cents; `None` without a target.
    pub target_cents: Option<f64>,
    /// Half width of the 95 % interval of one crow's own pitch, the median over the crows, in cents.
    pub ci95_cents: Option<f64>,
    /// Deviation of the octaves from 2:1, in cents.
    pub alignment_cents: Option<f64>,
    /// Whether they lock.
    pub locked: Option<bool>,
    /// Level of each rung that sounds, in decibels, with its frequency in hertz; lowest first.
    pub rungs: Vec<PageRung>,
    /// Distance of each crow from the target, or from the nearest note without one, in cents;
    /// `None` for a crow without pitch.
    pub crow_cents: Vec<Option<f64>>,
    /// How far the pitch wanders within a crow, in cents.
    pub spread_cents: Option<f64>,
    /// Breath before the first tone, in seconds.
    pub onset_s: Option<f64>,
    /// Level of the take.
    pub level_dbfs: Option<f64>,
    /// What makes the reading doubtful.
    pub warnings: Vec<String>,
    /// The next move.
    pub next: Option<PageNext>,
}

/// A next move as the page lists it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageNext {
    /// What.
    pub next: Move,
    /// Where, of one that has a place.
    pub place: Option<Place>,
    /// How much of a clip, in millimetres.
    pub amount_mm: Option<f64>,
}

/// One rung of the small ladder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageRung {
    /// In hertz.
    pub hz: f64,
    /// Relative to all partials.
    pub level_db: f64,
    /// Share of the steady part in which it sounds, 0 … 1.
    pub present: f64,
    /// Octaves above the target's, or without a target above the lowest that is sustained.
    pub octave: i32,
}

impl PageRung {
    /// Which octave a rung of `hz` is, by the lowest sustained one and its register. Where none is
    /// sustained, by its `place` in the ladder.
    pub fn octave(hz: f64, fundamental_hz: Option<f64>, above: Option<i32>, place: usize) -> i32 {
        let lowest = fundamental_hz.and_then(Hertz::new).zip(Hertz::new(hz));
        lowest.map_or(place as i32, |(lowest, hz)| {
            register(hz, lowest).saturating_add(above.unwrap_or(0))
        })
    }
}

impl PageRow {
    /// The row of a take that was read.
    pub fn new(reading: &Reading, advice: Option<&Advice>) -> Self {
        let sounding = reading.crows.iter().filter(|crow| crow.kind != Kind::Breath);
        let crow_cents = sounding.take(MOST_CROWS).map(|crow| {
            let fundamental = &crow.figures.fundamental;
            fundamental.target_cents.or(fundamental.note_cents)
        });
        let figures = PageFigures {
            crow_cents: crow_cents.collect(),
            warnings: reading.warnings.iter().map(|warning| warning.text.clone()).collect(),
            next: advice.map(|advice| PageNext {
                next: advice.next,
                place: advice.r#where.place(),
                amount_mm: advice.told_mm(),
            }),
            ..PageFigures::of(&reading.summary)
        };
        Self { source: reading.source.clone(), outcome: Ok(figures), picture: None }
    }

    /// The row of a take that could not be read.
    pub fn failed(source: &str, reason: &str) -> Self {
        Self { source: source.to_owned(), outcome: Err(reason.to_owned()), picture: None }
    }
}

impl PageFigures {
    /// How far its octaves stand off 2:1, in cents; of one tone, whose overtones do not, nothing.
    pub fn octaves_cents(&self) -> Option<f64> {
        let cents = self.alignment_cents.filter(|cents| cents.is_finite());
        cents.filter(|_| self.kind != Some(Kind::Single))
    }

    /// What a take's medians say; of its crows, its warnings and the next move nothing.
    pub fn of(summary: &Summary) -> Self {
        let figures = &summary.figures;
        let pitch = &figures.fundamental;
        let rungs = figures.rungs.iter().enumerate().map(|(place, rung)| PageRung {
            hz: rung.hz,
            level_db: rung.level_db,
            present: rung.present,
            octave: PageRung::octave(rung.hz, pitch.hz, pitch.register, place),
        });
        Self {
            kind: summary.kind,
            crow_count: summary.crow_count,
            note: pitch.note.clone(),
            register: pitch.register,
            note_cents: pitch.note_cents,
            target_cents: pitch.target_cents,
            ci95_cents: pitch.ci95_cents,
            alignment_cents: figures.alignment.cents,
            locked: figures.alignment.locked,
            rungs: rungs.collect(),
            crow_cents: Vec::new(),
            spread_cents: figures.steadiness.spread_cents,
            onset_s: figures.response.onset_s,
            level_dbfs: figures.level_dbfs,
            warnings: Vec::new(),
            next: None,
        }
    }

    /// Cents from the target, or from the nearest note where there is no target.
    pub(super) fn pitch_cents(&self) -> Option<f64> {
        self.target_cents.or(self.note_cents).filter(|cents| cents.is_finite())
    }

    /// Half width of the 95 % interval of the take's pitch, by how far its crows differ, as the card
    /// of the take has it; `None` without a target, where cents count from different notes.
    pub(super) fn known_cents(&self, usual_spread_cents: f64) -> Option<f64> {
        let middle = self.target_cents.filter(|cents| cents.is_finite())?;
        let folded = |cents: f64| cents - 1200.0 * ((cents - middle) / 1200.0).round();
        let finite = self.crow_cents.iter().flatten().copied().filter(|cents| cents.is_finite());
        let mut values: Vec<f64> = finite.map(folded).collect();
        if values.is_empty() {
            values.push(middle);
        }
        let own = vec![self.ci95_cents.unwrap_or_default(); values.len()];
        let known = Estimate::over_crows(&values, &own, usual_spread_cents)?;
        let least = self.ci95_cents.unwrap_or_default() / NORMAL_95;
        let standard_error = known.standard_error.max(least);
        Some(Estimate { standard_error, ..known }.half_width())
    }
}

/// What the takes are held to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeldTo {
    /// The note; `None` where they are held to none.
    pub target: Option<Note>,
    /// Distance from it that counts as in tune, in cents.
    pub tolerance_cents: f64,
    /// Standard deviation of pitch from crow to crow that is usual, in cents.
    pub usual_spread_cents: f64,
    /// Above this register a lowest tone is the upper octave; `None` without a target.
    pub lowest_register: Option<i32>,
}

impl HeldTo {
    /// As `profile` has it.
    pub fn of(profile: &Profile) -> Self {
        Self {
            target: profile.target,
            tolerance_cents: profile.tolerance.target_cents,
            usual_spread_cents: profile.advice.usual_spread_cents,
            lowest_register: profile.target.map(|_| profile.lowest_register()),
        }
    }

    /// Whether the lowest tone of a take is the upper octave.
    pub(super) fn is_upper(&self, figures: &PageFigures) -> bool {
        figures
            .register
            .zip(self.lowest_register)
            .is_some_and(|(register, lowest)| register > lowest)
    }

    /// What cents are counted from, in words.
    pub(super) fn pitch_from(&self) -> String {
        self.target
            .map_or_else(|| words::NEAREST_NOTE.to_owned(), |note| the_target(&note.to_string()))
    }
}
