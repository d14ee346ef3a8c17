//! What stands before the sound and is none: tags and cover pictures, which may be longer than the
//! sound, and which decoders gather in memory or stumble over.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};

use symphonia::core::io::MediaSource;

/// Tags and blocks looked at, at most.
const MOST_BLOCKS: usize = 10_000;

/// Where a recording's sound begins behind its ID3 tags (id3.org, "ID3v2.4.0 main structure", 3.1,
/// from memory: ten bytes, the last four of which are the length in seven bits each, and ten more at
/// the end where a flag says so); 0 where there are none, or where they leave nothing.
pub fn after_tags(file: &mut (impl Read + Seek)) -> io::Result<u64> {
    let length = file.seek(SeekFrom::End(0))?;
    let mut at = 0;
    for _ in 0..MOST_BLOCKS {
        let mut head = [0; 10];
        file.seek(SeekFrom::Start(at))?;
        if at + 10 > length || file.read_exact(&mut head).is_err() {
            break;
        }
        let [b'I', b'D', b'3', _, _, flags, sizes @ ..] = head else { break };
        if sizes.iter().any(|byte| byte & 0x80 != 0) {
            break;
        }
        let size = sizes.iter().fold(0, |size, byte| size << 7 | u64::from(*byte));
        let end = at + 10 + size + if flags & 0x10 != 0 { 10 } else { 0 };
        if end >= length {
            break;
        }
        at = end;
    }
    Ok(at)
}

/// A FLAC file as its description of the stream and its sound, without the blocks between them:
/// pictures, comments, places to jump to.
#[derive(Debug)]
pub struct BareFlac {
    head: Vec<u8>,
    file: File,
    /// Where the sound begins in the file, and where the file ends.
    sound: u64,
    end: u64,
    at: u64,
}

impl BareFlac {
    /// The file from `start`, where "fLaC" stands; `None` where its blocks cannot be walked.
    ///
    /// RFC 9639, 8.1: a bit for the last block, seven for its kind, three bytes for its length; the
    /// first is the description of the stream, of 34 bytes.
    pub fn new(mut file: File, start: u64) -> io::Result<Option<Self>> {
        let end = file.seek(SeekFrom::End(0))?;
        let mut head = vec![0; 4 + 4 + 34];
        file.seek(SeekFrom::Start(start))?;
        if file.read_exact(&mut head).is_err()
            || !head.starts_with(b"fLaC")
            || head[4] & 0x7f != 0
            || head[5..8] != [0, 0, 34]
        {
            return Ok(None);
        }
        let mut is_last = head[4] & 0x80 != 0;
        let mut sound = start + head.len() as u64;
        for _ in 0..MOST_BLOCKS {
            if is_last {
                head[4] |= 0x80;
                return Ok(Some(Self { head, file, sound, end, at: 0 }));
            }
            let mut block = [0; 4];
            file.seek(SeekFrom::Start(sound))?;
            if file.read_exact(&mut block).is_err() {
                break;
            }
            let [kind, a, b, c] = block;
            is_last = kind & 0x80 != 0;
            sound += 4 + u64::from(u32::from_be_bytes([0, a, b, c]));
            if sound > end {
                break;
            }
        }
        Ok(None)
    }

    fn length(&self) -> u64 {
        self.head.len() as u64 + (self.end - self.sound)
    }
}

impl Read for BareFlac {
    fn read(&mut self, block: &mut [u8]) -> io::Result<usize> {
        let in_head = usize::try_from(self.at).ok().and_then(|at| self.head.get(at..));
        let count = match in_head {
            Some(mut rest) if !rest.is_empty() => rest.read(block)?,
            _ => {
                let past = self.at - self.head.len() as u64;
                self.file.seek(SeekFrom::Start(self.sound.saturating_add(past)))?;
                self.file.read(block)?
            }
        };
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for BareFlac {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let place = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.length().checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = place.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

impl MediaSource for BareFlac {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length())
    }
}

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Write};

    use super::*;

    #[test]
    fn tags_are_passed_over_and_what_is_no_tag_is_not() {
        let tag = |size: u8| {
            let mut tag = vec![b'I', b'D', b'3', 4, 0, 0, 0, 0, 1, size];
            tag.resize(10 + 128 + usize::from(size), 0xff);
            tag
        };
        let sound = b"\xff\xfb\x90\x64";
        let after = |bytes: Vec<u8>| after_tags(&mut Cursor::new(bytes)).unwrap();
        assert_eq!(after([&tag(3)[..], sound].concat()), 141);
        assert_eq!(after([&tag(3)[..], &tag(0), sound].concat()), 141 + 138);
        assert_eq!(after(sound.to_vec()), 0);
        // A tag that claims all there is, or more, is left to the decoder.
        assert_eq!(after(tag(3)), 0);
        assert_eq!(after(vec![]), 0);
    }

    #[test]
    fn a_flac_keeps_its_description_and_its_sound() {
        let mut stream = b"fLaC\0\0\0\x22".to_vec();
        stream.extend_from_slice(&[7; 34]);
        let picture = [&[6, 0, 1, 0][..], &[9; 256], &[0x81, 0, 0, 2, 1, 1]].concat();
        let read = |bytes: &[u8]| {
            let mut file = tempfile::tempfile().unwrap();
            file.write_all(bytes).unwrap();
            BareFlac::new(file, 0).unwrap().map(|mut bare| {
                let mut all = Vec::new();
                bare.read_to_end(&mut all).unwrap();
                bare.seek(SeekFrom::End(-5)).unwrap();
                let mut last = Vec::new();
                bare.read_to_end(&mut last).unwrap();
                assert_eq!(last, b"sound");
                all
            })
        };
        let bare = read(&[&stream[..], &picture, b"sound"].concat()).unwrap();
        let mut expected = stream.clone();
        expected[4] = 0x80;
        expected.extend_from_slice(b"sound");
        assert_eq!(bare, expected);
        assert_eq!(read(&[&stream[..], &picture[..100]].concat()), None);
    }
}
