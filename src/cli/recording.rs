//! One recording read as a stream, so that its length costs no memory.

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
    let mut reader = Reader::new(recording.sample_rate_hz(), profile, a4);
    let mut block = Vec::new();
    while recording.next_block(&mut block)? {
        reader.push(&block);
    }
    let source = file.to_string_lossy();
    Ok(reader.finish(&source, recording.channels(), recording.channel(), recording.faults()))
}
