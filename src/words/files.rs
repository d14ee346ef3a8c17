//! Why a file cannot be written where it is named; the caller puts the name in front.

use std::io;
use std::path::Path;

use crate::system::{System, is_held};
use crate::words::system::{DISK_IS_FULL, may_not_be_written_there, refusal};

/// Its folder is missing.
pub const NO_FOLDER: &str = "its folder is not there; make the folder first";
/// A link to what is not there.
pub const DEAD_LINK: &str = "is a link that leads nowhere; name another file";
/// Neither file nor folder.
pub const IS_DEVICE: &str =
    "is a device or a pipe, which no file can take the place of; name a file";
/// It is read by the same call.
pub const IS_READ: &str = "is one of the files to be read and would be lost; name another file";
/// Two outputs are called so.
pub const IS_NAMED_TWICE: &str = "is named for two outputs; give each its own name";
/// What is there cannot be read, so that nobody knows what would be lost.
pub const IS_UNREADABLE: &str = "already exists and cannot be read; name another file";
/// A file where a folder is wanted.
pub const IS_FILE: &str = "is a file; name another folder";
/// A file that is never written over.
pub const IS_THERE: &str = "already exists and is left as it is; name another file";

/// A profile to start from was written.
pub fn profile_written(path: &Path) -> String {
    format!("{0}: written; change it and use it with --profile {0}", path.display())
}

/// What is there is something else.
///
/// * `kind`: what is to be written, with its article.
pub fn is_other(kind: &str) -> String {
    format!("already exists and is not {kind}, so it is left alone; name another file")
}

/// Why a file could not be written, and what to do.
pub fn not_written(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => NO_FOLDER.into(),
        _ if is_held(System::HERE, error) => refusal(error),
        io::ErrorKind::PermissionDenied => may_not_be_written_there(System::HERE).into(),
        io::ErrorKind::StorageFull => format!("could not be written: {DISK_IS_FULL}; make room"),
        _ => refusal(error),
    }
}

/// Why manual pages could not be written into a folder.
pub fn no_manuals(error: &io::Error) -> String {
    format!("manual pages could not be written there: {}", refusal(error))
}

/// Why a folder could not be made, and what to do.
pub fn no_folder(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory => IS_FILE.into(),
        _ => refusal(error),
    }
}

/// What a file is, with its article.
pub mod kind {
    pub(crate) const PAGE: &str = "a page of this program";
    pub(crate) const SVG: &str = "an SVG picture";
    pub(crate) const PNG: &str = "a PNG picture";
    pub(crate) const TAKES: &str = "a table of takes";
    pub(crate) const CROWS: &str = "a table of crows";
}
