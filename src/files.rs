//! Files that outlive a crash: the one place where anything that must not be lost is written.
//!
//! A file is written under a temporary name in the folder it will stand in, synced, renamed, and
//! the folder synced, so that at any moment, through a kill or a power cut, its name stands for the
//! old content or the new one, whole.

use std::ffi::OsStr;
use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use sha2::{Digest, Sha256};
use tempfile::TempPath;

use crate::system::{self, System};

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

/// Names under which a shell's own pipes are open already, and wait for nobody.
const OPEN_ALREADY: [&str; 3] = ["/dev/fd", "/proc/self/fd", "/dev/stdin"];

/// Opens a file to be read: no pipe that may never give anything, unless a shell opened it.
///
/// Errors: as the system reports them, and `NotSeekable` for a pipe or a device.
pub fn open(path: &Path) -> io::Result<File> {
    is_no_pipe(path)?;
    File::open(path)
}

/// Looks at what a name stands for, without opening it.
///
/// Errors: as the system reports them, and `NotSeekable` for a pipe or a device that no shell opened.
pub fn is_no_pipe(path: &Path) -> io::Result<()> {
    let about = path.metadata()?;
    let is_open = OPEN_ALREADY.iter().any(|open| path.starts_with(open));
    if !about.is_file() && !about.is_dir() && !is_open {
        return Err(io::ErrorKind::NotSeekable.into());
    }
    Ok(())
}

/// The name with `ending` behind all of it.
pub fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// The text of a file that is to be read whole, as [`open`] opens it.
///
/// * `most_bytes`: a longer one is no such file.
///
/// Errors: as [`open`]; `FileTooLarge`; `InvalidData` where it is no UTF-8.
pub fn read_text(path: &Path, most_bytes: u64) -> io::Result<String> {
    let mut bytes = Vec::new();
    open(path)?.take(most_bytes + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most_bytes {
        return Err(io::ErrorKind::FileTooLarge.into());
    }
    String::from_utf8(bytes).map_err(|_| io::ErrorKind::InvalidData.into())
}

/// Writes a file whole or not at all; on return it is on the disk.
pub fn write_whole(place: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = Unfinished::begin(folder_of(place))?;
    file.write_all(bytes)?;
    file.becomes(place)
}

/// The same without waiting for the disk, for what can be made again.
pub fn write_unsynced(place: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = Unfinished::begin(folder_of(place))?;
    file.write_all(bytes)?;
    file.becomes_unsynced(place)
}

/// Copies a file to where none is yet; on return its content is on the disk.
pub fn copy_synced(from: &Path, to: &Path) -> io::Result<()> {
    let mut copy = File::options().write(true).create_new(true).open(to)?;
    in_pieces(&mut File::open(from)?, |piece| copy.write_all(piece))?;
    copy.sync_all()
}

/// Renames, in place of what is there, so that the new name outlives a power cut.
pub fn rename_synced(from: &Path, to: &Path) -> io::Result<()> {
    rename(from, to)?;
    sync_folder(folder_of(to))
}

/// How often, and with what pauses, Windows is asked again to rename: what looks for viruses there holds
/// new files for a moment.
const ATTEMPTS: u32 = 20;
const PAUSE: Duration = Duration::from_millis(25);

/// Renames, in place of what is there. Of a file that another program holds open Windows says no more
/// than that it may not be: here it is told as what it is.
fn rename(from: &Path, to: &Path) -> io::Result<()> {
    let mut attempt = 1;
    loop {
        let Err(error) = fs::rename(from, to) else { return Ok(()) };
        let may_pass = error.kind() == io::ErrorKind::PermissionDenied;
        if !cfg!(windows)
            || attempt == ATTEMPTS
            || !(may_pass || system::is_held(System::HERE, &error))
        {
            return Err(held(to).unwrap_or(error));
        }
        attempt += 1;
        thread::sleep(PAUSE);
    }
}

/// Whether another program keeps a file to itself; only on Windows one can.
pub fn is_held(path: &Path) -> bool {
    held(path).is_some()
}

fn held(path: &Path) -> Option<io::Error> {
    if !cfg!(windows) || !path.is_file() {
        return None;
    }
    let refused = File::options().read(true).write(true).open(path).err()?;
    system::is_held(System::HERE, &refused).then_some(refused)
}

/// One path for a file or folder, however it was written: without links to folders, dots and doubled
/// slashes, in the capitals that the disk has. A link to a file is a file of its own.
///
/// Of what is not there, as much of it as is.
pub fn identity(path: &Path) -> PathBuf {
    let is_link = path.symlink_metadata().is_ok_and(|about| about.is_symlink());
    if (!is_link || path.is_dir())
        && let Ok(whole) = path.canonicalize()
    {
        return whole;
    }
    match (path.parent(), path.file_name()) {
        (Some(_), Some(name)) => identity(folder_of(path)).join(name),
        _ => std::path::absolute(path).unwrap_or_else(|_| path.to_owned()),
    }
}

/// Makes a folder, and those it lies in, so that its name outlives a power cut. One that is there is
/// left as it is.
pub fn make_folder(folder: &Path) -> io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(folder)?;
    sync_folder(folder_of(folder))
}

/// The folder a path is in.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Syncs a folder's list of names. Only Unix can, and needs to.
pub fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
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

/// Hands what is read on piece by piece and returns how many bytes it was.
pub fn in_pieces(
    from: &mut impl Read,
    mut to: impl FnMut(&[u8]) -> io::Result<()>,
) -> io::Result<u64> {
    let mut buffer = vec![0; 1 << 16];
    let mut bytes = 0;
    loop {
        match from.read(&mut buffer) {
            Ok(0) => return Ok(bytes),
            Ok(n) => {
                to(buffer.get(..n).unwrap_or_default())?;
                bytes += n as u64;
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// SHA-256 of a file as 64 hexadecimal digits, read piece by piece.
pub fn sha256(path: &Path) -> io::Result<String> {
    let mut hasher = Sha256::new();
    in_pieces(&mut open(path)?, |piece| {
        hasher.update(piece);
        Ok(())
    })?;
    Ok(hex(&hasher.finalize()))
}

/// Bytes in hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let names = fs::read_dir(folder).unwrap();
        names.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    }

    #[test]
    fn a_file_that_is_not_finished_leaves_nothing_and_the_older_one_stays() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("a.txt");
        write_whole(&place, b"old").unwrap();
        let mut file = Unfinished::begin(folder.path()).unwrap();
        file.write_all(b"new").unwrap();
        assert_eq!(names(folder.path()).len(), 2);
        drop(file);
        assert_eq!(names(folder.path()), ["a.txt"]);
        assert_eq!(fs::read(&place).unwrap(), b"old");
        write_whole(&place, b"new").unwrap();
        assert_eq!(fs::read(&place).unwrap(), b"new");
    }

    #[test]
    fn one_file_has_one_identity_however_it_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let (root, inner) = (folder.path(), folder.path().join("takes"));
        fs::create_dir(&inner).unwrap();
        fs::write(inner.join("a.wav"), b"x").unwrap();
        let one = identity(&inner.join("a.wav"));
        for other in ["takes/./a.wav", "takes//a.wav", "takes/../takes/a.wav"] {
            assert_eq!(identity(&root.join(other)), one, "{other}");
        }
        if cfg!(windows) {
            assert_eq!(identity(&root.join("TAKES\\A.WAV")), one);
        }
        let gone = identity(&inner.join("gone.wav"));
        assert_eq!(identity(&root.join("takes/../takes/gone.wav")), gone);
        assert_ne!(gone, one);
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink("a.wav", inner.join("link.wav")).unwrap();
            std::os::unix::fs::symlink("takes", root.join("link")).unwrap();
            assert_ne!(identity(&inner.join("link.wav")), one, "a name of its own");
            assert_eq!(identity(&root.join("link/a.wav")), one);
        }
    }

    /// As any other file the user makes.
    #[cfg(unix)]
    #[test]
    fn a_file_may_be_read_by_whom_the_umask_lets() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (ours, usual) = (folder.path().join("ours"), folder.path().join("usual"));
        write_whole(&ours, b"x").unwrap();
        fs::write(&usual, b"x").unwrap();
        let mode = |path: &Path| path.metadata().unwrap().permissions().mode();
        assert_eq!(mode(&ours), mode(&usual));
    }

    /// What says that it is temporary is left out of backups and of folders that are kept alike.
    #[cfg(windows)]
    #[test]
    fn what_is_written_is_no_temporary_file_and_a_held_one_is_told_as_that() {
        use std::os::windows::fs::{MetadataExt, OpenOptionsExt};
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("a.csv");
        write_whole(&place, b"x").unwrap();
        // FILE_ATTRIBUTE_TEMPORARY (Microsoft, "File Attribute Constants", from memory).
        assert_eq!(place.metadata().unwrap().file_attributes() & 0x100, 0);
        // As a spreadsheet opens it: others may read.
        let held = File::options().read(true).write(true).share_mode(1).open(&place).unwrap();
        assert!(is_held(&place));
        let refused = write_whole(&place, b"y").unwrap_err();
        assert!(system::is_held(System::HERE, &refused), "{refused:?}");
        assert_eq!(names(folder.path()), ["a.csv"]);
        drop(held);
        write_whole(&place, b"y").unwrap();
        assert!(!is_held(&place));
    }

    #[cfg(unix)]
    #[test]
    fn what_a_killed_program_left_is_removed_and_what_is_being_written_stays() {
        let folder = tempfile::tempdir().unwrap();
        let mut killed = Unfinished::begin(folder.path()).unwrap();
        killed.stays_if_dropped(true);
        drop(killed);
        let open = Unfinished::begin(folder.path()).unwrap();
        fs::write(folder.path().join("take.wav"), b"x").unwrap();
        remove_abandoned(folder.path());
        assert_eq!(names(folder.path()).len(), 2);
        assert!(open.path().exists());
    }

    #[cfg(unix)]
    #[test]
    fn what_another_program_clears_away_meanwhile_is_no_file_just_begun() {
        let folder = tempfile::tempdir().unwrap();
        let is_done = std::sync::atomic::AtomicBool::new(false);
        thread::scope(|scope| {
            for _ in 0..2 {
                scope.spawn(|| {
                    while !is_done.load(std::sync::atomic::Ordering::Relaxed) {
                        remove_abandoned(folder.path());
                    }
                });
            }
            let begun: Vec<bool> = (0..5000)
                .map(|n| write_unsynced(&folder.path().join(format!("{n}.wav")), b"x").is_ok())
                .collect();
            is_done.store(true, std::sync::atomic::Ordering::Relaxed);
            assert_eq!(begun.iter().filter(|written| !**written).count(), 0);
        });
    }
}
