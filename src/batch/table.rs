//! The table on disk: written under a temporary name, with every row whole, and taken up again.

use std::collections::HashMap;
use std::fs::{self, File};
use std::hash::{BuildHasher, RandomState};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::BatchError;
use super::form::{Entry, Form};

/// Where rows go.
pub struct Table {
    out: Box<dyn Write>,
    names: Option<(PathBuf, PathBuf)>,
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
                BatchError::LeftOver(part.display().to_string())
            } else {
                BatchError::Table { table: part.display().to_string(), cause: error }
            }
        })?;
        let names = Some((part, path.to_owned()));
        let mut table = Self { out: Box::new(file), names, header: String::new() };
        table.push(&form.header())?;
        Ok(table)
    }

    /// A table that is printed as it grows.
    pub fn printed(out: Box<dyn Write>, form: Form) -> Self {
        Self { out, names: None, header: form.header() }
    }

    /// Adds a whole row.
    pub fn push(&mut self, row: &str) -> Result<(), BatchError> {
        let text = std::mem::take(&mut self.header) + row;
        self.out.write_all(text.as_bytes()).and_then(|()| self.out.flush()).map_err(|error| {
            match &self.names {
                Some((part, _)) => {
                    BatchError::Table { table: part.display().to_string(), cause: error }
                }
                None => BatchError::Print(error),
            }
        })
    }

    /// Drops the table; an older one of its name stays.
    pub fn discard(self) {
        drop(self.out);
        if let Some((part, _)) = self.names {
            // What cannot be removed is named by the next run that meets it.
            let _ = fs::remove_file(part);
        }
    }

    /// Gives the table its name, in place of an older one.
    pub fn finish(self) -> Result<(), BatchError> {
        drop(self.out);
        let Some((part, path)) = self.names else { return Ok(()) };
        File::open(&part)
            .and_then(|file| file.sync_all())
            .and_then(|()| fs::rename(&part, &path))
            .map_err(|error| BatchError::Table { table: path.display().to_string(), cause: error })
    }
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
    /// Errors: they cannot be read, or are no tables of this form.
    pub fn open(path: &Path, form: Form) -> Result<Option<Self>, BatchError> {
        let failed = |error| BatchError::Unread { table: path.display().to_string(), cause: error };
        let part = part_of(path);
        if part.exists() {
            fold(path, &part, form)?;
        }
        let file = match File::open(path) {
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
        for_each_row(path, form, |at, row, entry| {
            let key = standing.hasher.hash_one(&entry.source);
            standing.places.entry(key).or_default().push((at, row.len()));
            Ok(())
        })?;
        Ok(Some(standing))
    }

    /// The rows of `source`, as they stand, oldest first.
    pub fn rows(&self, source: &str) -> Vec<(String, Entry)> {
        let places = self.places.get(&self.hasher.hash_one(source));
        let rows = places.into_iter().flatten().filter_map(|&(at, length)| {
            let mut row = vec![0; length];
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            file.seek(SeekFrom::Start(at)).and_then(|_| file.read_exact(&mut row)).ok()?;
            let row = String::from_utf8(row).ok()?;
            let entry = self.form.entry(&row)?;
            (entry.source == source).then_some((row, entry))
        });
        rows.collect()
    }
}

/// Calls `visit` with the place, the text and the sense of every row of a table.
///
/// Errors: it cannot be read, or has other columns; and what `visit` gives.
pub fn for_each_row(
    path: &Path,
    form: Form,
    mut visit: impl FnMut(u64, &str, Entry) -> Result<(), BatchError>,
) -> Result<(), BatchError> {
    let name = || path.display().to_string();
    let failed = |error: io::Error| match error.kind() {
        io::ErrorKind::InvalidData => BatchError::OtherTable(name()),
        _ => BatchError::Unread { table: name(), cause: error },
    };
    let mut table = BufReader::new(File::open(path).map_err(failed)?);
    let mut header = String::new();
    if form == Form::Csv {
        table.by_ref().take(1 << 16).read_line(&mut header).map_err(failed)?;
        // A run that was stopped at once may have left nothing, or part of the header.
        if header != form.header() && !(form.header().starts_with(&header)) {
            return Err(BatchError::OtherTable(name()));
        }
    }
    let mut at = header.len() as u64;
    while let Some(row) = form.next_row(&mut table).map_err(failed)? {
        let entry = form.entry(&row).ok_or_else(|| BatchError::OtherTable(name()))?;
        visit(at, &row, entry)?;
        at += row.len() as u64;
    }
    Ok(())
}

/// Adds the rows that a killed run left in `part` to the table `path`. Their order is no matter:
/// the run that takes them up writes the table anew.
fn fold(path: &Path, part: &Path, form: Form) -> Result<(), BatchError> {
    let failed = |error| BatchError::Table { table: path.display().to_string(), cause: error };
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut whole =
        tempfile::NamedTempFile::new_in(folder.unwrap_or(Path::new("."))).map_err(failed)?;
    whole.write_all(form.header().as_bytes()).map_err(failed)?;
    for rows in [path, part] {
        if rows.exists() {
            for_each_row(rows, form, |_, row, _| whole.write_all(row.as_bytes()).map_err(failed))?;
        }
    }
    whole.as_file().sync_all().map_err(failed)?;
    whole.persist(path).map_err(|error| failed(error.error))?;
    fs::remove_file(part).map_err(failed)
}
