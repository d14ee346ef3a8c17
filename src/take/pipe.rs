//! What comes through a pipe: standard input, or a named one. It can be read once only, so what
//! has to be read twice, or in jumps, is put on the disk meanwhile.

use std::fs::File;
use std::io::{self, Cursor, Read, Seek};

use super::decode::{self, Format, OPENING_BYTES};
use super::{Channel, OneChannel, TakeError, wav};

/// Format codes of WAV whose samples are plain: PCM, float, and those that a longer header names.
const PLAIN_CODES: [u16; 3] = [1, 3, 0xfffe];

/// Opens what comes through `input` and chooses its channel.
///
/// Plain WAV of one channel is read as it comes, also while it is still being recorded. All else
/// is copied first into a temporary file without a name, which goes with the program, so that
/// memory stays constant.
///
/// Errors: as of a file; and the disk is full.
pub fn open_pipe(
    mut input: impl Read + Send + 'static,
    channel: Channel,
) -> Result<OneChannel, TakeError> {
    let mut opening = Vec::with_capacity(OPENING_BYTES);
    input.by_ref().take(OPENING_BYTES as u64).read_to_end(&mut opening)?;
    let format = match Format::of(&opening) {
        Some(Format::NotRead(sound)) => return Err(TakeError::NotRead(sound)),
        Some(format) => format,
        None if opening.is_empty() => return Err(TakeError::Empty),
        None => return Err(TakeError::NotRecording),
    };
    let streams = format == Format::Wav && is_plain_and_mono(&opening);
    let whole = Cursor::new(opening).chain(input);
    if streams {
        let number = if let Channel::Number(number) = channel { number } else { 1 };
        return OneChannel::new(Box::new(wav::WavStream::piped(whole)?), number);
    }
    let file = on_disk(whole)?;
    OneChannel::choose(channel, &|| {
        let rewound = || -> io::Result<File> {
            let mut file = file.try_clone()?;
            file.rewind()?;
            Ok(file)
        };
        if format != Format::Wav {
            return decode::open_unnamed(&file, format);
        }
        match wav::WavStream::piped(rewound()?) {
            Err(plain @ TakeError::Codec { .. }) => {
                decode::open_unnamed(&file, Format::Wav).map_err(|_| plain)
            }
            stream => stream.map(|stream| Box::new(stream) as _),
        }
    })
}

/// By a header of the usual layout, its format first; any other may be anything.
fn is_plain_and_mono(opening: &[u8]) -> bool {
    let word = |at: usize| {
        let bytes = opening.get(at..at + 2)?;
        Some(u16::from_le_bytes([bytes[0], bytes[1]]))
    };
    opening.starts_with(b"RIFF")
        && opening.get(12..16) == Some(b"fmt ")
        && word(20).is_some_and(|code| PLAIN_CODES.contains(&code))
        && word(22) == Some(1)
}

/// The longest that is copied: what a WAV file may hold. A pipe that never ends would fill the disk.
const LONGEST_BYTES: u64 = 1 << 32;

fn on_disk(input: impl Read) -> io::Result<File> {
    copied(input, LONGEST_BYTES)
}

/// * `most_bytes`: more than these are refused.
fn copied(input: impl Read, most_bytes: u64) -> io::Result<File> {
    let mut file = tempfile::tempfile()?;
    if io::copy(&mut input.take(most_bytes + 1), &mut file)? > most_bytes {
        return Err(io::ErrorKind::FileTooLarge.into());
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pipe_that_never_ends_is_refused_and_one_of_the_greatest_length_is_not() {
        assert_eq!(copied(io::repeat(7).take(100), 100).unwrap().metadata().unwrap().len(), 100);
        let endless = copied(io::repeat(7), 100).unwrap_err();
        assert_eq!(endless.kind(), io::ErrorKind::FileTooLarge);
    }
}
