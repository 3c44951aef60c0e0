//! All slots round the gap: one small system for each way they can follow one another.
//!
//! The slots are alike, so whatever enters them falls apart into Q classes: in class m each slot
//! sees what its neighbour sees, turned by m/Q of a turn of phase. Harmonics ν of the gap meet
//! the class m = ν mod Q and no other, and the unknowns of a class are the few modes of one
//! opening. Written for the real amplitudes of even modes and of odd modes a quarter period
//! later, every matrix is real, symmetric and positive.

use std::f64::consts::TAU;

use super::MU_0;
use super::dense::{Cholesky, Square, dot};
use super::modes::transform;
use super::ring::Ring;
use super::slot::{Port, Sides, patterns_of_sides};

/// Gap harmonics are summed to this many times the finest mode of the opening.
///
/// Their tail falls with the third power: at 4 the sums are good to some parts in 10⁴ of the
/// finest modes, which themselves carry little.
const GAP_HARMONICS_PER_MODE: f64 = 4.0;

/// Most gap harmonics in one class: narrow openings in fine pitches end here.
const MAX_HARMONICS: i64 = 2000;

/// The slots of a stator, ready for any excitation.
#[derive(Clone, Debug)]
pub(super) struct SlottedStator {
    pub(super) n_slots: u32,
    pub(super) port: Port,
    pub(super) sides: Sides,
    ring: Ring,
    /// One for each class 0 to Q/2; class −m is class m with the odd modes reversed.
    classes: Vec<Class>,
}

#[derive(Clone, Debug)]
struct Class {
    factor: Cholesky,
    /// Gap impedance of the mode 0 with itself and with n ≥ 1.
    zero: f64,
    column: Vec<f64>,
}

/// What a harmonic A = sin(ν φ) of unit amplitude at the smooth bore does.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Response {
    /// The harmonic ν, signed.
    pub(super) order: i64,
    /// q of the opening's modes n ≥ 1.
    pub(super) flow: Vec<f64>,
    /// Mean of A over the opening, in phase with the harmonic at the slot's middle.
    pub(super) opening: f64,
    /// Linkage of each coil side of a slot per ampere-turn: parts in phase and a quarter period
    /// ahead.
    pub(super) sides: Vec<(f64, f64)>,
}

/// Inductances between the coil sides of two slots, in H/m for one conductor each.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::machine) struct SideInductances {
    pub(in crate::machine) n_sides: usize,
    /// [distance in slots][side of the first][side of the second]; the second lies so many slots
    /// further counter-clockwise. Through gap and magnets: A at the opening.
    pub(in crate::machine) gap: Vec<Vec<f64>>,
    /// The rest: what does not leave the slot.
    pub(in crate::machine) slot: Vec<Vec<f64>>,
}

#[expect(clippy::cast_precision_loss, reason = "orders far below 2^53")]
pub(super) const fn real(order: i64) -> f64 {
    order as f64
}

impl SlottedStator {
    pub(super) fn new(n_slots: u32, ring: Ring, port: Port, sides: Sides) -> Self {
        let classes = (0..=i64::from(n_slots) / 2)
            .map(|class| Class::new(class, n_slots, &ring, &port))
            .collect();
        Self {
            n_slots,
            port,
            sides,
            ring,
            classes,
        }
    }

    /// Class of a signed harmonic, and whether it is the mirror image of the stored one.
    fn class(&self, order: i64) -> (&Class, bool) {
        let slots = i64::from(self.n_slots);
        let class = order.rem_euclid(slots);
        let mirrored = 2 * class > slots;
        let stored = if mirrored { slots - class } else { class };
        (
            &self.classes[usize::try_from(stored).unwrap_or(0)],
            mirrored,
        )
    }

    fn n_modes(&self) -> usize {
        self.port.impedance.size() + 1
    }

    /// Transform of the opening's modes at a signed harmonic; index n, 0 included.
    pub(super) fn transform(&self, order: i64) -> Vec<f64> {
        let mut f = vec![0.0; self.n_modes()];
        transform(self.port.arc_rad, real(order), &mut f);
        f
    }

    /// Amplitude of q at the harmonic `order` from flows in all openings, for a harmonic of the
    /// same class.
    pub(super) fn harmonic_of_flow(&self, order: i64, flow: &[f64]) -> f64 {
        f64::from(self.n_slots) / TAU * dot(&self.transform(order)[1..], flow)
    }

    /// Solves (Z + G) q = b in the class of a harmonic; the odd modes change sign in a mirrored
    /// class.
    pub(super) fn solve(&self, order: i64, b: &mut [f64]) {
        let (class, mirrored) = self.class(order);
        let flip = |b: &mut [f64]| {
            if mirrored {
                for odd in b.iter_mut().step_by(2) {
                    *odd = -*odd;
                }
            }
        };
        flip(b);
        class.factor.solve(b);
        flip(b);
    }

    /// Gap impedance of the mode 0 with itself and with n ≥ 1 in the class of a harmonic.
    pub(super) fn zero_mode(&self, order: i64) -> (f64, Vec<f64>) {
        let (class, mirrored) = self.class(order);
        let mut column = class.column.clone();
        if mirrored {
            for odd in column.iter_mut().step_by(2) {
                *odd = -*odd;
            }
        }
        (class.zero, column)
    }

    /// What the slots make of a unit harmonic of the smooth stator.
    pub(super) fn respond(&self, order: i64) -> Response {
        let f = self.transform(order);
        let mut flow = f[1..].to_vec();
        self.solve(order, &mut flow);
        let (_, column) = self.zero_mode(order);
        let opening = (f[0] - dot(&column, &flow)) / self.port.arc_rad.sqrt();
        let linkages: Vec<f64> = self
            .port
            .patterns
            .iter()
            .map(|pattern| pattern.current_a * opening + dot(&pattern.potential, &flow) / MU_0)
            .collect();
        let sides = patterns_of_sides(self.sides)
            .iter()
            .map(|shares| {
                let mut parts = (0.0, 0.0);
                for ((share, linkage), pattern) in
                    shares.iter().zip(&linkages).zip(&self.port.patterns)
                {
                    if pattern.odd {
                        parts.1 += share * linkage;
                    } else {
                        parts.0 += share * linkage;
                    }
                }
                parts
            })
            .collect();
        Response {
            order,
            flow,
            opening,
            sides,
        }
    }

    /// Inductances between coil sides, magnets not magnetised.
    pub(super) fn inductances(&self) -> SideInductances {
        let slots = i64::from(self.n_slots);
        let patterns = &self.port.patterns;
        let shares = patterns_of_sides(self.sides);
        let n_sides = shares.len();
        let n = self.n_slots as usize;
        let mut gap = vec![vec![0.0; n_sides * n_sides]; n];
        let mut slot = gap.clone();
        for class in 0..slots {
            let (zero, column) = self.zero_mode(class);
            // [linked pattern][driving pattern], in the amplitudes that are real.
            let mut through_gap = vec![vec![0.0; patterns.len()]; patterns.len()];
            let mut inside = through_gap.clone();
            for (k, driving) in patterns.iter().enumerate() {
                let q_zero = -MU_0 * driving.current_a / self.port.arc_rad.sqrt();
                let mut flow: Vec<f64> = driving
                    .potential
                    .iter()
                    .zip(&column)
                    .map(|(s, g)| -s - g * q_zero)
                    .collect();
                self.solve(class, &mut flow);
                let opening = -(zero * q_zero + dot(&column, &flow)) / self.port.arc_rad.sqrt();
                for (l, linked) in patterns.iter().enumerate() {
                    through_gap[l][k] = linked.current_a * opening;
                    inside[l][k] = dot(&linked.potential, &flow) / MU_0 + driving.leakage[l];
                }
            }
            for distance in 0..n {
                #[expect(clippy::cast_possible_wrap, reason = "at most 1200 slots")]
                let part = (class * distance as i64).rem_euclid(slots);
                // The driving slot lies `distance` further on, and is where the phase is 0.
                let (sine, cosine) = libm::sincos(TAU * real(part) / real(slots));
                for (a, left) in shares.iter().enumerate() {
                    for (b, right) in shares.iter().enumerate() {
                        let (mut through, mut within) = (0.0, 0.0);
                        for (l, linked) in patterns.iter().enumerate() {
                            for (k, driving) in patterns.iter().enumerate() {
                                // Real part of E_l conj(E_k) exp(−i 2π m d/Q), E = 1 or i.
                                let phase = match (linked.odd, driving.odd) {
                                    (false, true) => -sine,
                                    (true, false) => sine,
                                    _ => cosine,
                                };
                                let weight = left[l] * right[k] * phase / real(slots);
                                through += weight * through_gap[l][k];
                                within += weight * inside[l][k];
                            }
                        }
                        gap[distance][a * n_sides + b] += through;
                        slot[distance][a * n_sides + b] += within;
                    }
                }
            }
        }
        SideInductances { n_sides, gap, slot }
    }

    /// The ring that the slots face.
    pub(super) const fn ring(&self) -> &Ring {
        &self.ring
    }

    /// Highest harmonic that is kept of the flows.
    pub(super) fn highest_harmonic(&self) -> i64 {
        highest_harmonic(&self.port, self.n_slots)
    }
}

fn highest_harmonic(port: &Port, n_slots: u32) -> i64 {
    #[expect(clippy::cast_precision_loss, reason = "a few dozen modes")]
    let finest = port.impedance.size() as f64 * std::f64::consts::PI / port.arc_rad;
    let slots = i64::from(n_slots);
    #[expect(clippy::cast_possible_truncation, reason = "bounded just below")]
    let wanted = libm::ceil((GAP_HARMONICS_PER_MODE * finest).min(1e9)) as i64;
    wanted.min(MAX_HARMONICS * slots / 2).max(2 * slots)
}

impl Class {
    fn new(class: i64, n_slots: u32, ring: &Ring, port: &Port) -> Self {
        let n = port.impedance.size();
        let slots = i64::from(n_slots);
        let top = highest_harmonic(port, n_slots);
        let mut gap = Square::zero(n + 1);
        let mut f = vec![0.0; n + 1];
        let first = -(top / slots) * slots + class;
        let mut order = first;
        while order <= top {
            if order != 0 {
                transform(port.arc_rad, real(order), &mut f);
                let weight =
                    ring.impedance(real(order), ring.stator_radius_m) * f64::from(n_slots) / TAU;
                gap.add_lower_product(weight, &f);
            }
            order += slots;
        }
        gap.mirror();
        let mut system = Square::zero(n);
        for row in 0..n {
            for column in 0..n {
                system.add(
                    row,
                    column,
                    gap.at(row + 1, column + 1) + port.impedance.at(row, column),
                );
            }
        }
        Self {
            factor: system.cholesky(),
            zero: gap.at(0, 0),
            column: gap.row(0)[1..].to_vec(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::SectionField;
    use super::super::ring::Magnets;
    use super::*;
    use crate::machine::geometry::{Section, SlotShape};
    use crate::setup::{Construction, Magnetisation};

    fn field(sign: f64) -> SectionField {
        let bore = 14e-3;
        let face = bore - sign * 0.6e-3;
        let section = Section {
            slots: 9,
            construction: if sign > 0.0 {
                Construction::Inrunner
            } else {
                Construction::Outrunner
            },
            ring: Ring {
                stator_radius_m: bore,
                face_radius_m: face,
                back_radius_m: face - sign * 2.5e-3,
                permeability: 1.05,
            },
            magnets: Magnets {
                pole_pairs: 4,
                remanence_t: 1.2,
                arc: 0.8,
                magnetisation: Magnetisation::Radial,
            },
            stack_length_m: 1.0,
            slot: Some(SlotShape {
                opening_m: 2e-3,
                tip_m: 1e-3,
                depth_m: 6e-3,
                tooth_width_m: 3.5e-3,
            }),
            sheet_width_m: 2e-3,
            yoke_thickness_m: 3e-3,
            rotor_yoke_thickness_m: 3e-3,
            estimates: Vec::new(),
        };
        SectionField::new(&section, Sides::Beside)
    }

    /// Tooth coils of one turn: side 1 of slot k and back in side 0 of slot k + 1. [distance]
    fn tooth_row(sides: &[Vec<f64>]) -> Vec<f64> {
        let n = sides.len();
        let at = |distance: usize, a: usize, b: usize| sides[distance % n][2 * a + b];
        (0..n)
            .map(|d| at(d, 1, 1) - at(d + 1, 1, 0) - at(d + n - 1, 0, 1) + at(d, 0, 0))
            .collect()
    }

    /// What enters the stator through one tooth leaves it through the others; the inductances of
    /// alike teeth are mutual; and no set of currents stores less than nothing: the eigenvalues
    /// of a matrix whose rows follow one another round are its cosine sums.
    #[test]
    fn tooth_inductances_sum_to_zero_and_are_positive() {
        for sign in [1.0, -1.0] {
            let all = field(sign).side_inductances();
            let gap = tooth_row(&all.gap);
            let slot = tooth_row(&all.slot);
            let n = gap.len();
            assert!(gap.iter().sum::<f64>().abs() < 1e-9 * gap[0]);
            for d in 1..n {
                assert!((gap[d] - gap[n - d]).abs() < 1e-9 * gap[0], "{d}");
                assert!((slot[d] - slot[n - d]).abs() < 1e-9 * slot[0], "{d}");
                assert!(gap[d] < 0.0, "{d}");
            }
            for m in 0..n {
                let sum: f64 = (0..n)
                    .map(|d| {
                        let part = i64::try_from(m * d % n).unwrap();
                        (gap[d] + slot[d]) * libm::cos(TAU * real(part) / 9.0)
                    })
                    .sum();
                assert!(sum > 0.0, "{m}: {sum}");
            }
        }
    }

    /// The half slot that faces the neighbour is the nearer one: the part of a neighbour's field
    /// that enters the slot is antisymmetric, and the mirror image agrees.
    #[test]
    fn sides_see_left_and_right() {
        let all = field(1.0).side_inductances();
        let n = all.gap.len();
        for d in 1..n {
            for (a, b) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let here = all.gap[d][2 * a + b] + all.slot[d][2 * a + b];
                let mirrored = 2 * (1 - a) + (1 - b);
                let there = all.gap[n - d][mirrored] + all.slot[n - d][mirrored];
                assert!(
                    (here - there).abs() < 1e-9 * here.abs().max(1e-9),
                    "{d} {a} {b}"
                );
            }
        }
    }
}
