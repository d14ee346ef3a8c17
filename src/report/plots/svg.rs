//! A plotters backend that writes SVG.
//!
//! plotters' own writes bitmaps with a data URL that browsers refuse, sets text elsewhere than its
//! bitmap backend does, and has no place for a title; so this one draws what pictures here need:
//! the same layout as the PNG, a title and description for screen readers, and bitmaps.

use std::convert::Infallible;
use std::fmt::Write;

use base64::Engine;
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontStyle, FontTransform,
    text_anchor::{HPos, VPos},
};

use super::file::encode_png;
use super::style::EM_PER_SIZE;

/// Writes each shape to `text` as it comes; closes the document when presented.
pub(super) struct SvgCanvas<'a> {
    text: &'a mut String,
    size: (u32, u32),
    open: bool,
}

type Shape = Result<(), DrawingErrorKind<Infallible>>;

impl<'a> SvgCanvas<'a> {
    /// Begins a document of `size` pixels in `text`.
    pub(super) fn new(
        text: &'a mut String,
        size: (u32, u32),
        title: &str,
        description: &str,
    ) -> Self {
        let (width, height) = size;
        let mut canvas = Self { text, size, open: true };
        canvas.put(format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"title description\">\n\
             <title id=\"title\">{}</title>\n<desc id=\"description\">{}</desc>\n",
            escape(title),
            escape(description),
        ));
        canvas
    }

    fn put(&mut self, shape: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.text.write_fmt(shape);
    }
}

impl DrawingBackend for SvgCanvas<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Shape {
        Ok(())
    }

    fn present(&mut self) -> Shape {
        if self.open {
            self.open = false;
            self.text.push_str("</svg>\n");
        }
        Ok(())
    }

    fn draw_pixel(&mut self, (x, y): BackendCoord, color: BackendColor) -> Shape {
        let fill = paint("fill", color);
        self.put(format_args!("<rect x=\"{x}\" y=\"{y}\" width=\"1\" height=\"1\"{fill}/>\n"));
        Ok(())
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Shape {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        (left, top): BackendCoord,
        (right, bottom): BackendCoord,
        style: &S,
        fill: bool,
    ) -> Shape {
        if style.color().alpha > 0.0 {
            let (width, height) = ((right - left).max(0), (bottom - top).max(0));
            let look = look(style, fill);
            self.put(format_args!(
                "<rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\"{look}/>\n"
            ));
        }
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Shape {
        if style.color().alpha > 0.0 {
            let (points, look) = (points(path), look(style, false));
            self.put(format_args!("<polyline points=\"{points}\"{look}/>\n"));
        }
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        (x, y): BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Shape {
        if style.color().alpha > 0.0 {
            let look = look(style, fill);
            self.put(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"{look}/>\n"));
        }
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        corners: I,
        style: &S,
    ) -> Shape {
        if style.color().alpha > 0.0 {
            let (points, look) = (points(corners), look(style, true));
            self.put(format_args!("<polygon points=\"{points}\"{look}/>\n"));
        }
        Ok(())
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Shape {
        let anchor = match style.anchor().h_pos {
            HPos::Left => "start",
            HPos::Center => "middle",
            HPos::Right => "end",
        };
        // The bitmap backend sets the baseline half a size below the top of a box that is
        // size / 1.24 high.
        let baseline = style.size()
            * match style.anchor().v_pos {
                VPos::Top => 0.5,
                VPos::Center => 0.5 - 0.5 / 1.24,
                VPos::Bottom => 0.5 - 1.0 / 1.24,
            };
        let turn = match style.transform() {
            FontTransform::None => String::new(),
            FontTransform::Rotate90 => format!(" transform=\"rotate(90 {x} {y})\""),
            FontTransform::Rotate180 => format!(" transform=\"rotate(180 {x} {y})\""),
            FontTransform::Rotate270 => format!(" transform=\"rotate(270 {x} {y})\""),
        };
        let weight = match style.style() {
            FontStyle::Bold => " font-weight=\"bold\"",
            _ => "",
        };
        let (fill, family) = (paint("fill", style.color()), style.family());
        self.put(format_args!(
            "<text x=\"{x}\" y=\"{y}\" dy=\"{baseline:.1}\" text-anchor=\"{anchor}\" \
             font-family=\"{}\" font-size=\"{:.1}\"{weight}{fill}{turn}>{}</text>\n",
            family.as_str(),
            style.size() * EM_PER_SIZE,
            escape(text),
        ));
        Ok(())
    }

    fn blit_bitmap(
        &mut self,
        (x, y): BackendCoord,
        (width, height): (u32, u32),
        rgb: &[u8],
    ) -> Shape {
        let png = encode_png(rgb, (width, height))
            .map_err(|error| DrawingErrorKind::FontError(Box::new(error)))?;
        let data = base64::engine::general_purpose::STANDARD.encode(png);
        self.put(format_args!(
            "<image x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" \
             href=\"data:image/png;base64,{data}\"/>\n"
        ));
        Ok(())
    }
}

fn look<S: BackendStyle>(style: &S, fill: bool) -> String {
    if fill {
        return paint("fill", style.color());
    }
    let width = style.stroke_width();
    format!(" fill=\"none\"{} stroke-width=\"{width}\"", paint("stroke", style.color()))
}

fn paint(what: &str, color: BackendColor) -> String {
    let (red, green, blue) = color.rgb;
    let opacity = match color.alpha {
        alpha if alpha >= 1.0 => String::new(),
        alpha => format!(" {what}-opacity=\"{alpha:.2}\""),
    };
    format!(" {what}=\"#{red:02x}{green:02x}{blue:02x}\"{opacity}")
}

fn points(path: impl IntoIterator<Item = BackendCoord>) -> String {
    let mut text = String::new();
    for (x, y) in path {
        let _ = write!(text, "{x},{y} ");
    }
    text.truncate(text.trim_end().len());
    text
}

/// `text` as XML character data; characters that XML forbids become U+FFFD.
fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '&' => safe.push_str("&amp;"),
            '"' => safe.push_str("&quot;"),
            '\u{fffe}' | '\u{ffff}' => safe.push('\u{fffd}'),
            control if control < ' ' => safe.push('\u{fffd}'),
            other => safe.push(other),
        }
    }
    safe
}
