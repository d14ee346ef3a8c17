//! Where the log is.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::files;

/// The environment variable that names the log's file.
pub const LOG_VARIABLE: &str = "REEDCROW_LOG";

/// What the log's file is called in the user's data folder.
const NAME: &str = "reeds.db";

/// The log's file: `given` on the command line, else what the environment variable `named`, else
/// `reeds.db` in the user's data folder; `None` where the system has no such folder.
///
/// The data folder is the one that stays on this machine. Earlier versions used Windows' roaming one,
/// which company networks copy about while the log is open: a log that lies there is moved.
pub fn place(given: Option<PathBuf>, named: Option<PathBuf>) -> Option<PathBuf> {
    given.or(named.filter(|path| !path.as_os_str().is_empty())).or_else(|| {
        let folders = directories::ProjectDirs::from("", "", "reedcrow")?;
        Some(settled(folders.data_dir(), folders.data_local_dir()))
    })
}

/// The log in the folder `local`, moved there from `earlier` with all that lies beside it. Where it
/// cannot be moved now, as where another program has it open, it is used where it is.
fn settled(earlier: &Path, local: &Path) -> PathBuf {
    let here = local.join(NAME);
    let there = earlier.join(NAME);
    if earlier == local || here.exists() || !there.exists() {
        return here;
    }
    match moved(earlier, local) {
        Ok(()) => here,
        Err(_) => there,
    }
}

/// Moves a folder to where none is, or an empty one: whole or not at all.
fn moved(from: &Path, to: &Path) -> io::Result<()> {
    files::make_folder(files::folder_of(to))?;
    // Only where it is empty; else nothing is moved over it.
    let _ = fs::remove_dir(to);
    if to.exists() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    match files::rename_synced(from, to) {
        Err(error) if error.kind() == io::ErrorKind::CrossesDevices => {}
        renamed => return renamed,
    }
    // The roaming folder may lie on a company's disk. What a program has open cannot be removed there,
    // and what is written meanwhile would be lost: so it is renamed first.
    let aside = from.with_extension("moved");
    files::rename_synced(from, &aside)?;
    let copied = tempfile::Builder::new()
        .prefix(files::UNFINISHED)
        .tempdir_in(files::folder_of(to))
        .and_then(|mut copy| {
            copy_into(&aside, copy.path())?;
            files::rename_synced(copy.path(), to)?;
            copy.disable_cleanup(true);
            Ok(())
        });
    match copied {
        // What is left there is a copy, and in nobody's way.
        Ok(()) => {
            let _ = fs::remove_dir_all(&aside);
            Ok(())
        }
        Err(error) => {
            files::rename_synced(&aside, from)?;
            Err(error)
        }
    }
}

/// Copies what is in a folder, and in folders in it.
fn copy_into(from: &Path, to: &Path) -> io::Result<()> {
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let copy = to.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            fs::create_dir(&copy)?;
            copy_into(&entry.path(), &copy)?;
        } else {
            files::copy_synced(&entry.path(), &copy)?;
        }
    }
    files::sync_folder(to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_goes_before_the_environment() {
        let (a, b) = (Some(PathBuf::from("a")), Some(PathBuf::from("b")));
        assert_eq!(place(a.clone(), b.clone()), a);
        assert_eq!(place(None, b.clone()), b);
        assert_ne!(place(None, Some(PathBuf::new())), Some(PathBuf::new()));
    }

    /// A log with a recording in a roaming folder, and the folder that stays.
    fn profile() -> (tempfile::TempDir, PathBuf, PathBuf) {
        let profile = tempfile::tempdir().unwrap();
        let roaming = profile.path().join("Roaming/reedcrow/data");
        let local = profile.path().join("Local/reedcrow/data");
        fs::create_dir_all(roaming.join("reeds.audio")).unwrap();
        fs::write(roaming.join(NAME), b"log").unwrap();
        fs::write(roaming.join("reeds.audio/a.wav"), b"crow").unwrap();
        (profile, roaming, local)
    }

    #[test]
    fn a_roaming_log_is_moved_with_its_recordings_to_where_it_stays() {
        let (_profile, roaming, local) = profile();
        for _ in 0..2 {
            assert_eq!(settled(&roaming, &local), local.join(NAME));
            assert_eq!(fs::read(local.join(NAME)).unwrap(), b"log");
            assert_eq!(fs::read(local.join("reeds.audio/a.wav")).unwrap(), b"crow");
            assert!(!roaming.exists());
        }
    }

    #[test]
    fn a_log_that_is_where_it_belongs_is_never_moved_over() {
        let (_profile, roaming, local) = profile();
        fs::create_dir_all(&local).unwrap();
        fs::write(local.join(NAME), b"newer").unwrap();
        assert_eq!(settled(&roaming, &local), local.join(NAME));
        assert_eq!(fs::read(local.join(NAME)).unwrap(), b"newer");
        assert_eq!(fs::read(roaming.join(NAME)).unwrap(), b"log");
        // Something else lies where it would go.
        fs::rename(local.join(NAME), local.join("other")).unwrap();
        assert_eq!(settled(&roaming, &local), roaming.join(NAME));
        assert_eq!(fs::read(local.join("other")).unwrap(), b"newer");
    }

    /// Between two disks, with names and contents kept.
    #[cfg(target_os = "linux")]
    #[test]
    fn a_log_on_another_disk_is_copied_whole_and_then_removed() {
        use std::os::unix::fs::MetadataExt;
        let (_profile, roaming, _) = profile();
        let Ok(other) = tempfile::tempdir_in("/dev/shm") else { return };
        if other.path().metadata().unwrap().dev() == roaming.metadata().unwrap().dev() {
            return;
        }
        let local = other.path().join("reedcrow/data");
        assert_eq!(settled(&roaming, &local), local.join(NAME));
        assert_eq!(fs::read(local.join("reeds.audio/a.wav")).unwrap(), b"crow");
        assert!(!roaming.exists() && !roaming.with_extension("moved").exists());
        assert_eq!(fs::read_dir(local.parent().unwrap()).unwrap().count(), 1);
    }
}
