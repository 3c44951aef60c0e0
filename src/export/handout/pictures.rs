//! Pictures of a lesson's runs, sized for paper.

use base64::Engine as _;

use crate::export::page::escaped;
use crate::export::picture::{Picture, PictureError};
use crate::lesson::text::{PictureKind, PictureWish};
use crate::lesson::{Ran, picture_scene};
use crate::scene::{Colour, Theme, to_svg};

/// Paper is white, whatever the light theme's ground.
const PAPER: Colour = Colour::hex(0xFFFFFF);

/// A picture as an `img` with its data in it, and what is seen in words.
pub(super) struct Drawn {
    pub(super) html: String,
    /// Which part of the run it shows: `from 95.0 ms to 100 ms`.
    pub(super) span: String,
}

/// Draws a picture of a run.
pub(super) fn draw(wish: &PictureWish, ran: &Ran, words: &str) -> Result<Drawn, PictureError> {
    let theme = Theme {
        ground: PAPER,
        panel: PAPER,
        lamp: Colour::CLEAR,
        ..Theme::LIGHT
    };
    let size = match wish.what {
        _ if ran.sample(wish.at_s).is_none() => STORY,
        PictureKind::Strips => STRIPS,
        PictureKind::Story => STORY,
        PictureKind::Machine => MACHINE,
        PictureKind::Bridge => BRIDGE,
    };
    let drawn = picture_scene(wish, ran, size, &theme);
    let svg = to_svg(&drawn.scene, size, PAPER, true);
    let picture = Picture::new(svg, words.to_owned(), drawn.span.clone()).svg()?;
    let data = base64::engine::general_purpose::STANDARD.encode(picture);
    let [width, height] = size;
    let html = format!(
        "<img src=\"data:image/svg+xml;base64,{data}\" width=\"{width:.0}\" height=\"{height:.0}\" alt=\"{}\">",
        escaped(words)
    );
    Ok(Drawn {
        html,
        span: drawn.span,
    })
}

const STRIPS: [f64; 2] = [640.0, 400.0];
const STORY: [f64; 2] = [640.0, 250.0];
const MACHINE: [f64; 2] = [316.0, 316.0];
const BRIDGE: [f64; 2] = [500.0, 245.0];
