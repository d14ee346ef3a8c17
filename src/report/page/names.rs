//! What takes are called on the page: by what tells their paths apart.

use std::path::{MAIN_SEPARATOR, is_separator};

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

/// `path` from `folder` on.
pub(super) fn name<'a>(path: &'a str, folder: &str) -> &'a str {
    // Separators of another system count alike, so lengths decide, not bytes.
    path.get(folder.len()..).filter(|rest| !rest.is_empty()).unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;

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
