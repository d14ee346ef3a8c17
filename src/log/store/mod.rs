//! The log on disk: one SQLite file, and a folder of recordings beside it.
//!
//! Every change is one transaction with its audit; a recording is synced before the row that names
//! it is committed, so that a program killed at any moment leaves at worst a recording no row
//! names.

mod audio;
mod backup;
mod blowing;
mod change;
mod check;
mod correct;
mod export;
mod exported;
mod heard;
mod import;
mod mend;
mod merge;
mod migrate;
mod outline;
mod rebuild;
mod reeds;
mod reread;
mod rows;
mod schema;
mod sense;
mod ratings;
mod settings;
mod share;
mod steps;
mod takes;
mod undo;
mod ways;

use std::cell::Cell;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use crate::files;
use crate::log::{LogError, Refused, Tried};
use crate::profile::Blowing;

pub(crate) use change::Did;
pub use check::{CheckUp, Fault};
pub(crate) use check::{Found, Lost, RowOf};
pub use export::{Export, Exported, PutBy};
pub use exported::schema as export_schema;
pub use exported::{ExportHead, ExportedAudit, ExportedChange, ExportedReed, ExportedRow};
pub use heard::{HeardCrow, Named, Which};
pub use import::check_export;
pub(crate) use rebuild::LostCard;
pub use rebuild::{Mend, Mended};
pub use reeds::Reeds;
pub use reread::{Outcome, Reread};
pub use share::{SharedAs, SharedCrow};
pub use takes::{Became, NewTake};

/// How long a program waits for another one that writes.
const PATIENCE: Duration = Duration::from_secs(20);

/// An open log.
#[derive(Debug)]
pub struct Log {
    connection: Connection,
    path: PathBuf,
    audio: audio::Audio,
    upgraded: Option<Upgrade>,
    /// What blowing does to the pitch, as it was after the last change of that number.
    blowing: Cell<Option<(i64, Option<Blowing>)>>,
}

/// What opening a log of an earlier version did to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upgrade {
    /// The version found.
    pub from: i64,
    /// The copy made before anything was changed.
    pub backup: PathBuf,
}

impl Log {
    /// Opens the log at `path` and makes it where there is none. An earlier version is first
    /// copied, then brought to this one.
    pub fn open(path: &Path) -> Result<Self, LogError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(LogError::file(folder, Tried::Made))?;
        }
        let is_new = !path.exists();
        let audio = audio::Audio::beside(path);
        if is_new && let Some(other) = check::log_beside(path, |one| one.is_shared_with(&audio)) {
            return Err(
                Refused::SharesFolder { path, other: &other, folder: audio.folder() }.into()
            );
        }
        let opened = Self::connect(path, OpenFlags::SQLITE_OPEN_CREATE);
        if is_new && opened.is_err() && path.metadata().is_ok_and(|about| about.len() == 0) {
            // Nothing was made, and nothing shall look as if it had been.
            let _ = std::fs::remove_file(path);
        }
        match opened {
            Err(error) if error.is_refusal() && files::is_held(path) => {
                Err(LogError::Held(path.to_owned()))
            }
            Err(error) if error.is_refusal() && is_new => {
                Err(LogError::file(path, Tried::Made)(ErrorKind::PermissionDenied.into()))
            }
            Err(error) if error.is_refusal() => Err(LogError::NotWritable(Some(path.to_owned()))),
            opened => opened,
        }
    }

    /// Opens a log that must be there. Where it may not be written it is opened to be read.
    pub fn open_existing(path: &Path) -> Result<Self, LogError> {
        match path.metadata() {
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Err(LogError::Missing(path.to_owned()));
            }
            _ => {}
        }
        match Self::connect(path, OpenFlags::empty()) {
            Err(error) if error.is_refusal() && files::is_held(path) => {
                Err(LogError::Held(path.to_owned()))
            }
            Err(error) if error.is_refusal() => Self::read_only(path),
            opened => opened,
        }
    }

    fn connect(path: &Path, more: OpenFlags) -> Result<Self, LogError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | more;
        if path.is_dir() {
            return Err(LogError::NotALog(path.to_owned()));
        }
        // On a pipe the database waits for ever, also on one that has the name of its notes.
        for note in ["", "-journal", "-wal", "-shm"] {
            let file = files::with_ending(path, note);
            match files::is_no_pipe(&file) {
                Err(error) if error.kind() == ErrorKind::NotSeekable => {
                    return Err(LogError::file(&file, Tried::Opened)(error));
                }
                _ => {}
            }
        }
        let mut connection = Connection::open_with_flags(path, flags).map_err(|error| {
            // The database says less of why. Not before: what is opened and closed beside it takes the
            // locks away that this process has on a log it holds open (SQLite, "How To Corrupt An SQLite
            // Database File", 2.2).
            match files::open(path) {
                Err(refused) if path.exists() => LogError::file(path, Tried::Opened)(refused),
                _ => error.into(),
            }
        })?;
        // Where others may only read it meanwhile, Windows lets the database in to read.
        if connection.is_readonly(rusqlite::MAIN_DB)? && files::is_held(path) {
            return Err(LogError::Held(path.to_owned()));
        }
        connection.busy_timeout(PATIENCE)?;
        let may_make = more.contains(OpenFlags::SQLITE_OPEN_CREATE);
        let upgraded = migrate::bring_up(&mut connection, path, may_make)
            .map_err(|error| error.in_file(path))?;
        Ok(Self {
            connection,
            path: path.to_owned(),
            audio: audio::Audio::beside(path),
            upgraded,
            blowing: Cell::default(),
        })
    }

    /// Opens a log whose folder may not be written: the database, which keeps notes beside it while
    /// it reads, is told that nobody changes the file.
    fn read_only(path: &Path) -> Result<Self, LogError> {
        if files::with_ending(path, "-wal").metadata().is_ok_and(|about| about.len() > 0) {
            return Err(LogError::Unsettled(path.to_owned()));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
            | OpenFlags::SQLITE_OPEN_NO_MUTEX
            | OpenFlags::SQLITE_OPEN_URI;
        let connection = Connection::open_with_flags(address(path), flags)?;
        if migrate::version(&connection, path)? != schema::VERSION {
            return Err(LogError::NotWritable(Some(path.to_owned())));
        }
        let (path, audio) = (path.to_owned(), audio::Audio::beside(path));
        Ok(Self { connection, path, audio, upgraded: None, blowing: Cell::default() })
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The folder of its recordings.
    pub fn audio_folder(&self) -> &Path {
        self.audio.folder()
    }

    /// Where takes are recorded before they are added; what a crash leaves there is no reed's yet.
    pub fn recording_folder(&self) -> PathBuf {
        self.audio.folder().join("recording")
    }

    /// Where the recording of that hash is, or would be.
    pub fn audio_path(&self, sha256: &str) -> PathBuf {
        self.audio.path(sha256)
    }

    /// What opening it changed.
    pub fn upgraded(&self) -> Option<&Upgrade> {
        self.upgraded.as_ref()
    }
}

/// A path as the database's address of a file that does not change.
fn address(path: &Path) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"/._-~".contains(&byte);
    let escaped = path.as_os_str().as_encoded_bytes().iter().map(|&byte| match plain(byte) {
        true => char::from(byte).to_string(),
        false => format!("%{byte:02x}"),
    });
    format!("file:{}?immutable=1", escaped.collect::<String>())
}
