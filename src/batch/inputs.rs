//! Paths and lists of paths to recordings, in a fixed order.

use std::collections::HashSet;
use std::ffi::OsString;
use std::hash::{BuildHasher, RandomState};
use std::io::{self, BufRead, Read};
use std::path::{Path, PathBuf};

use walkdir::{DirEntry, WalkDir};

use crate::files::identity;
use crate::take::decode::Format;
use crate::text::{begins_as_formula, visible};
use crate::words::batch as words;
use crate::words::system::refusal;

/// What is to be read.
#[derive(Debug, Clone, Default)]
pub struct Inputs {
    /// Files and folders, in the order in which they are read.
    pub paths: Vec<PathBuf>,
    /// Whether folders inside folders are read as well.
    pub recursive: bool,
}

/// One file that may be a recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// Where it is.
    pub path: PathBuf,
    /// Whether it was named itself; what was only found in a folder may be something else.
    pub named: bool,
}

/// What was left out of a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LeftOut {
    /// A folder in it, where nobody asked for those.
    FolderInside,
    /// What could not be looked through.
    Fault {
        /// Which, and why, in one line.
        line: String,
        /// Whether recordings may be missing for it: not for a link that leads in a circle.
        is_loss: bool,
    },
}

impl Inputs {
    /// The files, one after the other: of a folder in the order of their names. Found again on
    /// every call, so that memory grows by a number for each alone. Each comes once, however often and
    /// however differently it is named. Hidden files and folders inside a
    /// folder are left out, and so is what is neither a file nor a folder.
    ///
    /// What is left out comes as an item: a folder inside one, without `recursive`; one that may
    /// not be read; a link that leads back to where it stands.
    pub fn iter(&self) -> impl Iterator<Item = Result<Input, LeftOut>> + Send + '_ {
        let hasher = RandomState::new();
        let mut seen = HashSet::new();
        let mut is_new = move |path: &Path| seen.insert(hasher.hash_one(identity(path)));
        self.paths
            .iter()
            .flat_map(|path| self.files(&inert_path(path)))
            .filter(move |file| file.as_ref().map_or(true, |input| is_new(&input.path)))
    }

    fn files(&self, path: &Path) -> Box<dyn Iterator<Item = Result<Input, LeftOut>> + Send + '_> {
        if !path.is_dir() {
            return Box::new(std::iter::once(Ok(Input { path: path.to_owned(), named: true })));
        }
        let walk = WalkDir::new(path)
            .follow_links(true)
            .min_depth(1)
            .max_depth(if self.recursive { usize::MAX } else { 1 })
            .sort_by_file_name()
            .into_iter()
            .filter_entry(|entry| entry.depth() == 0 || !is_hidden(entry));
        Box::new(walk.filter_map(|entry| match entry {
            Ok(entry) if entry.file_type().is_file() => {
                Some(Ok(Input { path: entry.into_path(), named: false }))
            }
            Ok(entry) if entry.file_type().is_dir() && !self.recursive => {
                Some(Err(LeftOut::FolderInside))
            }
            Ok(_) => None,
            // A link that leads nowhere stands for a recording that somebody misses.
            Err(error) => Some(match error.path().filter(|path| is_dead_link(path)) {
                Some(link) if !is_recording(link) => return None,
                Some(link) => Ok(Input { path: link.to_owned(), named: false }),
                None => Err(left_out(&error)),
            }),
        }))
    }
}

/// A path so that no spreadsheet runs it as a formula: the same file, from the folder it is in. On Windows with
/// that system's slashes, whichever were typed: tables that are joined tell rows by how they are written.
fn inert_path(path: &Path) -> PathBuf {
    let path: &Path = if cfg!(windows) { &path.components().collect::<PathBuf>() } else { path };
    if begins_as_formula(&path.to_string_lossy()) {
        Path::new(".").join(path)
    } else {
        path.to_owned()
    }
}

fn is_hidden(entry: &DirEntry) -> bool {
    entry.file_name().as_encoded_bytes().starts_with(b".")
}

/// Nowhere, to itself, or to where nobody may look.
fn is_dead_link(path: &Path) -> bool {
    path.is_symlink() && !path.exists()
}

/// By the name alone.
fn is_recording(link: &Path) -> bool {
    let hidden = link.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
    !hidden && Format::is_usual_ending(link)
}

fn left_out(error: &walkdir::Error) -> LeftOut {
    let path = shown(error.path().unwrap_or(Path::new("?")));
    if error.loop_ancestor().is_some() {
        let line = words::loops(&path);
        return LeftOut::Fault { line, is_loss: false };
    }
    let why = error.io_error().map_or_else(|| words::NOT_LOOKED_THROUGH.to_owned(), refusal);
    let line = words::left_out(&path, &why);
    LeftOut::Fault { line, is_loss: true }
}

/// A path as one line of text: what is unseen is written out, and what is no Unicode replaced.
pub fn shown(path: &Path) -> String {
    visible(&path.to_string_lossy())
}

/// The longest list: paths of more recordings than anybody has, and little enough to be held.
const LONGEST_LIST: u64 = 1 << 26;

/// The paths of a list: one a line, or separated by zero bytes where it holds any. Empty ones are
/// passed over, and so is the mark that some editors begin a text with. A list whose mark says so is
/// UTF-16, as Windows' shells and editors write.
///
/// Errors: it cannot be read, or does not end.
pub fn paths_in(list: impl BufRead) -> io::Result<Vec<PathBuf>> {
    let mut bytes = Vec::new();
    list.take(LONGEST_LIST + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LONGEST_LIST {
        return Err(io::ErrorKind::FileTooLarge.into());
    }
    if let Some(text) = utf16(&bytes) {
        bytes = text.into_bytes();
    }
    let zeros = bytes.contains(&0);
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    let paths = bytes
        .split(|&byte| byte == if zeros { 0 } else { b'\n' })
        .map(|path| if zeros { path } else { path.strip_suffix(b"\r").unwrap_or(path) });
    let is_blank = |path: &[u8]| path.iter().all(|byte| !zeros && matches!(byte, b' ' | b'\t'));
    Ok(paths.filter(|path| !path.is_empty() && !is_blank(path)).map(path_of).collect())
}

/// The text of what begins with the byte order mark of UTF-16 (RFC 2781, 3.2); `None` where it does not.
fn utf16(bytes: &[u8]) -> Option<String> {
    let of: fn([u8; 2]) -> u16 = match bytes {
        [0xff, 0xfe, ..] => u16::from_le_bytes,
        [0xfe, 0xff, ..] => u16::from_be_bytes,
        _ => return None,
    };
    let units: Vec<u16> = bytes.as_chunks::<2>().0.iter().skip(1).map(|&unit| of(unit)).collect();
    Some(String::from_utf16_lossy(&units))
}

#[cfg(unix)]
fn path_of(bytes: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStringExt;
    OsString::from_vec(bytes.to_vec()).into()
}

#[cfg(not(unix))]
fn path_of(bytes: &[u8]) -> PathBuf {
    OsString::from(String::from_utf8_lossy(bytes).into_owned()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_is_one_path_a_line_or_separated_by_zero_bytes() {
        let paths = |list: &[u8]| paths_in(list).unwrap();
        assert_eq!(paths(b"a.wav\r\n\nb c.wav"), [Path::new("a.wav"), Path::new("b c.wav")]);
        assert_eq!(paths(b"a\nb.wav\0c.wav\0"), [Path::new("a\nb.wav"), Path::new("c.wav")]);
        assert_eq!(
            paths(b"\xef\xbb\xbfa.wav\r\n \t\r\nb.wav\n"),
            [Path::new("a.wav"), Path::new("b.wav")]
        );
        assert!(paths(b"").is_empty());
    }

    /// As PowerShell's `>` writes it, and as the other order would be.
    #[test]
    fn a_list_in_utf_16_is_read_as_its_mark_says() {
        let text = "\u{feff}takes\\Zoë.wav\r\n\r\nb c.wav\r\n";
        let list = |of: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(of).collect::<Vec<u8>>();
        for list in [list(u16::to_le_bytes), list(u16::to_be_bytes)] {
            assert_eq!(
                paths_in(&list[..]).unwrap(),
                [Path::new("takes\\Zoë.wav"), Path::new("b c.wav")]
            );
        }
        assert!(paths_in(&b"\xff\xfea"[..]).unwrap().is_empty(), "half a letter");
    }
}
