//! What is expected of one kind of reed: the note its crow is held to, the registers it should
//! sound in, tolerances, usual dimensions, and where advice draws its lines. Built-in profiles are
//! data (TOML beside this file); makers write their own in the same form.
//!
//! Makers differ in nearly all of it, so every value is a setting with its provenance.

mod builtin;
mod ear;
mod error;
mod keys;
mod parse;

use std::collections::BTreeMap;

pub use builtin::{BUILT_IN, BuiltIn, load, starter};
pub(crate) use builtin::{StartedFrom, load_with_text};
pub use ear::{Ear, Heard};
pub use error::ProfileError;
pub(crate) use error::{Missing, Wrong, WrongCrow, WrongNumber};

use crate::pitch::{A4, Note, register};
use crate::units::Hertz;

/// What is expected of one kind of reed.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Short name, as typed after `--profile`.
    pub name: String,
    /// What it is called in a sentence.
    pub title: String,
    /// The note the crow is held to in register 0; `None` where makers hold it to no note.
    pub target: Option<Note>,
    /// The registers in which rungs are expected, lowest first; not empty. Without a target they
    /// count octaves above the lowest sustained rung of the crow itself.
    pub registers: Vec<i32>,
    /// Notes that some makers hold the crow to instead of the target; empty where none is named.
    pub also: Vec<Note>,
    /// Without a target: a lowest tone above this note is the upper octave alone. `None` where
    /// nothing tells which octave a tone is.
    pub peep_above: Option<Note>,
    /// How far from the expected still counts as met.
    pub tolerance: Tolerance,
    /// Usual positions and lengths.
    pub dimensions: Dimensions,
    /// Smallest change that matters, by figure (its JSON path without indices), in its own unit.
    pub smallest_change: BTreeMap<String, f64>,
    /// Where advice draws its lines.
    pub advice: Lines,
    /// How the maker hears; not part of the file, but taught by what they said.
    pub ear: Ear,
    /// What blowing does to the pitch in this maker's crows; not part of the file, but learned from them.
    pub blowing: Option<Blowing>,
    /// Where each value comes from, by `section.key`.
    pub origins: BTreeMap<String, Origin>,
}

/// How far from the expected still counts as met.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Tolerance {
    /// Distance from the target within which a crow is in tune, in cents.
    pub target_cents: f64,
    /// Distance of a position from the usual one that is worth a word, in millimetres.
    pub position_mm: f64,
    /// Standard deviation of one measurement at the bench, in millimetres.
    pub measuring_mm: f64,
}

/// Usual dimensions in millimetres; positions count from the bottom of the staple (of the tube
/// where there is no staple). `None` where nothing is expected.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Dimensions {
    /// Whole length of a finished reed.
    pub length: Option<f64>,
    /// The shortest length worth keeping: nothing is clipped below it.
    pub shortest_length: Option<f64>,
    /// Length of the staple.
    pub staple: Option<f64>,
    /// Where the winding ends.
    pub wound_to: Option<f64>,
    /// Where the windows (the scrape) begin; bark is left below.
    pub window_bottom: Option<f64>,
    /// Where the heart ends towards the windows.
    pub heart_bottom: Option<f64>,
    /// Where the tip begins, at its corners.
    pub tip_start: Option<f64>,
    /// Height of the opening between the blades at the tip.
    pub opening: Option<f64>,
    /// Width of the cane where it leaves the winding.
    pub throat_width: Option<f64>,
}

/// Where advice draws its lines.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Lines {
    /// Longest first clip, in millimetres.
    pub first_clip_mm: f64,
    /// Shortest clip that can be cut on purpose, in millimetres.
    pub smallest_clip_mm: f64,
    /// Confidence under which no cut is advised, 0 … 1.
    pub least_confidence: f64,
    /// Crows that make a take worth judging by.
    pub crows_wanted: f64,
    /// Standard deviation of pitch from crow to crow that is expected of any reed, in cents.
    pub usual_spread_cents: f64,
    /// How far the pitch may change with each decibel of blowing, either way (standard deviation), in
    /// cents per decibel.
    pub level_slope_cents_per_db: f64,
    /// Flatness from which a clip comes before tip work, in cents.
    pub room_to_clip_cents: f64,
    /// Longest breath before the first tone that is not a slow answer, in seconds.
    pub slow_onset_s: f64,
    /// Latest entry of the low octave after the first tone that is not late, in seconds.
    pub slow_low_s: f64,
    /// Level of the lowest rung under which it is hardly there, in decibels.
    pub weak_low_db: f64,
    /// Level under which a tone below the lowest expected octave is a growl, in decibels.
    pub growl_db: f64,
    /// Share of the steady part under which the lowest rung comes and goes, 0 … 1.
    pub low_present: f64,
    /// Rate over which octaves take turns instead of sounding together, per second.
    pub switches_per_s: f64,
    /// Spread of pitch within a crow over which it is unsteady, in cents.
    pub unsteady_cents: f64,
    /// Drift within a crow over which it glides and has no one pitch, in cents per second.
    pub glide_cents_per_s: f64,
    /// Depth over which a rattle is wild, 0 … 1.
    pub wild_rattle_depth: f64,
    /// Breath noise over which a crow is stuffy, in decibels.
    pub stuffy_db: f64,
}

/// Where a value comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// Common practice, memory, a named source, or our own choice.
    pub from: String,
    /// How makers part ways over it.
    pub disagree: Option<String>,
}

/// Where a value comes from of which the profile does not say it.
#[derive(Debug)]
pub(crate) struct OfItself;

impl Origin {
    /// * `from`: what the profile says of it.
    fn new(from: Option<String>, disagree: Option<String>) -> Self {
        Self { from: from.unwrap_or_else(|| OfItself.to_string()), disagree }
    }
}

impl Profile {
    /// Frequency of the target in register 0.
    pub fn target_frequency(&self, a4: A4) -> Option<Hertz> {
        self.target.map(|note| note.frequency(a4))
    }

    /// Whether a rung as low as this one is expected: in the registers or under them, or, without a target,
    /// among the two lowest.
    ///
    /// * `index`: place of the rung in the ladder, the lowest being 0.
    pub(crate) fn expects(&self, hz: f64, index: usize, a4: A4) -> bool {
        match (self.target_frequency(a4), Hertz::new(hz)) {
            (Some(target), Some(hz)) => register(hz, target) <= self.highest_register(),
            _ => index < 2,
        }
    }

    /// The target's note in another register; `None` without a target.
    pub fn note_in(&self, register: i32) -> Option<Note> {
        self.target.map(|note| note.octaves_up(register))
    }

    /// The note that the lowest tone of a crow is held to; `None` without a target.
    pub fn lowest_note(&self) -> Option<Note> {
        self.note_in(self.lowest_register())
    }

    /// The highest register in which a rung is expected.
    pub fn highest_register(&self) -> i32 {
        self.registers.iter().copied().max().unwrap_or(1)
    }

    /// The lowest register in which a rung is expected.
    pub fn lowest_register(&self) -> i32 {
        self.registers.iter().copied().min().unwrap_or(0)
    }

    /// Whether a crow whose lowest tone lies in `register` is a peep: the upper octave alone. Without a
    /// target registers say nothing, and nothing is.
    pub fn is_peep(&self, register: i32) -> bool {
        self.target.is_some() && register > self.lowest_register()
    }

    /// Smallest change that matters of the figure with this JSON path; indices in brackets do not
    /// count, nor does a last `.db` after them. `None` for a path that is not a figure.
    pub fn smallest_change(&self, path: &str) -> Option<f64> {
        self.smallest_change.get(&figure_key(path)).copied()
    }

    /// Where the value under `section.key` comes from, as one phrase; empty where nothing is said.
    pub fn origin(&self, key: &str) -> &str {
        self.origins.get(key).map_or("", |origin| origin.from.as_str())
    }
}

/// A figure's JSON path as profiles write it: without indices, and without a last `.db` after one.
pub fn figure_key(path: &str) -> String {
    let mut key = String::with_capacity(path.len());
    for (index, part) in path.split(['[', ']']).enumerate() {
        // Every other part stood in brackets.
        if index % 2 == 0 && part != ".db" {
            key.push_str(part);
        }
    }
    key
}

impl Default for Profile {
    /// The American long-scrape oboe reed.
    fn default() -> Self {
        builtin::american_oboe()
    }
}

/// What blowing harder does to the pitch: its slope against level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blowing {
    /// Cents for each decibel louder.
    pub cents_per_db: f64,
    /// How well that is known of the next reed (standard deviation).
    pub sd: f64,
}
