//! A picture as SVG and as PNG that look the same anywhere.
//!
//! The words of a picture are set in a typeface that comes with the program and leave it as
//! outlines, so no reader needs the font. Title and description stay as text for screen readers.

use std::fmt::Write as _;
use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, WriteOptions, fontdb};

use crate::scene::Colour;

/// A drawn picture.
#[derive(Clone, Debug)]
pub struct Picture {
    /// SVG with words as text, in the generic family `sans-serif`.
    drawing: String,
    title: String,
    description: String,
}

/// Why a picture could not be made: an error of this program, since every drawing is its own.
#[derive(Debug)]
pub enum PictureError {
    /// The drawing is no SVG.
    Drawing(resvg::usvg::Error),
    /// The picture has no size or more pixels than memory.
    Size {
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
    },
    /// The PNG could not be packed.
    Packing(String),
}

impl std::fmt::Display for PictureError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Drawing(error) => write!(f, "the picture is no SVG: {error}"),
            Self::Size { width, height } => {
                write!(f, "a picture of {width} by {height} pixels cannot be made")
            }
            Self::Packing(error) => write!(f, "the PNG could not be packed: {error}"),
        }
    }
}

impl std::error::Error for PictureError {}

impl Picture {
    /// A picture from an SVG drawing, with the words a screen reader says.
    #[must_use]
    pub const fn new(drawing: String, title: String, description: String) -> Self {
        Self {
            drawing,
            title,
            description,
        }
    }

    /// The typefaces that come with the program, and none of the machine's own.
    fn options() -> Options<'static> {
        let mut fonts = fontdb::Database::new();
        fonts.load_font_data(epaint_default_fonts::UBUNTU_LIGHT.to_vec());
        fonts.load_font_data(epaint_default_fonts::HACK_REGULAR.to_vec());
        let family = fonts
            .faces()
            .next()
            .and_then(|face| face.families.first())
            .map(|(name, _)| name.clone())
            .unwrap_or_default();
        fonts.set_sans_serif_family(family.clone());
        Options {
            font_family: family,
            fontdb: Arc::new(fonts),
            ..Options::default()
        }
    }

    /// The drawing, laid out with the program's own typefaces.
    ///
    /// # Errors
    /// [`PictureError::Drawing`].
    pub fn tree(&self) -> Result<Tree, PictureError> {
        Tree::from_str(&self.drawing, &Self::options()).map_err(PictureError::Drawing)
    }

    /// The SVG file.
    ///
    /// # Errors
    /// [`PictureError::Drawing`].
    pub fn svg(&self) -> Result<String, PictureError> {
        let options = WriteOptions {
            preserve_text: false,
            coordinates_precision: 3,
            transforms_precision: 5,
            ..WriteOptions::default()
        };
        let outlined = self.tree()?.to_string(&options);
        let (head, rest) = outlined.split_once('>').unwrap_or((&outlined, ""));
        Ok(format!(
            "{head} role=\"img\">\n    <title>{}</title>\n    <desc>{}</desc>{rest}",
            escaped(&self.title),
            escaped(&self.description)
        ))
    }

    /// The drawing's pixels at its own size, RGBA row by row, each colour times its opacity.
    ///
    /// # Errors
    /// [`PictureError`].
    pub fn pixels(&self) -> Result<Vec<u8>, PictureError> {
        let tree = self.tree()?;
        let size = tree.size().to_int_size();
        let [width, height] = [size.width(), size.height()];
        let mut pixels = Pixmap::new(width, height).ok_or(PictureError::Size { width, height })?;
        resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
        Ok(pixels.take())
    }

    /// The PNG file, `pixels_per_point` times the drawing's size.
    ///
    /// # Errors
    /// [`PictureError`].
    pub fn png(&self, pixels_per_point: f32) -> Result<Vec<u8>, PictureError> {
        let tree = self.tree()?;
        let size = tree.size().to_int_size();
        let scaled = size.scale_by(pixels_per_point);
        let error = PictureError::Size {
            width: size.width(),
            height: size.height(),
        };
        let Some(size) = scaled else {
            return Err(error);
        };
        let Some(mut pixels) = Pixmap::new(size.width(), size.height()) else {
            return Err(error);
        };
        let transform = Transform::from_scale(pixels_per_point, pixels_per_point);
        resvg::render(&tree, transform, &mut pixels.as_mut());
        pixels
            .encode_png()
            .map_err(|error| PictureError::Packing(error.to_string()))
    }
}

/// Text that cannot break the file: the five special characters escaped, control characters
/// (which XML does not allow) left out.
#[must_use]
pub(crate) fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for character in words.chars() {
        match character {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '"' => text.push_str("&quot;"),
            '\'' => text.push_str("&apos;"),
            '\t' | '\n' => text.push(' '),
            character if character.is_control() || matches!(character, '\u{FFFE}' | '\u{FFFF}') => {
            }
            character => text.push(character),
        }
    }
    text
}

/// Which end of the words is at their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A drawing in the making; lengths in points, y down.
#[derive(Debug)]
pub(crate) struct Drawing {
    body: String,
    width: f64,
    height: f64,
}

/// How a line is drawn.
#[derive(Clone, Debug)]
pub(crate) struct Stroke {
    pub(crate) colour: Colour,
    pub(crate) width: f64,
    /// Lengths of dash and gap; empty: unbroken.
    pub(crate) dashes: Vec<f64>,
}

impl Stroke {
    pub(crate) const fn solid(colour: Colour, width: f64) -> Self {
        Self {
            colour,
            width,
            dashes: Vec::new(),
        }
    }
}

pub(crate) fn hex(colour: Colour) -> String {
    format!("#{:02x}{:02x}{:02x}", colour.r, colour.g, colour.b)
}

/// A length with at most two places: a hundredth of a point is below what any print shows.
pub(crate) fn place(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

impl Drawing {
    pub(crate) fn new(width: f64, height: f64, ground: Colour) -> Self {
        let mut drawing = Self {
            body: String::new(),
            width,
            height,
        };
        drawing.rect(0.0, 0.0, width, height, 0.0, ground);
        drawing
    }

    pub(crate) fn raw(&mut self, svg: &str) {
        self.body.push_str(svg);
        self.body.push('\n');
    }

    pub(crate) fn rect(
        &mut self,
        x: f64,
        y: f64,
        width: f64,
        height: f64,
        corner: f64,
        fill: Colour,
    ) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\" fill=\"{}\"/>",
            place(x),
            place(y),
            place(width),
            place(height),
            place(corner),
            hex(fill)
        );
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: &Stroke) {
        let d = format!(
            "M{} {}L{} {}",
            place(from.0),
            place(from.1),
            place(to.0),
            place(to.1)
        );
        self.path(&d, stroke, "");
    }

    /// An open path; `more` are further attributes.
    pub(crate) fn path(&mut self, d: &str, stroke: &Stroke, more: &str) {
        let dashes = if stroke.dashes.is_empty() {
            String::new()
        } else {
            let lengths: Vec<String> = stroke.dashes.iter().map(|length| place(*length)).collect();
            format!(" stroke-dasharray=\"{}\"", lengths.join(" "))
        };
        let _ = writeln!(
            self.body,
            "<path d=\"{d}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" \
             stroke-linejoin=\"round\" stroke-linecap=\"round\"{dashes}{more}/>",
            hex(stroke.colour),
            place(stroke.width),
        );
    }

    /// Words on the line `y`.
    pub(crate) fn words(
        &mut self,
        at: (f64, f64),
        size: f64,
        anchor: Anchor,
        colour: Colour,
        words: &str,
    ) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-family=\"sans-serif\" font-size=\"{}\" \
             text-anchor=\"{anchor}\" fill=\"{}\">{}</text>",
            place(at.0),
            place(at.1),
            place(size),
            hex(colour),
            escaped(words)
        );
    }

    pub(crate) fn finish(self) -> String {
        let (width, height) = (place(self.width), place(self.height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\">\n{}</svg>\n",
            self.body
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture() -> Picture {
        let mut drawing = Drawing::new(100.0, 50.0, Colour::hex(0xFF_FF_FF));
        drawing.words(
            (10.0, 30.0),
            13.0,
            Anchor::Start,
            Colour::hex(0),
            "a < b & \u{1} ‘ωΔ’",
        );
        Picture::new(drawing.finish(), "<T>".to_owned(), "d & e".to_owned())
    }

    /// No reader needs a font, and a screen reader still finds the words.
    #[test]
    fn words_leave_as_outlines() {
        let svg = picture().svg().unwrap();
        assert!(!svg.contains("<text"), "{svg}");
        assert!(svg.contains("<title>&lt;T&gt;</title>"), "{svg}");
        assert!(svg.contains("<desc>d &amp; e</desc>"), "{svg}");
        let again = Tree::from_str(&svg, &Options::default()).unwrap();
        assert_eq!(again.size().width(), 100.0);
    }

    #[test]
    fn a_png_has_the_wanted_size() {
        let png = picture().png(2.0).unwrap();
        assert_eq!(png[..8], [0x89, b'P', b'N', b'G', 13, 10, 26, 10]);
        // Width and height stand big-endian from byte 16 (RFC 2083, section 4.1.1).
        assert_eq!(png[16..24], [0, 0, 0, 200, 0, 0, 0, 100]);
    }
}
