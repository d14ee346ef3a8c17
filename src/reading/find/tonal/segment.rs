//! A stretch of one family of partials: what it is by itself, and beside another. The limits of what is
//! known of the world here were set on synthetic rooms (`scripts/evaluate --rooms`), a third of which was
//! kept unseen.

use super::comb::{Comb, OCTAVE, STEP_CENTS};
use crate::dsp::statistics::{median, quantile_in_place};
use crate::reading::find::no_crow::Why;

/// What is missing for moments as short as this (80 ms) was there all the time.
pub(super) const BRIDGED: u64 = 8;
/// Sounds this near to each other, octaves aside, are of one pitch.
pub(super) const SAME_CENTS: f64 = 90.0;
/// What goes on for longer than this (30 s) without a break is not a crow.
pub(super) const LONGEST: usize = 3000;
/// Shorter sounds are not crows (0.4 s) …
const SHORTEST: u64 = 40;
/// … nor are those that stand out less than this, in decibels, …
const LEAST_SALIENCE_DB: f32 = 7.5;
/// … or, where hardly anything else sounds, than this, …
const LEAST_PURE_SALIENCE_DB: f32 = 6.0;
const PURE: f32 = 0.85;
/// … that explain less than this share of the power, …
const LEAST_SHARE: f32 = 0.6;
/// … have nothing over 2 kHz …
const LEAST_BRIGHT_DB: f32 = 1.0;
/// … or glide: a fifth of their moments farther than this from the middle.
const GLIDE_CENTS: f64 = 80.0;
/// Notes that follow within this (0.6 s) and more than a semitone or so away are a melody …
const MELODY: u64 = 60;
/// … if they are notes: longer than this, as clear as a tone, and no weaker than this.
const NOTE: u64 = 12;
const NOTE_SALIENCE_DB: f32 = 9.0;
const NOTE_NEAR_DB: f32 = 6.0;
const NOTES_HZ: (f64, f64) = (220.0, 1700.0);
/// Somebody who plays leaves no such pause (0.2 s) between one note and the next that is as clear, …
pub(super) const PAUSE: u64 = 20;
/// … and what is so much clearer than what follows after one is no word or note of the same mouth.
const CLEARER_SHARE: f32 = 0.15;
/// A low note is told from a voice by being held: so long (0.25 s), and within this.
const LOW_NOTE_HZ: f64 = 300.0;
const LOW_NOTE: u64 = 25;
const HELD_CENTS: f64 = 30.0;
/// A partial is known by its number up to this one, …
const HIGHEST_PARTIAL: f64 = 8.0;
/// … within this: partials of higher numbers lie closer than a semitone to some note or other.
const PARTIAL_CENTS: f64 = 30.0;
/// A pitch that leaps by more than this while the one before explains this share of what it did is of the
/// same sound. Under that the partials of both lie in the same bins.
const SAME_SOUND_CENTS: f64 = 200.0;
const SAME_SOUND_SHARE: f32 = 0.85;
/// What is weaker than this against a crow sounds beside it.
const BESIDE_DB: f32 = 6.0;
/// Parts of an unsettled crow stand out by this and explain a share within these limits.
const UNSETTLED_SALIENCE_DB: f32 = 4.1;
const UNSETTLED_SHARE: (f32, f32) = (0.35, 0.85);
const UNSETTLED_BRIGHT_DB: (f32, f32) = (0.2, 4.0);
const UNSETTLED_TOP_HZ: f64 = 2000.0;

/// What a segment is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// A crow that holds a tone.
    Crow,
    /// Part of a crow that holds none.
    Unsettled,
    /// No crow.
    Not(Why),
}

/// A stretch of one family of partials. Frames are counted from the take's first.
#[derive(Debug, Clone, PartialEq)]
pub struct Segment {
    /// Its first frame.
    pub first: u64,
    /// The frame after its last.
    pub end: u64,
    /// Its middle pitch.
    pub hz: f64,
    /// How far it stands out, in decibels.
    pub salience_db: f32,
    /// Share of the power it explains.
    pub share: f32,
    /// What it is.
    pub verdict: Verdict,
    /// Frequency in each frame that it was followed in.
    pub track: Vec<(u64, f64)>,
    /// Whether it is a piece of what goes on and on.
    pub(super) goes_on: bool,
    pub(super) state: usize,
    /// Share of the power that the pitch explains that was followed before.
    share_before: f32,
    /// What its pitch explained of the power just before it was followed.
    explained_before: f32,
    bright_db: f32,
    pub(super) level_db: f32,
    spread_cents: f64,
}

impl Segment {
    /// Its length in frames.
    pub fn frames(&self) -> u64 {
        self.end - self.first
    }

    /// Of a stretch of the course from frame `first` on.
    pub(super) fn new(
        first: u64,
        points: &[Point],
        comb: &Comb,
        expected_hz: (f64, f64),
    ) -> Option<Self> {
        let of = |figure: fn(&Point) -> f32| median(points.iter().map(|p| f64::from(figure(p))));
        let mut state = median(points.iter().map(|p| p.state as f64))?.round() as usize;
        let mut share = of(|p| p.share)? as f32;
        let mut away: Vec<f64> =
            points.iter().map(|p| p.state.abs_diff(state) as f64 * STEP_CENTS).collect();
        // A crow's third or second partial may stand out alone.
        let mut divisor = 1.0;
        if comb.hz(state) > expected_hz.1 {
            let under = [0, 1].map(|i| median(points.iter().map(|p| f64::from(p.share_under[i]))));
            for ((below, under), by) in Comb::UNDER.into_iter().zip(under).zip([3.0, 2.0]) {
                if state >= below && under.is_some_and(|under| under as f32 > share + 0.03) {
                    (state, share, divisor) = (state - below, under? as f32, by);
                    break;
                }
            }
        }
        let mut levels: Vec<f64> = points.iter().map(|p| f64::from(p.level_db)).collect();
        Some(Self {
            first,
            end: first + points.len() as u64,
            hz: median(points.iter().map(|p| p.hz))? / divisor,
            salience_db: points.iter().map(|p| p.salience).sum::<f32>() / points.len() as f32,
            share,
            verdict: Verdict::Crow,
            track: (first..).zip(points).map(|(frame, p)| (frame, p.hz / divisor)).collect(),
            goes_on: false,
            state,
            share_before: of(|p| p.share_before)? as f32,
            explained_before: points.first()?.explained_before,
            bright_db: of(|p| p.bright)? as f32,
            level_db: quantile_in_place(&mut levels, 0.75)? as f32,
            spread_cents: quantile_in_place(&mut away, 0.8)?,
        })
    }

    pub(super) fn pitch_class_cents_to(&self, other: &Self) -> f64 {
        let away = self.state.abs_diff(other.state) % OCTAVE;
        away.min(OCTAVE - away) as f64 * STEP_CENTS
    }

    /// Frames between it and `other`, 0 where they overlap.
    pub(super) fn gap(&self, other: &Self) -> u64 {
        self.first.max(other.first).saturating_sub(self.end.min(other.end))
    }

    /// This and what follows it as one.
    pub(super) fn joined(mut self, next: Self) -> Self {
        let (own, others) = (self.frames() as f32, next.frames() as f32);
        let mean = |a: f32, b: f32| (a * own + b * others) / (own + others);
        self.salience_db = mean(self.salience_db, next.salience_db);
        self.share = mean(self.share, next.share);
        self.bright_db = mean(self.bright_db, next.bright_db);
        self.level_db = mean(self.level_db, next.level_db);
        self.spread_cents = f64::from(mean(self.spread_cents as f32, next.spread_cents as f32));
        if others > own {
            (self.state, self.hz) = (next.state, next.hz);
        }
        self.end = next.end;
        self.goes_on |= next.goes_on;
        self.track.extend(next.track);
        self
    }

    /// What it lacks by itself to be a crow.
    pub(super) fn lack(&self, expected_hz: (f64, f64)) -> Option<Why> {
        let pure = self.share > PURE;
        let least = if pure { LEAST_PURE_SALIENCE_DB } else { LEAST_SALIENCE_DB };
        if self.goes_on || self.frames() as usize >= LONGEST {
            Some(Why::GoesOn)
        } else if self.frames() < SHORTEST {
            Some(Why::Short)
        } else if self.hz < expected_hz.0 || self.hz > expected_hz.1 {
            Some(Why::OutOfRange)
        } else if self.spread_cents > GLIDE_CENTS {
            Some(Why::Glides)
        } else if self.salience_db < least
            || self.share < LEAST_SHARE
            || self.bright_db < LEAST_BRIGHT_DB
        {
            Some(Why::Hidden)
        } else {
            None
        }
    }

    fn is_of_one_pitch_with(&self, other: &Self) -> bool {
        self.pitch_class_cents_to(other) < SAME_CENTS
    }

    /// Whether `other` lies on its pitch, octaves aside, or on a partial of it or of the octave below
    /// it: which of them stands out most changes as a tone dies away.
    pub fn has_partial_at(&self, other: &Self) -> bool {
        let below_hz = 0.5 * self.hz;
        let number = (other.hz / below_hz).round().max(1.0);
        let cents = 1200.0 * (other.hz / (number * below_hz)).log2();
        self.is_of_one_pitch_with(other) || number <= HIGHEST_PARTIAL && cents.abs() < PARTIAL_CENTS
    }

    /// Whether it is so much stronger than `other` that both are not parts of one sound: the reed is
    /// near, what sounds beside it is not.
    pub fn is_near_beside(&self, other: &Self) -> bool {
        self.level_db > other.level_db + BESIDE_DB
    }

    /// Whether it is as long and as clear as a note.
    pub fn is_note(&self) -> bool {
        self.frames() > NOTE && self.salience_db > NOTE_SALIENCE_DB && self.share > LEAST_SHARE
    }

    /// Whether it is held as a note is.
    pub fn is_held(&self) -> bool {
        self.frames() > LOW_NOTE && self.spread_cents < HELD_CENTS
    }

    /// Whether the pitch that is followed from here on is another of the same sound: a strong overtone, or an
    /// octave gone out. Each then explains what sounds before and after the leap alike, as a note a fifth
    /// higher does not, and the level stays.
    pub(super) fn goes_on_as(&self, next: &Self) -> bool {
        let leap_cents = 1200.0 * (next.hz / self.hz).log2().abs();
        next.first >= self.first
            && self.gap(next) < BRIDGED
            && leap_cents > SAME_SOUND_CENTS
            && self.hz.min(next.hz) > NOTES_HZ.0
            && next.share_before > SAME_SOUND_SHARE * self.share
            && next.explained_before > SAME_SOUND_SHARE * self.share
            && (next.level_db - self.level_db).abs() < BESIDE_DB
    }

    /// Whether `other` beside it shows that both are notes of a melody.
    pub(super) fn steps_to(&self, other: &Self) -> bool {
        let is_apart = self.gap(other) >= PAUSE && self.share > other.share + CLEARER_SHARE;
        self.gap(other) < MELODY
            && !is_apart
            && !self.goes_on_as(other)
            && !other.goes_on_as(self)
            && other.is_note()
            && (NOTES_HZ.0..NOTES_HZ.1).contains(&other.hz)
            && (other.hz > LOW_NOTE_HZ || other.is_held())
            && self.pitch_class_cents_to(other) > SAME_CENTS
            && other.level_db > self.level_db - NOTE_NEAR_DB
    }

    /// Whether it may be part of a crow that holds no tone.
    pub(super) fn may_be_unsettled(&self, lowest_hz: f64) -> bool {
        let within = |(low, high): (f32, f32), value: f32| value > low && value < high;
        matches!(self.verdict, Verdict::Not(Why::Hidden | Why::Short | Why::Glides))
            && self.salience_db > UNSETTLED_SALIENCE_DB
            && within(UNSETTLED_BRIGHT_DB, self.bright_db)
            && within(UNSETTLED_SHARE, self.share)
            && (lowest_hz..UNSETTLED_TOP_HZ).contains(&self.hz)
    }
}

/// One moment of the course that was followed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Index into the comb's pitches.
    pub(super) state: usize,
    /// Frequency by the partials that stand out.
    pub(super) hz: f64,
    /// How far the partials stand out, in decibels.
    pub(super) salience: f32,
    /// Power of the family in decibels, on an arbitrary scale.
    pub(super) level_db: f32,
    /// Share of all power that the family explains.
    pub(super) share: f32,
    /// The same of the pitches whose third or second partial this may be.
    pub(super) share_under: [f32; 2],
    /// The same of the pitch that was followed before it leapt here.
    pub(super) share_before: f32,
    /// What this pitch explained of the power some moments earlier.
    pub(super) explained_before: f32,
    /// How far partials above 2 kHz stand out.
    pub(super) bright: f32,
}
