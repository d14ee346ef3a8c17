//! Names of files and folders, and what makes them outlive a power cut.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use crate::system::{self, System};

/// How often, and with what pauses, Windows is asked again to rename: what looks for viruses there holds
/// new files for a moment.
const ATTEMPTS: u32 = 20;
const PAUSE: Duration = Duration::from_millis(25);

/// The name with `ending` behind all of it.
pub fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Renames, in place of what is there, so that the new name outlives a power cut.
pub fn rename_synced(from: &Path, to: &Path) -> io::Result<()> {
    rename(from, to)?;
    sync_folder(folder_of(to))
}

/// Renames, in place of what is there. Of a file that another program holds open Windows says no more
/// than that it may not be: here it is told as what it is.
pub(super) fn rename(from: &Path, to: &Path) -> io::Result<()> {
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

#[cfg(test)]
mod tests {
    use super::*;

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
}
