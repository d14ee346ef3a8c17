//! The profiles that come with the program, and the way from a name or a path to a profile.

use std::io::Read;
use std::path::Path;
use std::sync::LazyLock;

use super::error::Wrong;
use super::parse::parse;
use super::{Profile, ProfileError};

/// A profile that comes with the program.
#[derive(Debug, Clone, Copy)]
pub struct BuiltIn {
    /// Its name.
    pub name: &'static str,
    /// The whole TOML text, comments and provenance included.
    pub toml: &'static str,
}

/// All of them; the first is the default.
pub const BUILT_IN: [BuiltIn; 5] = [
    BuiltIn { name: "american-oboe", toml: include_str!("american-oboe.toml") },
    BuiltIn { name: "european-oboe", toml: include_str!("european-oboe.toml") },
    BuiltIn { name: "oboe-damore", toml: include_str!("oboe-damore.toml") },
    BuiltIn { name: "english-horn", toml: include_str!("english-horn.toml") },
    BuiltIn { name: "bassoon", toml: include_str!("bassoon.toml") },
];

/// A profile is a page of text; whatever is larger is something else.
const MOST_BYTES: u64 = 256 * 1024;

/// Read once: comparisons over a whole log ask for it often.
static AMERICAN_OBOE: LazyLock<Profile> = LazyLock::new(|| {
    let BuiltIn { name, toml } = BUILT_IN[0];
    parse(name, toml, None).expect("the built-in profiles are read by a test")
});

pub(super) fn american_oboe() -> Profile {
    AMERICAN_OBOE.clone()
}

/// The profile of that built-in name, or in the file of that path.
///
/// Errors: no such name or file, a file that cannot be read, and any line that is wrong.
pub fn load(name_or_path: &str) -> Result<Profile, ProfileError> {
    Ok(load_with_text(name_or_path)?.0)
}

/// The same with the text it was read from: a pipe gives it only once.
pub(crate) fn load_with_text(name_or_path: &str) -> Result<(Profile, String), ProfileError> {
    if let Some(built_in) = BUILT_IN.iter().find(|built_in| built_in.name == name_or_path) {
        let profile = parse(built_in.name, built_in.toml, Some(&american_oboe()))?;
        return Ok((profile, built_in.toml.to_owned()));
    }
    if !Path::new(name_or_path).exists() {
        return Err(ProfileError::NotFound { asked: name_or_path.to_owned(), names: names() });
    }
    let text = text_of(name_or_path)?;
    let profile = parse(name_or_path, &text, Some(&american_oboe()))?;
    if BUILT_IN.iter().any(|built_in| built_in.name == profile.name) {
        return Err(ProfileError::Line {
            path: name_or_path.to_owned(),
            line: 1,
            what: Wrong::BuiltIn(&profile.name).to_string(),
        });
    }
    Ok((profile, text))
}

/// What stands over a profile of one's own: which one it was started from.
#[derive(Debug)]
pub(crate) struct StartedFrom<'a>(pub &'a str);

/// The text of a file to start your own profile from: the built-in one named `like`, renamed.
///
/// Errors: `like` is not built in.
pub fn starter(name: &str, like: &str) -> Result<String, ProfileError> {
    let built_in = BUILT_IN
        .iter()
        .find(|built_in| built_in.name == like)
        .ok_or_else(|| ProfileError::NotFound { asked: like.to_owned(), names: names() })?;
    let own_name = format!("name = \"{name}\"");
    let body = built_in.toml.replacen(&format!("name = \"{}\"", built_in.name), &own_name, 1);
    Ok(format!("{}\n{body}", StartedFrom(like)))
}

fn names() -> String {
    BUILT_IN.map(|built_in| built_in.name).join(", ")
}

fn text_of(path: &str) -> Result<String, ProfileError> {
    let failed = |cause| ProfileError::File { path: path.to_owned(), cause };
    let file = crate::files::open(path.as_ref()).map_err(failed)?;
    let mut bytes = Vec::new();
    let read = file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)? as u64;
    if read > MOST_BYTES {
        return Err(ProfileError::Size { path: path.to_owned(), bytes: read, most: MOST_BYTES });
    }
    String::from_utf8(bytes).map_err(|_| ProfileError::Line {
        path: path.to_owned(),
        line: 1,
        what: Wrong::NotUtf8.to_string(),
    })
}
