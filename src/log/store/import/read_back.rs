//! The reeds of an export, read one after the other, in every form that an export has had.

use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read, Split};
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::files;
use crate::log::store::export::LOG_LINES;
use crate::log::store::exported::{ExportHead, ExportedReed, ExportedSetting, FORMAT};
use crate::log::store::schema::VERSION;
use crate::log::{LogError, NoExport, Refused, Tried};

/// The reeds of an export, one after the other: years of work are never held whole.
pub(super) struct ExportedReeds {
    path: PathBuf,
    /// What the export holds beside its reeds.
    pub(super) settings: Vec<ExportedSetting>,
    left: Left,
}

enum Left {
    /// `read` of `named` reeds were read so far, a line each.
    Lines {
        lines: Split<BufReader<File>>,
        read: usize,
        named: usize,
        line: usize,
    },
    /// Of an export that earlier versions wrote, all of it one value.
    Whole(std::vec::IntoIter<ExportedReed>),
    Nothing,
}

impl ExportedReeds {
    /// Errors: no export, or a newer one.
    pub(super) fn of(folder: &Path) -> Result<Self, LogError> {
        let path = folder.join(LOG_LINES);
        match files::open(&path) {
            Ok(file) => Self::of_lines(file, path),
            Err(error) if error.kind() == ErrorKind::NotFound => Self::of_earlier(folder),
            Err(error) => Err(LogError::file(&path, Tried::Read)(error)),
        }
    }

    fn of_lines(file: File, path: PathBuf) -> Result<Self, LogError> {
        let mut lines = BufReader::new(file).split(b'\n');
        let first = lines.next().ok_or_else(|| no_export(&path, NoExport::Empty))?;
        let first = first.map_err(LogError::file(&path, Tried::Read))?;
        let first: Value = serde_json::from_slice(&first).map_err(|_| damaged(&path, 1))?;
        is_known(&first, &path)?;
        let head: ExportHead = serde_json::from_value(first).map_err(|_| damaged(&path, 1))?;
        let left = Left::Lines { lines, read: 0, named: head.reeds, line: 1 };
        Ok(Self { path, settings: head.settings, left })
    }

    fn of_earlier(folder: &Path) -> Result<Self, LogError> {
        let path = folder.join(EARLIER);
        let read = || {
            let mut text = Vec::new();
            files::open(&path)?.read_to_end(&mut text)?;
            Ok(text)
        };
        let text = read().map_err(|error: std::io::Error| match error.kind() {
            ErrorKind::NotFound => no_export(&folder.join(LOG_LINES), NoExport::NotThere),
            _ => LogError::file(&path, Tried::Read)(error),
        })?;
        let wrong = |error: serde_json::Error| damaged(&path, error.line());
        let whole: Value = serde_json::from_slice(&text).map_err(wrong)?;
        is_known(&whole, &path)?;
        let whole: Earlier = serde_json::from_slice(&text).map_err(wrong)?;
        let left = Left::Whole(whole.reeds.into_iter());
        Ok(Self { path, settings: whole.settings, left })
    }

    /// The reed of the next line that holds one.
    fn next_line(&mut self) -> Result<Option<ExportedReed>, LogError> {
        let Left::Lines { lines, read, named, line } = &mut self.left else { return Ok(None) };
        for text in lines {
            *line += 1;
            let text = text.map_err(LogError::file(&self.path, Tried::Read))?;
            if !text.trim_ascii().is_empty() {
                *read += 1;
                let reed = serde_json::from_slice(&text);
                return reed.map(Some).map_err(|_| damaged(&self.path, *line));
            }
        }
        if read != named {
            let lacks = NoExport::Lacks { read: *read, named: *named };
            return Err(no_export(&self.path, lacks));
        }
        Ok(None)
    }
}

impl Iterator for ExportedReeds {
    type Item = Result<ExportedReed, LogError>;

    fn next(&mut self) -> Option<Self::Item> {
        let next = match &mut self.left {
            Left::Lines { .. } => self.next_line(),
            Left::Whole(reeds) => Ok(reeds.next()),
            Left::Nothing => Ok(None),
        };
        // After a fault, or the end, nothing more is read.
        if !matches!(next, Ok(Some(_))) {
            self.left = Left::Nothing;
        }
        next.transpose()
    }
}

/// The file of exports that earlier versions wrote, all of it one value.
const EARLIER: &str = "log.json";

/// What it holds beside its head.
#[derive(serde::Deserialize)]
struct Earlier {
    #[serde(default)]
    settings: Vec<ExportedSetting>,
    reeds: Vec<ExportedReed>,
}

fn damaged(path: &Path, line: usize) -> LogError {
    no_export(path, NoExport::DamagedLine(line))
}

/// Whether a head is that of an export this program knows.
fn is_known(head: &Value, path: &Path) -> Result<(), LogError> {
    if head.get("format").and_then(Value::as_str) != Some(FORMAT) {
        return Err(no_export(path, NoExport::NoMark));
    }
    match head.get("form").and_then(Value::as_i64) {
        Some(found) if found > VERSION => {
            Err(LogError::Newer { path: path.to_owned(), found, known: VERSION })
        }
        _ => Ok(()),
    }
}

fn no_export(path: &Path, why: NoExport) -> LogError {
    Refused::NotAnExport { path, why }.into()
}
