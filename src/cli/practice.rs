//! The tables behind the advice, where a maker has tables of their own.

use std::path::PathBuf;

use anyhow::{Context, anyhow};

use crate::advice::Practice;
use crate::files;
use crate::log::place;
use crate::words::advice::{own_practice, practice_tables};
use crate::words::system::refusal;

/// Names the file of the maker's own tables.
const VARIABLE: &str = "REEDCROW_PRACTICE";

/// More than any table of causes holds.
const MOST_BYTES: u64 = 1 << 20;

/// What it is called in the data folder.
const NAME: &str = "practice.toml";

/// Where the maker's own tables are looked for; `None` where there is no data folder.
fn in_data_folder() -> Option<PathBuf> {
    Some(place(None, None)?.with_file_name(NAME))
}

/// How such a file comes to be used.
pub fn how_to_use() -> String {
    own_practice(in_data_folder().as_deref(), VARIABLE)
}

/// Has advice given by the maker's own tables, where there are such.
///
/// Errors: a file that is named and cannot be read, or holds no such tables.
pub fn take_up() -> anyhow::Result<()> {
    let named = std::env::var_os(VARIABLE).filter(|name| !name.is_empty()).map(PathBuf::from);
    let file = match named {
        Some(file) => file,
        None => match in_data_folder().filter(|file| file.is_file()) {
            Some(file) => file,
            None => return Ok(()),
        },
    };
    let told = || practice_tables(&file);
    let text = files::read_text(&file, MOST_BYTES)
        .map_err(|error| anyhow!(refusal(&error)))
        .with_context(told)?;
    Practice::make_use_of(text.parse().with_context(told)?);
    Ok(())
}
