//! Just enough of complex numbers to add up coil sides.

use std::f64::consts::{PI, TAU};

/// A vector in the plane of electrical angles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phasor {
    /// Part along 0°.
    pub re: f64,
    /// Part along 90°.
    pub im: f64,
}

impl Phasor {
    /// The empty sum.
    pub const ZERO: Self = Self { re: 0.0, im: 0.0 };

    /// Unit vector at `part` / `whole` turns. The fraction is reduced to one eighth-turn sector
    /// before sine and cosine are taken, so that vectors that should cancel or mirror do so to
    /// the last bit but one.
    #[must_use]
    pub fn at_turn(part: u64, whole: u64) -> Self {
        #[expect(clippy::cast_precision_loss, reason = "below 8 · 1200, exact")]
        let angle_rad = |eighths: u64| TAU * eighths as f64 / (8 * whole) as f64;
        let eighths = 8 * (part % whole);
        let sector = eighths / whole;
        // Distance from the nearest axis, at most an eighth of a turn.
        let quarter = sector.div_ceil(2);
        let axis = quarter * 2 * whole;
        let (sin, cos) = if eighths >= axis {
            libm::sincos(angle_rad(eighths - axis))
        } else {
            let (sin, cos) = libm::sincos(angle_rad(axis - eighths));
            (-sin, cos)
        };
        match quarter % 4 {
            0 => Self { re: cos, im: sin },
            1 => Self { re: -sin, im: cos },
            2 => Self { re: -cos, im: -sin },
            _ => Self { re: sin, im: -cos },
        }
    }

    /// Sum of two.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            re: self.re + other.re,
            im: self.im + other.im,
        }
    }

    /// Itself, or its opposite.
    #[must_use]
    pub fn signed(self, positive: bool) -> Self {
        if positive {
            self
        } else {
            Self {
                re: -self.re,
                im: -self.im,
            }
        }
    }

    /// Turned counter-clockwise by an angle in rad.
    #[must_use]
    pub fn turned(self, angle_rad: f64) -> Self {
        let (sin, cos) = libm::sincos(angle_rad);
        Self {
            re: self.re * cos - self.im * sin,
            im: self.re * sin + self.im * cos,
        }
    }

    /// Divided by a number.
    #[must_use]
    pub fn over(self, divisor: f64) -> Self {
        Self {
            re: self.re / divisor,
            im: self.im / divisor,
        }
    }

    /// Length.
    #[must_use]
    pub fn magnitude(self) -> f64 {
        libm::hypot(self.re, self.im)
    }

    /// Direction in rad, above −π and at most π; 0 for the zero vector.
    #[must_use]
    pub fn angle_rad(self) -> f64 {
        libm::atan2(self.im, self.re)
    }
}

/// An angle in rad brought to above −π and at most π.
pub(super) fn wrapped(angle_rad: f64) -> f64 {
    let turns = libm::floor((PI - angle_rad) / TAU);
    angle_rad + turns * TAU
}
