//! The field of magnets and currents in the section of a machine.
//!
//! Iron is infinitely permeable here: nothing saturates. What is left is linear and is solved
//! exactly but for the number of harmonics kept: magnet ring and gap in closed form
//! ([`ring`]), one slot as a stack of sectors ([`slot`]), and all slots together class by class
//! of their symmetry (`stator`), each class with as many unknowns as an opening has modes. Rotating the rotor only turns phases: the field at every position, flux linkage
//! and cogging torque are sums over the same solved harmonics.
//!
//! Subdomains after T. Lubin, S. Mezani, A. Rezzoug, "2-D exact analytical model for
//! surface-mounted permanent-magnet motors with semi-closed slots", IEEE Trans. Magnetics 47(2),
//! 2011, and L. J. Wu, Z. Q. Zhu, D. Staton, M. Popescu, D. Hawkins, "An improved subdomain model
//! for predicting magnetic field of surface-mounted permanent magnet machines accounting for
//! tooth-tips", IEEE Trans. Magnetics 47(6), 2011 (both recalled from memory); the arrangement
//! as impedances and slot classes is worked out here.
//!
//! Absent: saturation, the ends of the stack, skew, eddy currents, magnets with gaps of air
//! between them (the spaces have the magnets' recoil permeability; with 1.05 and 12 slots on 14
//! poles, air would move field harmonics by up to 0.2 % of the fundamental, by finite elements).

mod dense;
pub mod iron;
mod loaded;
mod modes;
pub mod ring;
pub mod slot;
mod stack;
mod stator;

use std::f64::consts::{PI, TAU};

use self::slot::{Copper, Port, Sector, Sides};
use self::stator::{Response, SideInductances, SlottedStator, real};
use super::geometry::{Section, SlotShape};

/// Magnetic constant in H/m, as it was exact until 2019; the measured value differs by 1e-10.
pub const MU_0: f64 = 4e-7 * PI;

/// Modes kept over a slot opening, the constant one included.
///
/// Evidence in `tests/field.rs`: doubling it moves the EMF by less than 0.05 % and cogging that
/// nearly vanishes by 2 %.
const OPENING_MODES: usize = 15;

/// Most modes in a sector of the slot body.
const MOST_MODES: usize = 36;

/// Sectors that a slot body is cut into.
///
/// One annular sector of equal area and depth is usual; it makes the inductance wrong by 10 %
/// where slots taper to a third (`tests/field.rs`), four leave 0.5 % there and eight 0.1 %.
const BODY_SECTORS: usize = 8;

/// Highest harmonic of the pole pair that is followed.
const HIGHEST_ORDER: u32 = 99;

/// The solved field of a section.
#[derive(Clone, Debug)]
pub struct SectionField {
    section: Section,
    sides: Sides,
    stator: Stator,
    harmonics: Vec<RotorHarmonic>,
}

#[derive(Clone, Debug)]
enum Stator {
    Smooth,
    Slotted(SlottedStator),
}

/// One harmonic of the magnets and what the stator makes of it.
#[derive(Clone, Debug)]
struct RotorHarmonic {
    /// Order of the pole pair, odd.
    order: u32,
    /// Order round the machine.
    nu: i64,
    /// Amplitude of A at the smooth bore in Wb/m, times sin(ν(φ − rotor)).
    amplitude: f64,
    response: Option<Response>,
}

/// Flux that one conductor along a coil side links, over a length of 1 m, at one order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideLinkage {
    /// Order of the pole pair.
    pub order: u32,
    /// Part in Wb/m times sin(n p (α − rotor)), α the middle of the slot.
    pub in_phase: f64,
    /// Part in Wb/m times cos(n p (α − rotor)).
    pub quadrature: f64,
}

impl SectionField {
    /// Solves a section whose coil sides lie in the slots as `sides` says.
    #[must_use]
    pub fn new(section: &Section, sides: Sides) -> Self {
        Self::with_modes(section, sides, OPENING_MODES, BODY_SECTORS)
    }

    /// The same with a number of modes over the opening and of sectors in the slot body: what
    /// [`new`](Self::new) takes is enough, and this is how that is seen. At least 3 modes and 1
    /// sector (2 where sides are stacked) are taken.
    #[must_use]
    pub fn with_modes(
        section: &Section,
        sides: Sides,
        opening_modes: usize,
        body_sectors: usize,
    ) -> Self {
        let stator = match section.slot {
            None => Stator::Smooth,
            Some(slot) => {
                let sectors = sectors(section, &slot, sides, body_sectors.max(1));
                let opening_modes = opening_modes.max(3);
                let most = MOST_MODES.max(2 * opening_modes);
                let modes: Vec<usize> = sectors
                    .iter()
                    .map(|sector| modes_of(sector, &sectors[0], opening_modes, most))
                    .collect();
                let port = Port::new(&sectors, &modes, sides);
                Stator::Slotted(SlottedStator::new(section.slots, section.ring, port, sides))
            }
        };
        let harmonics = rotor_harmonics(section, &stator);
        Self {
            section: section.clone(),
            sides,
            stator,
            harmonics,
        }
    }

    /// The section that was solved.
    #[must_use]
    pub const fn section(&self) -> &Section {
        &self.section
    }

    /// Radius in the middle of the gap in m.
    #[must_use]
    pub fn mid_gap_radius_m(&self) -> f64 {
        let ring = &self.section.ring;
        f64::midpoint(ring.stator_radius_m, ring.face_radius_m)
    }

    /// Radial flux density in T, outwards positive, in the middle of the gap at the angles
    /// `phi_rad` from the middle of slot 0, while a magnet that is magnetised outwards stands at
    /// `rotor_rad`. No current.
    #[must_use]
    pub fn radial_flux_density_t(&self, rotor_rad: f64, phi_rad: &[f64]) -> Vec<f64> {
        let radius = self.mid_gap_radius_m();
        // A = Σ Im(c_μ exp(i μ φ)); B_r = A_φ / r.
        let mut terms: Vec<(i64, f64, f64)> = Vec::new();
        let magnets = &self.section.magnets;
        for harmonic in &self.harmonics {
            let (radial, tangential) = magnets.harmonic_t(harmonic.order);
            let smooth = self
                .section
                .ring
                .potential(real(harmonic.nu), radial, tangential, radius);
            let (sine, cosine) = libm::sincos(real(harmonic.nu) * rotor_rad);
            terms.push((harmonic.nu, smooth * cosine, -smooth * sine));
            let (Stator::Slotted(stator), Some(response)) = (&self.stator, &harmonic.response)
            else {
                continue;
            };
            let slots = i64::from(stator.n_slots);
            let top = stator.highest_harmonic();
            let decay = stator.ring().gap_depth() * 0.5;
            let mut order = harmonic.nu.rem_euclid(slots) - (top / slots) * slots;
            while order <= top {
                // What decays by e^-18 to the middle of the gap is not worth its place.
                if order != 0 && real(order).abs() * decay < 18.0 {
                    let flow = stator.harmonic_of_flow(order, &response.flow);
                    let a =
                        -harmonic.amplitude * flow * stator.ring().impedance(real(order), radius);
                    terms.push((order, a * cosine, -a * sine));
                }
                order += slots;
            }
        }
        terms.sort_by_key(|&(order, ..)| order);
        terms.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            if same {
                kept.1 += next.1;
                kept.2 += next.2;
            }
            same
        });
        phi_rad
            .iter()
            .map(|phi| {
                terms
                    .iter()
                    .map(|&(order, re, im)| {
                        let (sine, cosine) = libm::sincos(real(order) * phi);
                        real(order) * (re * cosine - im * sine) / radius
                    })
                    .sum()
            })
            .collect()
    }

    /// Linkage of a coil side, by order of the pole pair: side 0 or 1 of a slot as the layout
    /// lists them.
    #[must_use]
    pub fn side_linkages(&self, side: usize) -> Vec<SideLinkage> {
        self.harmonics
            .iter()
            .map(|harmonic| {
                let (in_phase, quadrature) = harmonic
                    .response
                    .as_ref()
                    .and_then(|response| response.sides.get(side).copied())
                    .unwrap_or((1.0, 0.0));
                SideLinkage {
                    order: harmonic.order,
                    in_phase: harmonic.amplitude * in_phase,
                    quadrature: harmonic.amplitude * quadrature,
                }
            })
            .collect()
    }

    /// Cogging torque on the rotor as Σ T_k sin(k N ψ) for a length of 1 m, N = lcm(slots,
    /// poles), ψ the angle of a magnet from the middle of slot 0: [k − 1], in N m/m.
    ///
    /// Of the Maxwell stress T = (1/μ₀) ∮ A_φ q dφ at the bore only the product of the magnets'
    /// field in a smooth stator with the flow into the openings is left: each of them alone
    /// turns nothing. That converges far better than the stress itself, which is singular at
    /// the tooth corners.
    #[must_use]
    pub fn cogging_nm_per_m(&self) -> Vec<f64> {
        let Stator::Slotted(stator) = &self.stator else {
            return Vec::new();
        };
        let slots = i64::from(stator.n_slots);
        let per_turn = i64::from(super::cogging_per_turn(
            stator.n_slots,
            2 * self.section.magnets.pole_pairs,
        ));
        let mut series = Vec::new();
        let mut add = |turns: i64, value: f64| {
            let (turns, value) = if turns < 0 {
                (-turns, -value)
            } else {
                (turns, value)
            };
            if turns == 0 || turns % per_turn != 0 {
                return;
            }
            let k = usize::try_from(turns / per_turn - 1).unwrap_or(0);
            if series.len() <= k {
                series.resize(k + 1, 0.0);
            }
            series[k] += value;
        };
        let transforms: Vec<Vec<f64>> = self
            .harmonics
            .iter()
            .map(|harmonic| stator.transform(harmonic.nu))
            .collect();
        for (acting, f) in self.harmonics.iter().zip(&transforms) {
            for driving in &self.harmonics {
                let Some(response) = &driving.response else {
                    continue;
                };
                let weight = real(acting.nu) * acting.amplitude * driving.amplitude * PI / MU_0
                    * real(slots)
                    / TAU;
                let parity = |sign: f64| -> f64 {
                    // Transform at −ν: odd modes change sign; index 0 of `flow` is mode 1.
                    f[1..]
                        .iter()
                        .zip(&response.flow)
                        .enumerate()
                        .map(|(idx, (f, q))| f * q * if idx % 2 == 0 { sign } else { 1.0 })
                        .sum()
                };
                if (acting.nu - driving.nu) % slots == 0 {
                    add(acting.nu - driving.nu, weight * parity(1.0));
                }
                if (acting.nu + driving.nu) % slots == 0 {
                    add(acting.nu + driving.nu, -weight * parity(-1.0));
                }
            }
        }
        series
    }

    /// Inductances between the coil sides of two slots.
    pub(in crate::machine) fn side_inductances(&self) -> SideInductances {
        match &self.stator {
            Stator::Slotted(stator) => stator.inductances(),
            Stator::Smooth => self.smooth_inductances(),
        }
    }

    /// Coil sides as sheets of even current along a smooth bore: each is so wide as
    /// `sheet_width_m` says.
    fn smooth_inductances(&self) -> SideInductances {
        let section = &self.section;
        let slots = section.slots;
        let n_sides = slot::patterns_of_sides(self.sides).len();
        let half = 0.5 * section.sheet_width_m / section.ring.stator_radius_m;
        // The sum falls with the third power of the order once sheets are resolved.
        let top = (200.0 / half).min(2e5);
        let mut by_order = Vec::new();
        let mut order = 1.0;
        while order <= top {
            let spread = ring::sinc(order * half);
            by_order.push(
                MU_0 / PI
                    * section.ring.impedance(order, section.ring.stator_radius_m)
                    * spread
                    * spread,
            );
            order += 1.0;
        }
        // Σ over orders of a class, then the classes as a cosine series of the distance.
        let n = slots as usize;
        let mut classes = vec![0.0; n];
        for (idx, value) in by_order.iter().enumerate() {
            classes[(idx + 1) % n] += value;
        }
        let gap = (0..n)
            .map(|distance| {
                let sum: f64 = classes
                    .iter()
                    .enumerate()
                    .map(|(class, value)| {
                        let part = u32::try_from(class * distance % n).unwrap_or(0);
                        value * libm::cos(TAU * f64::from(part) / f64::from(slots))
                    })
                    .sum();
                vec![sum; n_sides * n_sides]
            })
            .collect();
        SideInductances {
            n_sides,
            gap,
            slot: vec![vec![0.0; n_sides * n_sides]; n],
        }
    }
}

/// The magnets' harmonics with the stator's response, as far as they matter.
fn rotor_harmonics(section: &Section, stator: &Stator) -> Vec<RotorHarmonic> {
    let ring = &section.ring;
    let p = section.magnets.pole_pairs;
    (1..=HIGHEST_ORDER)
        .step_by(2)
        // Below e^-30 of its strength nothing of a harmonic crosses the gap.
        .take_while(|&order| order < 20 || f64::from(order * p) * ring.gap_depth() < 30.0)
        .map(|order| {
            let nu = i64::from(order * p);
            let (radial, tangential) = section.magnets.harmonic_t(order);
            RotorHarmonic {
                order,
                nu,
                amplitude: ring.potential(real(nu), radial, tangential, ring.stator_radius_m),
                response: match stator {
                    Stator::Smooth => None,
                    Stator::Slotted(stator) => Some(stator.respond(nu)),
                },
            }
        })
        .collect()
}

/// A slot as annular sectors from the gap down, each as wide as its part of the body on average.
fn sectors(section: &Section, slot: &SlotShape, sides: Sides, body_sectors: usize) -> Vec<Sector> {
    let radius = |depth_m: f64| section.radius_at_depth(depth_m);
    // The opening keeps its width, so its angle changes with the radius a little.
    let opening = |from_m: f64, to_m: f64, at_m: f64| Sector {
        radii_m: [radius(from_m), radius(to_m)],
        arc_rad: slot.opening_m / radius(at_m),
        copper: Copper::None,
    };
    let cut_m = 0.25 * slot.tip_m;
    let mut out = vec![
        opening(0.0, cut_m, 0.0),
        opening(cut_m, slot.tip_m, f64::midpoint(cut_m, slot.tip_m)),
    ];
    let mut body = |from_m: f64, to_m: f64, count: usize, copper: Copper| {
        #[expect(clippy::cast_precision_loss, reason = "a handful")]
        let at = |i: usize| from_m + (to_m - from_m) * i as f64 / count as f64;
        for i in 0..count {
            let radii_m = [radius(at(i)), radius(at(i + 1))];
            let squares = (radii_m[1] * radii_m[1] - radii_m[0] * radii_m[0]).abs();
            out.push(Sector {
                radii_m,
                arc_rad: 2.0 * section.body_area_m2(slot, at(i), at(i + 1)) / squares,
                copper,
            });
        }
    };
    if sides == Sides::Stacked {
        let whole = section.body_area_m2(slot, slot.tip_m, slot.depth_m);
        let (mut low, mut high) = (slot.tip_m, slot.depth_m);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if section.body_area_m2(slot, slot.tip_m, middle) < 0.5 * whole {
                low = middle;
            } else {
                high = middle;
            }
        }
        let split = f64::midpoint(low, high);
        let count = body_sectors.div_ceil(2);
        body(slot.tip_m, split, count, Copper::Top);
        body(split, slot.depth_m, count, Copper::Bottom);
    } else {
        body(slot.tip_m, slot.depth_m, body_sectors, Copper::Whole);
    }
    out
}

/// Modes of a sector: as fine as those of the opening, within bounds.
fn modes_of(sector: &Sector, opening: &Sector, opening_modes: usize, most: usize) -> usize {
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a ratio of two positive arcs, bounded below"
    )]
    let wanted =
        libm::ceil(opening_modes as f64 * (sector.arc_rad / opening.arc_rad).min(1e3)) as usize;
    wanted.clamp(3, most)
}
