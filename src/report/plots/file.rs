//! The file of a picture: its form, its bytes, and what can go wrong.

use std::path::Path;

use crate::words::pictures::{self, PICTURE_ENDINGS};

/// The file format of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureFormat {
    /// Scalable, with text that can be searched and read aloud.
    Svg,
    /// Pixels.
    Png,
}

/// Why a picture could not be made.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The file name ends in neither `.svg` nor `.png`.
    #[error("{0}: {PICTURE_ENDINGS}")]
    Ending(String),
    /// The drawing itself failed.
    #[error("{}", pictures::not_drawn(.0))]
    Drawing(String),
    /// The pixels could not be packed.
    #[error("{}", pictures::not_packed(.0))]
    Encoding(#[from] png::EncodingError),
}

impl PictureFormat {
    /// The format that the ending of `path` asks for, in capitals or not.
    ///
    /// Errors: any ending but `.svg` and `.png`.
    pub fn from_path(path: &Path) -> Result<Self, PlotError> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
        match ending.as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err(PlotError::Ending(path.display().to_string())),
        }
    }
}

/// Packs `[height × width × 3]` RGB bytes, rows from the top.
pub fn encode_png(rgb: &[u8], size: (u32, u32)) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, size.0, size.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(rgb)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ending_decides_the_format() {
        let format = |name: &str| PictureFormat::from_path(Path::new(name));
        assert_eq!(format("a/b.svg").unwrap(), PictureFormat::Svg);
        assert_eq!(format("B.PNG").unwrap(), PictureFormat::Png);
        for bad in ["a.jpg", "svg", "a.svg.gz", ""] {
            let line = format(bad).unwrap_err().to_string();
            assert_eq!(line, format!("{bad}: {}", crate::words::pictures::PICTURE_ENDINGS));
        }
    }
}
