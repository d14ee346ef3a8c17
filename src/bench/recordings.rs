//! Recordings read whole, as takes.

use std::path::Path;

use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Reader, Reading};
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
