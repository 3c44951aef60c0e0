//! The machine: what slots, poles, winding and EMF come to, as numbers a simulation can use.
//!
//! [`Machine`] is made from a checked setup. It resolves Kv against the phase constant, the
//! order of cogging, and the connection; it knows no drive and no time. Where the setup asks for
//! a computed EMF, constants come from the section and the winding:
//!
//! ```text
//! geometry ─► field (magnets, gap, slots) ─┐
//!                                          ├─► computed: EMF, inductance, cogging ─► Machine
//! winding, turns ──────────────────────────┤
//! wire, temperature ─► copper: resistance ─┘
//! ```
//!
//! [`Inside`] gathers what is known of the inside of a machine, whatever its EMF was given as.

pub mod computed;
pub mod copper;
pub mod emf;
pub mod field;
pub mod geometry;
pub mod inside;
pub mod rewind;
pub mod winding_steps;

use crate::setup::{Connection, EmfConstant, EmfShape, MachineSetup};

pub use computed::Computed;
pub use inside::Inside;

use crate::winding::gcd;

/// The electrical and mechanical constants of one machine, SI.
#[derive(Clone, Debug, PartialEq)]
pub struct Machine {
    /// Slots Q.
    pub slots: u32,
    /// Pole pairs p.
    pub pole_pairs: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Resistance of one phase winding in ohm.
    pub phase_resistance_ohm: f64,
    /// Self minus mutual inductance of one phase winding in H.
    pub phase_inductance_h: f64,
    /// Unit shape of the phase EMF.
    pub shape: EmfShape,
    /// Phase constant k_e in V s/rad (mechanical): e = ω k_e s.
    pub phase_constant_v_s_per_rad: f64,
    /// Kv in rad/s per volt of peak line-to-line EMF.
    pub kv_rad_per_v_s: f64,
    /// Rotor inertia in kg m².
    pub rotor_inertia_kg_m2: f64,
    /// Viscous friction in N m s/rad.
    pub viscous_friction_nm_s: f64,
    /// Dry friction in N m.
    pub dry_friction_nm: f64,
    /// Peak Tc of the cogging torque −Tc sin(N θ) in N m. Negative where θ = 0 is an unstable
    /// rest position, as the section of a computed machine may have it.
    pub cogging_peak_nm: f64,
    /// Cogging periods per mechanical turn, N = lcm(slots, poles).
    pub cogging_per_turn: u32,
}

impl Machine {
    /// The machine of a checked setup.
    #[must_use]
    pub fn new(setup: &MachineSetup) -> Self {
        match &setup.emf.shape {
            EmfShape::Computed(_) => Self::with(setup, Inside::of(setup).as_ref()),
            _ => Self::with(setup, None),
        }
    }

    /// The same where the inside is known already; `inside` is looked at only with a computed
    /// EMF.
    #[must_use]
    pub fn with(setup: &MachineSetup, inside: Option<&Inside>) -> Self {
        let inside = inside.filter(|_| matches!(setup.emf.shape, EmfShape::Computed(_)));
        let computed = inside.and_then(|inside| inside.computed.as_ref());
        let mut emf = setup.emf.clone();
        if let Some(computed) = computed {
            // The setup room lets no gap and no magnet arc through that leave nothing of the fundamental.
            let fundamental = computed
                .emf
                .first()
                .map_or(f64::MIN_POSITIVE, |term| term.sine_v_s);
            emf.shape = EmfShape::Computed(
                computed
                    .emf
                    .iter()
                    .map(|term| {
                        let (sine, cosine) = (term.sine_v_s, term.cosine_v_s);
                        (term.order, sine / fundamental, cosine / fundamental)
                    })
                    .collect(),
            );
            if emf.constant == EmfConstant::Computed {
                emf.constant = EmfConstant::PhaseVsPerRad(fundamental);
            }
        }
        let copper = inside.and_then(|inside| inside.copper.as_ref());
        Self {
            slots: setup.slots,
            pole_pairs: setup.poles / 2,
            connection: setup.connection,
            phase_resistance_ohm: setup
                .phase_resistance_ohm
                .or(copper.and_then(|copper| copper.phase_resistance_ohm))
                .unwrap_or(0.0),
            phase_inductance_h: setup
                .phase_inductance_h
                .or(inside.and_then(Inside::phase_inductance_h))
                .unwrap_or(0.0),
            phase_constant_v_s_per_rad: emf::phase_constant_v_s_per_rad(&emf, setup.connection),
            kv_rad_per_v_s: emf::kv_rad_per_v_s(&emf, setup.connection),
            shape: emf.shape,
            rotor_inertia_kg_m2: setup.rotor_inertia_kg_m2,
            viscous_friction_nm_s: setup.viscous_friction_nm_s,
            dry_friction_nm: setup.dry_friction_nm,
            cogging_peak_nm: setup
                .cogging_peak_nm
                .or(computed.map(Computed::signed_cogging_peak_nm))
                .unwrap_or(0.0),
            cogging_per_turn: cogging_per_turn(setup.slots, setup.poles),
        }
    }

    /// Back-EMF of the three phases in V, U V W, at an electrical angle and a mechanical speed.
    #[must_use]
    pub fn back_emf_v(&self, theta_elec_rad: f64, speed_rad_s: f64) -> [f64; 3] {
        std::array::from_fn(|phase_idx| {
            let offset = [0.0, 1.0, 2.0][phase_idx] * std::f64::consts::TAU / 3.0;
            speed_rad_s
                * self.phase_constant_v_s_per_rad
                * emf::unit_shape(&self.shape, theta_elec_rad - offset)
        })
    }
}

/// Cogging periods per mechanical turn: lcm(slots, poles).
///
/// Z. Q. Zhu, D. Howe, "Influence of design parameters on cogging torque in permanent magnet
/// machines", IEEE Trans. Energy Conversion 15(4), 2000.
#[must_use]
pub const fn cogging_per_turn(slots: u32, poles: u32) -> u32 {
    slots / gcd(slots, poles) * poles
}
