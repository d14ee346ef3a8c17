//! What a system refuses, and what to do about it there.

use crate::system::{BadName, System};

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
        assert!(no_permission(System::Unix).contains("chmod"));
        for words in [no_permission(System::Windows), may_not_be_written_there(System::Windows)] {
            assert!(!words.contains("chmod") && words.contains("close it"), "{words}");
        }
        let forbidden = |system| allow_microphone(system);
        assert!(forbidden(System::Windows).contains("desktop apps"));
        assert!(forbidden(System::Mac).contains("System Settings"));
        assert!(forbidden(System::Unix).contains("'audio'"));
        assert_eq!(silent_by_privacy(System::Unix), None);
        assert!(silent_by_privacy(System::Mac).is_some_and(|words| words.contains("forbidden")));
    }
}
