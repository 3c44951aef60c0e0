//! Pictures of the bench side by side on one sheet.
//!
//! A sheet is laid out in points. As SVG it is one file of paths; as pixels each picture is
//! painted by whoever can, and the words are laid over them here, in the program's own typeface.

use super::picture::{Picture, PictureError, hex};
use crate::scene::{Colour, Scene, SvgParts, to_svg_part};

/// A picture at its place.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetPart {
    /// Left, top, width and height in points, y down.
    pub place: [f64; 4],
    /// What is drawn, fitted into the place.
    pub scene: Scene,
    /// What lies behind it.
    pub ground: Colour,
}

/// Pictures on a ground, with the words a screen reader says.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Width and height in points.
    pub size_points: [f64; 2],
    /// Between and behind the pictures.
    pub ground: Colour,
    /// The pictures.
    pub parts: Vec<SheetPart>,
    /// What the sheet is called.
    pub title: String,
    /// What is on it.
    pub description: String,
}

impl Sheet {
    fn picture(&self, size_px: [u32; 2], parts: SvgParts) -> Picture {
        let ([width, height], [w, h]) = (size_px, self.size_points);
        let mut drawing = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {w} {h}\">\n"
        );
        if parts != SvgParts::Words {
            drawing += &format!(
                "<rect width=\"{w}\" height=\"{h}\" fill=\"{}\"/>\n",
                hex(self.ground)
            );
        }
        for (idx, part) in self.parts.iter().enumerate() {
            let ground = (parts != SvgParts::Words).then_some(part.ground);
            let name = format!("p{idx}");
            drawing += &to_svg_part(&part.scene, part.place, ground, parts, &name);
        }
        drawing += "</svg>\n";
        Picture::new(drawing, self.title.clone(), self.description.clone())
    }

    /// The SVG file, of that size in pixels.
    ///
    /// # Errors
    /// [`PictureError::Drawing`].
    pub fn svg(&self, size_px: [u32; 2]) -> Result<String, PictureError> {
        self.picture(size_px, SvgParts::All).svg()
    }

    /// The sheet in pixels, RGBA row by row. `paint` draws a scene without its words: from its
    /// size in pixels, the pixels of a point and the ground to opaque RGBA.
    ///
    /// # Errors
    /// [`PictureError`], or that of `paint`.
    pub fn pixels<E: From<PictureError>>(
        &self,
        size_px: [u32; 2],
        mut paint: impl FnMut(&Scene, [u32; 2], f64, Colour) -> Result<Vec<u8>, E>,
    ) -> Result<Vec<u8>, E> {
        let [width, height] = size_px.map(|side| side as usize);
        let ground = [self.ground.r, self.ground.g, self.ground.b, 255];
        let mut pixels = ground.repeat(width * height);
        let pixels_per_point = f64::from(size_px[0]) / self.size_points[0];
        for part in &self.parts {
            let [left, top, part_w, part_h] = part.place.map(|side| whole(side * pixels_per_point));
            let part_px = [part_w.max(1), part_h.max(1)];
            let painted = paint(&part.scene, part_px, pixels_per_point, part.ground)?;
            let (left, row) = (left as usize, 4 * part_px[0] as usize);
            for (line, from) in painted.chunks_exact(row).enumerate() {
                let start = 4 * ((top as usize + line) * width + left);
                let end = (start + row).min(4 * (top as usize + line + 1) * width);
                if let Some(to) = pixels.get_mut(start..end) {
                    to.copy_from_slice(&from[..end - start]);
                }
            }
        }
        let words = self.picture(size_px, SvgParts::Words).pixels()?;
        for (under, over) in pixels.chunks_exact_mut(4).zip(words.chunks_exact(4)) {
            lay_over(under, over);
        }
        Ok(pixels)
    }

    /// The PNG file of such pixels.
    ///
    /// # Errors
    /// [`PictureError::Size`] where there are not as many pixels as the size says,
    /// [`PictureError::Packing`].
    pub fn png(pixels: Vec<u8>, [width, height]: [u32; 2]) -> Result<Vec<u8>, PictureError> {
        use resvg::tiny_skia::{IntSize, Pixmap};
        IntSize::from_wh(width, height)
            .and_then(|size| Pixmap::from_vec(pixels, size))
            .ok_or(PictureError::Size { width, height })?
            .encode_png()
            .map_err(|error| PictureError::Packing(error.to_string()))
    }
}

/// A pixel whose colours are already times its opacity, over an opaque one.
fn lay_over(under: &mut [u8], over: &[u8]) {
    let rest = 255 - u32::from(over[3]);
    for (under, over) in under.iter_mut().zip(over).take(3) {
        let sum = u32::from(*over) + (u32::from(*under) * rest + 127) / 255;
        *under = u8::try_from(sum).unwrap_or(u8::MAX);
    }
}

/// A length in whole pixels.
fn whole(pixels: f64) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "sides of a picture"
    )]
    let whole = pixels.round().clamp(0.0, 65_536.0) as u32;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::{Align, Shape, Width, at};

    fn sheet() -> Sheet {
        let mut scene = Scene::new(at(-1.0, -1.0), at(1.0, 1.0));
        let white = Colour::hex(0xFFFFFF);
        scene.push(Shape::text(
            at(0.0, 0.0),
            "I",
            Width::Points(40.0),
            Align::Centre,
            white,
        ));
        Sheet {
            size_points: [100.0, 50.0],
            ground: Colour::hex(0x102030),
            parts: vec![SheetPart {
                place: [50.0, 0.0, 50.0, 50.0],
                scene,
                ground: Colour::hex(0x404040),
            }],
            title: "t".to_owned(),
            description: "d".to_owned(),
        }
    }

    /// The painter's part lies where it belongs, the ground shows beside it, and the letter over
    /// it, in the middle of the part.
    #[test]
    fn pictures_lie_at_their_places_and_words_above_them() {
        let paint = |_: &Scene, size: [u32; 2], per_point: f64, ground: Colour| {
            assert_eq!((size, per_point), ([100, 100], 2.0));
            Ok::<_, PictureError>([ground.r, ground.g, ground.b, 255].repeat(100 * 100))
        };
        let pixels = sheet().pixels([200, 100], paint).unwrap();
        let pixel = |x: usize, y: usize| &pixels[4 * (200 * y + x)..][..3];
        assert_eq!(pixel(10, 50), [0x10, 0x20, 0x30]);
        assert_eq!(pixel(105, 5), [0x40, 0x40, 0x40]);
        let brightest = (140..160).map(|x| pixel(x, 50)[0]).max();
        assert!(brightest > Some(200), "{brightest:?}");
    }
}
