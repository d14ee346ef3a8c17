//! Where the log is.

use std::path::PathBuf;

/// The environment variable that names the log's file.
pub const LOG_VARIABLE: &str = "REEDCROW_LOG";

/// The log's file: `given` on the command line, else what the environment variable `named`, else
/// `reeds.db` in the user's data folder; `None` where the system has no such folder.
pub fn place(given: Option<PathBuf>, named: Option<PathBuf>) -> Option<PathBuf> {
    given.or(named.filter(|path| !path.as_os_str().is_empty())).or_else(|| {
        directories::ProjectDirs::from("", "", "reedcrow")
            .map(|folders| folders.data_dir().join("reeds.db"))
    })
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
}
