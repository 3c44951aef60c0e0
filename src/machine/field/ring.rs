//! Magnet ring and gap: closed forms for one harmonic of the angle.
//!
//! ```text
//!   rotor iron │ magnets │   gap   │ stator
//!   μ = ∞      R_r       R_m       R_s        radii; an outrunner has them the other way round
//!              depth ───────────────────►     ξ = |ln(r / R)|, towards the stator
//! ```
//!
//! The field is that of a vector potential A along the shaft, Wb/m, in harmonics of the angle:
//! A_ξξ = ν² A in the gap, with ξ the logarithm of the radius. What a harmonic carries across a
//! circle is q = −∂A/∂ξ, so μ₀ r H_θ up to the sign of the construction. The magnets
//! fill the whole ring with their recoil permeability; in the spaces between them only the
//! magnetisation is missing.
//!
//! The equations are those of Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, "Instantaneous magnetic
//! field distribution in brushless permanent magnet DC motors, Part I: Open-circuit field",
//! IEEE Trans. Magnetics 29(1), 1993, in another arrangement, worked out anew here; the test
//! below holds them against the published closed form as recalled from memory.

use crate::setup::{Construction, Magnetisation};

/// Radii of the ring, in m, and the permeability in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Stator surface.
    pub stator_radius_m: f64,
    /// Magnet face at the gap.
    pub face_radius_m: f64,
    /// Magnet back on the rotor iron.
    pub back_radius_m: f64,
    /// Relative recoil permeability of the magnets.
    pub permeability: f64,
}

/// The magnets of a rotor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Magnets {
    /// Pole pairs.
    pub pole_pairs: u32,
    /// Remanence in T.
    pub remanence_t: f64,
    /// Arc as a part of the pole pitch, above 0 to 1.
    pub arc: f64,
    /// Direction of magnetisation.
    pub magnetisation: Magnetisation,
}

impl Magnets {
    /// Amplitudes of the remanence at the order n of the pole pair, in T, from the middle of a
    /// magnet that is magnetised outwards: radial part Σ m_r cos(n p θ), tangential part
    /// Σ m_θ sin(n p θ). Even orders vanish.
    ///
    /// Radial: m_r = 4 B/(n π) sin(n π α/2), m_θ = 0. Parallel: B (cos θ, −sin θ) over each arc.
    /// (Fourier integrals; cf. Zhu and Howe 1993, Part I.)
    #[must_use]
    pub fn harmonic_t(&self, order: u32) -> (f64, f64) {
        if order.is_multiple_of(2) {
            return (0.0, 0.0);
        }
        let p = f64::from(self.pole_pairs);
        let n = f64::from(order);
        let half_arc_rad = self.arc * std::f64::consts::FRAC_PI_2 / p;
        match self.magnetisation {
            Magnetisation::Radial => {
                let factor = 4.0 / (n * std::f64::consts::PI);
                let part = self.remanence_t * factor * libm::sin(n * p * half_arc_rad);
                (part, 0.0)
            }
            Magnetisation::Parallel => {
                let factor = self.remanence_t * 2.0 * p / std::f64::consts::PI;
                let sum = half_arc_rad * sinc((n * p + 1.0) * half_arc_rad);
                let difference = half_arc_rad * sinc((n * p - 1.0) * half_arc_rad);
                (factor * (sum + difference), factor * (sum - difference))
            }
        }
    }
}

/// sin(x)/x.
pub(super) fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-4 {
        1.0 - x * x / 6.0
    } else {
        libm::sin(x) / x
    }
}

/// cosh(x − y) / cosh(x)-like ratios without overflow: (a cosh u + b sinh u) / (c cosh w +
/// d sinh w) for 0 ≤ u ≤ w.
fn hyperbolic_ratio(a: f64, b: f64, u: f64, c: f64, d: f64, w: f64) -> f64 {
    let (eu, ew) = (libm::exp(-2.0 * u), libm::exp(-2.0 * w));
    libm::exp(u - w) * (a * (1.0 + eu) + b * (1.0 - eu)) / (c * (1.0 + ew) + d * (1.0 - ew))
}

fn coth(x: f64) -> f64 {
    1.0 / libm::tanh(x)
}

impl Ring {
    /// Logarithmic width of the gap, above 0.
    #[must_use]
    pub fn gap_depth(&self) -> f64 {
        libm::log(self.stator_radius_m / self.face_radius_m).abs()
    }

    /// Logarithmic width of the magnets, above 0.
    #[must_use]
    pub fn magnet_depth(&self) -> f64 {
        libm::log(self.face_radius_m / self.back_radius_m).abs()
    }

    /// +1 for a stator outside the magnets, −1 for one inside.
    fn outwards(&self) -> f64 {
        match self.construction() {
            Construction::Inrunner => 1.0,
            Construction::Outrunner => -1.0,
        }
    }

    /// Rotor inside or outside, as the radii say.
    #[must_use]
    pub fn construction(&self) -> Construction {
        if self.stator_radius_m > self.face_radius_m {
            Construction::Inrunner
        } else {
            Construction::Outrunner
        }
    }

    /// −A per q at the gap circle of radius `radius_m`, for a harmonic |ν| that enters q at the
    /// stator surface, magnets not magnetised.
    #[must_use]
    pub fn impedance(&self, order: f64, radius_m: f64) -> f64 {
        let nu = order.abs();
        let ring = self.permeability * coth(nu * self.magnet_depth());
        let depth = nu * libm::log(radius_m / self.face_radius_m).abs();
        let whole = nu * self.gap_depth();
        hyperbolic_ratio(ring, 1.0, depth.min(whole), 1.0, ring, whole) / nu
    }

    /// Amplitude of A in Wb/m, times sin(ν θ), at the gap circle of radius `radius_m` of a
    /// smooth stator, for the remanence m_r cos(ν θ), m_θ sin(ν θ) in T of order ν ≥ 1.
    ///
    /// The radial flux density there is ν A / r · cos(ν θ).
    #[must_use]
    pub fn potential(&self, order: f64, radial_t: f64, tangential_t: f64, radius_m: f64) -> f64 {
        let nu = order;
        let sign = self.outwards();
        let (back, face) = (self.back_radius_m, self.face_radius_m);
        // A_tt − ν² A = −r (m_θ + ν m_r), t = ln r: a particular solution and its slope in t.
        let source = tangential_t + nu * radial_t;
        let particular = |radius: f64| {
            if (nu - 1.0).abs() < 1e-9 {
                let log = libm::log(radius / face);
                let a = -0.5 * source * radius;
                (a * log, a * (log + 1.0))
            } else {
                let a = source * radius / (nu * nu - 1.0);
                (a, a)
            }
        };
        let ((_, back_slope), (face_value, face_slope)) = (particular(back), particular(face));
        // What the homogeneous part has to carry at the iron and at the face.
        let at_back = sign * (back * tangential_t + back_slope);
        let at_face = sign * (face * tangential_t + face_slope);
        let depth = nu * self.magnet_depth();
        let (tanh, coth) = (libm::tanh(nu * self.gap_depth()), coth(depth));
        let csch = 2.0 * libm::exp(-depth) / (1.0 - libm::exp(-2.0 * depth));
        let at_surface = (face_value + (csch * at_back - coth * at_face) / nu)
            / (1.0 + self.permeability * coth * tanh);
        let whole = nu * self.gap_depth();
        let from_stator = nu * libm::log(self.stator_radius_m / radius_m).abs();
        at_surface * hyperbolic_ratio(1.0, 0.0, from_stator.min(whole), 1.0, 0.0, whole)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Radial flux density amplitude of order n p at radius r from the closed form of Zhu, Howe,
    /// Bolte and Ackermann 1993 for the inrunner with radial magnetisation and n p ≠ 1 (its
    /// equation for region I; recalled from memory).
    fn published_inrunner(ring: &Ring, magnets: &Magnets, order: u32, r: f64) -> f64 {
        let (rs, rm, rr, mu) = (
            ring.stator_radius_m,
            ring.face_radius_m,
            ring.back_radius_m,
            ring.permeability,
        );
        let nu = f64::from(order * magnets.pole_pairs);
        let m = magnets.harmonic_t(order).0;
        let pow = |x: f64, y: f64| libm::pow(x, y);
        let above = (nu - 1.0) + 2.0 * pow(rr / rm, nu + 1.0) - (nu + 1.0) * pow(rr / rm, 2.0 * nu);
        let below = (mu + 1.0) / mu * (1.0 - pow(rr / rs, 2.0 * nu))
            - (mu - 1.0) / mu * (pow(rm / rs, 2.0 * nu) - pow(rr / rm, 2.0 * nu));
        let radial = pow(r / rs, nu - 1.0) * pow(rm / rs, nu + 1.0) + pow(rm / r, nu + 1.0);
        m / mu * nu / (nu * nu - 1.0) * above / below * radial
    }

    const INRUNNER: Ring = Ring {
        stator_radius_m: 14e-3,
        face_radius_m: 13.3e-3,
        back_radius_m: 10.8e-3,
        permeability: 1.05,
    };

    fn radial_field(ring: &Ring, magnets: &Magnets, order: u32, r: f64) -> f64 {
        let nu = f64::from(order * magnets.pole_pairs);
        let (radial, tangential) = magnets.harmonic_t(order);
        ring.potential(nu, radial, tangential, r) * nu / r
    }

    #[test]
    fn the_field_agrees_with_the_published_closed_form() {
        let magnets = Magnets {
            pole_pairs: 7,
            remanence_t: 1.22,
            arc: 0.8,
            magnetisation: Magnetisation::Radial,
        };
        for pole_pairs in [2, 7] {
            let magnets = Magnets {
                pole_pairs,
                ..magnets
            };
            for order in [1, 3, 5, 7, 19] {
                for r in [13.3e-3, 13.65e-3, 14e-3] {
                    let got = radial_field(&INRUNNER, &magnets, order, r);
                    let want = published_inrunner(&INRUNNER, &magnets, order, r);
                    // Rounding in powers of order 100.
                    assert!(
                        (got - want).abs() < 1e-11,
                        "{pole_pairs} {order} {r}: {got} {want}"
                    );
                }
            }
        }
    }

    /// One pole pair: the order that the general particular solution cannot give is the limit of
    /// its neighbours.
    #[test]
    fn one_pole_pair_is_no_exception() {
        for outrunner in [false, true] {
            let ring = if outrunner {
                Ring {
                    stator_radius_m: 13.3e-3,
                    face_radius_m: 14e-3,
                    back_radius_m: 16.5e-3,
                    permeability: 1.05,
                }
            } else {
                INRUNNER
            };
            let r = 13.7e-3;
            let at = |nu: f64| ring.potential(nu, 1.0, -0.4, r);
            let (low, exact, high) = (at(1.0 - 1e-4), at(1.0), at(1.0 + 1e-4));
            // The mean of the neighbours differs by the curvature, of order 1e-8 of the value.
            assert!((0.5 * (low + high) - exact).abs() < 1e-6 * exact.abs());
        }
    }

    /// A full arc of two poles, magnetised parallel, gives the fundamental alone.
    #[test]
    fn two_pole_parallel_full_arc_gives_a_pure_sine() {
        let magnets = Magnets {
            pole_pairs: 1,
            remanence_t: 1.2,
            arc: 1.0,
            magnetisation: Magnetisation::Parallel,
        };
        let (radial, tangential) = magnets.harmonic_t(1);
        assert!((radial - 1.2).abs() < 1e-12 && (tangential + 1.2).abs() < 1e-12);
        for order in [3, 5, 7, 9] {
            let (radial, tangential) = magnets.harmonic_t(order);
            assert!(radial.abs() < 1e-12 && tangential.abs() < 1e-12);
        }
    }

    /// Where gap and magnet are thin against the pole, the flux goes straight across:
    /// B = B_r h / (h + μ_r g).
    #[test]
    fn a_thin_ring_is_a_plane_circuit() {
        for sign in [1.0, -1.0] {
            let ring = Ring {
                stator_radius_m: 1.0,
                face_radius_m: 1.0 - sign * 1e-4,
                back_radius_m: 1.0 - sign * 5e-4,
                permeability: 1.1,
            };
            let got = ring.potential(4.0, 1.0, 0.0, 1.0) * 4.0;
            let want = 4e-4 / (4e-4 + 1.1e-4);
            // Curvature and leakage are of the order of depth over pole pitch.
            assert!((got - want).abs() < 1e-3, "{got} {want}");
        }
    }

    #[test]
    fn impedance_is_one_over_order_far_from_iron_and_even() {
        let r = INRUNNER.stator_radius_m;
        assert!((INRUNNER.impedance(2000.0, r) * 2000.0 - 1.0).abs() < 1e-9);
        assert_eq!(INRUNNER.impedance(-6.0, r), INRUNNER.impedance(6.0, r));
    }
}
