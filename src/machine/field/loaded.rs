//! Torque of currents on the magnets.

use std::f64::consts::TAU;

use super::stator::{SlottedStator, real};
use super::{MU_0, SectionField, Stator};

/// A complex number as its two parts.
type Complex = (f64, f64);

const fn times(a: Complex, b: Complex) -> Complex {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

impl SectionField {
    /// Torque on the rotor in N m, counter-clockwise, for a length of 1 m, that currents in the
    /// coil sides add to cogging: `ampere_turns[slot][side]` as the layout lists them, positive
    /// towards the viewer and zero in sum, while a magnet magnetised outwards stands at
    /// `rotor_rad` from the middle of slot 0.
    ///
    /// The Maxwell stress between the magnets' field in a smooth stator and what the currents
    /// drive through the openings; that it equals Σ i dλ/dθ is an identity, and a test.
    #[must_use]
    pub fn current_torque_nm_per_m(&self, rotor_rad: f64, ampere_turns: &[Vec<f64>]) -> f64 {
        let mut torque = 0.0;
        match &self.stator {
            Stator::Smooth => {
                let n = ampere_turns.len();
                for (slot, sides) in ampere_turns.iter().enumerate() {
                    let current: f64 = sides.iter().sum();
                    for harmonic in &self.harmonics {
                        let nu = real(harmonic.nu);
                        let at = turn(slot, n) - rotor_rad;
                        torque -= current * nu * harmonic.amplitude * libm::cos(nu * at);
                    }
                }
            }
            Stator::Slotted(stator) => {
                let flows = stator.flows_of_currents(ampere_turns);
                for harmonic in &self.harmonics {
                    let nu = real(harmonic.nu);
                    let f = stator.transform(harmonic.nu);
                    for (slot, flow) in flows.iter().enumerate() {
                        let at = turn(slot, flows.len()) - rotor_rad;
                        let (sine, cosine) = libm::sincos(nu * at);
                        let sum: f64 = flow
                            .iter()
                            .zip(&f)
                            .enumerate()
                            .map(|(n, (q, f))| q * f * if n % 2 == 0 { cosine } else { -sine })
                            .sum();
                        torque += nu * harmonic.amplitude * sum / MU_0;
                    }
                }
            }
        }
        torque
    }
}

/// Angle of a slot in rad.
#[expect(clippy::cast_precision_loss, reason = "at most 1200 slots")]
fn turn(slot: usize, n_slots: usize) -> f64 {
    TAU * slot as f64 / n_slots as f64
}

impl SlottedStator {
    /// q of each opening, mode 0 included, that these coil side currents drive.
    fn flows_of_currents(&self, ampere_turns: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let n = self.n_slots as usize;
        let patterns = &self.port.patterns;
        let shares = super::slot::patterns_of_sides(self.sides);
        let amplitude = |slot: usize, k: usize| -> f64 {
            ampere_turns[slot]
                .iter()
                .zip(shares)
                .map(|(current, share)| current * share[k])
                .sum()
        };
        let n_modes = self.port.impedance.size() + 1;
        let mut flows = vec![vec![0.0; n_modes]; n];
        for class in 0..n {
            #[expect(clippy::cast_possible_wrap, reason = "at most 1200 slots")]
            let order = class as i64;
            let (_, column) = self.zero_mode(order);
            let mut parts = [vec![0.0; n_modes - 1], vec![0.0; n_modes - 1]];
            let mut zero = (0.0, 0.0);
            for (k, pattern) in patterns.iter().enumerate() {
                let mut sum: Complex = (0.0, 0.0);
                for slot in 0..n {
                    let (sine, cosine) = libm::sincos(turn(class * slot % n, n));
                    let current = amplitude(slot, k);
                    sum = (sum.0 + current * cosine, sum.1 - current * sine);
                }
                // Odd amplitudes are written as i times the real problem's.
                let driven = if pattern.odd {
                    times(sum, (0.0, -1.0))
                } else {
                    sum
                };
                let q_zero = -MU_0 * pattern.current_a / self.port.arc_rad.sqrt();
                zero = (zero.0 + q_zero * driven.0, zero.1 + q_zero * driven.1);
                for (part, share) in parts.iter_mut().zip([driven.0, driven.1]) {
                    for ((entry, s), g) in part.iter_mut().zip(&pattern.potential).zip(&column) {
                        *entry -= share * (s + g * q_zero);
                    }
                }
            }
            for part in &mut parts {
                self.solve(order, part);
            }
            for (slot, flow) in flows.iter_mut().enumerate() {
                let (sine, cosine) = libm::sincos(turn(class * slot % n, n));
                flow[0] += (zero.0 * cosine - zero.1 * sine) / f64::from(self.n_slots);
                for (idx, (re, im)) in parts[0].iter().zip(&parts[1]).enumerate() {
                    // Index 0 is mode 1, which is odd.
                    let q = if idx % 2 == 0 { (-im, *re) } else { (*re, *im) };
                    flow[idx + 1] += times(q, (cosine, sine)).0 / f64::from(self.n_slots);
                }
            }
        }
        flows
    }
}
