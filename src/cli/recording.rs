//! One recording, opened and read.

use std::path::Path;

use anyhow::Context;

use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::{Analysis, Reader};
use crate::take::{self, Channel, OneChannel, TakeError};

/// Opens and reads a recording.
///
/// Errors: it cannot be read; its path stands in front.
pub fn analyse(
    file: &Path,
    channel: Channel,
    profile: &Profile,
    a4: A4,
) -> anyhow::Result<Analysis> {
    let context = || file.display().to_string();
    let recording = take::open(file, channel).with_context(context)?;
    analyse_open(file, recording, profile, a4).with_context(context)
}

/// As [`analyse`], of a recording that is open.
pub fn analyse_open(
    file: &Path,
    mut recording: OneChannel,
    profile: &Profile,
    a4: A4,
) -> Result<Analysis, TakeError> {
    let reader = Reader::new(recording.sample_rate_hz(), profile, a4);
    reader.read_through(&mut recording, &file.to_string_lossy())
}
