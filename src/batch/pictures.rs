//! What pictures of takes are called, and whether one that is there is of this reading.

use std::collections::HashSet;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::form::Made;
use super::inputs::{Input, shown};
use crate::files;
use crate::take::decode::Format;

/// Letters of a recording's name that go into its picture's.
const LONGEST_NAME: usize = 100;

/// Gives the pictures of a folder their names, in the order of the recordings: each its recording's
/// own, and a number behind it where another has that already, or a file that is no picture of a
/// batch.
#[derive(Debug, Default)]
pub struct Names {
    /// In small letters: some disks tell no others apart.
    used: HashSet<String>,
}

impl Names {
    /// The next recording's. What does not end like a recording keeps its ending, so that a note
    /// beside a recording does not take its name.
    pub fn next(&mut self, folder: &Path, input: &Input) -> PathBuf {
        let path = &input.path;
        let name = if input.named || Format::is_usual_ending(path) {
            path.file_stem()
        } else {
            path.file_name()
        };
        let name = name.map(|name| shown(Path::new(name))).unwrap_or_default();
        let name: String = name.chars().take(LONGEST_NAME).collect();
        let numbered = (2_u64..).map(|number| format!("{name}-{number}"));
        let mut names = std::iter::once(name.clone()).chain(numbered);
        let place = |name: &str| folder.join(format!("{name}.svg"));
        let is_free =
            |name: &String| self.used.insert(name.to_lowercase()) && may_be_replaced(&place(name));
        place(&names.find(is_free).unwrap_or(name))
    }
}

/// A line that stands at the end of a picture: a comment of SVG that says what it was made from.
pub fn mark(path: &Path, made: &Made) -> String {
    let mut hash = Sha256::new();
    for part in [path.as_os_str().as_encoded_bytes(), made.sha256.as_bytes()] {
        hash.update(part);
    }
    hash.update(made.settings.as_bytes());
    hash.update(made.version.as_bytes());
    format!("<!-- {} -->\n", &files::hex(&hash.finalize())[..16])
}

/// The length of a mark.
const MARK_BYTES: usize = "<!--  -->\n".len() + 16;

/// Whether nothing is there, or a picture that a batch drew, of whatever.
fn may_be_replaced(picture: &Path) -> bool {
    let Ok(about) = picture.symlink_metadata() else { return true };
    let is_mark = |ending: &[u8]| {
        let digits = ending.strip_prefix(b"<!-- ").and_then(|rest| rest.strip_suffix(b" -->\n"));
        digits.is_some_and(|digits| digits.iter().all(u8::is_ascii_hexdigit))
    };
    about.is_file() && ending(picture, MARK_BYTES).is_ok_and(|ending| is_mark(&ending))
}

/// The last bytes of a file.
fn ending(picture: &Path, length: usize) -> io::Result<Vec<u8>> {
    let mut file = File::open(picture)?;
    file.seek(SeekFrom::End(-(length as i64)))?;
    let mut ending = Vec::new();
    file.read_to_end(&mut ending)?;
    Ok(ending)
}

/// Whether `picture` is there and ends in `mark`.
pub fn is_marked(picture: &Path, mark: &str) -> bool {
    ending(picture, mark.len()).is_ok_and(|ending| ending == mark.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_have_the_names_of_their_recordings() {
        let mut names = Names::default();
        let mut name = |path: &str| {
            let input = Input { path: path.into(), named: false };
            names.next(Path::new("p"), &input).display().to_string()
        };
        assert_eq!(name("a/one.wav"), "p/one.svg");
        assert_eq!(name("a/two.txt"), "p/two.txt.svg");
        assert_eq!(name("a/two.wav"), "p/two.svg");
        assert_eq!(name("b/ONE.flac"), "p/ONE-2.svg");
        assert_eq!(name("b/one-2.wav"), "p/one-2-2.svg");
    }

    /// A drawing of the maker's own, or a recording of a strange name, is none of a batch's.
    #[test]
    fn what_is_no_picture_of_a_batch_keeps_its_place() {
        let folder = tempfile::TempDir::new().unwrap();
        let made = Made { sha256: "ab".into(), version: "1".into(), settings: "s".into() };
        let ours = format!("<svg></svg>\n{}", mark(Path::new("other.wav"), &made));
        std::fs::write(folder.path().join("a.svg"), "<svg></svg>\n").unwrap();
        std::fs::write(folder.path().join("b.svg"), ours).unwrap();
        let mut names = Names::default();
        let mut name = |path: &str| {
            let input = Input { path: path.into(), named: true };
            let path = names.next(folder.path(), &input);
            path.file_name().unwrap().to_string_lossy().into_owned()
        };
        assert_eq!(["a.wav", "b.wav"].map(&mut name), ["a-2.svg", "b.svg"]);
    }

    #[test]
    fn a_picture_is_known_by_its_mark() {
        let folder = tempfile::TempDir::new().unwrap();
        let picture = folder.path().join("a.svg");
        let made = Made { sha256: "ab".into(), version: "1".into(), settings: "s".into() };
        let ours = mark(Path::new("a.wav"), &made);
        assert!(!is_marked(&picture, &ours));
        std::fs::write(&picture, "<").unwrap();
        assert!(!is_marked(&picture, &ours));
        std::fs::write(&picture, format!("<svg></svg>\n{ours}")).unwrap();
        assert!(is_marked(&picture, &ours));
        assert!(!is_marked(&picture, &mark(Path::new("b.wav"), &made)));
        let other = Made { settings: "t".into(), ..made };
        assert!(!is_marked(&picture, &mark(Path::new("a.wav"), &other)));
    }
}
