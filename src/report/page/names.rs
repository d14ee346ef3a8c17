//! What takes are called on the page: by what tells their paths apart.

use std::fmt::Write;
use std::path::{Component, MAIN_SEPARATOR, Path, is_separator};

/// The folder that all of `paths` lie in, with a separator at its end; empty where there is none.
pub fn common_folder<'a>(paths: impl IntoIterator<Item = &'a str>) -> String {
    let mut shared: Option<Vec<&str>> = None;
    for path in paths {
        let mut steps: Vec<&str> = path.split(is_separator).collect();
        steps.pop();
        let alike = shared.as_ref().map_or(steps.len(), |shared| {
            shared.iter().zip(&steps).take_while(|(ours, theirs)| ours == theirs).count()
        });
        steps.truncate(alike);
        shared = Some(steps);
    }
    let separator = MAIN_SEPARATOR.to_string();
    shared.unwrap_or_default().iter().map(|step| (*step).to_owned() + &separator).collect()
}

/// How a page in `folder` links to `file`, both whole paths: by the way from the one to the other,
/// as a URI has it. `None` for two that share no root.
pub fn link(folder: &Path, file: &Path) -> Option<String> {
    let (ours, theirs): (Vec<Component>, Vec<Component>) =
        (folder.components().collect(), file.components().collect());
    let shared = ours.iter().zip(&theirs).take_while(|(ours, theirs)| ours == theirs).count();
    if shared == 0 {
        return None;
    }
    let up = ours[shared..].iter().map(|_| "..".to_owned());
    let down = theirs[shared..].iter().map(|step| escaped(step.as_os_str().as_encoded_bytes()));
    Some(up.chain(down).collect::<Vec<_>>().join("/"))
}

/// What RFC 3986 calls unreserved stays; of all else each byte becomes `%` and two digits.
fn escaped(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, &byte| {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            text.push(char::from(byte));
        } else {
            let _ = write!(text, "%{byte:02X}");
        }
        text
    })
}

/// `path` from `folder` on.
pub(super) fn name<'a>(path: &'a str, folder: &str) -> &'a str {
    // Separators of another system count alike, so lengths decide, not bytes.
    path.get(folder.len()..).filter(|rest| !rest.is_empty()).unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_is_the_way_from_the_page_to_the_file() {
        let of = |folder: &str, file: &str| link(Path::new(folder), Path::new(file)).unwrap();
        assert_eq!(of("/a/b", "/a/b/p/c.svg"), "p/c.svg");
        assert_eq!(of("/a/b", "/a/p/50 % é.svg"), "../p/50%20%25%20%C3%A9.svg");
        assert_eq!(of("/", "/p#?.svg"), "p%23%3F.svg");
    }

    #[test]
    fn names_count_from_the_folder_that_all_share() {
        let folder = |paths: &[&str]| common_folder(paths.iter().copied());
        assert_eq!(folder(&["/a/b/c.wav", "/a/b/d/e.wav", "/a/b/f.wav"]), "/a/b/");
        assert_eq!(folder(&["a/b.wav"]), "a/");
        assert_eq!(folder(&["ab/c.wav", "a/c.wav"]), "");
        assert_eq!(folder(&["/c.wav", "/d.wav"]), "/");
        assert_eq!(folder(&[]), "");
        assert_eq!(name("/a/b/d/e.wav", "/a/b/"), "d/e.wav");
        assert_eq!(name("e.wav", ""), "e.wav");
    }
}
