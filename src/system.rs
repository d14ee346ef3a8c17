//! Which system the program runs on, where advice depends on it.

/// A family of systems that refuse alike and are told the same remedies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum System {
    /// Windows.
    Windows,
    /// macOS.
    Mac,
    /// Linux, and any other Unix.
    Unix,
}

impl System {
    /// The one this program was built for.
    pub const HERE: Self = if cfg!(windows) {
        Self::Windows
    } else if cfg!(target_os = "macos") {
        Self::Mac
    } else {
        Self::Unix
    };
}

/// Has the allocator keep what is freed for what is asked for next, so that a crow's working memory is not
/// given back to the system and taken again from crow to crow, for a fifteenth of a reading's time.
///
/// GNU's allocator keeps as much as twice the largest block that it ever mapped by itself and had freed (man
/// mallopt, *dynamic adjustment of the mmap threshold*): one that nobody writes to takes no memory. To others
/// it means nothing.
pub fn keep_freed_memory() {
    const BLOCK_BYTES: usize = 16 << 20;
    drop(std::hint::black_box(Vec::<u8>::with_capacity(BLOCK_BYTES)));
}

/// Windows' numbers for a file, or a part of one, that another program keeps to itself:
/// ERROR_SHARING_VIOLATION and ERROR_LOCK_VIOLATION (Microsoft, "System Error Codes", from memory).
const HELD: [i32; 2] = [32, 33];

/// Whether `system` refused a file because another program holds it open. Unix never does.
pub fn is_held(system: System, error: &std::io::Error) -> bool {
    system == System::Windows && error.raw_os_error().is_some_and(|code| HELD.contains(&code))
}

/// Names that Windows keeps for devices, whatever their ending and capitals: Microsoft, "Naming Files,
/// Paths, and Namespaces", from memory.
const DEVICES: [&str; 4] = ["con", "prn", "aux", "nul"];
const PORTS: [&str; 2] = ["com", "lpt"];

/// Why `system` gives no file this name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadName {
    /// It stands for a device.
    Device,
    /// It holds this letter, which no name may.
    Letter(char),
    /// It ends in a full stop or a blank, which would be lost.
    End,
}

/// Whether a file may have a name, the last part of a path, on `system`.
pub fn bad_name(system: System, name: &str) -> Option<BadName> {
    if system != System::Windows {
        return None;
    }
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_ascii_lowercase();
    let is_port = |port: &str| {
        let number = stem.strip_prefix(port).unwrap_or_default();
        matches!(number.chars().collect::<Vec<_>>()[..], ['1'..='9' | '¹' | '²' | '³'])
    };
    if DEVICES.contains(&stem.as_str()) || PORTS.into_iter().any(is_port) {
        return Some(BadName::Device);
    }
    if let Some(letter) = name.chars().find(|letter| r#"<>:"|?*"#.contains(*letter)) {
        return Some(BadName::Letter(letter));
    }
    name.ends_with(['.', ' ']).then_some(BadName::End)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_devices_are_no_names_of_files_on_windows() {
        for name in ["con.png", "CON", "Nul.tar.gz", "com1.svg", "LPT9", "aux .txt", "com³"] {
            assert_eq!(bad_name(System::Windows, name), Some(BadName::Device), "{name}");
            assert_eq!(bad_name(System::Unix, name), None, "{name}");
        }
        for name in ["console.png", "com.svg", "com10.svg", "lpt0", "reed 12.png", "é.svg"] {
            assert_eq!(bad_name(System::Windows, name), None, "{name}");
        }
        assert_eq!(bad_name(System::Windows, "10:30.wav"), Some(BadName::Letter(':')));
        assert_eq!(bad_name(System::Windows, "crow?.svg"), Some(BadName::Letter('?')));
        assert_eq!(bad_name(System::Windows, "crow.svg."), Some(BadName::End));
    }

    #[test]
    fn only_windows_keeps_a_file_to_one_program() {
        let error = std::io::Error::from_raw_os_error(32);
        assert!(is_held(System::Windows, &error));
        assert!(!is_held(System::Unix, &error), "on Unix 32 is a broken pipe");
    }
}
