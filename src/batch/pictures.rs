//! What pictures of takes are called, and whether one that is there is of this reading.

use std::collections::HashSet;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::form::Made;
use super::inputs::{Input, shown};
use super::one::hex;
use crate::take::decode::Format;

/// Letters of a recording's name that go into its picture's.
const LONGEST_NAME: usize = 100;

/// Gives the pictures of a folder their names, in the order of the recordings: each its recording's
/// own, and a number behind it where another has that already.
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
        let unused = names.find(|name| self.used.insert(name.to_lowercase())).unwrap_or(name);
        folder.join(unused + ".svg")
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
    format!("<!-- {} -->\n", &hex(&hash.finalize())[..16])
}

/// Whether `picture` is there and ends in `mark`.
pub fn is_marked(picture: &Path, mark: &str) -> bool {
    let ending = || -> io::Result<Vec<u8>> {
        let mut file = File::open(picture)?;
        file.seek(SeekFrom::End(-(mark.len() as i64)))?;
        let mut ending = Vec::new();
        file.read_to_end(&mut ending)?;
        Ok(ending)
    };
    ending().is_ok_and(|ending| ending == mark.as_bytes())
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
