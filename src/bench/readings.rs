//! Readings at the bench: of a recording read whole, and of a take that is still going on.

use std::path::Path;

use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Crow, Reader, Reading, SCHEMA, summarise};
use crate::take::{self, Channel, TakeError};

/// What is done with tones that are set aside for what their pitch does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tones {
    /// They are not crows.
    Judged,
    /// Their maker says that they are.
    Kept,
}

/// Reads a recording.
///
/// * `name`: what it is said to come from.
/// * `held_to`: what it is read against.
///
/// Errors: it cannot be read.
pub fn read_recording(
    file: &Path,
    name: &str,
    held_to: (&Profile, A4),
    tones: Tones,
) -> Result<Reading, TakeError> {
    let mut recording = take::open(file, Channel::default())?;
    let reader = Reader::new(recording.sample_rate_hz(), held_to.0, held_to.1);
    let reader = match tones {
        Tones::Judged => reader,
        Tones::Kept => reader.keeping_tones(),
    };
    Ok(reader.read_through(&mut recording, name)?.reading)
}

/// What the crows of a take say before it is over.
///
/// * `source`: what is listened to.
pub fn reading_so_far(source: &str, crows: Vec<Crow>, profile: &Profile, a4: A4) -> Reading {
    Reading {
        schema: SCHEMA,
        source: source.to_owned(),
        sample_rate_hz: 0,
        channels: 1,
        channel: 1,
        duration_s: crows.last().map_or(0.0, |crow| crow.end_s),
        a4_hz: a4.hz(),
        profile: profile.name.clone(),
        summary: summarise(&crows, a4),
        crows,
        others: Vec::new(),
        tones_kept: false,
        microphone: None,
        warnings: Vec::new(),
    }
}
