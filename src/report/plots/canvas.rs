//! From a drawing to the bytes of an SVG or PNG file.

use plotters::coord::Shift;
use plotters::prelude::{BitMapBackend, DrawingArea, DrawingBackend, IntoDrawingArea};

use super::file::{PictureFormat, PlotError, encode_png};
use super::style;
use super::svg::SvgCanvas;

/// Where a figure is drawn, in pixels.
pub(super) type Area<DB> = DrawingArea<DB, Shift>;

/// What every drawing function returns.
pub(super) type Drawn<DB> =
    Result<(), plotters::drawing::DrawingAreaErrorKind<<DB as DrawingBackend>::ErrorType>>;

/// A picture that any backend can draw.
pub(super) trait Drawing {
    /// Width and height in pixels.
    fn size(&self) -> (u32, u32);
    /// What the picture is, in one line.
    fn title(&self) -> String;
    /// What it shows, for those who hear it instead of seeing it.
    fn description(&self) -> String;
    /// Draws it on a white ground.
    fn draw<DB: DrawingBackend>(&self, area: &Area<DB>) -> Drawn<DB>;
}

/// The bytes of a file that holds `drawing`.
pub(super) fn render(drawing: &impl Drawing, format: PictureFormat) -> Result<Vec<u8>, PlotError> {
    style::register_fonts()?;
    let size = drawing.size();
    match format {
        PictureFormat::Svg => {
            let mut text = String::new();
            {
                let canvas =
                    SvgCanvas::new(&mut text, size, &drawing.title(), &drawing.description());
                paint(drawing, &canvas.into_drawing_area())?;
            }
            Ok(text.into_bytes())
        }
        PictureFormat::Png => {
            let mut pixels = vec![255; size.0 as usize * size.1 as usize * 3];
            paint(drawing, &BitMapBackend::with_buffer(&mut pixels, size).into_drawing_area())?;
            Ok(encode_png(&pixels, size)?)
        }
    }
}

fn paint<DB: DrawingBackend>(drawing: &impl Drawing, area: &Area<DB>) -> Result<(), PlotError> {
    let drawn = area
        .fill(&plotters::style::WHITE)
        .and_then(|()| drawing.draw(area))
        .and_then(|()| area.present());
    drawn.map_err(|error| PlotError::Drawing(error.to_string()))
}
