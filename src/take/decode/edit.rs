//! Which part of an MPEG-4 track is to be heard.
//!
//! An encoder of AAC puts some two thousand samples of its own before the sound and fills up the
//! last packet after it; the file says how many, in an edit list (ISO/IEC 14496-12, 8.6.6) or, as
//! older programs wrote it, in a comment called iTunSMPB. Without it every time is late by that
//! much. The boxes are walked by their headers, so that a recording of hours costs no memory.

use std::io::{self, Read, Seek, SeekFrom};

use crate::take::Unread;

/// Boxes looked at, at most: a file that claims more is not worth the time.
const MOST_BOXES: usize = 20_000;

/// Bytes of one box that are read, at most.
const MOST_BYTES: u64 = 1 << 16;

/// The part of a track that is to be heard, in ticks of the track from its first sample.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edit {
    /// Where it begins.
    pub start: u64,
    /// Where it ends; `None` for the end of the track.
    pub end: Option<u64>,
    /// Ticks per second, above 0.
    pub timescale: u32,
}

impl Edit {
    /// The edits of an MPEG-4 file by the numbers of their tracks. A track is missing where the
    /// file says nothing of it, or nothing simple (several parts in a row), or cannot be read.
    pub fn all(file: &mut (impl Read + Seek)) -> Vec<(u32, Self)> {
        let mut edits = Vec::new();
        let mut boxes = Boxes { file, left: MOST_BOXES };
        // What could be read before the damage counts.
        let _ = boxes.edits(&mut edits);
        edits
    }
}

/// Kinds of sound that MPEG-4 and 3GP files of phones hold and that are not read, by the names of their
/// sample entries (3GPP TS 26.244, 6.5, from memory).
const UNREAD_SOUNDS: [(&[u8; 4], Unread); 3] = [
    (b"samr", Unread::Amr),
    (b"sawb", Unread::AmrWideband),
    (b"sawp", Unread::AmrWidebandExtended),
];

/// The first sound of an MPEG-4 file that is of such a kind.
pub fn unread_sound(file: &mut (impl Read + Seek)) -> Option<Unread> {
    Boxes { file, left: MOST_BOXES }.unread_sound()
}

/// The bytes from one place of the file to another.
#[derive(Debug, Clone, Copy)]
struct Span {
    from: u64,
    to: u64,
}

struct Boxes<'a, F> {
    file: &'a mut F,
    left: usize,
}

impl<F: Read + Seek> Boxes<'_, F> {
    fn edits(&mut self, edits: &mut Vec<(u32, Edit)>) -> Option<()> {
        let length = self.file.seek(SeekFrom::End(0)).ok()?;
        let movie = self.find(Span { from: 0, to: length }, b"moov")?;
        let header = self.find(movie, b"mvhd")?;
        let movie_scale = header_scale(&self.bytes(header)?)?;
        let comment = self.comment(movie);
        let mut tracks = movie;
        loop {
            let (track, rest) = self.next(tracks, b"trak")?;
            tracks = rest;
            edits.extend(self.edit(track, movie_scale, comment.as_deref()));
        }
    }

    fn unread_sound(&mut self) -> Option<Unread> {
        let length = self.file.seek(SeekFrom::End(0)).ok()?;
        let mut tracks = self.find(Span { from: 0, to: length }, b"moov")?;
        loop {
            let (track, rest) = self.next(tracks, b"trak")?;
            tracks = rest;
            let path = [b"mdia", b"minf", b"stbl", b"stsd"];
            let entries = path.iter().try_fold(track, |within, name| self.find(within, name));
            // Version, flags and the count of entries come first; an entry begins with its size.
            let kind =
                entries.and_then(|entries| self.bytes(entries)?.get(12..16).map(<[u8]>::to_vec));
            let unread = UNREAD_SOUNDS.iter().find(|(name, _)| kind.as_deref() == Some(&name[..]));
            if let Some((_, sound)) = unread {
                return Some(*sound);
            }
        }
    }

    /// The number of a track, and its edit.
    fn edit(
        &mut self,
        track: Span,
        movie_scale: u32,
        comment: Option<&str>,
    ) -> Option<(u32, Edit)> {
        let header = self.find(track, b"tkhd")?;
        let id = track_id(&self.bytes(header)?)?;
        let media = self.find(track, b"mdia")?;
        let header = self.find(media, b"mdhd")?;
        let timescale = header_scale(&self.bytes(header)?)?;
        let list = self.find(track, b"edts").and_then(|edits| self.find(edits, b"elst"));
        let listed = match list {
            Some(list) => from_list(&self.bytes(list)?, timescale, movie_scale),
            None => None,
        };
        let commented = || from_comment(comment?, timescale);
        let edit = listed.filter(|edit| edit.start > 0).or_else(commented).or(listed)?;
        Some((id, edit))
    }

    /// The content of the first box called `name` in `within`.
    fn find(&mut self, within: Span, name: &[u8; 4]) -> Option<Span> {
        self.next(within, name).map(|(content, _)| content)
    }

    /// The same, with what follows that box.
    fn next(&mut self, mut within: Span, name: &[u8; 4]) -> Option<(Span, Span)> {
        while within.from + 8 <= within.to {
            self.left = self.left.checked_sub(1)?;
            let head = self.read(within.from, 16).ok()?;
            let short = u64::from(u32_at(&head, 0)?);
            let (size, header) = match short {
                0 => (within.to - within.from, 8),
                1 => (u64_at(&head, 8)?, 16),
                size => (size, 8),
            };
            let end = within.from.checked_add(size)?.min(within.to);
            if size < header {
                return None;
            }
            let rest = Span { from: end, to: within.to };
            if head.get(4..8)? == name {
                return Some((Span { from: within.from + header, to: end }, rest));
            }
            within = rest;
        }
        None
    }

    /// What a box holds, as far as it is read.
    fn bytes(&mut self, span: Span) -> Option<Vec<u8>> {
        self.read(span.from, span.to.saturating_sub(span.from).min(MOST_BYTES)).ok()
    }

    fn read(&mut self, from: u64, most: u64) -> io::Result<Vec<u8>> {
        self.file.seek(SeekFrom::Start(from))?;
        let mut bytes = Vec::new();
        self.file.by_ref().take(most).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// The text of the comment iTunSMPB among the movie's tags.
    fn comment(&mut self, movie: Span) -> Option<String> {
        let user = self.find(movie, b"udta")?;
        let meta = self.find(user, b"meta")?;
        // Version and flags come before its boxes.
        let mut list = self.find(Span { from: meta.from + 4, to: meta.to }, b"ilst")?;
        loop {
            let (own, rest) = self.next(list, b"----")?;
            list = rest;
            let name = self.find(own, b"name").and_then(|span| self.bytes(span));
            if name.is_some_and(|name| name.ends_with(b"iTunSMPB")) {
                let data = self.find(own, b"data")?;
                let bytes = self.bytes(data)?;
                return Some(String::from_utf8_lossy(bytes.get(8..)?).into_owned());
            }
        }
    }
}

/// Ticks per second of a movie or media header.
fn header_scale(bytes: &[u8]) -> Option<u32> {
    u32_at(bytes, if bytes.first()? == &1 { 20 } else { 12 }).filter(|&scale| scale > 0)
}

fn track_id(bytes: &[u8]) -> Option<u32> {
    u32_at(bytes, if bytes.first()? == &1 { 20 } else { 12 })
}

/// Of the one part that an edit list names; an empty one before it only delays the sound against a
/// picture.
fn from_list(bytes: &[u8], timescale: u32, movie_scale: u32) -> Option<Edit> {
    let is_long = bytes.first()? == &1;
    let entry_bytes = if is_long { 20 } else { 12 };
    let count = u32_at(bytes, 4)? as usize;
    let mut parts = bytes.get(8..)?.chunks_exact(entry_bytes).take(count).filter_map(|entry| {
        let (length, start) = if is_long {
            (u64_at(entry, 0)?, u64_at(entry, 8)? as i64)
        } else {
            (u64::from(u32_at(entry, 0)?), i64::from(u32_at(entry, 4)? as i32))
        };
        Some((length, u64::try_from(start).ok()?))
    });
    let (length, start) = parts.next()?;
    if parts.next().is_some() {
        return None;
    }
    // The movie's ticks are coarse: what they round away still belongs to the sound.
    let ticks = u128::from(length) * u128::from(timescale);
    let ticks = u64::try_from(ticks.div_ceil(u128::from(movie_scale))).ok()?;
    let end = (length > 0).then(|| start.saturating_add(ticks));
    Some(Edit { start, end, timescale })
}

/// Of `00000000 00000840 000001CA 00000000003F31F6 …`: what comes before the sound, what after it,
/// and its length, each in samples and hexadecimal.
fn from_comment(text: &str, timescale: u32) -> Option<Edit> {
    let mut numbers = text.split_whitespace().map(|word| u64::from_str_radix(word, 16));
    let start = numbers.nth(1)?.ok()?;
    let length = numbers.nth(1)?.ok()?;
    Some(Edit { start, end: Some(start.checked_add(length)?), timescale })
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn u64_at(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_be_bytes(bytes.get(at..at + 8)?.try_into().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn boxed(name: &[u8; 4], content: &[u8]) -> Vec<u8> {
        let size = (content.len() as u32 + 8).to_be_bytes();
        [&size, &name[..], content].concat()
    }

    fn words(words: &[u32]) -> Vec<u8> {
        words.iter().flat_map(|word| word.to_be_bytes()).collect()
    }

    /// A movie of two tracks, the second with this edit list and, beside it, these tags.
    fn movie(list: &[u8], tags: &[u8]) -> Vec<u8> {
        let track = |id: u32, list: &[u8]| {
            let header = boxed(b"tkhd", &words(&[0, 0, 0, id, 0]));
            let media = boxed(b"mdia", &boxed(b"mdhd", &words(&[0, 0, 0, 44_100, 441_000])));
            let edits = boxed(b"edts", &boxed(b"elst", list));
            boxed(b"trak", &[header, edits, media].concat())
        };
        let header = boxed(b"mvhd", &words(&[0, 0, 0, 1000, 10_000]));
        let other = track(1, &words(&[0, 1, 5, 7, 0x1_0000]));
        let movie = boxed(b"moov", &[&header[..], &other, &track(2, list), tags].concat());
        [boxed(b"ftyp", b"M4A "), boxed(b"mdat", &[0; 100]), movie].concat()
    }

    fn of(file: &[u8], track: u32) -> Option<Edit> {
        let edits = Edit::all(&mut Cursor::new(file));
        edits.into_iter().find(|(id, _)| *id == track).map(|(_, edit)| edit)
    }

    #[test]
    fn the_edit_list_of_the_track_says_where_the_sound_begins_and_ends() {
        let file = movie(&words(&[0, 1, 2001, 1024, 0x1_0000]), &[]);
        let edit = of(&file, 2).unwrap();
        // 2001 ms are 88244.1 samples.
        assert_eq!(edit, Edit { start: 1024, end: Some(1024 + 88_245), timescale: 44_100 });
        assert_eq!(of(&file, 1).unwrap().start, 7);
        assert_eq!(of(&file, 3), None);
        let delayed = movie(&words(&[0, 2, 50, u32::MAX, 0x1_0000, 0, 2112, 0x1_0000]), &[]);
        let edit = of(&delayed, 2).unwrap();
        assert_eq!((edit.start, edit.end), (2112, None));
        let several = movie(&words(&[0, 2, 50, 0, 0x1_0000, 90, 2112, 0x1_0000]), &[]);
        assert_eq!(of(&several, 2), None);
    }

    #[test]
    fn without_an_edit_the_comment_says_it() {
        let text = b" 00000000 00000840 000001CA 000000000000AC44 00000000";
        let own = [
            boxed(b"mean", b"\0\0\0\0com.apple.iTunes"),
            boxed(b"name", b"\0\0\0\0iTunSMPB"),
            boxed(b"data", &[&[0; 8], &text[..]].concat()),
        ];
        let list = boxed(b"ilst", &boxed(b"----", &own.concat()));
        let meta = boxed(b"meta", &[&[0; 4], &list[..]].concat());
        let file = movie(&words(&[0, 1, 1000, 0, 0x1_0000]), &boxed(b"udta", &meta));
        let edit = of(&file, 2).unwrap();
        assert_eq!((edit.start, edit.end), (0x840, Some(0x840 + 44_100)));
    }

    #[test]
    fn a_damaged_movie_has_no_edit_and_never_ends_in_a_loop() {
        let file = movie(&words(&[0, 1, 2001, 1024, 0x1_0000]), &[]);
        for at in 0..file.len() {
            for value in [0, 1, 0xff] {
                let mut damaged = file.clone();
                damaged[at] = value;
                let _ = of(&damaged, 2);
            }
            let _ = of(&file[..at], 2);
        }
    }
}
