//! Files written whole or not at all.

use std::io::{self, Write};
use std::path::Path;

/// Writes a file under a temporary name beside its place, then renames it.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".").suffix(".part");
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder.unwrap_or(Path::new(".")))?;
    file.write_all(bytes)?;
    file.persist(path).map_err(|failure| failure.error)?;
    Ok(())
}
