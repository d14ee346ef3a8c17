//! Pictures: one drawing code for SVG and PNG.
//!
//! A take and its analysis enter, the bytes of a picture leave. Figures are drawn as the reading
//! gives them; spectra and spectrograms are computed here from the samples, for the eye alone, and
//! reach no figure. Colours (Okabe and Ito's palette) are never the only carrier of meaning: each
//! octave has its own shape and dash too, so that a grey print says the same. The font is part of
//! the program, so that pictures are the same everywhere.

mod axes;
mod canvas;
mod comparison;
mod file;
mod heading;
mod history;
mod legend;
mod octaves;
mod pitch_track;
mod ranges;
mod scatter;
mod side;
mod spectral;
mod spectrogram;
mod spectrum;
mod style;
mod svg;
mod take;

pub use comparison::comparison_picture;
pub use file::{PictureFormat, PlotError};
pub use history::{WayOf, history_picture};
pub use ranges::{groups_picture, kinds_picture, trust_picture};
pub use scatter::{condition_picture, cuts_picture};
pub use side::PictureSide;
pub use spectrum::crow_shown;
pub use take::take_picture;

#[cfg(test)]
mod made;
