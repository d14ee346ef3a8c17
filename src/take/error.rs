//! Why a recording could not be read at all, or not be written.

use std::io;

use super::RATES_HZ;
use crate::system::System;
use crate::text::refusal;
use crate::words::system::no_permission;

/// Why a recording could not be read or written. Each says what is wrong and what to do; the
/// caller puts the recording's name in front.
#[derive(Debug, thiserror::Error)]
pub enum TakeError {
    /// No such file.
    #[error("there is no such file; check its name and folder")]
    NotFound,
    /// A pattern of names, and none fits.
    #[error("no file fits this pattern; check its folder and ending")]
    NoMatch,
    /// The file system refuses.
    #[error("{}", no_permission(System::HERE))]
    NoPermission,
    /// A folder where a recording is wanted.
    #[error("is a folder; name the recordings in it, or read all of it with 'reedcrow batch'")]
    Folder,
    /// No bytes at all.
    #[error("is empty; record it again")]
    Empty,
    /// Not a recording at all, or in a format that nobody here knows.
    #[error(
        "is not a recording that can be read ({formats}); convert it to WAV and try again",
        formats = super::decode::READ_FORMATS
    )]
    NotRecording,
    /// A link without its file.
    #[error("is a link that leads nowhere; bring back what it stands for, or delete it")]
    DeadLink,
    /// A named pipe.
    #[error("is a pipe, which may never give anything; send it to standard input, and name it -")]
    Pipe,
    /// A recording in a format that is known and not read.
    #[error("holds {0}, which is not read; a converter makes WAV of it: ffmpeg -i FILE out.wav")]
    NotRead(&'static str),
    /// Not WAV where only WAV is read.
    #[error("is not a WAV recording; save it as WAV (PCM or float) and try again")]
    NotWav,
    /// The file ends before its sound begins.
    #[error("ends inside its header, before any sound; copy it again or record it again")]
    CutOffInHeader,
    /// An MPEG-4 file without the index that is written last.
    #[error(
        "lost its index, which is written last, and without it no sound in it can be found; copy \
         it again from where it was recorded"
    )]
    NoIndex,
    /// A header that contradicts itself.
    #[error("has a header that makes no sense ({0}); save it again as WAV, or record it again")]
    Header(String),
    /// The header gives no channels.
    #[error("has 0 channels by its header; save it again as WAV, or record it again")]
    NoChannels,
    /// A sample rate outside those that are read.
    #[error(
        "has a sample rate of {0} Hz by its header; record it again at {min} to {max} Hz",
        min = RATES_HZ.start(),
        max = RATES_HZ.end()
    )]
    Rate(u32),
    /// A word length that is not read.
    #[error(
        "has {kind} samples of {bits} bits by its header; save it again as 16 or 24-bit integer or \
         32-bit float"
    )]
    Bits {
        /// Bits per sample.
        bits: u16,
        /// `integer` or `float`.
        kind: &'static str,
    },
    /// Compressed samples in a WAV file.
    #[error("holds {name} (format code {code}), not plain samples; save it as PCM WAV")]
    Codec {
        /// The format code of the header.
        code: u16,
        /// What the code stands for.
        name: &'static str,
    },
    /// A format that is recognised and cannot be decoded, and why.
    #[error("cannot be decoded: {0}; copy it again, or save it as WAV and try again")]
    Decode(&'static str),
    /// A header, and nothing behind it.
    #[error("holds no samples; record it again")]
    NoSamples,
    /// A channel that is not there.
    #[error("has no channel {asked}; its channels are 1 to {channels}")]
    NoSuchChannel {
        /// Counted from 1.
        asked: u16,
        /// Channels of the recording.
        channels: u16,
    },
    /// No room left on the disk.
    #[error("could not be written: the disk is full; make room and save it again")]
    DiskFull,
    /// Anything else the system reports.
    #[error("{}", refusal(.0))]
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
