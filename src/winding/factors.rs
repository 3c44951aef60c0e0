//! Winding factors, the axis of the winding, and the winding function: sums over coil sides.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use serde::Serialize;

use super::phasor::{Phasor, wrapped};
use super::{CoilSide, Phase, Winding};

/// The winding factors of one harmonic order n of the field over a pole pair.
///
/// With a field B(φ) = Σ B_n cos(n φ) that turns with the rotor, φ in electrical radians from
/// the middle of a pole, the EMF of phase U is proportional to
/// Σ B_n · (`in_phase` · sin n θe + `quadrature` · cos n θe).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WindingFactor {
    /// Order n; 1 is the fundamental.
    pub order: u32,
    /// Pitch factor kp = |sin(n π p y / Q)|, y the coil span; `None` where coils of one span are
    /// not known.
    pub pitch: Option<f64>,
    /// Distribution factor kd: the length of the sum of the coils' phasors over their number;
    /// `None` as for `pitch`.
    pub distribution: Option<f64>,
    /// Winding factor kw: the length of the sum of a phase's coil-side phasors over their
    /// number; from 0 to 1. Equal to kp · kd where those are known.
    pub total: f64,
    /// Part of `total` that gives sin n θe, with its sign. All of it where the phase is
    /// symmetric about its axis, as every laid-out winding is.
    pub in_phase: f64,
    /// Part of `total` that gives cos n θe, with its sign.
    pub quadrature: f64,
}

/// One slot in the star of slots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spoke {
    /// The slot, counted from 0.
    pub slot: u32,
    /// Its electrical angle in rad, from 0 to below 2π.
    pub angle_elec_rad: f64,
    /// The side in it; with two layers the one of the coil that starts there.
    pub side: CoilSide,
}

impl Winding {
    /// The winding factors of order n of phase U; the other phases have the same.
    ///
    /// kw_n = |Σ s_j exp(i n p α_j)| / N over the N sides of a phase at the mechanical angles
    /// α_j, s_j = +1 for `+` and −1 for `-`. Order 0 gives zeros. The sides are points in the
    /// middle of their slots and the slots are not skewed.
    #[must_use]
    pub fn factor(&self, order: u32) -> WindingFactor {
        let sum = self.phasor(Phase::U, order).over(self.sides_per_phase());
        // Seen from the pole that stands over the axis of U at θe = 0.
        let seen = sum.turned(-f64::from(order) * self.pole_at_zero_elec_rad());
        let pitch = self.coil_span().map(|span| {
            let slots = u64::from(self.slots());
            let half_turns = u64::from(order) * u64::from(self.pole_pairs()) * u64::from(span);
            Phasor::at_turn(half_turns % (2 * slots), 2 * slots)
                .im
                .abs()
        });
        let distribution = self.coil_span().map(|_| self.coil_phasor(order));
        WindingFactor {
            order,
            pitch,
            distribution,
            total: sum.magnitude(),
            in_phase: -seen.im,
            quadrature: -seen.re,
        }
    }

    /// Sum of the coil-side phasors of a phase for order n: Σ s_j exp(i n p α_j), not divided by
    /// their number.
    #[must_use]
    pub fn phasor(&self, phase: Phase, order: u32) -> Phasor {
        self.side_sum(phase, u64::from(order) * u64::from(self.pole_pairs()))
    }

    /// Where the rotor stands at θe = 0, as the electrical angle, −π to π from slot 0, of the
    /// middle of a pole whose flux crosses the gap outwards: a north pole facing the gap of an
    /// inrunner, a south pole facing the gap of an outrunner.
    ///
    /// There it stands over the axis of phase U, a quarter electrical turn after the sum of U's
    /// coil sides, and turning counter-clockwise from there e_u rises through zero. From the
    /// conventions: a side with + at the angle α has the EMF −cos(α − pole) in motor sense, as
    /// v × B along the axis says, and summed over U that is sin(pole − axis).
    #[must_use]
    pub fn pole_at_zero_elec_rad(&self) -> f64 {
        wrapped(self.phasor(Phase::U, 1).angle_rad() + FRAC_PI_2)
    }

    /// True where the EMFs follow U, W, V in positive rotation. Never so for a laid-out
    /// winding. To keep such a layout, count its slots clockwise or exchange V and W.
    #[must_use]
    pub fn phase_order_reversed(&self) -> bool {
        super::balance::order_reversed(Phase::ALL.map(|phase| self.phasor(phase, 1)))
    }

    /// The star of slots, slot by slot.
    #[must_use]
    pub fn star(&self) -> Vec<Spoke> {
        let layers = self.layers() as usize;
        let per_slot = self.sides().chunks_exact(layers);
        (0..self.slots())
            .zip(per_slot)
            .map(|(slot, sides)| Spoke {
                slot,
                angle_elec_rad: self.slot_angle_elec_rad(slot),
                side: sides[layers - 1],
            })
            .collect()
    }

    /// Electrical angle of a slot in rad, from 0 to below 2π.
    #[must_use]
    pub fn slot_angle_elec_rad(&self, slot: u32) -> f64 {
        let part = u64::from(slot) * u64::from(self.pole_pairs()) % u64::from(self.slots());
        #[expect(clippy::cast_precision_loss, reason = "below the number of slots")]
        let part = part as f64;
        TAU * part / f64::from(self.slots())
    }

    /// Amplitude of order ν per mechanical turn of phase U's winding function, for coils of one
    /// turn: |Σ s_j exp(i ν α_j)| / (π ν). Times turns and amperes it is the amplitude of the
    /// magnetomotive force across the gap. Order 0 gives 0.
    #[must_use]
    pub fn winding_function_harmonic(&self, order_mech: u32) -> f64 {
        if order_mech == 0 {
            return 0.0;
        }
        self.side_sum(Phase::U, u64::from(order_mech)).magnitude() / (PI * f64::from(order_mech))
    }

    /// Winding function of a phase for coils of one turn, without its mean: element k holds
    /// from slot k to slot k + 1. It steps up at a side with `-` and down at one with `+`, so
    /// that it is positive where positive current drives flux outwards.
    #[must_use]
    pub fn winding_function(&self, phase: Phase) -> Vec<f64> {
        let mut level = 0.0;
        let mut levels: Vec<f64> = self
            .sides()
            .chunks_exact(self.layers() as usize)
            .map(|sides| {
                for side in sides.iter().filter(|side| side.phase == phase) {
                    level += if side.towards_viewer { -1.0 } else { 1.0 };
                }
                level
            })
            .collect();
        let mean = levels.iter().sum::<f64>() / f64::from(self.slots());
        for level in &mut levels {
            *level -= mean;
        }
        levels
    }

    /// Unit vector of a slot for order n of the field.
    pub(super) fn slot_phasor(&self, slot: u32, order: u32) -> Phasor {
        let slots = u64::from(self.slots());
        let order_mech = u64::from(order) * u64::from(self.pole_pairs()) % slots;
        Phasor::at_turn(order_mech * u64::from(slot) % slots, slots)
    }

    /// Sum over the sides of a phase for a mechanical order.
    fn side_sum(&self, phase: Phase, order_mech: u64) -> Phasor {
        side_sum(self.slots(), self.layers(), self.sides(), phase, order_mech)
    }

    /// Length of the sum of phase U's coil phasors over their number.
    fn coil_phasor(&self, order: u32) -> f64 {
        let mut sum = Phasor::ZERO;
        let mut n_coils = 0.0;
        for coil in self.coils().iter().filter(|coil| coil.phase == Phase::U) {
            sum = sum.plus(
                self.slot_phasor(coil.from_slot, order)
                    .signed(coil.positive),
            );
            n_coils += 1.0;
        }
        sum.magnitude() / n_coils
    }

    /// Coil sides of one phase.
    fn sides_per_phase(&self) -> f64 {
        f64::from(self.slots() * self.layers()) / 3.0
    }
}

/// Sum over the sides of a phase, `layers` of them a slot, for a mechanical order.
pub(super) fn side_sum(
    slots: u32,
    layers: u32,
    sides: &[CoilSide],
    phase: Phase,
    order_mech: u64,
) -> Phasor {
    let slots = u64::from(slots);
    let order_mech = order_mech % slots;
    let mut sum = Phasor::ZERO;
    for (slot, sides) in (0..slots).zip(sides.chunks_exact(layers as usize)) {
        for side in sides.iter().filter(|side| side.phase == phase) {
            let unit = Phasor::at_turn(order_mech * slot % slots, slots);
            sum = sum.plus(unit.signed(side.towards_viewer));
        }
    }
    sum
}
