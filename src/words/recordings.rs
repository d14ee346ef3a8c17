//! Why a recording cannot be read or written.

use std::fmt::{Display, Formatter, Result};

use crate::system::System;
use crate::take::{
    ChannelError, HeaderFault, RATES_HZ, SampleKind, TakeError, Undecodable, Unread,
};
use crate::words::system::{DISK_IS_FULL, NO_SUCH_FILE, no_permission, refusal};

/// The formats that are read.
const READ_FORMATS: &str = "WAV, FLAC, MP3, M4A, MP4, MOV, 3GP, Ogg, Opus, WebM, AIFF, CAF";

/// The caller puts the recording's name in front.
impl Display for TakeError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(match self {
            Self::NotFound => NO_SUCH_FILE,
            Self::NoMatch => "no file fits this pattern; check its folder and ending",
            Self::NoPermission => no_permission(System::HERE),
            Self::Folder => {
                "is a folder; name the recordings in it, or read all of it with 'reedcrow batch'"
            }
            Self::Empty => "is empty; record it again",
            Self::DeadLink => {
                "is a link that leads nowhere; bring back what it stands for, or delete it"
            }
            Self::Pipe => {
                "is a pipe, which may never give anything; send it to standard input, and name it -"
            }
            Self::NotWav => "is not a WAV recording; save it as WAV (PCM or float) and try again",
            Self::CutOffInHeader => {
                "ends inside its header, before any sound; copy it again or record it again"
            }
            Self::NoIndex => {
                "lost its index, which is written last, and without it no sound in it can be found; \
                 copy it again from where it was recorded"
            }
            Self::NoChannels => {
                "has 0 channels by its header; save it again as WAV, or record it again"
            }
            Self::NoSamples => "holds no samples; record it again",
            Self::DiskFull => {
                return write!(
 f, "could not be written: {DISK_IS_FULL}; make room and save it again");
            }
            Self::NotRecording => {
                return write!(
                    f,
                    "is not a recording that can be read ({READ_FORMATS}); convert it to WAV and try \
                     again"
                );
            }
            Self::NotRead(sound) => {
                return write!(
                    f,
                    "holds {sound}, which is not read; a converter makes WAV of it: ffmpeg -i FILE \
                     out.wav"
                );
            }
            Self::Decode(why) => {
                return write!(
                    f,
                    "cannot be decoded: {why}; copy it again, or save it as WAV and try again"
                );
            }
            Self::Header(why) => return f.write_str(&header(*why)),
            Self::Rate(hz) => return f.write_str(&rate(*hz)),
            Self::Bits { bits, kind } => return f.write_str(&bits_of(*bits, *kind)),
            Self::Codec { code } => return f.write_str(&codec(*code)),
            Self::NoSuchChannel { asked, channels } => {
                return write!(f, "has no channel {asked}; its channels are 1 to {channels}");
            }
            Self::Io(error) => return f.write_str(&refusal(error)),
        })
    }
}

// What a header says that is not read.

fn header(why: HeaderFault) -> String {
    format!("has a header that makes no sense ({why}); save it again as WAV, or record it again")
}

fn rate(hz: u32) -> String {
    let (least, most) = RATES_HZ.into_inner();
    format!("has a sample rate of {hz} Hz by its header; record it again at {least} to {most} Hz")
}

fn bits_of(bits: u16, kind: SampleKind) -> String {
    let kind = match kind {
        SampleKind::Integer => "integer",
        SampleKind::Float => "float",
    };
    format!(
        "has {kind} samples of {bits} bits by its header; save it again as 16 or 24-bit integer or \
         32-bit float"
    )
}

fn codec(code: u16) -> String {
    let name = codec_name(code);
    format!("holds {name} (format code {code}), not plain samples; save it as PCM WAV")
}

impl Display for HeaderFault {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Self::FormatBytes(bytes) => write!(f, "a format of {bytes} bytes"),
            Self::NoFormat => f.write_str("no format before its sound"),
            Self::NoSound { looked_through_mib } => {
                write!(f, "no sound in its first {looked_through_mib} MiB")
            }
            Self::ShortChunk => f.write_str("a chunk smaller than its heading"),
            Self::Frame { channels, bits, frame_bytes } => {
                write!(f, "{channels} channels of {bits} bits in {frame_bytes} bytes")
            }
        }
    }
}

/// What a format code of a WAV file stands for. Source: RFC 2361, from memory.
fn codec_name(code: u16) -> &'static str {
    match code {
        0x0002 => "Microsoft ADPCM",
        0x0006 => "A-law",
        0x0007 => "mu-law",
        0x0011 => "IMA ADPCM",
        0x0031 => "GSM 6.10",
        0x0050 => "MPEG audio",
        0x0055 => "MP3",
        0x00ff => "AAC",
        _ => "samples of an unknown kind",
    }
}

impl Display for Unread {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(match self {
            Self::Ac3 => "Dolby AC-3",
            Self::Amr => "AMR",
            Self::AmrWideband => "AMR wideband",
            Self::AmrWidebandExtended => "AMR wideband, extended",
            Self::Dsd => "DSD",
            Self::Midi => "MIDI, which holds notes and no sound",
            Self::MonkeysAudio => "Monkey's Audio",
            Self::MpegLayer1 => "MPEG layer I",
            Self::MpegLayer2 => "MPEG layer II",
            Self::Musepack => "Musepack",
            Self::OggSpeex => "Ogg Speex",
            Self::OpusSurround => "Opus of more than two channels",
            Self::Silk => "SILK",
            Self::Speex => "Speex",
            Self::SunAudio => "Sun audio (AU)",
            Self::TrueAudio => "True Audio",
            Self::WavPack => "WavPack",
            Self::WindowsMedia => "Windows Media (WMA)",
        })
    }
}

impl Display for Undecodable {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str(match self {
            Self::NoSound => "it holds no sound of a known kind",
            Self::UnknownKind => "its sound is of an unknown kind",
            Self::KindNotRead => "its sound is of a kind that is not read",
            Self::TooMuch => "its header asks for more than is possible",
            Self::TooShort => "it ends too soon",
            Self::Damaged => "its data is damaged",
            Self::NoSuchPlace => "its header gives a place that is not in it",
            Self::ContradictsItself => "its header contradicts itself about its samples",
            Self::MostlyMissing => "its data is damaged: more of it is missing than is there",
            Self::WithoutEnd => "it gives sound without end",
        })
    }
}

impl Display for ChannelError {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        f.write_str("channels are counted from 1")
    }
}
