//! A path, or standard input, to one channel of samples.

use std::fs::File;
use std::path::Path;

use super::decode::{self, Format};
use super::{Channel, OneChannel, SampleStream, Take, TakeError, open_pipe, wav};

/// The name that stands for standard input.
pub const STANDARD_INPUT: &str = "-";

/// Opens a recording and chooses its channel.
///
/// * `source`: a path, or `-` for standard input; the content decides the format of either.
///
/// Of several channels, `Strongest` reads the recording twice unless it is short, so that memory
/// stays constant; what comes through a pipe is put on the disk meanwhile.
///
/// Errors: nothing readable there, no samples, or no such channel.
pub fn open(source: &Path, channel: Channel) -> Result<OneChannel, TakeError> {
    if source.as_os_str() == STANDARD_INPUT {
        return open_pipe(std::io::stdin(), channel);
    }
    let about = about(source)?;
    if about.is_dir() {
        return Err(TakeError::Folder);
    }
    if !about.is_file() {
        // A shell's own pipes are open already, and wait for nobody.
        let is_open = ["/dev/fd", "/proc/self/fd", "/dev/stdin"];
        if !is_open.iter().any(|open| source.starts_with(open)) {
            return Err(TakeError::Pipe);
        }
        return open_pipe(File::open(source)?, channel);
    }
    OneChannel::choose(channel, &|| open_file(source))
}

/// What the system knows of a file.
///
/// Errors: there is none, and if so whether a link leads there, or it was a pattern.
pub fn about(source: &Path) -> Result<std::fs::Metadata, TakeError> {
    source.metadata().map_err(|error| match source.is_symlink() {
        true if error.kind() == std::io::ErrorKind::NotFound => TakeError::DeadLink,
        false if is_pattern(source) => TakeError::NoMatch,
        _ => error.into(),
    })
}

/// Whether a name stands for others, as shells write it. Where some fit, those were put in its place
/// before it came here.
pub fn is_pattern(path: &Path) -> bool {
    path.as_os_str().as_encoded_bytes().iter().any(|letter| b"*?".contains(letter))
}

/// Reads a recording whole; see [`open`].
pub fn read(source: &Path, channel: Channel) -> Result<Take, TakeError> {
    open(source, channel)?.into_take(&source.to_string_lossy())
}

fn open_file(source: &Path) -> Result<Box<dyn SampleStream>, TakeError> {
    match Format::of_file(source)? {
        Some(Format::Wav) => match wav::WavStream::open(source) {
            Ok(stream) => Ok(Box::new(stream)),
            // Compressed samples in a WAV file: some of those codecs are known.
            Err(plain @ TakeError::Codec { .. }) => {
                decode::open(source, Format::Wav).map_err(|_| plain)
            }
            Err(error) => Err(error),
        },
        Some(Format::NotRead(sound)) => Err(TakeError::NotRead(sound)),
        Some(format) => decode::open(source, format),
        None if source.metadata()?.len() == 0 => Err(TakeError::Empty),
        None => Err(TakeError::NotRecording),
    }
}
