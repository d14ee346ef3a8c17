//! One tall picture of one take.

use std::path::Path;

use plotters::prelude::DrawingBackend;

use super::canvas::{Area, Drawing, Drawn, render};
use super::file::{PictureFormat, PlotError};
use super::octaves::Octaves;
use super::{heading, pitch_track, spectrogram, spectrum};
use crate::pitch::A4;
use crate::profile::Profile;
use crate::reading::Analysis;
use crate::take::Take;
use crate::words::format::counted;
use crate::words::pictures::take as words;

/// Heights of heading, spectrum, pitch over time and spectrogram in pixels.
const HEIGHTS: [u32; 4] = [118, 440, 360, 380];
const WIDTH: u32 = 1100;

struct TakePicture<'a> {
    take: &'a Take,
    analysis: &'a Analysis,
    profile: &'a Profile,
    octaves: Option<Octaves>,
}

/// Draws a take: its spectrum with the partials of each octave, its pitch over time against the
/// target of `profile`, and its spectrogram.
///
/// * `take`: the samples that `analysis` was read from.
///
/// Returns the bytes of a file of `format`; the same bytes for the same input. Any take can be
/// drawn: what it does not hold is said in the picture. Time and memory beyond the samples do not
/// grow with the take's length.
///
/// Errors: none that depend on the take; see [`PlotError`].
pub fn take_picture(
    take: &Take,
    analysis: &Analysis,
    profile: &Profile,
    a4: A4,
    format: PictureFormat,
) -> Result<Vec<u8>, PlotError> {
    let octaves = Octaves::of(&analysis.reading, profile, a4);
    render(&TakePicture { take, analysis, profile, octaves }, format)
}

impl TakePicture<'_> {
    /// What the recording is called, without the folders it lies in.
    fn name(&self) -> &str {
        let source = &self.analysis.reading.source;
        Path::new(source).file_name().and_then(|name| name.to_str()).unwrap_or(source)
    }

    fn lines(&self) -> Vec<String> {
        let reading = &self.analysis.reading;
        let crows = counted(reading.summary.crow_count, "crow");
        let shown = spectrum::crow_shown(self.analysis);
        let of = shown.map_or_else(String::new, |crow| words::spectrum_of(&crow));
        vec![
            heading::pitch_and_kind(reading, self.profile),
            words::heard_in(&crows, reading.duration_s, &reading.profile, reading.a4_hz) + &of,
        ]
    }
}

impl Drawing for TakePicture<'_> {
    fn size(&self) -> (u32, u32) {
        (WIDTH, HEIGHTS.iter().sum())
    }

    fn title(&self) -> String {
        words::title(self.name())
    }

    fn description(&self) -> String {
        format!("{}. {}", self.lines().join("; "), words::CHARTS)
    }

    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB> {
        let [head, first, second, _] = HEIGHTS;
        let (top, rest) = area.split_vertically(head);
        let (upper, rest) = rest.split_vertically(first);
        let (middle, lower) = rest.split_vertically(second);
        let octaves = self.octaves.as_ref();
        heading::draw(&top, self.name(), &self.lines())?;
        spectrum::draw(&upper, self.take, self.analysis, octaves)?;
        pitch_track::draw(&middle, self.analysis, octaves, self.take.duration_s())?;
        spectrogram::draw(&lower, self.take, self.analysis, octaves)
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{MadeCrow, made, two_crows};
    use super::*;
    use crate::reading::{Figures, TrackPoint};

    fn picture(take: &Take, analysis: &Analysis, format: PictureFormat) -> Vec<u8> {
        take_picture(take, analysis, &Profile::default(), A4::default(), format).unwrap()
    }

    fn svg(take: &Take, analysis: &Analysis) -> String {
        String::from_utf8(picture(take, analysis, PictureFormat::Svg)).unwrap()
    }

    /// The text elements of an SVG.
    fn texts(svg: &str) -> Vec<&str> {
        let elements = svg.lines().filter(|line| line.starts_with("<text"));
        elements.filter_map(|line| line.split('>').nth(1)?.split('<').next()).collect()
    }

    #[test]
    fn axes_octaves_and_heading_are_named_with_their_units() {
        let (take, analysis) = made(&two_crows(), 3.6, 48_000);
        let svg = svg(&take, &analysis);
        let texts = texts(&svg);
        for expected in [
            "frequency (Hz)",
            "level (dB of full scale)",
            "time (s)",
            "cents from the target C5",
            "C5",
            "octave of C5",
            "octave of C6",
            "combination tone",
            "room noise",
            "steady part",
            "Spectrum",
            "made &amp; &quot;&lt;odd&gt;&quot; name.wav",
        ] {
            assert!(texts.contains(&expected), "{expected} is not among {texts:?}");
        }
        let read = heading::pitch_and_kind(&analysis.reading, &Profile::default());
        assert!(read.contains("38") && svg.contains(&read), "{read}");
        assert!(svg.contains(&words::spectrum_of(&words::longest(2, 2))));
        let title = words::title("made &amp; ");
        assert!(svg.contains(&format!("<title id=\"title\">{title}")));
    }

    #[test]
    fn everything_drawn_lies_inside_the_picture() {
        let (take, analysis) = made(&two_crows(), 3.6, 48_000);
        let svg = svg(&take, &analysis);
        let (width, height) = (WIDTH as i32, HEIGHTS.iter().sum::<u32>() as i32);
        let paths = svg.split("points=\"").skip(1).filter_map(|rest| rest.split('"').next());
        let mut count = 0;
        for point in paths.flat_map(|path| path.split(' ')) {
            let (x, y) = point.split_once(',').unwrap();
            let (x, y): (i32, i32) = (x.parse().unwrap(), y.parse().unwrap());
            assert!((0..=width).contains(&x) && (0..=height).contains(&y), "{point}");
            count += 1;
        }
        assert!(count > 1000, "{count}");
    }

    #[test]
    fn the_same_take_makes_the_same_bytes() {
        let (take, analysis) = made(&two_crows(), 3.6, 48_000);
        for format in [PictureFormat::Svg, PictureFormat::Png] {
            assert!(picture(&take, &analysis, format) == picture(&take, &analysis, format));
        }
    }

    #[test]
    fn a_png_decodes_to_the_picture_size_and_is_not_blank() {
        let (take, analysis) = made(&two_crows(), 3.6, 8_000);
        let bytes = picture(&take, &analysis, PictureFormat::Png);
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        let info = reader.next_frame(&mut pixels).unwrap();
        assert_eq!((info.width, info.height), (WIDTH, HEIGHTS.iter().sum()));
        assert!(pixels.iter().any(|value| *value < 64));
    }

    /// No picture fails for what a take does not hold.
    #[test]
    fn empty_short_silent_and_odd_takes_have_a_picture() {
        let (take, analysis) = made(&[], 0.5, 8_000);
        assert!(svg(&take, &analysis).contains(words::NO_TONE));

        for samples in [vec![], vec![0.5], vec![0.0; 8_000]] {
            let mut take = Take { samples, ..take.clone() };
            assert!(svg(&take, &analysis).ends_with("</svg>\n"));
            take.sample_rate_hz = 0;
            assert!(svg(&take, &analysis).contains(words::SHORT_SPECTRUM));
        }

        let (take, mut analysis) = made(&two_crows(), 3.6, 8_000);
        for (crow, tracks) in analysis.reading.crows.iter_mut().zip(&mut analysis.tracks) {
            crow.figures = Figures::default();
            tracks.steady_s = None;
            let point = TrackPoint { time_s: 1.0, hz: Some(f64::NAN), level_dbfs: None };
            tracks.rungs = vec![vec![point]];
            tracks.partials[0].level_dbfs = f64::NEG_INFINITY;
        }
        analysis.floor.clear();
        let odd = svg(&take, &analysis);
        let mut shapes = odd.lines().filter(|line| !line.starts_with("<image"));
        assert!(odd.ends_with("</svg>\n") && shapes.all(|line| !line.contains("NaN")));
        analysis.tracks.clear();
        assert!(svg(&take, &analysis).contains("</svg>"));
    }

    /// An hour at 8 kHz with a crow every four seconds: the picture stays small, whatever the take.
    #[test]
    fn a_long_take_has_no_larger_picture() {
        let crows: Vec<MadeCrow> = (0..900)
            .map(|index| MadeCrow {
                low_hz: 511.9,
                upper_hz: 1023.8,
                start_s: 4.0 * f64::from(index) + 0.5,
                end_s: 4.0 * f64::from(index) + 2.5,
            })
            .collect();
        let (take, mut analysis) = made(&crows, 1.0, 8_000);
        let long = Take { samples: vec![0.01; 3600 * 8_000], ..take };
        analysis.reading.duration_s = 3600.0;
        let svg = svg(&long, &analysis);
        assert!(texts(&svg).contains(&"time (min)"));
        assert!(svg.len() < 2_000_000, "{}", svg.len());
    }
}
