//! The recordings beside the log: one file each, named by the SHA-256 of what it holds, with the
//! ending of its format.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::files::{self, Unfinished};
use crate::log::{LogError, Tried};
use crate::take::decode::Format;

/// The folder of recordings of one log.
#[derive(Debug, Clone)]
pub struct Audio {
    folder: PathBuf,
    /// Where a log of an earlier version may have kept some.
    earlier: Option<PathBuf>,
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
    /// `reeds.db` keeps its recordings in `reeds.audio`, and a log of any other ending in a folder of
    /// its whole name, `reeds.sqlite.audio`. Logs of earlier versions shared the former; what such a log
    /// kept in it is found there still. `reeds.sqlite.db` would share the latter, so none is made beside
    /// `reeds.sqlite`.
    pub fn beside(log: &Path) -> Self {
        let shared = log.with_extension("audio");
        if log.extension().is_some_and(|ending| ending == "db") {
            return Self { folder: shared, earlier: None };
        }
        let mut whole = log.file_name().unwrap_or_default().to_owned();
        // Of a name without an ending, ".audio" behind it is what reeds.db has.
        whole.push(if log.extension().is_some() { ".audio" } else { "-audio" });
        Self { folder: log.with_file_name(whole), earlier: Some(shared) }
    }

    /// Where they are.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where the recording of that hash is; where there is none, its place as a WAV.
    pub fn path(&self, sha256: &str) -> PathBuf {
        let own = recording_in(&self.folder, sha256);
        let earlier = self.earlier.as_deref().map(|folder| recording_in(folder, sha256));
        earlier.filter(|earlier| !own.exists() && earlier.exists()).unwrap_or(own)
    }

    /// Whether both lie in one folder.
    pub fn is_shared_with(&self, other: &Self) -> bool {
        self.folder.file_name() == other.folder.file_name()
    }

    /// Whether a log of an earlier version may have kept some in the other's folder.
    pub fn was_shared_with(&self, other: &Self) -> bool {
        let earlier = self.earlier.as_deref();
        earlier.is_some_and(|folder| folder.file_name() == other.folder.file_name())
    }

    /// Where recordings are written before they get their names.
    pub fn unfinished(&self) -> PathBuf {
        self.folder.join("unfinished")
    }

    /// Keeps what `recording` holds: on return file and folder are synced. A file of that name
    /// that holds something else (damaged since) is replaced. What a killed program left half
    /// written is removed.
    pub fn keep(&self, mut recording: impl Read) -> Result<Stored, LogError> {
        let unfinished = self.unfinished();
        for folder in [&self.folder, &unfinished] {
            files::make_folder(folder).map_err(LogError::file(folder, Tried::Made))?;
        }
        files::remove_abandoned(&unfinished);
        let failed = || LogError::file(&self.folder, Tried::TookIn);
        let mut file = Unfinished::begin(&unfinished).map_err(failed())?;
        let mut hasher = Sha256::new();
        let bytes = files::in_pieces(&mut recording, |piece| {
            hasher.update(piece);
            file.write_all(piece)
        })
        .map_err(failed())?;
        let stored = Stored { sha256: files::hex(&hasher.finalize()), bytes };
        let there = self.path(&stored.sha256);
        let is_whole = files::sha256(&there).is_ok_and(|found| found == stored.sha256);
        // A damaged one is replaced where it is.
        let path = match there.exists() {
            true => there,
            false => self.folder.join(file_name(&stored.sha256, file.path()).map_err(failed())?),
        };
        if is_whole {
            // Another program may have renamed it and not yet synced the folder.
            files::sync_folder(files::folder_of(&path)).map_err(failed())?;
            return Ok(stored);
        }
        file.becomes(&path).map_err(failed())?;
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
        Some(Format::Matroska) => "webm",
        // What is not a recording is never put on a card.
        Some(Format::Wav | Format::NotRead(_)) | None => "wav",
    };
    Ok(format!("{sha256}.{ending}"))
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn files_in(folder: &Path) -> usize {
        let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        entries.map(|path| if path.is_dir() { files_in(&path) } else { 1 }).sum()
    }

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
        assert_eq!(files_in(audio.folder()), 1);
    }

    #[test]
    fn a_damaged_file_is_replaced_and_no_unfinished_file_stays() {
        let folder = tempfile::tempdir().unwrap();
        let audio = Audio::beside(&folder.path().join("reeds.db"));
        let stored = audio.keep(&b"crow"[..]).unwrap();
        fs::write(audio.path(&stored.sha256), b"cro").unwrap();
        audio.keep(&b"crow"[..]).unwrap();
        assert_eq!(fs::read(audio.path(&stored.sha256)).unwrap(), b"crow");
        assert_eq!(files_in(audio.folder()), 1);
    }
}
