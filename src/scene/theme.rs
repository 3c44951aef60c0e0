//! Every colour, line width, type size and gap of every picture, light and dark.
//!
//! Whatever carries no meaning is grey. Phase is hue (and letter, and line style), pole is
//! lightness (and letter), caution is one warm red that nothing else uses.

use crate::winding::Phase;

/// A colour as sRGB bytes with straight alpha.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Colour {
    /// Red.
    pub r: u8,
    /// Green.
    pub g: u8,
    /// Blue.
    pub b: u8,
    /// Opacity; 255 covers.
    pub a: u8,
}

impl Colour {
    /// Nothing at all.
    pub const CLEAR: Self = Self {
        r: 0,
        g: 0,
        b: 0,
        a: 0,
    };

    /// An opaque colour from 0xRRGGBB.
    #[must_use]
    pub const fn hex(rgb: u32) -> Self {
        let [_, r, g, b] = rgb.to_be_bytes();
        Self { r, g, b, a: 255 }
    }

    /// The same colour with another opacity.
    #[must_use]
    pub const fn with_alpha(self, a: u8) -> Self {
        Self { a, ..self }
    }

    /// `share` (0 to 1) of the way to another colour, byte by byte.
    #[must_use]
    pub fn towards(self, other: Self, share: f64) -> Self {
        let share = share.clamp(0.0, 1.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to 255"
        )]
        let mix = |a: u8, b: u8| (f64::from(a) + (f64::from(b) - f64::from(a)) * share + 0.5) as u8;
        Self {
            r: mix(self.r, other.r),
            g: mix(self.g, other.g),
            b: mix(self.b, other.b),
            a: mix(self.a, other.a),
        }
    }

    /// Relative luminance, 0 black to 1 white (WCAG 2.2, "relative luminance").
    #[must_use]
    pub fn luminance(self) -> f64 {
        let linear = |byte: u8| {
            let share = f64::from(byte) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                libm::pow((share + 0.055) / 1.055, 2.4)
            }
        };
        0.2126 * linear(self.r) + 0.7152 * linear(self.g) + 0.0722 * linear(self.b)
    }

    /// Contrast ratio against another colour, 1 to 21 (WCAG 2.2, "contrast ratio").
    #[must_use]
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance() + 0.05, other.luminance() + 0.05);
        if a > b { a / b } else { b / a }
    }
}

/// One of the two faces of the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Theme {
    /// True for the dark one.
    pub dark: bool,
    /// The room behind everything.
    pub ground: Colour,
    /// A panel that lies on the ground.
    pub panel: Colour,
    /// A plate under words on a picture, and a control at rest.
    pub plate: Colour,
    /// Words and whatever is on.
    pub ink: Colour,
    /// Words of less weight, scales.
    pub ink_soft: Colour,
    /// Hairlines, frames, whatever is off.
    pub line: Colour,
    /// The light of the lamp on the machine.
    pub lamp: Colour,
    /// Laminated steel of the stator.
    pub steel: Colour,
    /// Its outline.
    pub steel_edge: Colour,
    /// Back iron of the rotor, bell, shaft.
    pub iron: Colour,
    /// A north pole: light.
    pub north: Colour,
    /// A south pole: dark.
    pub south: Colour,
    /// The letter on a north pole.
    pub on_north: Colour,
    /// The letter on a south pole.
    pub on_south: Colour,
    /// Phases U, V, W.
    pub phases: [Colour; 3],
    /// The insides of coil sides of U, V, W: the phase, quieter.
    pub coils: [Colour; 3],
    /// Something is wrong or leaves the range; nothing else has this colour.
    pub caution: Colour,
}

/// Width of a quiet line in points.
pub const LINE_THIN: f64 = 1.0;
/// Width of a line that carries meaning, in points.
pub const LINE_BOLD: f64 = 2.0;
/// Sizes of type in points: scale marks, words, headings, large figures.
pub const TYPE_POINTS: [f64; 4] = [11.0, 13.0, 17.0, 26.0];
/// Gaps, paddings and corners are whole multiples of this many points.
pub const GAP_POINTS: f64 = 4.0;

impl Theme {
    /// The dark face: a room with one lamp on the motor.
    ///
    /// Phases are orange, sky blue and bluish green of the set in M. Okabe, K. Ito, "Color
    /// Universal Design", 2008 (values from memory).
    pub const DARK: Self = Self {
        dark: true,
        ground: Colour::hex(0x121417),
        panel: Colour::hex(0x191C20),
        plate: Colour::hex(0x25292F),
        ink: Colour::hex(0xECEEF0),
        ink_soft: Colour::hex(0x9AA2AB),
        line: Colour::hex(0x3C434B),
        lamp: Colour {
            r: 0xF2,
            g: 0xEC,
            b: 0xDF,
            a: 26,
        },
        steel: Colour::hex(0x4D545C),
        steel_edge: Colour::hex(0x737C86),
        iron: Colour::hex(0x343940),
        north: Colour::hex(0xC9CED3),
        south: Colour::hex(0x23272C),
        on_north: Colour::hex(0x1B1E22),
        on_south: Colour::hex(0xD5D9DD),
        phases: [
            Colour::hex(0xE69F00),
            Colour::hex(0x56B4E9),
            Colour::hex(0x009E73),
        ],
        coils: [
            Colour::hex(0x6B4E11),
            Colour::hex(0x2B5670),
            Colour::hex(0x0B503D),
        ],
        caution: Colour::hex(0xF06A50),
    };

    /// The light face, for paper and bright rooms: darker twins of the same hues.
    pub const LIGHT: Self = Self {
        dark: false,
        ground: Colour::hex(0xF3F2EF),
        panel: Colour::hex(0xFCFBF9),
        plate: Colour::hex(0xE7E6E2),
        ink: Colour::hex(0x1C1F23),
        ink_soft: Colour::hex(0x5E666F),
        line: Colour::hex(0xC3C6C9),
        lamp: Colour {
            r: 0xFF,
            g: 0xFF,
            b: 0xFF,
            a: 200,
        },
        steel: Colour::hex(0xBFC4C9),
        steel_edge: Colour::hex(0x808890),
        iron: Colour::hex(0xA3A9B0),
        north: Colour::hex(0xF6F7F8),
        south: Colour::hex(0x535B64),
        on_north: Colour::hex(0x2A2E33),
        on_south: Colour::hex(0xFAFBFB),
        phases: [
            Colour::hex(0x995B00),
            Colour::hex(0x0B6FA8),
            Colour::hex(0x007756),
        ],
        coils: [
            Colour::hex(0xF1D9A6),
            Colour::hex(0xBFE0F3),
            Colour::hex(0xB2DED0),
        ],
        caution: Colour::hex(0xB8321A),
    };

    /// The hue of a phase.
    #[must_use]
    pub const fn phase(&self, phase: Phase) -> Colour {
        self.phases[phase.idx()]
    }

    /// The inside of a coil side of a phase.
    #[must_use]
    pub const fn coil(&self, phase: Phase) -> Colour {
        self.coils[phase.idx()]
    }
}

/// The three phases in order.
pub const PHASES: [Phase; 3] = [Phase::U, Phase::V, Phase::W];

/// The letter of a phase.
#[must_use]
pub const fn phase_letter(phase: Phase) -> &'static str {
    ["U", "V", "W"][phase.idx()]
}

/// The line style of a phase: U unbroken, V long dashes, W dots, for a line of that width in
/// bench units.
#[must_use]
pub fn phase_dash(phase: Phase, width: f64) -> Option<super::Dash> {
    let dash = |on: f64, period: f64| {
        Some(super::Dash {
            on,
            period,
            offset: 0.0,
        })
    };
    match phase {
        Phase::U => None,
        Phase::V => dash(3.5 * width, 6.0 * width),
        Phase::W => dash(0.0, 2.2 * width),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.2: 4.5 for words (1.4.3), 3 for graphics that carry meaning (1.4.11).
    #[test]
    fn what_carries_meaning_stands_out() {
        for theme in [Theme::DARK, Theme::LIGHT] {
            for ground in [theme.ground, theme.panel, theme.plate] {
                assert!(theme.ink.contrast(ground) > 7.0);
                assert!(
                    theme.ink_soft.contrast(ground) > 4.5,
                    "{}",
                    theme.ink_soft.contrast(ground)
                );
                assert!(
                    theme.caution.contrast(ground) > 4.5,
                    "{}",
                    theme.caution.contrast(ground)
                );
                for phase in theme.phases {
                    assert!(phase.contrast(ground) > 3.0, "{phase:?}");
                }
            }
            assert!(theme.on_north.contrast(theme.north) > 4.5);
            assert!(theme.on_south.contrast(theme.south) > 4.5);
            assert!(theme.north.contrast(theme.south) > 4.5);
            for coil in theme.coils {
                assert!(
                    theme.ink.contrast(coil) > 4.5,
                    "{coil:?} {}",
                    theme.ink.contrast(coil)
                );
            }
        }
    }

    #[test]
    fn white_on_black_is_21() {
        assert!((Colour::hex(0xFFFFFF).contrast(Colour::hex(0)) - 21.0).abs() < 1e-9);
    }
}
