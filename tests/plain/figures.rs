//! Integrals over the measuring window.

use super::Outcome;
use super::event_loop::Checkpoint;
use super::recorder::Recorder;
use super::steppers::Stepper;
use super::watch::Watch;
use std::f64::consts::TAU;
use wyebench::analysis::{WindowKind, WindowTotals};
use wyebench::setup::Setup;

/// Torque; torque squared; load torque; supply charge; supply current squared; three phase
/// currents squared; energy into the bridge; energy behind the source; shaft work; copper heat;
/// bridge heat; friction heat.
pub const N_INTEGRALS: usize = 14;

/// A sum that does not lose small terms (Neumaier).
#[derive(Clone, Copy, Debug, Default)]
pub struct Sum {
    total: f64,
    lost: f64,
}

impl Sum {
    /// Adds a term.
    pub fn add(&mut self, term: f64) {
        let total = self.total + term;
        self.lost += if self.total.abs() >= term.abs() {
            (self.total - total) + term
        } else {
            (term - total) + self.total
        };
        self.total = total;
    }

    /// The sum so far.
    pub fn value(&self) -> f64 {
        self.total + self.lost
    }
}

/// Extremes of one piece or of several.
#[derive(Clone, Copy, Debug)]
pub struct Extremes {
    /// Lowest torque in N m.
    pub torque_min: f64,
    /// Highest torque in N m.
    pub torque_max: f64,
    /// Largest magnitude of a winding current in A.
    pub current_peak: f64,
}

impl Extremes {
    /// Of nothing.
    pub const NONE: Self = Self {
        torque_min: f64::INFINITY,
        torque_max: f64::NEG_INFINITY,
        current_peak: 0.0,
    };

    /// Of both.
    pub const fn and(self, other: Self) -> Self {
        Self {
            torque_min: self.torque_min.min(other.torque_min),
            torque_max: self.torque_max.max(other.torque_max),
            current_peak: self.current_peak.max(other.current_peak),
        }
    }
}

/// The end of the run.
#[derive(Clone, Copy, Debug)]
pub struct RunEnd {
    /// s.
    pub time: f64,
    /// Mechanical rad.
    pub theta: f64,
    /// All integrals.
    pub integrals: [f64; N_INTEGRALS],
    /// Step changes.
    pub commutations: u64,
}

/// Finds the window and its integrals. `checkpoints` begin exactly where measuring may begin.
pub fn window<const N: usize, S: Stepper<N> + ?Sized>(
    setup: &Setup,
    checkpoints: &[Checkpoint<N>],
    end: &RunEnd,
    stepper: &mut S,
    outcome: &mut Outcome,
) {
    let first = &checkpoints[0];
    let gone = end.theta - first.piece.theta0;
    let pole_pairs = f64::from(setup.machine.poles / 2);
    let mechanical = (gone.abs() / TAU + 1e-9).floor();
    let electrical = (gone.abs() * pole_pairs / TAU + 1e-9).floor();
    let (kind, turns, span) = if mechanical >= 1.0 {
        (WindowKind::MechanicalTurns, mechanical, mechanical * TAU)
    } else if electrical >= 1.0 {
        let span = electrical * TAU / pole_pairs;
        (WindowKind::ElectricalTurns, electrical, span)
    } else {
        (WindowKind::Time, 0.0, 0.0)
    };
    let mut from = 0;
    let mut start = first.time;
    let mut before = first.integrals;
    let mut extremes = first.extremes;
    let mut angle = gone;
    if kind != WindowKind::Time {
        let direction = gone.signum();
        let target = end.theta - direction * span;
        angle = direction * span;
        // The last piece that begins before the target angle.
        from = checkpoints
            .iter()
            .rposition(|c| direction * (target - c.piece.theta0) > 0.0)
            .unwrap_or(0);
        let c = &checkpoints[from];
        let length = checkpoints.get(from + 1).map_or(end.time, |n| n.time) - c.time;
        start = c.time;
        before = c.integrals;
        extremes = c.extremes;
        let ahead = direction * (target - c.piece.theta0);
        if ahead > 0.0 && length > 0.0 {
            let mut piece = c.piece.clone();
            piece.watch_angle_only(target, direction);
            piece.event_margin = 0.0;
            let y0 = piece.scaled::<N>(&c.state);
            let mut nothing = Recorder::none();
            let mut watch = Watch::new(&piece, &mut nothing, 4, y0);
            stepper.advance(&mut watch, length, length);
            let (x, y) = match watch.hit {
                Some((step, x)) => (x, stepper.inside(&piece, &step, x)),
                None => (watch.x, watch.y),
            };
            start = c.time + x;
            for (sum, part) in before.iter_mut().zip(piece.integrals(&y)) {
                *sum += part;
            }
            // Extremes of the rest of this piece alone.
            extremes = Extremes::NONE;
            if length - x > 1e-15 {
                let mut rest = Recorder::extremes_only();
                let mut unwatched = piece.clone();
                unwatched.watch_angle_only(f64::MAX, 1.0);
                let mut watch = Watch::new(&unwatched, &mut rest, 0, y);
                watch.x = x;
                stepper.advance(&mut watch, length, length);
                extremes = rest.extremes;
            }
        }
    }
    let commutations = end.commutations - checkpoints[from].commutations;
    for c in &checkpoints[from + 1..] {
        extremes = extremes.and(c.extremes);
    }
    let mut part = [0.0; N_INTEGRALS];
    for k in 0..N_INTEGRALS {
        part[k] = end.integrals[k] - before[k];
    }
    outcome.window = Some(WindowTotals {
        start_s: start,
        end_s: end.time,
        kind,
        turns: turns as u32,
        angle_mech_rad: angle,
        torque_nm_s: part[0],
        torque_squared_s: part[1],
        torque_min_nm: extremes.torque_min,
        torque_max_nm: extremes.torque_max,
        load_torque_nm_s: part[2],
        supply_charge_as: part[3],
        supply_current_squared_s: part[4],
        phase_current_squared_s: [part[5], part[6], part[7]],
        phase_current_peak_a: extremes.current_peak,
        supply_energy_j: part[8],
        shaft_work_j: part[10],
        copper_j: part[11],
        bridge_j: part[12],
        friction_j: part[13],
        commutations,
    });
}
