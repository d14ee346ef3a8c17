//! The recordings beside the log: one file each, named by the SHA-256 of what it holds, with the
//! ending of its format.

use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::log::LogError;
use crate::take::decode::Format;

/// The folder of recordings of one log.
#[derive(Debug, Clone)]
pub struct Audio {
    folder: PathBuf,
}

/// A recording that is on the disk, synced.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stored {
    /// Hash of its bytes, 64 hexadecimal digits.
    pub sha256: String,
    /// How many.
    pub bytes: u64,
}

impl Audio {
    /// `reeds.db` keeps its recordings in `reeds.audio`.
    pub fn beside(log: &Path) -> Self {
        Self { folder: log.with_extension("audio") }
    }

    /// Where they are.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where the recording of that hash is; where there is none, its place as a WAV.
    pub fn path(&self, sha256: &str) -> PathBuf {
        recording_in(&self.folder, sha256)
    }

    /// Keeps what `recording` holds: on return file and folder are synced. A file of that name
    /// that holds something else (damaged since) is replaced.
    pub fn keep(&self, mut recording: impl Read) -> Result<Stored, LogError> {
        if !self.folder.is_dir() {
            fs::create_dir_all(&self.folder)
                .map_err(LogError::file(&self.folder, "could not be made"))?;
            sync_folder(folder_of(&self.folder))?;
        }
        let failed = || LogError::file(&self.folder, "could not take the recording");
        let mut file = unfinished(&self.folder).map_err(failed())?;
        let mut hasher = Sha256::new();
        let bytes = copy(&mut recording, |piece| {
            hasher.update(piece);
            file.write_all(piece)
        })
        .map_err(failed())?;
        let stored = Stored { sha256: hex(&hasher.finalize()), bytes };
        let there = self.path(&stored.sha256);
        let is_whole = file_hash(&there).is_ok_and(|found| found == stored.sha256);
        // A damaged one is replaced where it is.
        let path = match there.exists() {
            true => there,
            false => self.folder.join(file_name(&stored.sha256, file.path()).map_err(failed())?),
        };
        if is_whole {
            // Another program may have renamed it and not yet synced the folder.
            sync_folder(&self.folder)?;
            return Ok(stored);
        }
        file.as_file().sync_all().map_err(failed())?;
        file.persist(&path).map_err(|error| failed()(error.error))?;
        sync_folder(&self.folder)?;
        Ok(stored)
    }
}

/// What the name of a recording may end in, by what it holds; logs of earlier versions have `wav`
/// for all.
const ENDINGS: [&str; 7] = ["wav", "flac", "mp3", "m4a", "ogg", "aiff", "caf"];

/// Where a folder has the recording of that hash; where it has none, its place as a WAV.
pub fn recording_in(folder: &Path, sha256: &str) -> PathBuf {
    let named = |ending: &&str| folder.join(format!("{sha256}.{ending}"));
    let [wav, ..] = ENDINGS;
    ENDINGS.iter().map(named).find(|path| path.exists()).unwrap_or_else(|| named(&wav))
}

/// The hash that a file's name says, where it is one of a recording.
pub fn hash_in_name(name: &str) -> Option<&str> {
    let (hash, ending) = name.rsplit_once('.')?;
    ENDINGS.contains(&ending).then_some(hash)
}

/// The name of a recording of that hash; its ending says what it really holds.
pub fn file_name(sha256: &str, recording: &Path) -> std::io::Result<String> {
    let ending = match Format::of_file(recording)? {
        Some(Format::Flac) => "flac",
        Some(Format::Mpeg) => "mp3",
        Some(Format::Mp4) => "m4a",
        Some(Format::Ogg) => "ogg",
        Some(Format::Aiff) => "aiff",
        Some(Format::Caf) => "caf",
        // What is no recording is never put on a card.
        Some(Format::Wav | Format::NotRead(_)) | None => "wav",
    };
    Ok(format!("{sha256}.{ending}"))
}

/// SHA-256 of a file as 64 hexadecimal digits, read piece by piece.
pub fn file_hash(path: &Path) -> std::io::Result<String> {
    let mut hasher = Sha256::new();
    copy(&mut File::open(path)?, |piece| {
        hasher.update(piece);
        Ok(())
    })?;
    Ok(hex(&hasher.finalize()))
}

/// Hands what is read on piece by piece and returns how many bytes it was.
fn copy(
    from: &mut impl Read,
    mut to: impl FnMut(&[u8]) -> std::io::Result<()>,
) -> std::io::Result<u64> {
    let mut buffer = vec![0; 1 << 16];
    let mut bytes = 0;
    loop {
        match from.read(&mut buffer) {
            Ok(0) => return Ok(bytes),
            Ok(n) => {
                to(buffer.get(..n).unwrap_or_default())?;
                bytes += n as u64;
            }
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

fn hex(digest: &[u8]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// What the name of a file begins with that is not written to its end.
pub const UNFINISHED: &str = ".unfinished-";

/// A file that removes itself unless it is given its name.
pub fn unfinished(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
    // As any other file the user makes: the umask decides who may read it.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

/// Writes a file whole or not at all: under a temporary name in the same folder, synced, renamed,
/// the folder synced.
pub fn write_synced(path: &Path, bytes: &[u8]) -> Result<(), LogError> {
    let failed = || LogError::file(path, "could not be written");
    let mut file = unfinished(folder_of(path)).map_err(failed())?;
    file.write_all(bytes).map_err(failed())?;
    file.as_file().sync_all().map_err(failed())?;
    file.persist(path).map_err(|error| failed()(error.error))?;
    sync_folder(folder_of(path))
}

/// The folder a path is in.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Syncs a folder's list of names. Only Unix can, and needs to.
pub fn sync_folder(folder: &Path) -> Result<(), LogError> {
    #[cfg(unix)]
    File::open(folder)
        .and_then(|folder| folder.sync_all())
        .map_err(LogError::file(folder, "could not be synced"))?;
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4 test vector for "abc" (from memory; sha256sum gives it too).
    #[test]
    fn names_are_sha256() {
        let folder = tempfile::tempdir().unwrap();
        let stored = Audio::beside(&folder.path().join("reeds.db")).keep(&b"abc"[..]).unwrap();
        assert_eq!(
            stored.sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(stored.bytes, 3);
    }

    #[test]
    fn the_ending_of_a_name_is_that_of_the_content() {
        let folder = tempfile::tempdir().unwrap();
        let audio = Audio::beside(&folder.path().join("reeds.db"));
        for (content, ending) in [
            (&b"RIFF\0\0\0\0WAVEfmt "[..], "wav"),
            (b"fLaC\0\0\0\x22", "flac"),
            (b"\0\0\0\x1cftypM4A ", "m4a"),
            (b"ID3\x04\0\0\0\0\0\0", "mp3"),
            (b"OggS\0", "ogg"),
        ] {
            let stored = audio.keep(content).unwrap();
            let path = audio.path(&stored.sha256);
            assert_eq!(path.extension().unwrap(), ending);
            assert_eq!(fs::read(&path).unwrap(), content);
            let name = path.file_name().unwrap().to_str().unwrap();
            assert_eq!(hash_in_name(name), Some(stored.sha256.as_str()));
        }
    }

    /// Earlier versions named every recording as a WAV.
    #[test]
    fn a_recording_that_is_there_under_another_ending_is_not_kept_twice() {
        let folder = tempfile::tempdir().unwrap();
        let audio = Audio::beside(&folder.path().join("reeds.db"));
        let stored = audio.keep(&b"fLaC crow"[..]).unwrap();
        let earlier = audio.path(&stored.sha256).with_extension("wav");
        fs::rename(audio.path(&stored.sha256), &earlier).unwrap();
        audio.keep(&b"fLaC crow"[..]).unwrap();
        assert_eq!(audio.path(&stored.sha256), earlier);
        assert_eq!(fs::read_dir(audio.folder()).unwrap().count(), 1);
    }

    #[test]
    fn a_damaged_file_is_replaced_and_no_unfinished_file_stays() {
        let folder = tempfile::tempdir().unwrap();
        let audio = Audio::beside(&folder.path().join("reeds.db"));
        let stored = audio.keep(&b"crow"[..]).unwrap();
        fs::write(audio.path(&stored.sha256), b"cro").unwrap();
        audio.keep(&b"crow"[..]).unwrap();
        assert_eq!(fs::read(audio.path(&stored.sha256)).unwrap(), b"crow");
        assert_eq!(fs::read_dir(audio.folder()).unwrap().count(), 1);
    }
}
