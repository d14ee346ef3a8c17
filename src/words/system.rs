//! What a system refuses, and what to do about it there.

use std::io;

use crate::system::{BadName, System, is_held};

/// There is nothing of that name.
pub const NO_SUCH_FILE: &str = "there is no such file; check its name and folder";
/// A folder is called so.
pub const IS_FOLDER: &str = "is a folder; name a file in it";
/// Nothing more fits; what is to be done about it depends on what was written.
pub const DISK_IS_FULL: &str = "the disk is full";

/// Why the system refuses a file, in plain words that follow on its name.
pub fn refusal(error: &io::Error) -> String {
    refusal_on(System::HERE, error)
}

fn refusal_on(system: System, error: &io::Error) -> String {
    use io::ErrorKind as Kind;
    // The standard library has no stable name for it yet; on Linux it is 40, on a Mac 62.
    let is_loop = cfg!(target_os = "linux") && error.raw_os_error() == Some(40)
        || cfg!(target_os = "macos") && error.raw_os_error() == Some(62);
    let told = match error.kind() {
        _ if is_held(system, error) => HELD,
        _ if is_loop => "is a link that leads back to itself; name the file it stands for",
        Kind::NotFound => NO_SUCH_FILE,
        Kind::PermissionDenied => no_permission(system),
        Kind::AlreadyExists => "already exists; name another",
        Kind::IsADirectory => IS_FOLDER,
        Kind::NotADirectory => "one of its folders is a file; check its name",
        Kind::InvalidFilename => "its name is too long, or holds what no name may; rename it",
        Kind::StorageFull | Kind::QuotaExceeded => {
            return format!("{DISK_IS_FULL}; make room and do it again");
        }
        Kind::FileTooLarge if error.raw_os_error().is_none() => {
            "is far too long; check that it is the right file"
        }
        Kind::FileTooLarge => "grows too large for this disk or user; make room elsewhere",
        Kind::ReadOnlyFilesystem => "its disk may not be written; choose another place",
        Kind::TimedOut | Kind::StaleNetworkFileHandle | Kind::HostUnreachable => {
            "its disk does not answer; check the connection and do it again"
        }
        Kind::NotSeekable => "is a pipe or a device, which may never give anything; name a file",
        Kind::UnexpectedEof => "ends too soon; copy it again",
        Kind::InvalidData => "is not text; check its name",
        Kind::BrokenPipe => "what was reading it has stopped; do it again",
        kind => return format!("could not be used; check the disk and do it again ({kind})"),
    };
    told.to_owned()
}

/// A file that may not be read or written.
pub fn no_permission(system: System) -> &'static str {
    match system {
        System::Windows => {
            "may not be read or written: it is marked read-only, belongs to somebody else, or another \
             program has it open; close it there, or take the mark off in its properties"
        }
        System::Mac | System::Unix => {
            "may not be read or written; ask its owner for permission, or run chmod u+rw on it"
        }
    }
}

/// A file that may not be written where it is to be.
pub fn may_not_be_written_there(system: System) -> &'static str {
    match system {
        System::Windows => {
            "may not be written there: another program has it open, or the folder is protected; close it \
             there, or choose another folder"
        }
        System::Mac | System::Unix => "may not be written there; choose another folder",
    }
}

/// A file that another program keeps to itself.
pub const HELD: &str = "is open in another program, such as a spreadsheet or a player, that lets nobody \
                        else write it; close it there and do it again";

/// The log in the same state: what holds a database so is seldom opened by hand.
pub const LOG_HELD: &str = "another program holds the log so that it cannot be written: one that backs \
                            up, copies to a cloud or looks for viruses, or a viewer of databases; close \
                            or pause it, or wait a moment, and do it again";

/// A name that no file may have.
pub fn bad_name(why: BadName) -> String {
    match why {
        BadName::Device => {
            "that name stands for a device on Windows; choose another name".to_owned()
        }
        BadName::Letter(letter) => {
            format!("no name may hold {letter} on Windows; choose another name")
        }
        BadName::End => {
            "no name may end in a full stop or a blank on Windows; choose another name".to_owned()
        }
    }
}

/// Where a system says which programs may use the microphone, as a part of a sentence.
fn privacy(system: System) -> Option<&'static str> {
    match system {
        System::Windows => Some(
            "in Settings, Privacy & security, Microphone switch on 'Microphone access' and 'Let desktop \
             apps access your microphone'",
        ),
        System::Mac => Some(
            "in System Settings, Privacy & Security, Microphone switch on the program that reedcrow runs \
             in (Terminal, say), then close that program and open it again",
        ),
        System::Unix => None,
    }
}

/// What to do where the microphone's use is not allowed.
pub fn allow_microphone(system: System) -> String {
    match privacy(system) {
        Some(how) => how.to_owned(),
        None => {
            "allow reedcrow to use the microphone (on Linux: join the group 'audio')".to_owned()
        }
    }
}

/// What may be behind an input that gives nothing at all, as a sentence beside others; a Mac gives
/// silence where its settings forbid the microphone.
pub fn silent_by_privacy(system: System) -> Option<String> {
    privacy(system).map(|how| format!("If it is not muted, it may be forbidden: {how}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_system_is_told_its_own_remedy() {
        let told = [System::Unix, System::Windows, System::Mac].map(|system| {
            let (here, there) = (no_permission(system), may_not_be_written_there(system));
            let (allow, silent) = (allow_microphone(system), silent_by_privacy(system));
            format!("{system:?}\n{here}\n{there}\n{allow}\n{}\n", silent.unwrap_or_default())
        });
        assert_eq!(told.each_ref().map(|words| words.contains("chmod")), [true, false, true]);
        assert_eq!(silent_by_privacy(System::Unix), None);
        crate::golden::held("../../src/goldens", "remedies-of-each-system", &told.concat());
    }

    /// A spreadsheet holds a table open; 32 is Windows' number for that, from memory.
    #[test]
    fn what_another_program_holds_is_told_as_that() {
        let told = refusal_on(System::Windows, &io::Error::from_raw_os_error(32));
        assert_eq!(told, HELD);
        let told = refusal_on(System::Windows, &io::ErrorKind::PermissionDenied.into());
        assert!(!told.contains("chmod"), "{told}");
    }

    /// errno of Linux, from memory: 2 ENOENT, 13 EACCES, 21 EISDIR, 28 ENOSPC, 40 ELOOP.
    #[cfg(target_os = "linux")]
    #[test]
    fn no_refusal_speaks_of_numbers() {
        for number in 1..=133 {
            let words = refusal(&io::Error::from_raw_os_error(number));
            assert!(!words.contains("os error") && words.contains(';'), "{number}: {words}");
        }
    }
}
