//! The state of a run between two events.

use std::f64::consts::FRAC_PI_3;

/// How the rotor moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Motion {
    /// It turns; friction and drag oppose the given direction.
    Free {
        /// Turning in the negative direction.
        negative: bool,
    },
    /// Dry friction holds it: speed exactly zero.
    Held,
    /// The shaft is driven at a fixed speed.
    Driven,
}

/// Everything that goes on from one piece to the next. Angles are counted in 60° sectors that
/// begin at θe = 30° + 60°·n, so that corners and step changes are exact however long a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct State {
    pub(super) time_s: f64,
    /// Lead currents in A; they sum to zero.
    pub(super) current_a: [f64; 3],
    /// Loop current of a delta in A.
    pub(super) loop_current_a: f64,
    /// Voltage across the bridge in V.
    pub(super) bridge_v: f64,
    pub(super) speed_rad_s: f64,
    pub(super) sector: i64,
    /// Electrical angle inside the sector, 0 to 60° in rad.
    pub(super) phi_rad: f64,
    pub(super) motion: Motion,
}

impl State {
    /// Sector and angle inside it of an electrical angle in rad; an angle within rounding of a
    /// sector's edge is on it.
    pub(super) fn sector_of(theta_elec_rad: f64) -> (i64, f64) {
        let sectors = (theta_elec_rad - super::plant::theta_elec_rad(0, 0.0)) / FRAC_PI_3;
        let nearest = sectors.round();
        let floor = if (sectors - nearest).abs() < 1e-12 * (1.0 + nearest.abs()) {
            nearest
        } else {
            sectors.floor()
        };
        #[expect(
            clippy::cast_possible_truncation,
            reason = "the setup bounds the angle"
        )]
        let sector = floor as i64;
        (
            sector,
            ((sectors - floor) * FRAC_PI_3).clamp(0.0, FRAC_PI_3),
        )
    }
}
