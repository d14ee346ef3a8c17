//! Which format a recording is in, by its first bytes.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use crate::take::Unread;

/// Bytes that tell the format.
pub const OPENING_BYTES: usize = 64;

/// The format of a recording, as its first bytes have it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    /// RIFF/WAVE and its 64-bit forms RF64, BW64 and Wave64.
    Wav,
    /// Free Lossless Audio Codec.
    Flac,
    /// MPEG audio, with or without a tag in front.
    Mpeg,
    /// MPEG-4, 3GP or QuickTime: AAC, ALAC or Opus, if it can be read.
    Mp4,
    /// Ogg: Opus, Vorbis or FLAC, if it can be read.
    Ogg,
    /// Matroska and WebM.
    Matroska,
    /// AIFF and AIFF-C.
    Aiff,
    /// Core Audio Format.
    Caf,
    /// A recording in a format that is recognised and not read.
    NotRead(Unread),
}

impl Format {
    /// By the first bytes of a recording; `None` where they begin no recording that is known.
    ///
    /// Sources: the formats' own specifications, and ISO/IEC 11172-3 for the header of an MPEG
    /// audio frame; all from memory.
    pub fn of(opening: &[u8]) -> Option<Self> {
        let at = |from: usize, bytes: &[u8]| {
            opening.get(from..from + bytes.len()).is_some_and(|found| found == bytes)
        };
        let format = match opening.get(..4)? {
            b"RIFF" | b"RF64" | b"BW64" if opening.len() < 12 || at(8, b"WAVE") => Self::Wav,
            b"riff" if at(4, b"\x2e\x91\xcf\x11") => Self::Wav,
            b"fLaC" => Self::Flac,
            b"OggS" if at(28, b"Speex   ") => Self::NotRead(Unread::OggSpeex),
            b"OggS" => Self::Ogg,
            b"FORM" if opening.len() < 12 || at(8, b"AIFF") || at(8, b"AIFC") => Self::Aiff,
            b"caff" => Self::Caf,
            b"\x30\x26\xb2\x75" => Self::NotRead(Unread::WindowsMedia),
            b"\x1a\x45\xdf\xa3" => Self::Matroska,
            b"#!AM" => Self::NotRead(Unread::Amr),
            b"#!SI" => Self::NotRead(Unread::Silk),
            b"wvpk" => Self::NotRead(Unread::WavPack),
            b"MAC " => Self::NotRead(Unread::MonkeysAudio),
            b"MPCK" => Self::NotRead(Unread::Musepack),
            b"DSD " | b"FRM8" => Self::NotRead(Unread::Dsd),
            b"TTA1" | b"TTA2" => Self::NotRead(Unread::TrueAudio),
            b".snd" => Self::NotRead(Unread::SunAudio),
            b"MThd" => Self::NotRead(Unread::Midi),
            _ if at(4, b"ftyp") || at(4, b"moov") || at(4, b"mdat") || at(4, b"wide") => Self::Mp4,
            _ if at(0, b"ID3") || begins_mpeg_frame(opening) => Self::Mpeg,
            _ => return None,
        };
        Some(format)
    }

    /// By the first bytes of a file.
    ///
    /// Errors: the file cannot be opened or read.
    pub fn of_file(path: &Path) -> io::Result<Option<Self>> {
        let mut opening = Vec::with_capacity(OPENING_BYTES);
        File::open(path)?.take(OPENING_BYTES as u64).read_to_end(&mut opening)?;
        Ok(Self::of(&opening))
    }

    /// Whether the name's ending is one that recordings have; says nothing about the content.
    pub fn is_usual_ending(path: &Path) -> bool {
        const ENDINGS: [&str; 40] = [
            "wav", "wave", "rf64", "bw64", "w64", "flac", "mp3", "mp2", "m4a", "m4b", "mp4", "aac",
            "alac", "mov", "3gp", "ogg", "oga", "opus", "spx", "aif", "aiff", "aifc", "caf", "wma",
            "asf", "amr", "ape", "wv", "mpc", "dsf", "dff", "tta", "au", "snd", "mka", "mkv",
            "weba", "webm", "m4v", "3g2",
        ];
        path.extension()
            .and_then(|ending| ending.to_str())
            .is_some_and(|ending| ENDINGS.iter().any(|usual| usual.eq_ignore_ascii_case(ending)))
    }
}

/// Whether the bytes are the header of an MPEG audio or ADTS frame. Two bytes of ones begin much
/// else, so every field must hold a value that is allowed.
fn begins_mpeg_frame(opening: &[u8]) -> bool {
    let &[sync, kind, rate, ..] = opening else { return false };
    if sync != 0xff || kind & 0xe0 != 0xe0 {
        return false;
    }
    let (version, layer) = (kind >> 3 & 3, kind >> 1 & 3);
    if layer == 0 {
        // ADTS: AAC without a container. Object type is not 3, the rate's index is below 13.
        return kind & 0xf0 == 0xf0 && rate >> 6 != 3 && rate >> 2 & 15 < 13;
    }
    version != 1 && rate >> 4 != 0 && rate >> 4 != 15 && rate >> 2 & 3 != 3
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_bytes_tell_the_format() {
        for (opening, format) in [
            (&b"RIFF\0\0\0\0WAVEfmt "[..], Some(Format::Wav)),
            (b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb", Some(Format::Wav)),
            (b"RIFF\0\0\0\0AVI LIST", None),
            (b"fLaC\0\0\0\x22", Some(Format::Flac)),
            (b"\0\0\0\x1cftypM4A ", Some(Format::Mp4)),
            (b"ID3\x04\0\0\0\0\0\0", Some(Format::Mpeg)),
            (b"\xff\xfb\x90\x64", Some(Format::Mpeg)),
            (b"\xff\xf1\x50\x80", Some(Format::Mpeg)),
            (b"FORM\0\0\0\0AIFCFVER", Some(Format::Aiff)),
            (b"caff\0\x01\0\0", Some(Format::Caf)),
            (b"\x30\x26\xb2\x75\x8e\x66", Some(Format::NotRead(Unread::WindowsMedia))),
            (b"\xff\xd8\xff\xe0", None),
            (b"\xff\xfe\0\0", None),
            (b"Notes on the reeds of this week", None),
            (b"", None),
        ] {
            assert_eq!(Format::of(opening), format, "{opening:?}");
        }
    }

    #[test]
    fn an_ending_is_compared_without_case() {
        assert!(Format::is_usual_ending(Path::new("a/Crow 7.WAV")));
        assert!(!Format::is_usual_ending(Path::new("a/wav")));
        assert!(!Format::is_usual_ending(Path::new("notes.txt")));
    }
}
