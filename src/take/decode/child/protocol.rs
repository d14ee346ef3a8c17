//! What this program and its child say to each other: a letter, then numbers in little-endian order.

use std::io::Read;
use std::path::{Path, PathBuf};

use super::super::Format;
use crate::take::{TakeError, Undecodable, Unread};

/// Samples of one answer, at most, unless one frame alone has more.
pub const MOST_SAMPLES: usize = 1 << 16;

/// The longest path that is sent.
const LONGEST_PATH: usize = 1 << 16;

/// Formats that are decoded, by their place here.
const FORMATS: [Format; 8] = [
    Format::Wav,
    Format::Flac,
    Format::Mpeg,
    Format::Mp4,
    Format::Ogg,
    Format::Aiff,
    Format::Caf,
    Format::Matroska,
];

/// What a child is asked.
#[derive(Debug)]
pub enum Question<'a> {
    /// Begin with this file.
    Open(&'a Path, Format),
    /// Go on with it.
    Next,
}

impl Question<'_> {
    /// As it is sent; `None` for a path that cannot be, or a format that is not decoded.
    pub fn bytes(&self) -> Option<Vec<u8>> {
        let Self::Open(path, format) = self else { return Some(b"n".to_vec()) };
        let format = FORMATS.iter().position(|known| known == format)?;
        let path = bytes_of(path).filter(|path| path.len() <= LONGEST_PATH)?;
        let mut bytes = vec![b'o', format as u8];
        bytes.extend_from_slice(&(path.len() as u32).to_le_bytes());
        bytes.extend_from_slice(path);
        Some(bytes)
    }
}

/// The same as it was read.
#[derive(Debug, PartialEq, Eq)]
pub enum Asked {
    /// Begin with this file.
    Open(PathBuf, Format),
    /// Go on with it.
    Next,
}

impl Asked {
    /// `None` at the end, or where it makes no sense.
    pub fn read(from: &mut impl Read) -> Option<Self> {
        match byte(from)? {
            b'o' => {
                let format = *FORMATS.get(usize::from(byte(from)?))?;
                let length = number(from)? as usize;
                if length > LONGEST_PATH {
                    return None;
                }
                let mut path = vec![0; length];
                from.read_exact(&mut path).ok()?;
                Some(Self::Open(path_of(path)?, format))
            }
            b'n' => Some(Self::Next),
            _ => None,
        }
    }
}

/// What a child answers.
#[derive(Debug)]
pub enum Answer {
    /// The file is open.
    Opened {
        /// Its sample rate.
        sample_rate_hz: u32,
        /// Its channels, at least 1.
        channels: u16,
    },
    /// Interleaved samples.
    Samples(Vec<f32>),
    /// There are no more.
    Ended {
        /// Whether it broke off.
        cut_off: bool,
        /// Frames that were lost.
        lost: u64,
    },
    /// Why it cannot be decoded.
    Failed(TakeError),
}

impl Answer {
    /// As it is sent.
    pub fn bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        match self {
            Self::Opened { sample_rate_hz, channels } => {
                bytes.push(b'o');
                bytes.extend_from_slice(&sample_rate_hz.to_le_bytes());
                bytes.extend_from_slice(&u32::from(*channels).to_le_bytes());
            }
            Self::Samples(samples) => {
                bytes.push(b's');
                bytes.extend_from_slice(&(samples.len() as u32).to_le_bytes());
                bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
            }
            Self::Ended { cut_off, lost } => {
                bytes.extend_from_slice(&[b'e', u8::from(*cut_off)]);
                bytes.extend_from_slice(&lost.to_le_bytes());
            }
            Self::Failed(error) => {
                let (letter, more) = code(error);
                bytes.extend_from_slice(&[b'f', letter]);
                bytes.extend_from_slice(&more.to_le_bytes());
            }
        }
        bytes
    }

    /// `None` at the end, or where it makes no sense.
    pub fn read(from: &mut impl Read) -> Option<Self> {
        Some(match byte(from)? {
            b'o' => {
                let sample_rate_hz = number(from)?;
                let channels =
                    u16::try_from(number(from)?).ok().filter(|&channels| channels > 0)?;
                Self::Opened { sample_rate_hz, channels }
            }
            b's' => {
                let count = number(from)? as usize;
                if count > MOST_SAMPLES {
                    return None;
                }
                let mut bytes = vec![0; 4 * count];
                from.read_exact(&mut bytes).ok()?;
                let samples = bytes.as_chunks::<4>().0.iter().map(|&four| f32::from_le_bytes(four));
                Self::Samples(samples.collect())
            }
            b'e' => {
                let cut_off = byte(from)? != 0;
                let mut lost = [0; 8];
                from.read_exact(&mut lost).ok()?;
                Self::Ended { cut_off, lost: u64::from_le_bytes(lost) }
            }
            b'f' => Self::Failed(failure(byte(from)?, number(from)?)),
            _ => return None,
        })
    }
}

/// An error as a letter and a number. What the system refuses is told by its own number.
fn code(error: &TakeError) -> (u8, u32) {
    let place = |place: Option<usize>| place.map_or(u32::MAX, |place| place as u32);
    match error {
        TakeError::NotFound => (b'N', 0),
        TakeError::NoPermission => (b'P', 0),
        TakeError::CutOffInHeader => (b'H', 0),
        TakeError::NoIndex => (b'I', 0),
        TakeError::NoChannels => (b'C', 0),
        TakeError::NoSamples => (b'S', 0),
        TakeError::Rate(rate_hz) => (b'R', *rate_hz),
        TakeError::NotRead(sound) => {
            (b'K', place(Unread::ALL.iter().position(|known| known == sound)))
        }
        TakeError::Decode(why) => {
            (b'D', place(Undecodable::ALL.iter().position(|known| known == why)))
        }
        TakeError::Io(error) => (b'O', error.raw_os_error().unwrap_or(0) as u32),
        _ => (b'D', u32::MAX),
    }
}

fn failure(letter: u8, more: u32) -> TakeError {
    let place = usize::try_from(more).unwrap_or(usize::MAX);
    let damaged = TakeError::Decode(Undecodable::Damaged);
    match letter {
        b'N' => TakeError::NotFound,
        b'P' => TakeError::NoPermission,
        b'H' => TakeError::CutOffInHeader,
        b'I' => TakeError::NoIndex,
        b'C' => TakeError::NoChannels,
        b'S' => TakeError::NoSamples,
        b'R' => TakeError::Rate(more),
        b'K' => Unread::ALL.get(place).map_or(damaged, |&sound| TakeError::NotRead(sound)),
        b'O' if more > 0 => std::io::Error::from_raw_os_error(more as i32).into(),
        _ => Undecodable::ALL.get(place).map_or(damaged, |&why| TakeError::Decode(why)),
    }
}

fn byte(from: &mut impl Read) -> Option<u8> {
    let mut byte = [0];
    from.read_exact(&mut byte).ok()?;
    Some(byte[0])
}

fn number(from: &mut impl Read) -> Option<u32> {
    let mut bytes = [0; 4];
    from.read_exact(&mut bytes).ok()?;
    Some(u32::from_le_bytes(bytes))
}

#[cfg(unix)]
fn bytes_of(path: &Path) -> Option<&[u8]> {
    Some(std::os::unix::ffi::OsStrExt::as_bytes(path.as_os_str()))
}

#[cfg(not(unix))]
fn bytes_of(path: &Path) -> Option<&[u8]> {
    path.to_str().map(str::as_bytes)
}

#[cfg(unix)]
fn path_of(bytes: Vec<u8>) -> Option<PathBuf> {
    let path: std::ffi::OsString = std::os::unix::ffi::OsStringExt::from_vec(bytes);
    Some(path.into())
}

#[cfg(not(unix))]
fn path_of(bytes: Vec<u8>) -> Option<PathBuf> {
    String::from_utf8(bytes).ok().map(PathBuf::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn questions_and_answers_arrive_as_they_were_sent() {
        let path = Path::new("takes/Ilse é.flac");
        let bytes = Question::Open(path, Format::Flac).bytes().unwrap();
        let asked = Asked::read(&mut &bytes[..]);
        assert_eq!(asked, Some(Asked::Open(path.to_owned(), Format::Flac)));
        assert_eq!(Asked::read(&mut &Question::Next.bytes().unwrap()[..]), Some(Asked::Next));
        for answer in [
            Answer::Opened { sample_rate_hz: 44_100, channels: 2 },
            Answer::Samples(vec![0.5, f32::MIN_POSITIVE, -1.0]),
            Answer::Ended { cut_off: true, lost: 1 << 40 },
        ] {
            let read = Answer::read(&mut &answer.bytes()[..]).unwrap();
            assert_eq!(read.bytes(), answer.bytes());
        }
    }

    #[test]
    fn every_refusal_of_a_decoder_says_the_same_from_a_child() {
        let not_read = Unread::ALL.into_iter().map(TakeError::NotRead);
        let errors = Undecodable::ALL.into_iter().map(TakeError::Decode).chain(not_read).chain([
            TakeError::Rate(400_000),
            TakeError::NoSamples,
            TakeError::CutOffInHeader,
            TakeError::NoIndex,
            std::io::Error::from_raw_os_error(5).into(),
        ]);
        for error in errors {
            let bytes = Answer::Failed(error).bytes();
            let Some(Answer::Failed(read)) = Answer::read(&mut &bytes[..]) else { panic!() };
            let (letter, more) = code(&read);
            assert_eq!(bytes[1], letter, "{read}");
            assert_eq!(bytes[2..], more.to_le_bytes(), "{read}");
        }
    }

    #[test]
    fn what_makes_no_sense_is_the_end() {
        assert!(Answer::read(&mut &b"s\xff\xff\xff\xff"[..]).is_none());
        assert!(Answer::read(&mut &b"o\0\0\0\0\0\0\0\0"[..]).is_none());
        assert!(Answer::read(&mut &b"?"[..]).is_none());
        assert_eq!(Asked::read(&mut &b"o\x08"[..]), None);
        assert_eq!(Asked::read(&mut &b"o\x00\xff\xff\xff\xff"[..]), None);
    }
}
