//! The table on disk: written under a temporary name, with every row whole, and taken up again.

use std::collections::{HashMap, HashSet};
use std::fs::{self, File, TryLockError};
use std::hash::{BuildHasher, RandomState};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::BatchError;
use super::form::{Entry, Form};
use crate::files::{self, Unfinished, folder_of, identity, rename_synced};
use crate::reading::Reading;
use crate::report::crow_csv;

enum Out {
    /// A file that has the first name, and will have the second.
    File(File, PathBuf, PathBuf),
    Printed(Box<dyn Write>),
}

/// Where rows go.
pub struct Table {
    out: Out,
    /// What a printed table has not printed yet: without rows there is no table.
    header: String,
}

impl Table {
    /// A table that will be `path`, until then `path` with `.part` added.
    ///
    /// * `over`: whether it may take the place of a table that is there.
    ///
    /// Errors: it cannot be written there, a table is there already, or the `.part` of another
    /// run is.
    pub fn create(path: &Path, form: Form, over: bool) -> Result<Self, BatchError> {
        if !over && path.exists() {
            return Err(BatchError::Exists(path.display().to_string()));
        }
        let part = part_of(path);
        let file = File::options().write(true).create_new(true).open(&part).map_err(|error| {
            if error.kind() == io::ErrorKind::AlreadyExists {
                left_over(&part)
            } else {
                BatchError::Table { table: part.display().to_string(), cause: error }
            }
        })?;
        // Tells another batch that this one is at it. Some disks know no locks.
        let _ = file.try_lock();
        let out = Out::File(file, part, path.to_owned());
        let mut table = Self { out, header: String::new() };
        table.push(&form.header())?;
        Ok(table)
    }

    /// A table that is printed as it grows.
    pub fn printed(out: Box<dyn Write>, form: Form) -> Self {
        Self { out: Out::Printed(out), header: form.header() }
    }

    /// Adds a whole row.
    pub fn push(&mut self, row: &str) -> Result<(), BatchError> {
        let text = std::mem::take(&mut self.header) + row;
        match &mut self.out {
            Out::File(file, part, _) => file.write_all(text.as_bytes()).map_err(|error| {
                BatchError::Table { table: part.display().to_string(), cause: error }
            }),
            Out::Printed(out) => {
                out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(BatchError::Print)
            }
        }
    }

    /// Drops the table; an older one of its name stays.
    pub fn discard(self) {
        if let Out::File(file, part, _) = self.out {
            drop(file);
            // What cannot be removed is named by the next run that meets it.
            let _ = fs::remove_file(part);
        }
    }

    /// Gives the table its name, in place of an older one.
    pub fn finish(self) -> Result<(), BatchError> {
        let Out::File(file, part, path) = self.out else { return Ok(()) };
        file.sync_all()
            .and_then(|()| {
                drop(file);
                rename_synced(&part, &path)
            })
            .map_err(|error| BatchError::Table { table: path.display().to_string(), cause: error })
    }
}

/// What the unfinished table of another run is.
fn left_over(part: &Path) -> BatchError {
    match is_being_written(part) {
        true => BatchError::InUse(part.display().to_string()),
        false => BatchError::LeftOver(part.display().to_string()),
    }
}

/// Whether a program that still runs writes a table.
fn is_being_written(part: &Path) -> bool {
    let lock = files::open(part).map(|file| file.try_lock());
    matches!(lock, Ok(Err(TryLockError::WouldBlock)))
}

fn part_of(path: &Path) -> PathBuf {
    let mut part = path.as_os_str().to_owned();
    part.push(".part");
    part.into()
}

/// The rows of an earlier run, found by their source. Memory holds where each stands, not the row.
pub struct Standing {
    file: Mutex<File>,
    form: Form,
    /// By a hash of the source: where rows begin, and their length in bytes.
    places: HashMap<u64, Vec<(u64, usize)>>,
    hasher: RandomState,
}

impl Standing {
    /// Takes up the table that `path` is, with what a run that was killed left beside it. Returns
    /// `None` where there is neither.
    ///
    /// Errors: they cannot be read, or are not tables of this form.
    pub fn open(path: &Path, form: Form) -> Result<Option<Self>, BatchError> {
        let failed = |error| BatchError::Unread { table: path.display().to_string(), cause: error };
        let part = part_of(path);
        if part.exists() {
            if is_being_written(&part) {
                return Err(left_over(&part));
            }
            fold(path, &part, form)?;
        }
        let file = match files::open(path) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(failed(error)),
        };
        let mut standing = Self {
            file: Mutex::new(file),
            form,
            places: HashMap::new(),
            hasher: RandomState::new(),
        };
        for_each_row(path, form, Ending::MayBeCut, |at, row, entry| {
            let key = standing.key(&entry.source);
            let length = row.trim_end_matches('\n').len();
            standing.places.entry(key).or_default().push((at, length));
            Ok(())
        })?;
        Ok(Some(standing))
    }

    /// The rows of `source`, as they stand, oldest first.
    pub fn rows(&self, source: &str) -> Vec<(String, Entry)> {
        let places = self.places.get(&self.key(source));
        let rows = places.into_iter().flatten().filter_map(|&place| self.row(place));
        let wanted = identity(Path::new(source));
        rows.filter(|(_, entry)| identity(Path::new(&entry.source)) == wanted).collect()
    }

    /// What stands for a source, in whatever way it is written.
    pub fn key(&self, source: &str) -> u64 {
        self.hasher.hash_one(identity(Path::new(source)))
    }

    /// The rows of all sources but those of these keys, the newest of each, in the order of the
    /// table.
    pub fn others(&self, keys: &HashSet<u64>) -> impl Iterator<Item = (String, Entry)> {
        let others = self.places.iter().filter(|(key, _)| !keys.contains(key));
        let mut places: Vec<_> = others.filter_map(|(_, places)| places.last().copied()).collect();
        places.sort_unstable();
        places.into_iter().filter_map(|place| self.row(place))
    }

    fn row(&self, (at, length): (u64, usize)) -> Option<(String, Entry)> {
        let mut row = vec![0; length];
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        file.seek(SeekFrom::Start(at)).and_then(|_| file.read_exact(&mut row)).ok()?;
        let row = String::from_utf8(row).ok()? + "\n";
        let entry = self.form.entry(&row)?;
        Some((row, entry))
    }
}

/// How a table may end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// As a killed program left it: its last row, or its headings, may be cut off.
    MayBeCut,
    /// With a whole row. Its line feed does not matter.
    Whole,
}

/// Calls `visit` with the place, the text and the sense of every row of a table. The text ends in
/// a line feed, also where the table does not. A spreadsheet may have saved it: with its mark, and
/// its ends of lines.
///
/// Errors: it cannot be read, has other columns, or holds a damaged row; and what `visit`
/// gives.
pub fn for_each_row(
    path: &Path,
    form: Form,
    ending: Ending,
    mut visit: impl FnMut(u64, &str, Entry) -> Result<(), BatchError>,
) -> Result<(), BatchError> {
    let name = || path.display().to_string();
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::InvalidData => BatchError::OtherTable(name()),
        _ => BatchError::Unread { table: name(), cause: error },
    };
    let mut table = BufReader::new(files::open(path).map_err(failed)?);
    let mut header = String::new();
    let mut mark = 0;
    if form == Form::Csv {
        table.by_ref().take(1 << 16).read_line(&mut header).map_err(failed)?;
        // A spreadsheet that saved it put its mark before it.
        if header.starts_with(MARK) {
            mark = MARK.len_utf8();
            header.drain(..mark);
        }
        // … and ended lines in its way.
        if header.ends_with("\r\n") {
            header.truncate(header.len() - 2);
            header.push('\n');
            mark += 1;
        }
        if !form.header().starts_with(&header) {
            return Err(BatchError::OtherTable(name()));
        }
    }
    let is_empty = table.fill_buf().map_err(failed)?.is_empty();
    if ending == Ending::Whole && (header != form.header() || is_empty) {
        return Err(BatchError::NoRows(name()));
    }
    let mut at = (mark + header.len()) as u64;
    let mut line = 1 + u64::from(form == Form::Csv);
    while let Some(row) = form.next_row(&mut table).map_err(failed)? {
        let entry = match form.read_row(&row) {
            Ok(entry) => entry,
            Err(_) if ending == Ending::MayBeCut && is_cut(&row, form) => return Ok(()),
            Err(what) => return Err(BatchError::Row { table: name(), line, what }),
        };
        let text = String::from_utf8_lossy(&row);
        match text.strip_suffix("\r\n").or((!text.ends_with('\n')).then_some(&text)) {
            Some(bare) => visit(at, &format!("{bare}\n"), entry)?,
            None => visit(at, &text, entry)?,
        }
        at += row.len() as u64;
        line += row.iter().filter(|&&byte| byte == b'\n').count() as u64;
    }
    Ok(())
}

/// The byte order mark.
const MARK: char = '\u{feff}';

/// Whether what is not a row is one that a killed program did not write to its end: it ends the
/// table, and no whole row is in it, as there is behind a stray quotation mark.
fn is_cut(row: &[u8], form: Form) -> bool {
    let mut lines = row.split_inclusive(|&byte| byte == b'\n').skip(1);
    !row.ends_with(b"\n") && !lines.any(|line| form.read_row(line).is_ok())
}

/// Adds the rows that a killed run left in `part` to the table `path`. Their order does not matter:
/// the run that takes them up writes the table anew.
fn fold(path: &Path, part: &Path, form: Form) -> Result<(), BatchError> {
    let failed = |error| BatchError::Table { table: path.display().to_string(), cause: error };
    let mut whole = Unfinished::begin(folder_of(path)).map_err(failed)?;
    whole.write_all(form.header().as_bytes()).map_err(failed)?;
    for rows in [path, part] {
        if rows.exists() {
            for_each_row(rows, form, Ending::MayBeCut, |_, row, _| {
                whole.write_all(row.as_bytes()).map_err(failed)
            })?;
        }
    }
    whole.becomes(path).map_err(failed)?;
    fs::remove_file(part).map_err(failed)
}

/// Writes the table with one row per crow. It is made from the table of takes, of which it says nothing
/// that is not there, so the two agree however that came about: read at once, gone on with, or joined of
/// parts.
///
/// Writes the crows of the takes in `table`, lines of JSON, to `path`: whole or not at all, one
/// take in memory at a time. Takes that could not be read have no rows.
///
/// Errors: the table cannot be read, or the crows not be written.
pub fn crow_table(table: &Path, path: &Path) -> Result<(), BatchError> {
    let failed = |error| BatchError::Table { table: path.display().to_string(), cause: error };
    let file = Unfinished::begin(folder_of(path)).map_err(failed)?;
    let mut out = BufWriter::new(file);
    out.write_all(crow_csv::header().as_bytes()).map_err(failed)?;
    for_each_row(table, Form::JsonLines, Ending::Whole, |_, row, entry| {
        if entry.error.is_some() {
            return Ok(());
        }
        let reading: Reading = serde_json::from_str(row)
            .map_err(|_| BatchError::OtherTable(table.display().to_string()))?;
        out.write_all(crow_csv::rows(&reading).as_bytes()).map_err(failed)
    })?;
    let mut file = out.into_inner().map_err(|error| failed(error.into_error()))?;
    file.becomes(path).map_err(failed)
}
