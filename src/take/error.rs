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
    NotRead(Unread),
    /// Not WAV where only WAV is read.
    NotWav,
    /// The file ends before its sound begins.
    CutOffInHeader,
    /// An MPEG-4 file without the index that is written last.
    NoIndex,
    /// A header that contradicts itself.
    Header(HeaderFault),
    /// The header gives no channels.
    NoChannels,
    /// A sample rate outside those that are read.
    Rate(u32),
    /// A word length that is not read.
    Bits {
        /// Bits per sample.
        bits: u16,
        /// What the numbers are.
        kind: SampleKind,
    },
    /// Compressed samples in a WAV file.
    Codec {
        /// The format code of the header.
        code: u16,
    },
    /// A format that is recognised and cannot be decoded, and why.
    Decode(Undecodable),
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

/// Sound that is known and not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "each is named as its format is")]
pub enum Unread {
    Ac3,
    Amr,
    AmrWideband,
    AmrWidebandExtended,
    Dsd,
    Midi,
    MonkeysAudio,
    MpegLayer1,
    MpegLayer2,
    Musepack,
    OggSpeex,
    /// Opus of more than two channels.
    OpusSurround,
    Silk,
    Speex,
    SunAudio,
    TrueAudio,
    WavPack,
    WindowsMedia,
}

impl Unread {
    /// All of them; a child that decodes names one by its place here.
    pub(crate) const ALL: [Self; 18] = [
        Self::Ac3,
        Self::Amr,
        Self::AmrWideband,
        Self::AmrWidebandExtended,
        Self::Dsd,
        Self::Midi,
        Self::MonkeysAudio,
        Self::MpegLayer1,
        Self::MpegLayer2,
        Self::Musepack,
        Self::OggSpeex,
        Self::OpusSurround,
        Self::Silk,
        Self::Speex,
        Self::SunAudio,
        Self::TrueAudio,
        Self::WavPack,
        Self::WindowsMedia,
    ];
}

/// What in the header of a WAV file makes no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeaderFault {
    /// A description of the samples that is too short to be one.
    FormatBytes(u64),
    /// The sound comes before its description.
    NoFormat,
    /// Much, and no sound in it.
    NoSound {
        /// How much was looked through, in MiB.
        looked_through_mib: u64,
    },
    /// A chunk that would end within its own heading.
    ShortChunk,
    /// Samples of all channels that do not fill the bytes that they are said to take.
    Frame {
        /// Channels.
        channels: u16,
        /// Bits of each sample.
        bits: u16,
        /// Bytes of all.
        frame_bytes: u16,
    },
}

/// What the numbers of plain samples are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SampleKind {
    /// Whole numbers.
    Integer,
    /// Floating point.
    Float,
}

/// Why a recording of a known format cannot be decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Undecodable {
    /// No track of sound in it.
    NoSound,
    /// A track that the container does not describe.
    UnknownKind,
    /// A codec, or a variant of one, without a decoder.
    KindNotRead,
    /// More memory, or longer packets, than a decoder allows.
    TooMuch,
    /// The end comes within something.
    TooShort,
    /// Data that no encoder writes.
    Damaged,
    /// A place outside the file.
    NoSuchPlace,
    /// Sample sizes and rates that exclude each other.
    ContradictsItself,
    /// More of its sound is filled in than was decoded.
    MostlyMissing,
    /// It never comes to an end.
    WithoutEnd,
}

impl Undecodable {
    /// All of them; a child that decodes names one by its place here.
    pub(crate) const ALL: [Self; 10] = [
        Self::NoSound,
        Self::UnknownKind,
        Self::KindNotRead,
        Self::TooMuch,
        Self::TooShort,
        Self::Damaged,
        Self::NoSuchPlace,
        Self::ContradictsItself,
        Self::MostlyMissing,
        Self::WithoutEnd,
    ];
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
