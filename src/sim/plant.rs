//! The plant: machine, switches, supply and load as the coefficients of one set of equations.
//!
//! Star and delta are written in the three lead currents, which sum to zero, and for delta in
//! the loop current as well. With the winding currents j and the lead currents
//! I_U = j_U − j_W, I_V = j_V − j_U, I_W = j_W − j_V, and the loop current j₀ = (j_U + j_V +
//! j_W)/3, the three winding equations L dj/dt = v₁ − v₂ − R j − e separate without loss into
//!
//! ```text
//! (L/3) dI_k/dt = v_k − mean(v) − (R/3) I_k − e*_k,    e*_U = (e_U − e_W)/3, and so on
//! L dj₀/dt      = −R j₀ − e₀,                          e₀ = (e_U + e_V + e_W)/3
//! ```
//!
//! so at its terminals a delta is exactly a star of R/3, L/3 and e*, and beside it runs the
//! loop current with its own copper loss and torque. Nothing is approximated: j follows back as
//! j_U = j₀ + (I_U − I_V)/3. (Sum and differences of the three winding equations.)

use std::f64::consts::{FRAC_PI_3, FRAC_PI_6};

use super::bridge::{Branches, Circuits};
use super::poly::larger;
use super::shape::less_mean;
use super::state::{Motion, State};
use crate::machine::Machine;
use crate::setup::{Bench, Connection, EmfShape, SwitchSetup};

/// Leads U, V, W and the loop of a delta, in this order.
pub(super) const N_SHAPES: usize = 4;
/// Index of the loop.
pub(super) const LOOP: usize = 3;

/// EMF per speed as a function of the electrical angle, for the leads and the loop.
#[expect(
    clippy::large_enum_variant,
    reason = "one in a simulator, and the table is read at every piece"
)]
#[derive(Clone, Debug)]
pub(super) enum LeadShape {
    /// a + b φ in each of the six 60° sectors that begin at θe = 30° + 60°·n, φ from the
    /// sector's start. In V s/rad and V s/rad per rad.
    Linear {
        /// Value at the sector's start.
        start: [[f64; N_SHAPES]; 6],
        /// Slope.
        slope: [[f64; N_SHAPES]; 6],
    },
    /// Σ (p sin nθe + q cos nθe).
    Harmonic(Vec<Harmonic>),
}

/// One harmonic of the lead shapes, in V s/rad.
#[derive(Clone, Copy, Debug)]
pub(super) struct Harmonic {
    pub(super) order: u32,
    pub(super) sine: [f64; N_SHAPES],
    pub(super) cosine: [f64; N_SHAPES],
    /// Amplitude relative to the phase constant.
    pub(super) weight: f64,
}

/// Coefficients that do not change while bench and machine stay as they are.
#[derive(Clone, Debug)]
pub(super) struct Plant {
    pub(super) pole_pairs: f64,
    /// 1 / pole pairs.
    pub(super) per_pole_pair: f64,
    pub(super) delta: bool,
    /// Star, stiff supply, straight shape, no cogging.
    pub(super) plain: bool,
    /// Of one lead of the star, or of the star a delta is at its terminals.
    pub(super) lead_resistance_ohm: f64,
    pub(super) lead_inductance_h: f64,
    /// 1 / lead inductance.
    pub(super) per_lead_inductance: f64,
    /// Fastest decay of the leads' currents and of the capacitor, and their exchange, in 1/s.
    pub(super) still_rate: f64,
    /// Exchange between current and speed, and the speed's own decay, of a rotor that is free,
    /// in 1/s.
    free_rate: f64,
    /// How fast drag with the square of the speed takes the speed down, over that speed, in 1/rad.
    drag_rate_per_rad: f64,
    /// Fastest change with the angle, in 1/rad of it.
    angle_rate: f64,
    /// Of one winding: what the loop current of a delta meets.
    pub(super) winding_resistance_ohm: f64,
    pub(super) winding_inductance_h: f64,
    pub(super) shape: LeadShape,
    /// Largest phase constant, for scales.
    pub(super) emf_scale_v_s: f64,
    pub(super) switch: Switch,
    pub(super) circuits: Circuits,
    pub(super) supply_v: f64,
    /// Source resistance and capacitance.
    pub(super) soft: Option<(f64, f64)>,
    pub(super) inertia_kg_m2: f64,
    /// 1 / inertia.
    pub(super) per_inertia: f64,
    pub(super) viscous_nm_s: f64,
    pub(super) quadratic_nm_s2: f64,
    /// Dry friction of the machine alone, and with the constant load.
    pub(super) machine_dry_nm: f64,
    pub(super) dry_nm: f64,
    pub(super) gravity_nm: f64,
    /// What opposes a rotor that turns forwards, and one that turns backwards.
    against: [Against; 2],
    pub(super) cogging: Option<Cogging>,
}

/// What opposes a rotor that turns one way, with the sign of the torque that it takes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Against {
    /// Dry friction of the machine.
    pub(super) machine_dry_nm: f64,
    /// What does not change of the load: its dry friction, and gravity.
    pub(super) load_nm: f64,
    /// Both.
    pub(super) still_nm: f64,
    /// Torque per speed squared.
    pub(super) drag_nm_s2: f64,
}

/// One switch of the bridge: parallel MOSFETs and their diode.
#[derive(Clone, Copy, Debug)]
pub(super) struct Switch {
    pub(super) on_ohm: f64,
    pub(super) diode_drop_v: f64,
    pub(super) diode_ohm: f64,
}

/// Cogging −Tc sin(m θe), with m = lcm(slots, poles) / pole pairs electrical periods.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cogging {
    pub(super) peak_nm: f64,
    /// Periods per electrical turn.
    pub(super) per_electrical_turn: u32,
    /// Periods per mechanical turn.
    pub(super) per_turn: f64,
}

impl Plant {
    pub(super) fn new(machine: &Machine, bench: &Bench) -> Self {
        let delta = machine.connection == Connection::Delta;
        let divisor = if delta { 3.0 } else { 1.0 };
        let SwitchSetup {
            on_resistance_ohm,
            parallel,
            diode_drop_v,
            diode_resistance_ohm,
        } = bench.drive.switch;
        let switch = Switch {
            on_ohm: on_resistance_ohm / f64::from(parallel),
            diode_drop_v,
            diode_ohm: diode_resistance_ohm,
        };
        let shape = lead_shape(machine, delta);
        let highest_order = match &shape {
            LeadShape::Linear { .. } => 1,
            LeadShape::Harmonic(terms) => terms.iter().map(|term| term.order).max().unwrap_or(1),
        };
        let cogging = (machine.cogging_peak_nm != 0.0).then(|| Cogging {
            peak_nm: machine.cogging_peak_nm,
            per_electrical_turn: machine.cogging_per_turn / machine.pole_pairs,
            per_turn: f64::from(machine.cogging_per_turn),
        });
        let circuit_rate = (machine.phase_resistance_ohm / divisor
            + switch.on_ohm.max(diode_resistance_ohm))
            * divisor
            / machine.phase_inductance_h;
        let lead_inductance_h = machine.phase_inductance_h / divisor;
        let circuits = Circuits::new(switch, machine.phase_resistance_ohm / divisor, &shape);
        let inertia_kg_m2 = machine.rotor_inertia_kg_m2 + bench.load.inertia_kg_m2;
        Self {
            pole_pairs: f64::from(machine.pole_pairs),
            per_pole_pair: 1.0 / f64::from(machine.pole_pairs),
            delta,
            plain: !delta
                && bench.supply.source.is_none()
                && machine.cogging_peak_nm == 0.0
                && matches!(shape, LeadShape::Linear { .. }),
            lead_resistance_ohm: machine.phase_resistance_ohm / divisor,
            lead_inductance_h,
            per_lead_inductance: divisor / machine.phase_inductance_h,
            still_rate: bench.supply.source.map_or(circuit_rate, |source| {
                circuit_rate
                    .max(1.0 / (source.resistance_ohm * source.capacitance_f))
                    .max(1.0 / (lead_inductance_h * source.capacitance_f).sqrt())
            }),
            free_rate: (machine.phase_constant_v_s_per_rad
                / (lead_inductance_h * inertia_kg_m2).sqrt())
            .max(machine.viscous_friction_nm_s / inertia_kg_m2),
            drag_rate_per_rad: 2.0 * bench.load.quadratic_nm_s2 / inertia_kg_m2,
            angle_rate: cogging
                .map_or(0.0, |cogging| f64::from(cogging.per_electrical_turn))
                .max(match &shape {
                    LeadShape::Linear { .. } => 0.0,
                    LeadShape::Harmonic(_) => f64::from(highest_order),
                }),
            winding_resistance_ohm: machine.phase_resistance_ohm,
            winding_inductance_h: machine.phase_inductance_h,
            shape,
            emf_scale_v_s: machine.phase_constant_v_s_per_rad,
            circuits,
            switch,
            supply_v: bench.supply.voltage_v,
            soft: bench
                .supply
                .source
                .map(|source| (source.resistance_ohm, source.capacitance_f)),
            inertia_kg_m2,
            per_inertia: 1.0 / inertia_kg_m2,
            viscous_nm_s: machine.viscous_friction_nm_s,
            quadratic_nm_s2: bench.load.quadratic_nm_s2,
            machine_dry_nm: machine.dry_friction_nm,
            dry_nm: machine.dry_friction_nm + bench.load.constant_nm,
            gravity_nm: bench.load.gravity_nm,
            against: [1.0, -1.0].map(|direction| Against {
                machine_dry_nm: direction * machine.dry_friction_nm,
                load_nm: direction * bench.load.constant_nm + bench.load.gravity_nm,
                still_nm: direction * (machine.dry_friction_nm + bench.load.constant_nm)
                    + bench.load.gravity_nm,
                drag_nm_s2: direction * bench.load.quadratic_nm_s2,
            }),
            cogging,
        }
    }

    /// What opposes a rotor that turns in the given direction.
    #[inline(always)]
    pub(super) fn against(&self, negative: bool) -> &Against {
        &self.against[usize::from(negative)]
    }

    /// Whether a rotor that moves so makes a plain piece: one of a plain plant whose rotor is free.
    #[inline]
    pub(super) fn is_plain(&self, motion: Motion) -> bool {
        self.plain && matches!(motion, Motion::Free { .. })
    }

    /// How fast a series may change: a coefficient is about the one before it times this rate
    /// times length / order.
    #[inline]
    pub(super) fn series_rate<const PLAIN: bool>(&self, speed_rad_s: f64, motion: Motion) -> f64 {
        let drag_rate = self.drag_rate_per_rad * speed_rad_s.abs();
        if PLAIN {
            return larger(drag_rate, self.still_rate + self.free_rate);
        }
        let (free_rate, drag_rate) = match motion {
            Motion::Free { .. } => (self.free_rate, drag_rate),
            Motion::Driven | Motion::Held => (0.0, 0.0),
        };
        let angle_rate = self.angle_rate * (self.pole_pairs * speed_rad_s).abs();
        larger(larger(angle_rate, drag_rate), self.still_rate + free_rate)
    }

    /// Sine and cosine of n θe for a sector and the angle inside it, exact in the sector.
    pub(super) fn sine_cosine(order: u32, sector: i64, phi_rad: f64) -> (f64, f64) {
        let (sine, cosine) = libm::sincos(f64::from(order) * phi_rad);
        // n (30° + 60° m) in twelfths of a turn
        let twelfths = (i64::from(order) * (1 + 2 * sector)).rem_euclid(12);
        let (base_sine, base_cosine) = TWELFTHS[usize::try_from(twelfths).unwrap_or(0)];
        (
            base_sine * cosine + base_cosine * sine,
            base_cosine * cosine - base_sine * sine,
        )
    }

    /// EMF per speed of the leads and the loop at an angle inside the state's sector, in V s/rad.
    #[inline]
    pub(super) fn shape_at(&self, state: &State, phi_rad: f64) -> [f64; N_SHAPES] {
        match &self.shape {
            LeadShape::Linear { start, slope } => {
                let (start, slope) = (&start[state.sixth], &slope[state.sixth]);
                std::array::from_fn(|k| start[k] + slope[k] * phi_rad)
            }
            LeadShape::Harmonic(terms) => harmonic_shape_at(terms, state.sector, phi_rad),
        }
    }

    /// What an open leg, by its place behind the connected ones, has of that more than their mean.
    #[inline(always)]
    pub(super) fn open_shape(&self, b: &Branches, state: &State, which: usize) -> f64 {
        match &self.shape {
            LeadShape::Linear { .. } => b.seen[state.sixth].open[which].at(state.phi_rad),
            LeadShape::Harmonic(_) => {
                let leg = [b.pair.0, b.pair.1, b.third][b.n_connected + which];
                less_mean(&self.shape_at(state, state.phi_rad), b, leg)
            }
        }
    }

    /// Cogging torque in N m.
    pub(super) fn cogging_torque_nm(&self, sector: i64, phi_rad: f64) -> f64 {
        self.cogging.map_or(0.0, |cogging| {
            -cogging.peak_nm * Self::sine_cosine(cogging.per_electrical_turn, sector, phi_rad).0
        })
    }

    /// Energy stored by cogging in J: −(Tc/N) cos Nθ, whose slope is minus the torque.
    pub(super) fn cogging_energy_j(&self, sector: i64, phi_rad: f64) -> f64 {
        self.cogging.map_or(0.0, |cogging| {
            -cogging.peak_nm / cogging.per_turn
                * Self::sine_cosine(cogging.per_electrical_turn, sector, phi_rad).1
        })
    }
}

#[inline(never)]
fn harmonic_shape_at(terms: &[Harmonic], sector: i64, phi_rad: f64) -> [f64; N_SHAPES] {
    let mut sum = [0.0; N_SHAPES];
    for term in terms {
        let (sine, cosine) = Plant::sine_cosine(term.order, sector, phi_rad);
        for (k, entry) in sum.iter_mut().enumerate() {
            *entry += term.sine[k] * sine + term.cosine[k] * cosine;
        }
    }
    sum
}

/// Index 0 to 5 of a sector.
pub(super) fn sector_idx(sector: i64) -> usize {
    usize::try_from(sector.rem_euclid(6)).unwrap_or(0)
}

/// Electrical angle of a sector's start plus φ, in rad, not wrapped.
pub(super) fn theta_elec_rad(sector: i64, phi_rad: f64) -> f64 {
    #[expect(
        clippy::cast_precision_loss,
        reason = "a count of sectors stays far below 2^53"
    )]
    let sectors = sector as f64;
    FRAC_PI_6 + FRAC_PI_3 * sectors + phi_rad
}

const HALF_ROOT_3: f64 = 0.866_025_403_784_438_6;

/// Sine and cosine of multiples of 30°.
const TWELFTHS: [(f64, f64); 12] = [
    (0.0, 1.0),
    (0.5, HALF_ROOT_3),
    (HALF_ROOT_3, 0.5),
    (1.0, 0.0),
    (HALF_ROOT_3, -0.5),
    (0.5, -HALF_ROOT_3),
    (0.0, -1.0),
    (-0.5, -HALF_ROOT_3),
    (-HALF_ROOT_3, -0.5),
    (-1.0, 0.0),
    (-HALF_ROOT_3, 0.5),
    (-0.5, HALF_ROOT_3),
];

/// Lead and loop shapes from phase shapes: see the room's page.
fn leads_from_phases(phase: [f64; 3], delta: bool) -> [f64; N_SHAPES] {
    let [u, v, w] = phase;
    if delta {
        [
            (u - w) / 3.0,
            (v - u) / 3.0,
            (w - v) / 3.0,
            (u + v + w) / 3.0,
        ]
    } else {
        [u, v, w, 0.0]
    }
}

fn lead_shape(machine: &Machine, delta: bool) -> LeadShape {
    let k_e = machine.phase_constant_v_s_per_rad;
    match &machine.shape {
        EmfShape::Trapezoid => {
            // U at 30°, 90°, 150°, … is 1, 1, 1, −1, −1, −1; V and W the same, 2 and 4 later
            const CORNERS: [f64; 6] = [1.0, 1.0, 1.0, -1.0, -1.0, -1.0];
            let at_corner = |sector: usize| {
                leads_from_phases(
                    [0, 4, 2].map(|lag| k_e * CORNERS[(sector + lag) % 6]),
                    delta,
                )
            };
            let start: [[f64; N_SHAPES]; 6] = std::array::from_fn(at_corner);
            let slope = std::array::from_fn(|sector| {
                std::array::from_fn(|k| (start[(sector + 1) % 6][k] - start[sector][k]) / FRAC_PI_3)
            });
            LeadShape::Linear { start, slope }
        }
        EmfShape::Sine => LeadShape::Harmonic(vec![harmonic(1, k_e, [1.0, 0.0], delta)]),
        EmfShape::Harmonics(terms) => LeadShape::Harmonic(
            terms
                .iter()
                .map(|&(order, amplitude)| harmonic(order, k_e, [amplitude, 0.0], delta))
                .collect(),
        ),
        EmfShape::Computed(terms) => LeadShape::Harmonic(
            terms
                .iter()
                .map(|&(order, sine, cosine)| harmonic(order, k_e, [sine, cosine], delta))
                .collect(),
        ),
    }
}

/// k_e (a sin n(θe − 120° k) + b cos n(θe − 120° k)) as sine and cosine parts.
fn harmonic(order: u32, constant_v_s: f64, [a, b]: [f64; 2], delta: bool) -> Harmonic {
    let (in_sine, in_cosine) = (constant_v_s * a, constant_v_s * b);
    let parts = [0, 1, 2].map(|phase: u32| TWELFTHS[(order * phase * 4 % 12) as usize]);
    let turned = |(sine, cosine): (f64, f64)| {
        (
            in_sine * cosine + in_cosine * sine,
            in_cosine * cosine - in_sine * sine,
        )
    };
    Harmonic {
        order,
        sine: leads_from_phases(parts.map(|part| turned(part).0), delta),
        cosine: leads_from_phases(parts.map(|part| turned(part).1), delta),
        weight: libm::hypot(a, b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::emf::unit_shape;

    fn machine(shape: EmfShape, connection: Connection) -> Machine {
        Machine {
            slots: 12,
            pole_pairs: 7,
            connection,
            phase_resistance_ohm: 0.1,
            phase_inductance_h: 1e-4,
            shape,
            phase_constant_v_s_per_rad: 1.0,
            kv_rad_per_v_s: 1.0,
            rotor_inertia_kg_m2: 1e-5,
            viscous_friction_nm_s: 0.0,
            dry_friction_nm: 0.0,
            cogging_peak_nm: 0.0,
            cogging_per_turn: 84,
        }
    }

    #[test]
    fn sectors_hold_the_shapes_of_the_conventions() {
        for shape in [
            EmfShape::Trapezoid,
            EmfShape::Sine,
            EmfShape::Harmonics(vec![(1, 1.0), (3, 0.2), (5, -0.1), (2, 0.05)]),
            EmfShape::Computed(vec![
                (1, 1.0, 0.0),
                (3, 0.2, -0.1),
                (5, -0.1, 0.05),
                (7, 0.0, 0.02),
            ]),
        ] {
            let machine = machine(shape.clone(), Connection::Star);
            let plant_shape = lead_shape(&machine, false);
            let sample = |sector, phi| match &plant_shape {
                LeadShape::Linear { start, slope } => {
                    let idx = sector_idx(sector);
                    std::array::from_fn::<f64, 3, _>(|k| start[idx][k] + slope[idx][k] * phi)
                }
                LeadShape::Harmonic(terms) => {
                    let mut sum = [0.0; 3];
                    for term in terms {
                        let (sine, cosine) = Plant::sine_cosine(term.order, sector, phi);
                        for k in 0..3 {
                            sum[k] += term.sine[k] * sine + term.cosine[k] * cosine;
                        }
                    }
                    sum
                }
            };
            for step in 0..120 {
                let (sector, phi) = (
                    i64::from(step / 10) - 6,
                    f64::from(step % 10) / 10.0 * FRAC_PI_3,
                );
                let theta = theta_elec_rad(sector, phi);
                for (k, got) in sample(sector, phi).into_iter().enumerate() {
                    let offset = [0.0, 1.0, 2.0][k] * std::f64::consts::TAU / 3.0;
                    let want = unit_shape(&shape, theta - offset);
                    assert!(
                        (got - want).abs() < 1e-13,
                        "{shape:?} {k} {theta}: {got} {want}"
                    );
                }
            }
        }
    }
}
