//! A file under a temporary name until it is whole; what a killed program left of such ones is removed.

use std::ffi::OsStr;
use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::time::Duration;

use tempfile::TempPath;

use super::names::{folder_of, rename, sync_folder};

/// What the name of a file begins with that is not written to its end.
pub const UNFINISHED: &str = ".unfinished-";

/// A file under a temporary name, which removes itself unless it is given its name.
///
/// It is locked while it is open, so that [`remove_abandoned`] leaves it alone.
#[derive(Debug)]
pub struct Unfinished {
    file: File,
    path: TempPath,
    /// Whether it has its name already.
    is_named: bool,
}

impl Unfinished {
    /// Begins a file that will stand in `folder`.
    pub fn begin(folder: &Path) -> io::Result<Self> {
        Self::named(folder, UNFINISHED.as_ref(), "".as_ref())
    }

    /// The same, its temporary name being `prefix`, some letters, and `suffix`.
    pub fn named(folder: &Path, prefix: &OsStr, suffix: &OsStr) -> io::Result<Self> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(prefix).suffix(suffix);
        // As any other file the user makes: the umask decides who may read it, and Windows is not told
        // that it is temporary, since what it becomes is not, and would be left out of backups.
        let make = |path: &Path| File::options().read(true).write(true).create_new(true).open(path);
        loop {
            let (file, path) = builder.make_in(folder, make)?.into_parts();
            // Before it was locked, another program may have taken it for abandoned, and removed it
            // or be about to.
            if !is_ours(&file) || !path.exists() {
                continue;
            }
            return Ok(Self { file, path, is_named: false });
        }
    }

    /// Its temporary name.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file, open to be read and written.
    pub fn file(&self) -> &File {
        &self.file
    }

    /// Whether it stays on the disk when it is dropped without its name, for somebody to look at.
    pub fn stays_if_dropped(&mut self, stays: bool) {
        self.path.disable_cleanup(stays);
    }

    /// For others to write by its name; give it its own with [`Closed::becomes`].
    pub fn close(self) -> Closed {
        // Open, it stays locked. Only Linux keeps such a lock apart from those that a database sets.
        let locked = cfg!(target_os = "linux").then_some(self.file);
        Closed { path: self.path, locked }
    }

    /// Gives it its name, in place of what has it: synced, renamed, the folder synced. May be tried
    /// again where it failed.
    pub fn becomes(&mut self, place: &Path) -> io::Result<()> {
        self.file.sync_all()?;
        self.give_name(place)?;
        sync_folder(folder_of(place))
    }

    /// The same without waiting for the disk: after a power cut it may be gone, or damaged. For what
    /// can be made again.
    pub fn becomes_unsynced(&mut self, place: &Path) -> io::Result<()> {
        self.give_name(place)
    }

    fn give_name(&mut self, place: &Path) -> io::Result<()> {
        if !self.is_named {
            rename(&self.path, place)?;
            self.is_named = true;
            self.path.disable_cleanup(true);
        }
        Ok(())
    }
}

impl Write for Unfinished {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Read for Unfinished {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        self.file.read(bytes)
    }
}

impl Seek for Unfinished {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// An unfinished file that others write by its name.
#[derive(Debug)]
pub struct Closed {
    path: TempPath,
    locked: Option<File>,
}

impl Closed {
    /// Its temporary name.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// As [`Unfinished::becomes`].
    pub fn becomes(mut self, place: &Path) -> io::Result<()> {
        // Windows syncs only what is open to be written.
        File::options().write(true).open(&self.path)?.sync_all()?;
        rename(&self.path, place)?;
        self.path.disable_cleanup(true);
        drop(self.locked);
        sync_folder(folder_of(place))
    }
}

/// Locks a new file, so that it is not taken for abandoned; `false` where another program just looks
/// whether it is.
fn is_ours(file: &File) -> bool {
    // Some disks know no locks. On Windows a lock would keep even this program from reading the file
    // by its name.
    !cfg!(unix) || !matches!(file.try_lock(), Err(TryLockError::WouldBlock))
}

/// After this long nobody writes a file any more that had a temporary name.
const ABANDONED_AFTER: Duration = Duration::from_secs(24 * 3600);

/// Removes files of [`Unfinished`] that no program is writing: it was killed. What cannot be removed
/// is left. On Windows, where they are not locked, they are those of yesterday.
pub fn remove_abandoned(folder: &Path) {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    for path in entries.map(|entry| entry.path()) {
        let name = path.file_name().unwrap_or_default();
        if !name.as_encoded_bytes().starts_with(UNFINISHED.as_bytes()) {
            continue;
        }
        let Ok(file) = File::open(&path) else { continue };
        let lock = if cfg!(windows) { None } else { Some(file.try_lock()) };
        let is_abandoned = match lock {
            Some(Ok(())) => true,
            Some(Err(TryLockError::WouldBlock)) => false,
            Some(Err(TryLockError::Error(_))) | None => is_old(&file),
        };
        // Closed only now, so that nobody begins to write what is removed.
        if is_abandoned {
            let _ = fs::remove_file(&path);
        }
    }
}

/// Whether nobody has written a file for so long that nobody will.
fn is_old(file: &File) -> bool {
    let written = file.metadata().and_then(|about| about.modified());
    written.is_ok_and(|time| time.elapsed().is_ok_and(|age| age > ABANDONED_AFTER))
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn what_a_killed_program_left_is_removed_and_what_is_being_written_stays() {
        let folder = tempfile::tempdir().unwrap();
        let mut killed = Unfinished::begin(folder.path()).unwrap();
        killed.stays_if_dropped(true);
        drop(killed);
        let open = Unfinished::begin(folder.path()).unwrap();
        fs::write(folder.path().join("take.wav"), b"x").unwrap();
        remove_abandoned(folder.path());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
        assert!(open.path().exists());
    }
}
