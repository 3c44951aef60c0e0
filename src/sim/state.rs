//! The state of a run between two events.

use std::f64::consts::FRAC_PI_3;

use super::bridge::Branches;
use super::flows::End;
use super::plant::{Plant, sector_idx};

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
    /// The sector modulo six: which sixth of a turn it is.
    pub(super) sixth: usize,
    /// Electrical angle inside the sector, 0 to 60° in rad.
    pub(super) phi_rad: f64,
    pub(super) motion: Motion,
}

impl State {
    /// Goes to the end of a piece.
    #[inline(always)]
    pub(super) fn move_to<const N: usize, const PLAIN: bool>(
        &mut self,
        plant: &Plant,
        b: &Branches,
        end: &End,
        end_s: f64,
    ) {
        self.time_s = end_s;
        let [a, c] = end.free_a;
        if N == 1 {
            self.current_a[b.pair.0] = a;
            self.current_a[b.pair.1] = -a;
            self.current_a[b.third] = 0.0;
        } else if N == 2 {
            self.current_a[b.pair.0] = a;
            self.current_a[b.pair.1] = c;
            self.current_a[b.third] = -(a + c);
        }
        if !PLAIN && plant.delta {
            self.loop_current_a = end.loop_a;
        }
        if !PLAIN && plant.soft.is_some() {
            self.bridge_v = end.bridge_v;
        }
        if PLAIN || matches!(self.motion, Motion::Free { .. }) {
            self.speed_rad_s = end.speed_rad_s;
        }
        if PLAIN || self.motion != Motion::Held {
            self.phi_rad = end.phi_rad;
        }
    }

    /// Goes to a sector.
    pub(super) fn enter(&mut self, sector: i64) {
        self.sector = sector;
        self.sixth = sector_idx(sector);
    }

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
