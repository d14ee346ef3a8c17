//! Where pictures go, from what was typed after `--plot`.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use crate::report::plots::{PictureFormat, PlotError};
use crate::take::STANDARD_INPUT;

/// A path that ends as a picture does.
#[derive(Debug, Clone)]
pub struct PicturePath {
    path: PathBuf,
    format: PictureFormat,
}

impl PicturePath {
    /// Errors: any ending but those of pictures.
    pub fn parse(text: &str) -> Result<Self, PlotError> {
        let path = PathBuf::from(text);
        let format = PictureFormat::from_path(&path)?;
        Ok(Self { path, format })
    }

    /// Which kind of picture.
    pub fn format(&self) -> PictureFormat {
        self.format
    }

    /// A path for each of `sources`, in their order: as typed for one; with the stem of the source
    /// before the ending for several (`crows.svg` becomes `crows-take-07.svg`), and a number behind
    /// it where two sources have the same stem.
    pub fn for_each(&self, sources: &[PathBuf]) -> Vec<PathBuf> {
        if sources.len() <= 1 {
            return vec![self.path.clone(); sources.len()];
        }
        let mut used = HashSet::new();
        let mut unused = |path: PathBuf| used.insert(path.clone()).then_some(path);
        sources
            .iter()
            .filter_map(|source| {
                let stem = stem(source);
                let numbered = (2..).map(|number| self.named(&format!("{stem}-{number}")));
                std::iter::once(self.named(&stem)).chain(numbered).find_map(&mut unused)
            })
            .collect()
    }

    fn named(&self, stem: &str) -> PathBuf {
        let mut name = self.path.file_stem().unwrap_or_default().to_owned();
        name.push("-");
        name.push(stem);
        name.push(".");
        name.push(self.path.extension().unwrap_or_default());
        self.path.with_file_name(name)
    }
}

fn stem(source: &Path) -> String {
    if source.as_os_str() == STANDARD_INPUT {
        return "input".into();
    }
    source.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths(typed: &str, sources: &[&str]) -> Vec<String> {
        let sources: Vec<PathBuf> = sources.iter().map(PathBuf::from).collect();
        let paths = PicturePath::parse(typed).unwrap().for_each(&sources);
        paths.into_iter().map(|path| path.display().to_string()).collect()
    }

    #[test]
    fn one_take_has_the_name_that_was_typed() {
        assert_eq!(paths("out/crow.svg", &["a.wav"]), ["out/crow.svg"]);
    }

    #[test]
    fn several_takes_have_names_of_their_own() {
        assert_eq!(
            paths("out/crow.PNG", &["a.wav", "b/c.flac", "d/a.wav", "-", "a-2.wav"]),
            [
                "out/crow-a.PNG",
                "out/crow-c.PNG",
                "out/crow-a-2.PNG",
                "out/crow-input.PNG",
                "out/crow-a-2-2.PNG"
            ]
        );
    }

    #[test]
    fn only_pictures_can_be_drawn() {
        assert!(PicturePath::parse("crow.pdf").is_err());
    }
}
