//! The files of one call: what it reads, and what it writes. An output that is an input, another
//! output, or somebody's file of another kind would destroy it, so all are known here before
//! anything is done.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use anyhow::bail;

use super::output;
use crate::batch::{Form, shown};
use crate::files::folder_of;
use crate::report::crow_csv;
use crate::report::page;
use crate::report::plots::PictureFormat;
use crate::take::STANDARD_INPUT;
use crate::words::files as words;

/// Bytes by which a file's kind is told.
const OPENING_BYTES: u64 = 4096;

/// What is written to a file, and so what may stand there before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// An overview page.
    Page,
    /// A picture.
    Picture(PictureFormat),
    /// A table of takes.
    Table(Form),
    /// A table of crows.
    Crows,
}

impl Kind {
    /// With its article.
    fn words(self) -> &'static str {
        match self {
            Self::Page => words::kind::PAGE,
            Self::Picture(PictureFormat::Svg) => words::kind::SVG,
            Self::Picture(PictureFormat::Png) => words::kind::PNG,
            Self::Table(_) => words::kind::TAKES,
            Self::Crows => words::kind::CROWS,
        }
    }

    /// Whether a file that begins so is of this kind.
    fn begins(self, opening: &[u8]) -> bool {
        let text = || String::from_utf8_lossy(opening);
        let is_crows = || {
            text().trim_start_matches('\u{feff}').starts_with(&first_columns(&crow_csv::header()))
        };
        match self {
            Self::Page => page::is_page(opening),
            Self::Picture(PictureFormat::Png) => opening.starts_with(b"\x89PNG\r\n\x1a\n"),
            Self::Picture(PictureFormat::Svg) => {
                let text = text();
                let text = text.trim_start_matches('\u{feff}').trim_start();
                text.starts_with("<svg")
                    || (text.starts_with("<?xml") || text.starts_with("<!"))
                        && text.contains("<svg")
            }
            Self::Table(Form::Csv) => {
                let (text, header) = (text(), Form::Csv.header());
                let text = text.trim_start_matches('\u{feff}');
                !is_crows() && (text.starts_with("source,") || header.starts_with(text))
            }
            Self::Table(Form::JsonLines) => text().starts_with("{\"schema\":"),
            Self::Crows => is_crows(),
        }
    }
}

/// The first two columns, which earlier versions had too.
fn first_columns(header: &str) -> String {
    header.split_inclusive(',').take(2).collect()
}

/// One file, whatever its names.
#[derive(Debug, PartialEq, Eq)]
enum Identity {
    /// Its device and number there.
    #[cfg(unix)]
    There(u64, u64),
    /// Its one path without links.
    Path(PathBuf),
}

impl Identity {
    /// `None` where not even the folder is there.
    fn of(path: &Path) -> Option<Self> {
        // Two names of one file, as links give it, are one here.
        #[cfg(unix)]
        if let Ok(about) = path.metadata() {
            use std::os::unix::fs::MetadataExt;
            return Some(Self::There(about.dev(), about.ino()));
        }
        if let Ok(path) = path.canonicalize() {
            return Some(Self::Path(path));
        }
        Some(Self::Path(folder_of(path).canonicalize().ok()?.join(path.file_name()?)))
    }
}

/// All files of a call. What it reads is named first.
#[derive(Debug, Default)]
pub struct Files {
    read: Vec<Identity>,
    written: Vec<Identity>,
}

impl Files {
    /// The call reads this.
    pub fn reads(&mut self, path: &Path) {
        if path.as_os_str() != STANDARD_INPUT {
            self.read.extend(Identity::of(path));
        }
    }

    /// The call is to write this. Returns where: a link is written through.
    ///
    /// Errors: it is read too, or written twice; no file can be made there; or what is there is of
    /// another kind.
    pub fn writes(&mut self, path: &Path, kind: Kind) -> anyhow::Result<PathBuf> {
        let name = shown(path);
        if let Some(identity) = Identity::of(path) {
            if self.read.contains(&identity) {
                bail!("{name}: {}", words::IS_READ);
            }
            if self.written.contains(&identity) {
                bail!("{name}: {}", words::IS_NAMED_TWICE);
            }
            self.written.push(identity);
        }
        let place = output::place(path)?;
        // A picture is the last of its call: what else that says is worth saying first.
        let is_last = matches!(kind, Kind::Picture(_));
        if !is_last && !place.exists() && !folder_of(&place).is_dir() {
            bail!("{name}: {}", words::NO_FOLDER);
        }
        if let Some(opening) = opening(&place)?
            && !opening.is_empty()
            && !kind.begins(&opening)
        {
            bail!("{name}: {}", words::is_other(kind.words()));
        }
        Ok(place)
    }
}

/// How a file begins; `None` where there is none.
fn opening(path: &Path) -> anyhow::Result<Option<Vec<u8>>> {
    let mut opening = Vec::new();
    match File::open(path).and_then(|file| file.take(OPENING_BYTES).read_to_end(&mut opening)) {
        Ok(_) => Ok(Some(opening)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(_) => bail!("{}: {}", shown(path), words::IS_UNREADABLE),
    }
}
