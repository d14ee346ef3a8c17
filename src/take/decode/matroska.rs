//! Whether a Matroska or WebM file says how long it is.

use std::io::{self, Read, Seek, SeekFrom};

/// Where the segment, which holds all else, has begun in any file there is.
const OPENING_BYTES: u64 = 4096;

/// Whether the segment has no length, as browsers write it that record until they are told to stop: then
/// the file's end is the end of the sound, and says of nothing that it is missing.
///
/// RFC 9559, 5.1: the segment's name is 0x18538067; RFC 8794, 6.2: a length of ones only is unknown.
pub fn is_without_length(file: &mut (impl Read + Seek)) -> io::Result<bool> {
    file.seek(SeekFrom::Start(0))?;
    let mut opening = Vec::new();
    file.by_ref().take(OPENING_BYTES).read_to_end(&mut opening)?;
    let name = opening.windows(4).position(|four| four == [0x18, 0x53, 0x80, 0x67]);
    let length = name.and_then(|at| opening.get(at + 4..)).unwrap_or_default();
    Ok(match length {
        [0xff, ..] => true,
        [0x01, rest @ ..] => rest.len() >= 7 && rest[..7].iter().all(|byte| *byte == 0xff),
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    #[test]
    fn a_segment_of_unknown_length_is_told_from_one_of_known() {
        let is = |length: &[u8]| {
            let bytes = [&[0x1a, 0x45, 0xdf, 0xa3, 0x80, 0x18, 0x53, 0x80, 0x67], length].concat();
            is_without_length(&mut Cursor::new(bytes)).unwrap()
        };
        assert!(is(&[0x01, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 7]));
        assert!(is(&[0xff, 7]));
        assert!(!is(&[0x01, 0, 0, 0, 0, 0, 0x50, 0xff]));
        assert!(!is(&[0x01, 0xff]));
        assert!(!is(&[]));
    }
}
