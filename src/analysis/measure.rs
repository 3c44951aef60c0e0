//! Measuring a run: the steady window at its end, its integrals, and the energy account.
//!
//! The window is a whole number of mechanical turns that ends with the run and fits into
//! `measure`; where not one fits, of electrical turns; else plain time. Where it begins is known
//! only when the end is: so a run is simulated to its end once, and the last part a second time
//! from a copy taken there, with the beginning now known. Nothing is stored in between.

use std::f64::consts::TAU;

use super::{EnergyAccount, WindowKind, WindowTotals};
use crate::setup::{Commutation, Setup};
use crate::sim::{Flows, Moments, Piece, RunError, Simulator, Sink, Stored, Work};

/// What a whole run comes to.
#[derive(Clone, Debug)]
pub struct RunOutcome {
    /// Integrals over the measuring window; `None` where the run stopped before it began.
    pub window: Option<WindowTotals>,
    /// The energy account of the whole run.
    pub account: EnergyAccount,
    /// Speed at the end in rad/s.
    pub final_speed_rad_s: f64,
    /// How much work it was.
    pub work: Work,
    /// False when a forced drive has lost the rotor.
    pub in_step: bool,
    /// Electrical turns by which the rotor fell behind a forced drive over the whole run.
    pub slip_turns: Option<f64>,
    /// The end that was reached, in s.
    pub end_s: f64,
    /// Lowest voltage across the bridge at any event, in V.
    pub lowest_bridge_v: f64,
    /// Why the run stopped early, where it did.
    pub error: Option<RunError>,
}

/// Runs a setup to its end, handing pieces and events to `sink`, and measures it.
#[must_use]
pub fn run(setup: &Setup, sink: &mut impl Sink) -> RunOutcome {
    run_simulator(Simulator::new(setup), setup, sink)
}

/// The same with a simulator prepared by the caller (another tolerance, say).
#[must_use]
pub fn run_simulator(simulator: Simulator, setup: &Setup, sink: &mut impl Sink) -> RunOutcome {
    let mut measuring = Measuring::of(simulator, setup);
    loop {
        if measuring.advance(u32::MAX, sink) {
            return measuring.outcome();
        }
    }
}

/// A run that is made in goes, for those who must not wait for all of it: its outcome is to the bit
/// that of [`run`], in however many goes.
#[derive(Clone, Debug)]
pub struct Measuring {
    simulator: Simulator,
    stored_at_start: Stored,
    forced: bool,
    end_s: f64,
    measure_s: f64,
    error: Option<RunError>,
    stage: Stage,
}

/// How far a run is.
#[derive(Clone, Debug)]
enum Stage {
    /// Before the last part.
    First,
    /// In the last part, of whose beginning there is a copy.
    Last(Box<Simulator>),
    /// The last part a second time.
    Again(Box<Window>),
    /// Done.
    Ended(Option<(WindowTotals, f64)>),
}

impl Measuring {
    /// The run of a setup, at rest at t = 0.
    #[must_use]
    pub fn new(setup: &Setup) -> Self {
        Self::of(Simulator::new(setup), setup)
    }

    /// The same with a simulator prepared by the caller.
    #[must_use]
    pub fn of(simulator: Simulator, setup: &Setup) -> Self {
        Self {
            stored_at_start: simulator.stored(),
            forced: setup.bench.drive.commutation == Commutation::Forced,
            end_s: setup.run.duration_s,
            measure_s: setup.run.measure_s,
            error: None,
            stage: Stage::First,
            simulator,
        }
    }

    /// The share of the work that is done, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        let all_s = self.end_s + self.measure_s;
        let done_s = match &self.stage {
            Stage::First | Stage::Last(_) => self.simulator.time_s(),
            Stage::Again(window) => {
                self.end_s + window.copy.time_s() - (self.end_s - self.measure_s)
            }
            Stage::Ended(_) => all_s,
        };
        (done_s / all_s).clamp(0.0, 1.0)
    }

    /// Pieces of the solution so far, the second pass through the window not counted.
    #[must_use]
    pub const fn n_pieces(&self) -> u64 {
        self.simulator.work().n_pieces
    }

    /// The instant that is reached, in s.
    #[must_use]
    pub const fn time_s(&self) -> f64 {
        self.simulator.time_s()
    }

    /// Goes on by at most so many pieces, handing pieces and events to `sink`. True at the end.
    pub fn advance(&mut self, max_pieces: u32, sink: &mut impl Sink) -> bool {
        match &mut self.stage {
            Stage::First => {
                if self.towards(self.end_s - self.measure_s, max_pieces, sink) {
                    self.stage = Stage::Last(Box::new(self.simulator.clone()));
                }
            }
            Stage::Last(_) => {
                if self.error.is_some() || self.towards(self.end_s, max_pieces, sink) {
                    let Stage::Last(copy) = std::mem::replace(&mut self.stage, Stage::Ended(None))
                    else {
                        return true;
                    };
                    if let Some(window) = Window::new(*copy, &self.simulator) {
                        self.stage = Stage::Again(Box::new(window));
                    }
                }
            }
            Stage::Again(window) => {
                if window.advance(max_pieces) {
                    self.stage = Stage::Ended(Some(window.totals(&self.simulator)));
                }
            }
            Stage::Ended(_) => {}
        }
        matches!(self.stage, Stage::Ended(_))
    }

    /// True once that instant is reached, or the run cannot go on.
    fn towards(&mut self, time_s: f64, max_pieces: u32, sink: &mut impl Sink) -> bool {
        match self.simulator.run_towards(time_s, max_pieces, sink) {
            Ok(reached) => reached,
            Err(error) => {
                self.error = Some(error);
                true
            }
        }
    }

    /// What it came to; before the end, without a window.
    #[must_use]
    pub fn outcome(self) -> RunOutcome {
        let window = match self.stage {
            Stage::Ended(window) => window,
            _ => None,
        };
        let simulator = self.simulator;
        let (in_step, slip_turns) = synchronism(self.forced, self.measure_s, &simulator, &window);
        RunOutcome {
            account: account(&simulator, &self.stored_at_start),
            final_speed_rad_s: simulator.speed_rad_s(),
            work: *simulator.work(),
            in_step,
            slip_turns,
            end_s: simulator.time_s(),
            lowest_bridge_v: simulator.totals().lowest_bridge_v,
            error: self.error,
            window: window.map(|(totals, _)| totals),
        }
    }
}

/// The energy account between the start, where this was stored, and now.
#[must_use]
pub fn account(simulator: &Simulator, at_start: &Stored) -> EnergyAccount {
    let (flows, now) = (&simulator.totals().flows, simulator.stored());
    EnergyAccount {
        supply_j: flows.supply_j,
        shaft_j: flows.shaft_j,
        friction_j: flows.friction_j,
        copper_j: flows.copper_j,
        bridge_j: flows.bridge_j,
        magnetic_change_j: now.magnetic_j - at_start.magnetic_j,
        capacitor_change_j: now.capacitor_j - at_start.capacitor_j,
        kinetic_change_j: now.kinetic_j - at_start.kinetic_j,
        cogging_change_j: now.cogging_j - at_start.cogging_j,
        by_hand_j: simulator.totals().by_hand_j,
        turnover_j: simulator.totals().turnover_j,
    }
}

impl EnergyAccount {
    /// What is left over, in J: supply and hand, less everything the energy went into.
    #[must_use]
    pub fn leftover_j(&self) -> f64 {
        self.supply_j + self.by_hand_j
            - (self.shaft_j
                + self.friction_j
                + self.copper_j
                + self.bridge_j
                + self.magnetic_change_j
                + self.capacitor_change_j
                + self.kinetic_change_j
                + self.cogging_change_j)
    }

    /// What the leftover is compared with, in J: the energy from the supply, or the largest
    /// term where that is near zero (below a thousandth of it).
    #[must_use]
    pub fn reference_j(&self) -> f64 {
        let largest = [
            self.shaft_j,
            self.friction_j,
            self.copper_j,
            self.bridge_j,
            self.magnetic_change_j,
            self.capacitor_change_j,
            self.kinetic_change_j,
            self.cogging_change_j,
            self.by_hand_j,
            self.turnover_j,
        ]
        .into_iter()
        .fold(0.0, |largest: f64, term| largest.max(term.abs()));
        if self.supply_j.abs() > 1e-3 * largest {
            self.supply_j.abs()
        } else {
            largest
        }
    }

    /// Relative leftover; 0 where no energy flowed at all.
    #[must_use]
    pub fn residual(&self) -> f64 {
        let reference = self.reference_j();
        if reference > 0.0 {
            self.leftover_j() / reference
        } else {
            0.0
        }
    }
}

/// The last part of a run, simulated again with its end known.
#[derive(Clone, Debug)]
struct Window {
    copy: Simulator,
    meter: Meter,
    kind: WindowKind,
    turns: u32,
    slip_before: Option<f64>,
}

impl Window {
    /// From `copy` to the time `ended` has reached; `None` where nothing lies between.
    fn new(copy: Simulator, ended: &Simulator) -> Option<Self> {
        let (start_s, end_s) = (copy.time_s(), ended.time_s());
        if end_s <= start_s {
            return None;
        }
        let pole_pairs = f64::from(copy.machine().pole_pairs);
        let end_theta = ended.theta_elec_rad();
        let gone = end_theta - copy.theta_elec_rad();
        let electrical_turns = gone.abs() / TAU * (1.0 + 1e-12);
        let mechanical_turns = (electrical_turns / pole_pairs).floor();
        let (kind, turns, turn_rad) = if mechanical_turns >= 1.0 {
            (
                WindowKind::MechanicalTurns,
                mechanical_turns,
                TAU * pole_pairs,
            )
        } else if electrical_turns >= 1.0 {
            (WindowKind::ElectricalTurns, electrical_turns.floor(), TAU)
        } else {
            (WindowKind::Time, 0.0, 0.0)
        };
        let target =
            (kind != WindowKind::Time).then(|| end_theta - gone.signum() * turns * turn_rad);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "turns in a window are few"
        )]
        let turns = turns as u32;
        Some(Self {
            slip_before: copy.forced_slip_turns(),
            meter: Meter::new(start_s, end_s, target),
            copy,
            kind,
            turns,
        })
    }

    /// Goes on by at most so many pieces. True at the end.
    fn advance(&mut self, max_pieces: u32) -> bool {
        // the same pieces as before, so the same end; an error there was seen already
        let end_s = self.meter.end_s;
        self.copy
            .run_towards(end_s, max_pieces, &mut self.meter)
            .unwrap_or(true)
    }

    /// The integrals, and by how many turns the rotor fell behind a forced drive meanwhile.
    fn totals(&self, ended: &Simulator) -> (WindowTotals, f64) {
        let slip = self
            .slip_before
            .zip(ended.forced_slip_turns())
            .map_or(0.0, |(before, after)| after - before);
        let span_s = [self.meter.from_s, self.meter.end_s];
        let totals = self.meter.sums.totals(span_s, self.kind, self.turns);
        (totals, slip)
    }
}

/// Whether the rotor follows a forced drive, and by how many turns it fell behind in the run.
fn synchronism(
    forced: bool,
    measure_s: f64,
    simulator: &Simulator,
    window: &Option<(WindowTotals, f64)>,
) -> (bool, Option<f64>) {
    if !forced {
        return (true, None);
    }
    let slip = simulator.forced_slip_turns();
    let slip_in_window = window.as_ref().map_or(0.0, |(_, slip)| *slip);
    // a rotor in step swings within half a turn of its command; one that has lost it falls
    // behind turn after turn. What the drive asked for in the window tells a standstill, too.
    let asked_turns = simulator.forced_frequency_hz().unwrap_or(0.0) * measure_s;
    let lost = slip_in_window.abs() > 0.5
        || slip_in_window.abs() > 0.25 * asked_turns && asked_turns > 0.5;
    (!lost, slip)
}

/// Sums what flows through a window.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sums {
    flows: Flows,
    moments: Moments,
    torque_nm: (f64, f64),
    phase_current_peak_a: f64,
    /// Step changes.
    pub(super) commutations: u64,
}

pub(super) const NOTHING: Sums = Sums {
    flows: Flows {
        supply_charge_as: 0.0,
        supply_j: 0.0,
        bridge_input_j: 0.0,
        copper_j: 0.0,
        bridge_j: 0.0,
        friction_j: 0.0,
        shaft_j: 0.0,
        load_torque_nm_s: 0.0,
        angle_mech_rad: 0.0,
    },
    moments: Moments {
        torque_nm_s: 0.0,
        torque_squared_s: 0.0,
        supply_current_squared_s: 0.0,
        phase_current_squared_s: [0.0; 3],
    },
    torque_nm: (f64::INFINITY, f64::NEG_INFINITY),
    phase_current_peak_a: 0.0,
    commutations: 0,
};

/// A sink that measures from the last passage of an angle to the end.
#[derive(Clone, Debug)]
struct Meter {
    from_s: f64,
    end_s: f64,
    target_theta_elec_rad: Option<f64>,
    sums: Sums,
}

impl Meter {
    fn new(from_s: f64, end_s: f64, target_theta_elec_rad: Option<f64>) -> Self {
        Self {
            from_s,
            end_s,
            target_theta_elec_rad,
            sums: NOTHING,
        }
    }

    fn add(&mut self, piece: &Piece<'_>, from_s: f64) {
        self.sums.add(piece, from_s, piece.end_s());
    }
}

impl Sums {
    /// Adds what flows in a piece between two of its instants.
    pub(super) fn add(&mut self, piece: &Piece<'_>, from_s: f64, to_s: f64) {
        let mut flows = if to_s < piece.end_s() {
            piece.flows_until(to_s)
        } else {
            piece.flows()
        };
        if from_s > piece.start_s() {
            flows = flows.since(&piece.flows_until(from_s));
        }
        self.flows.add(&flows);
        self.add_moments(&piece.moments(from_s, to_s));
        self.torque_nm = piece.torque_range_nm(from_s, to_s, self.torque_nm);
        self.phase_current_peak_a =
            piece.phase_current_peak_a(from_s, to_s, self.phase_current_peak_a);
    }

    /// Adds what was summed up over another stretch.
    pub(super) fn add_sums(&mut self, other: &Self) {
        self.flows.add(&other.flows);
        self.add_moments(&other.moments);
        self.add_peaks(other.torque_nm, other.phase_current_peak_a);
        self.commutations += other.commutations;
    }

    fn add_moments(&mut self, moments: &Moments) {
        self.moments.torque_nm_s += moments.torque_nm_s;
        self.moments.torque_squared_s += moments.torque_squared_s;
        self.moments.supply_current_squared_s += moments.supply_current_squared_s;
        let parts = moments.phase_current_squared_s;
        for (sum, part) in self.moments.phase_current_squared_s.iter_mut().zip(parts) {
            *sum += part;
        }
    }

    const fn add_peaks(&mut self, (low, high): (f64, f64), current_a: f64) {
        self.torque_nm = (self.torque_nm.0.min(low), self.torque_nm.1.max(high));
        self.phase_current_peak_a = self.phase_current_peak_a.max(current_a);
    }

    /// The integrals as those of a window.
    pub(super) const fn totals(
        &self,
        [start_s, end_s]: [f64; 2],
        kind: WindowKind,
        turns: u32,
    ) -> WindowTotals {
        let (flows, moments) = (&self.flows, &self.moments);
        WindowTotals {
            start_s,
            end_s,
            kind,
            turns,
            angle_mech_rad: flows.angle_mech_rad,
            torque_nm_s: moments.torque_nm_s,
            torque_squared_s: moments.torque_squared_s,
            torque_min_nm: self.torque_nm.0,
            torque_max_nm: self.torque_nm.1,
            load_torque_nm_s: flows.load_torque_nm_s,
            supply_charge_as: flows.supply_charge_as,
            supply_current_squared_s: moments.supply_current_squared_s,
            phase_current_squared_s: moments.phase_current_squared_s,
            phase_current_peak_a: self.phase_current_peak_a,
            supply_energy_j: flows.bridge_input_j,
            shaft_work_j: flows.shaft_j,
            copper_j: flows.copper_j,
            bridge_j: flows.bridge_j,
            friction_j: flows.friction_j,
            commutations: self.commutations,
        }
    }
}

impl Sink for Meter {
    fn piece(&mut self, piece: &Piece<'_>) {
        let (start_s, end_s) = (piece.start_s(), piece.end_s());
        if let Some(target) = self.target_theta_elec_rad {
            let (before, after) = (
                piece.theta_elec_rad(start_s) - target,
                piece.theta_elec_rad(end_s) - target,
            );
            // the last passage counts: begin anew at each one, save the end of the run itself
            if (before < 0.0) != (after < 0.0) && end_s < self.end_s {
                let at_s = piece.time_at_theta_elec(target).clamp(start_s, end_s);
                self.from_s = at_s;
                self.sums = NOTHING;
                self.add(piece, at_s);
                return;
            }
        }
        self.add(piece, start_s);
    }

    fn event(&mut self, event: &crate::record::Event) {
        if event.kind == crate::record::EventKind::StepChange {
            self.sums.commutations += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::built_in;

    /// Peaks of a run, searched only where a piece can reach a new one, and searched in every piece.
    #[derive(Debug)]
    struct Peaks {
        known: ((f64, f64), f64),
        searched: ((f64, f64), f64),
    }

    impl Sink for Peaks {
        fn piece(&mut self, piece: &Piece<'_>) {
            let (from_s, to_s) = (piece.start_s(), piece.end_s());
            let (torque, current_a) = &mut self.known;
            *torque = piece.torque_range_nm(from_s, to_s, *torque);
            *current_a = piece.phase_current_peak_a(from_s, to_s, *current_a);
            let (torque, current_a) = &mut self.searched;
            let (low, high) = piece.torque_range_nm(from_s, to_s, NOTHING.torque_nm);
            *torque = (torque.0.min(low), torque.1.max(high));
            *current_a = current_a.max(piece.phase_current_peak_a(from_s, to_s, 0.0));
        }
    }

    /// A piece that is not searched had no peak: the same bits, in star and in delta.
    #[test]
    fn no_peak_is_lost_where_none_is_looked_for() {
        let star = built_in().to_owned();
        let delta = star.replace("connection = \"star\"", "connection = \"delta\"");
        for text in [star, delta] {
            let setup = Setup::parse(&text, "built in").unwrap();
            let nothing = (NOTHING.torque_nm, 0.0);
            let mut peaks = Peaks {
                known: nothing,
                searched: nothing,
            };
            Simulator::new(&setup).run_until(0.05, &mut peaks).unwrap();
            assert_eq!(peaks.known, peaks.searched);
            assert!(peaks.known.1 > 1.0, "{peaks:?}");
        }
    }
}
