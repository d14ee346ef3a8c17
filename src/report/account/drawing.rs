//! Small pictures of an account as shapes, drawn alike as SVG on a page and as paths in a PDF.

use maud::{Markup, html};

/// A picture, in points; x to the right, y downwards.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drawing {
    /// Its width.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// From back to front.
    pub shapes: Vec<Shape>,
    /// What it shows, for those who hear it instead of seeing it.
    pub says: String,
}

/// How dark something is; grey print tells them apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Text, outlines, what was measured.
    Dark,
    /// What is usual, guides.
    Grey,
    /// Cane with its bark.
    Bark,
    /// Scraped cane.
    Cane,
    /// The thinnest cane.
    Thin,
    /// Metal or cork.
    Staple,
    /// Nothing.
    White,
}

impl Ink {
    /// Red, green, blue.
    pub fn rgb(self) -> (u8, u8, u8) {
        match self {
            Self::Dark => (0x22, 0x22, 0x22),
            Self::Grey => (0x8a, 0x8a, 0x8a),
            Self::Bark => (0xc9, 0xa2, 0x5c),
            Self::Cane => (0xec, 0xd9, 0xab),
            Self::Thin => (0xf8, 0xf0, 0xdb),
            Self::Staple => (0xb8, 0xbc, 0xc2),
            Self::White => (0xff, 0xff, 0xff),
        }
    }

    fn hex(self) -> String {
        let (r, g, b) = self.rgb();
        format!("#{r:02x}{g:02x}{b:02x}")
    }
}

/// Where a text is set from its position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// It begins there.
    Start,
    /// It is centred there.
    Middle,
    /// It ends there.
    End,
}

/// One shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A filled outline.
    Polygon {
        /// Its corners.
        points: Vec<(f64, f64)>,
        /// Its inside.
        fill: Ink,
        /// Its rim; `None` without one.
        rim: Option<Ink>,
    },
    /// A straight line.
    Line {
        /// From.
        from: (f64, f64),
        /// To.
        to: (f64, f64),
        /// Its colour.
        ink: Ink,
        /// Its width.
        width: f64,
    },
    /// A filled circle with a dark rim.
    Dot {
        /// Its middle.
        at: (f64, f64),
        /// Its radius.
        radius: f64,
        /// Its inside.
        fill: Ink,
    },
    /// Words on one line.
    Text {
        /// Where its baseline stands.
        at: (f64, f64),
        /// How it stands there.
        anchor: Anchor,
        /// Its size.
        size: f64,
        /// Its colour.
        ink: Ink,
        /// The words.
        text: String,
    },
}

impl Drawing {
    /// As SVG for a page. Each shape is closed, as elements without an end are in HTML alone: what
    /// follows them would stand inside.
    pub fn svg(&self) -> Markup {
        let n = |value: f64| format!("{value:.2}");
        html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox={ "0 0 " (n(self.width)) " " (n(self.height)) }
                style={ "width:" (n(self.width)) "pt" } role="img" aria-label=(self.says) {
                @for shape in &self.shapes {
                    @match shape {
                        Shape::Polygon { points, fill, rim } => {
                            polygon points=(points.iter().map(|(x, y)| format!("{},{}", n(*x), n(*y)))
                                    .collect::<Vec<_>>().join(" "))
                                fill=(fill.hex())
                                stroke=(rim.map_or("none".to_owned(), Ink::hex)) stroke-width="0.6" {}
                        }
                        Shape::Line { from, to, ink, width } => {
                            line x1=(n(from.0)) y1=(n(from.1)) x2=(n(to.0)) y2=(n(to.1))
                                stroke=(ink.hex()) stroke-width=(n(*width)) {}
                        }
                        Shape::Dot { at, radius, fill } => {
                            circle cx=(n(at.0)) cy=(n(at.1)) r=(n(*radius)) fill=(fill.hex())
                                stroke=(Ink::Dark.hex()) stroke-width="0.8" {}
                        }
                        Shape::Text { at, anchor, size, ink, text } => {
                            text x=(n(at.0)) y=(n(at.1)) font-size=(n(*size)) fill=(ink.hex())
                                text-anchor=(match anchor {
                                    Anchor::Start => "start",
                                    Anchor::Middle => "middle",
                                    Anchor::End => "end",
                                }) { (text) }
                        }
                    }
                }
            }
        }
    }
}
