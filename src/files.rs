//! Files that outlive a crash: the one place where anything that must not be lost is written.
//!
//! A file is written under a temporary name in the folder it will stand in, synced, renamed, and
//! the folder synced, so that at any moment, through a kill or a power cut, its name stands for the
//! old content or the new one, whole.

mod names;
mod unfinished;

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

use sha2::{Digest, Sha256};

pub use names::{
    folder_of, identity, is_held, make_folder, rename_synced, sync_folder, with_ending,
};
pub use unfinished::{UNFINISHED, Unfinished, remove_abandoned};

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
    use std::fs;
    #[cfg(unix)]
    use std::thread;

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
        use crate::system::{self, System};
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
