//! One slot as seen from the gap: opening, body and the currents in it.
//!
//! The slot is a stack of annular sectors between iron walls: one for the opening, some for the
//! body, whose walls are parallel to the tooth beside them and so widen or narrow with the
//! radius. In each sector A is a sum of cosine modes of the angle, hyperbolic in the logarithm of
//! the radius; at each junction A agrees over the narrower arc and q vanishes on the shoulders.
//! Solved for all junctions at once (`stack`) that gives, at the top of the opening, u = Z q + s:
//! the modes of A for those of q, and what the currents add.
//!
//! Subdomains and matching as in T. Lubin, S. Mezani, A. Rezzoug, "2-D exact analytical model for
//! surface-mounted permanent-magnet motors with semi-closed slots", IEEE Trans. Magnetics 47(2),
//! 2011 (recalled from memory); here as impedances, and with the body in several sectors.

use super::dense::Square;
use super::modes::wave_number;
use super::stack::Stack;

/// How the coil sides of one slot lie in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sides {
    /// One side fills the slot.
    One,
    /// Two, side by side: the first on the clockwise half. So do tooth coils.
    Beside,
    /// Two, one above the other: the first at the bottom.
    Stacked,
}

/// One annular sector, listed from the gap to the bottom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sector {
    /// Radius at the side of the gap and at the other.
    pub(super) radii_m: [f64; 2],
    pub(super) arc_rad: f64,
    /// Part of the copper: none in the opening, and for stacked sides which of them.
    pub(super) copper: Copper,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Copper {
    None,
    Whole,
    Top,
    Bottom,
}

/// A pattern of current in a slot, and what it does. 1 A in each side it flows in.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pattern {
    /// Odd in the angle: it meets modes of odd order only.
    pub(super) odd: bool,
    /// Sum of the currents, in A.
    pub(super) current_a: f64,
    /// Where it flows, as densities in whole, top and bottom copper, 1 A in each.
    pub(super) flow: [f64; 3],
    /// u in Wb/m at the opening with q = 0 for all n ≥ 1; index n − 1.
    pub(super) potential: Vec<f64>,
    /// Linkage with each pattern below the opening, in Wb/m, with q = 0 for all n ≥ 1 and A
    /// counted from its mean over the opening.
    pub(super) leakage: Vec<f64>,
}

impl Pattern {
    const fn new(odd: bool, current_a: f64, flow: [f64; 3]) -> Self {
        Self {
            odd,
            current_a,
            flow,
            potential: Vec::new(),
            leakage: Vec::new(),
        }
    }

    fn all(sides: Sides) -> Vec<Self> {
        match sides {
            Sides::One => vec![Self::new(false, 1.0, [1.0, 0.0, 0.0])],
            Sides::Beside => vec![
                Self::new(false, 2.0, [2.0, 0.0, 0.0]),
                Self::new(true, 0.0, [2.0, 0.0, 0.0]),
            ],
            Sides::Stacked => vec![
                Self::new(false, 1.0, [0.0, 1.0, 0.0]),
                Self::new(false, 1.0, [0.0, 0.0, 1.0]),
            ],
        }
    }
}

/// Coil side currents as patterns: row side in the order of the layout, column pattern.
pub(super) fn patterns_of_sides(sides: Sides) -> &'static [&'static [f64]] {
    match sides {
        Sides::One => &[&[1.0]],
        Sides::Beside => &[&[0.5, 0.5], &[0.5, -0.5]],
        Sides::Stacked => &[&[0.0, 1.0], &[1.0, 0.0]],
    }
}

/// The slot at the top of its opening.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Port {
    pub(super) arc_rad: f64,
    /// Modes n ≥ 1; index n − 1.
    pub(super) impedance: Square,
    pub(super) patterns: Vec<Pattern>,
}

impl Sector {
    pub(super) fn depth(&self) -> f64 {
        libm::log(self.radii_m[1] / self.radii_m[0]).abs()
    }

    pub(super) fn sign(&self) -> f64 {
        (self.radii_m[1] - self.radii_m[0]).signum()
    }

    pub(super) fn area_m2(&self) -> f64 {
        let [a, b] = self.radii_m;
        0.5 * self.arc_rad * (b * b - a * a).abs()
    }

    /// coth(λτ)/λ and csch(λτ)/λ of mode n ≥ 1.
    pub(super) fn two_port(&self, n: usize) -> (f64, f64) {
        let lambda = wave_number(n, self.arc_rad);
        let x = lambda * self.depth();
        let e = libm::exp(-x);
        let whole = (1.0 - e * e) * lambda;
        ((1.0 + e * e) / whole, 2.0 * e / whole)
    }
}

impl Port {
    /// From the sectors of a slot, gap side first, and the number of modes kept in each, the mode
    /// 0 included.
    pub(super) fn new(sectors: &[Sector], n_modes: &[usize], sides: Sides) -> Self {
        let mut patterns = Pattern::all(sides);
        let mut impedance = Square::zero(n_modes[0] - 1);
        for odd in [false, true] {
            Stack::new(sectors, n_modes, odd).fill(&mut impedance, &mut patterns);
        }
        Self {
            arc_rad: sectors[0].arc_rad,
            impedance,
            patterns,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::MU_0;
    use super::*;

    fn straight(n_body: usize) -> (Vec<Sector>, Vec<usize>) {
        // A body so far out that it is a rectangle 10 mm wide and 20 mm deep, no opening.
        let (r, w, h) = (100.0, 10e-3, 20e-3);
        let step = h / f64::from(u32::try_from(n_body).unwrap());
        let sectors = (0..n_body)
            .map(|i| {
                let i = f64::from(u32::try_from(i).unwrap());
                Sector {
                    radii_m: [r + i * step, r + (i + 1.0) * step],
                    arc_rad: w / r,
                    copper: if i * step < 0.5 * h - 1e-9 {
                        Copper::Top
                    } else {
                        Copper::Bottom
                    },
                }
            })
            .collect();
        (sectors, vec![9; n_body])
    }

    /// A rectangle of width w and depth h filled with current, its top the bore: μ₀ h/(3 w) for
    /// one conductor; top and bottom halves h/(6 w) and 2 h/(3 w), mutual h/(4 w). (1 + 3 and so on
    /// over 24 of the whole: the textbook permeances of two layers; worked out here from A(h).)
    #[test]
    fn a_rectangular_slot_has_the_textbook_leakage() {
        let unit = MU_0 * 20.0 / 10.0;
        for n_body in [2, 4] {
            let (sectors, n_modes) = straight(n_body);
            let one = Port::new(&sectors, &n_modes, Sides::One);
            let got = one.patterns[0].leakage[0] / unit;
            assert!((got - 1.0 / 3.0).abs() < 1e-3, "{n_body}: {got}");
            let two = Port::new(&sectors, &n_modes, Sides::Stacked);
            for (a, b, want) in [
                (0, 0, 1.0 / 6.0),
                (1, 1, 2.0 / 3.0),
                (0, 1, 1.0 / 4.0),
                (1, 0, 1.0 / 4.0),
            ] {
                let got = two.patterns[a].leakage[b] / unit;
                assert!((got - want).abs() < 1e-3, "{n_body} {a} {b}: {got} {want}");
            }
        }
    }

    /// A slot shaped like a real one: what patterns do to each other is mutual, and the
    /// impedance is symmetric and positive.
    #[test]
    fn linkages_and_impedance_are_mutual() {
        let sector = |a: f64, b: f64, arc: f64, copper| Sector {
            radii_m: [a, b],
            arc_rad: arc,
            copper,
        };
        for sign in [1.0, -1.0] {
            let at = |depth: f64| 14e-3 + sign * depth;
            let sectors = [
                sector(at(0.0), at(1e-3), 0.14, Copper::None),
                sector(at(1e-3), at(3e-3), 0.25 + 0.02 * sign, Copper::Top),
                sector(at(3e-3), at(6e-3), 0.25 + 0.07 * sign, Copper::Bottom),
            ];
            let port = Port::new(&sectors, &[9, 14, 16], Sides::Stacked);
            let (a, b) = (&port.patterns[0], &port.patterns[1]);
            assert!((a.leakage[1] / b.leakage[0] - 1.0).abs() < 1e-9);
            assert!(b.leakage[1] > a.leakage[0] && a.leakage[0] > 0.0);
            let z = &port.impedance;
            for row in 0..z.size() {
                assert!(z.at(row, row) > 0.0);
                for column in 0..row {
                    assert!((z.at(row, column) - z.at(column, row)).abs() < 1e-12);
                }
            }
            // Finer modes change the leakage by little.
            let finer = Port::new(&sectors, &[17, 28, 32], Sides::Stacked);
            let change = finer.patterns[1].leakage[1] / b.leakage[1] - 1.0;
            assert!(change.abs() < 2e-3, "{change}");
        }
    }
}
