//! Which octave a tone is drawn as, and what pitch is measured from.

use crate::pitch::{A4, Note, register};
use crate::profile::Profile;
use crate::reading::Reading;
use crate::units::{Cents, Hertz};
use crate::words::pictures::{the_nearest, the_target};

/// The note that octaves and cents are counted from.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Octaves {
    note: Note,
    frequency: Hertz,
    /// The registers a profile expects; empty without a target.
    expected: Vec<i32>,
    highest: i32,
}

impl Octaves {
    /// For one take: see [`Self::from_fundamental`].
    pub(super) fn of(reading: &Reading, profile: &Profile, a4: A4) -> Option<Self> {
        Self::from_fundamental(reading.summary.figures.fundamental.hz, profile, a4)
    }

    /// From the profile's target; without one from the note nearest to `fundamental_hz`. `None`
    /// where there is neither.
    pub(super) fn from_fundamental(
        fundamental_hz: Option<f64>,
        profile: &Profile,
        a4: A4,
    ) -> Option<Self> {
        let highest = profile.highest_register();
        if let Some(note) = profile.target {
            let expected = profile.registers.clone();
            return Some(Self { note, frequency: note.frequency(a4), expected, highest });
        }
        let fundamental = fundamental_hz.and_then(Hertz::new)?;
        let (note, _) = Note::nearest(fundamental, a4);
        Some(Self { note, frequency: note.frequency(a4), expected: Vec::new(), highest })
    }

    /// Octaves above the note; 0 for what is not a frequency.
    pub(super) fn octave(&self, hz: f64) -> i32 {
        Hertz::new(hz).map_or(0, |tone| register(tone, self.frequency))
    }

    /// The note in `octave`.
    pub(super) fn note(&self, octave: i32) -> Note {
        self.note.octaves_up(octave)
    }

    /// Frequency of the note in `octave`, in hertz.
    pub(super) fn hz(&self, octave: i32) -> f64 {
        self.frequency.raised(Cents(1200.0 * f64::from(octave))).hz()
    }

    /// Cents of `hz` above the note in `octave`; `None` for what is not a frequency.
    pub(super) fn cents(&self, hz: f64, octave: i32) -> Option<f64> {
        let tone = Hertz::new(hz)?;
        Some(self.frequency.cents_to(tone).0 - 1200.0 * f64::from(octave))
    }

    /// The octaves whose note lies between the two frequencies.
    pub(super) fn within(&self, from_hz: f64, to_hz: f64) -> impl Iterator<Item = i32> + '_ {
        (-8..=8).filter(move |octave| (from_hz..=to_hz).contains(&self.hz(*octave)))
    }

    /// Whether the profile expects a rung in `octave`.
    pub(super) fn expects(&self, octave: i32) -> bool {
        self.expected.contains(&octave)
    }

    /// The highest octave in which the profile expects a rung.
    pub(super) fn highest(&self) -> i32 {
        self.highest
    }

    /// What cents are counted from, in words.
    pub(super) fn reference(&self) -> String {
        if !self.expected.is_empty() {
            the_target(&self.note.to_string())
        } else {
            the_nearest(&self.note.to_string())
        }
    }
}
