//! Why a recording could not be read at all, or not be written.

use std::io;

/// Why a recording could not be read or written. Each says what is wrong and what to do; the
/// caller puts the recording's name in front.
#[derive(Debug, thiserror::Error)]
pub enum TakeError {
    /// No such file.
    NotFound,
    /// A pattern of names, and none fits.
    NoMatch,
    /// The file system refuses.
    NoPermission,
    /// A folder where a recording is wanted.
    Folder,
    /// No bytes at all.
    Empty,
    /// Not a recording at all, or in a format that nobody here knows.
    NotRecording,
    /// A link without its file.
    DeadLink,
    /// A named pipe.
    Pipe,
    /// A recording in a format that is known and not read.
    NotRead(&'static str),
    /// Not WAV where only WAV is read.
    NotWav,
    /// The file ends before its sound begins.
    CutOffInHeader,
    /// An MPEG-4 file without the index that is written last.
    NoIndex,
    /// A header that contradicts itself.
    Header(String),
    /// The header gives no channels.
    NoChannels,
    /// A sample rate outside those that are read.
    Rate(u32),
    /// A word length that is not read.
    Bits {
        /// Bits per sample.
        bits: u16,
        /// `integer` or `float`.
        kind: &'static str,
    },
    /// Compressed samples in a WAV file.
    Codec {
        /// The format code of the header.
        code: u16,
        /// What the code stands for.
        name: &'static str,
    },
    /// A format that is recognised and cannot be decoded, and why.
    Decode(&'static str),
    /// A header, and nothing behind it.
    NoSamples,
    /// A channel that is not there.
    NoSuchChannel {
        /// Counted from 1.
        asked: u16,
        /// Channels of the recording.
        channels: u16,
    },
    /// No room left on the disk.
    DiskFull,
    /// Anything else the system reports.
    Io(io::Error),
}

impl From<io::Error> for TakeError {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::NotFound,
            io::ErrorKind::PermissionDenied => Self::NoPermission,
            io::ErrorKind::IsADirectory => Self::Folder,
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::DiskFull,
            _ => Self::Io(error),
        }
    }
}
