//! A path, or standard input, to one channel of samples.

use std::path::Path;

use super::decode::{Format, Packets};
use super::{Channel, OneChannel, SampleStream, Take, TakeError, wav};

/// The name that stands for standard input, which is read as WAV.
pub const STANDARD_INPUT: &str = "-";

/// Opens a recording and chooses its channel.
///
/// * `source`: a path, or `-` for WAV on standard input.
///
/// Of a file with several channels, `Strongest` reads it twice unless it is short, so that memory
/// stays constant; what cannot be read twice (a pipe) is held whole meanwhile.
///
/// Errors: nothing readable there, no samples, or no such channel.
pub fn open(source: &Path, channel: Channel) -> Result<OneChannel, TakeError> {
    let stream = open_stream(source)?;
    match channel {
        Channel::Number(number) => OneChannel::new(stream, number),
        Channel::Strongest if source.is_file() => {
            OneChannel::strongest(stream, Some(&|| open_stream(source)))
        }
        Channel::Strongest => OneChannel::strongest(stream, None),
    }
}

/// Reads a recording whole; see [`open`].
pub fn read(source: &Path, channel: Channel) -> Result<Take, TakeError> {
    open(source, channel)?.into_take(&source.to_string_lossy())
}

fn open_stream(source: &Path) -> Result<Box<dyn SampleStream>, TakeError> {
    if source.as_os_str() == STANDARD_INPUT {
        return Ok(Box::new(wav::WavStream::piped(std::io::stdin())?));
    }
    let about = source.metadata()?;
    if about.is_dir() {
        return Err(TakeError::Folder);
    }
    if !about.is_file() {
        // A named pipe: its first bytes cannot be read twice.
        return Ok(Box::new(wav::WavStream::open(source)?));
    }
    match Format::of_file(source)? {
        Some(Format::Wav) => match wav::WavStream::open(source) {
            Ok(stream) => Ok(Box::new(stream)),
            // Compressed samples in a WAV file: some of those codecs are known.
            Err(plain @ TakeError::Codec { .. }) => Packets::open(source, Format::Wav)
                .map(|packets| Box::new(packets) as _)
                .map_err(|_| plain),
            Err(error) => Err(error),
        },
        Some(Format::NotRead(name)) => Err(TakeError::NotRead(name)),
        Some(format) => Ok(Box::new(Packets::open(source, format)?)),
        None if about.len() == 0 => Err(TakeError::Empty),
        None => Err(TakeError::NotRecording),
    }
}
