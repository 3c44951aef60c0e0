//! The simulation: from event to event, with nothing fixed in between.
//!
//! Between two events (PWM edge, step change, diode starting or stopping, EMF corner, stop and
//! break-away of the rotor, a hand on the bench) the circuit is fixed and the solution smooth:
//! there it is a power series of as high an order as its accuracy wants. Events that depend on
//! the state are zeros of polynomials of that same series, found to the last bits. There is no
//! fixed step, no snubber, no tolerance on a current that should be zero.
//!
//! ```
//! use wyebench::{setup::Setup, sim::Simulator};
//! # let text = wyebench::setup::built_in();
//! let setup = Setup::parse(text, "built-in").unwrap();
//! let mut simulator = Simulator::new(&setup);
//! simulator.run_until(0.01, &mut ()).unwrap();
//! assert!(simulator.now().speed_rad_s > 0.0);
//! ```
//!
//! [`Simulator::run_until`] hands every piece of the solution and every event to a [`Sink`];
//! whoever wants samples, figures or pictures is a sink. Deliberately absent: clocks, files,
//! threads, and any notion of how fast a person wants to see it.

mod bridge;
mod by_hand;
mod error;
mod expansion;
mod piece;
mod plant;
mod poly;
mod quick;
mod search;
mod state;

pub use bridge::Path;
pub use by_hand::by_hand;
pub use error::RunError;
pub use piece::{Flows, Moments, Piece};

use std::f64::consts::FRAC_PI_3;

use bridge::Branches;
use expansion::{Expansion, Scales};
use plant::Plant;
use search::Found;
use state::{Motion, State};

use crate::drive::LegState;
use crate::drive::clocks::{ForcedClock, PwmClock};
use crate::drive::steps::{self, active_legs, leg_states};
use crate::machine::Machine;
use crate::record::{Event, EventKind, Sample};
use crate::setup::{Bench, Change, Chop, Commutation, Direction, Gates, PwmSetup, Setup};

/// Receives a run as it goes.
pub trait Sink {
    /// A piece of the solution; pieces follow each other without gap.
    fn piece(&mut self, _piece: &Piece<'_>) {}
    /// Something happened, at the end of the piece before.
    fn event(&mut self, _event: &Event) {}
}

/// Nobody listens.
impl Sink for () {}

/// Both listen.
impl<A: Sink, B: Sink> Sink for (&mut A, &mut B) {
    fn piece(&mut self, piece: &Piece<'_>) {
        self.0.piece(piece);
        self.1.piece(piece);
    }
    fn event(&mut self, event: &Event) {
        self.0.event(event);
        self.1.event(event);
    }
}

/// How much work a run was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Smooth pieces.
    pub n_pieces: u64,
    /// Pieces that ended in an event located by a root search.
    pub n_located: u64,
    /// Step changes.
    pub n_commutations: u64,
    /// Sum of the orders of all pieces.
    pub n_orders: u64,
    /// Decisions about legs at zero current that needed a comparison of candidates.
    pub n_decisions: u64,
}

/// Energy gone where since the start of the run, in J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// Flows summed up.
    pub flows: Flows,
    /// Energy that changes of the bench put in by hand.
    pub by_hand_j: f64,
    /// Energy through the bridge, counted positive both ways, piece by piece.
    pub turnover_j: f64,
    /// Lowest voltage across the bridge at the end of any piece, in V.
    pub lowest_bridge_v: f64,
}

/// Energy stored at an instant, in J.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stored {
    /// In inductances.
    pub magnetic_j: f64,
    /// In the capacitor across the bridge.
    pub capacitor_j: f64,
    /// In the turning masses.
    pub kinetic_j: f64,
    /// In cogging, as in a spring.
    pub cogging_j: f64,
}

/// Default size of the last coefficients of a piece, relative to full scale.
///
/// With it the standard case is within 6.5e-9 of full scale of a converged run
/// (`cargo bench --bench against_general_purpose`), and over random setups a hundredth of it
/// moves no figure by more than 1e-8 (`tests/properties.rs`). Looser values were not tried there.
pub const DEFAULT_TOLERANCE: f64 = 1e-11;

/// A machine on the bench, at an instant of its run.
#[derive(Clone, Debug)]
pub struct Simulator {
    machine: Machine,
    bench: Bench,
    changes: Vec<Change>,
    n_changes: usize,
    plant: Plant,
    state: State,
    branches: Branches,
    legs: [LegState; 3],
    pwm: Option<PwmClock>,
    forced: Option<ForcedClock>,
    /// Position-sensed commutation: where inside a sector the step changes.
    threshold: Threshold,
    expansion: Expansion,
    trial: Expansion,
    scales: Scales,
    /// Rates of the circuit alone, for the length of a piece, in 1/s.
    circuit_rate: f64,
    totals: Totals,
    work: Work,
    started: bool,
    /// Time and piece count when progress was last looked at.
    progress: (f64, u64),
    forced_slip_reference_turns: f64,
}

/// Where inside a 60° sector the step of a position-sensed drive changes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Threshold {
    /// Angle inside the sector; `None`: at the sectors' edges.
    phi_rad: Option<f64>,
    /// Step count minus sector below the threshold.
    shift: i64,
    /// Whether the rotor is past it.
    past: bool,
}

impl Threshold {
    /// For an advance that counts positive when step changes come at smaller angles.
    fn new(advance_rad: f64, phi_rad: f64, negative: bool) -> Self {
        const EDGE: f64 = 1e-12;
        if advance_rad.abs() < EDGE {
            Self {
                phi_rad: None,
                shift: 0,
                past: false,
            }
        } else if (advance_rad.abs() - FRAC_PI_3).abs() < EDGE {
            Self {
                phi_rad: None,
                shift: if advance_rad > 0.0 { 1 } else { -1 },
                past: false,
            }
        } else {
            let (at, shift) = if advance_rad > 0.0 {
                (FRAC_PI_3 - advance_rad, 0)
            } else {
                (-advance_rad, -1)
            };
            let past = if negative {
                phi_rad > at
            } else {
                phi_rad >= at
            };
            Self {
                phi_rad: Some(at),
                shift,
                past,
            }
        }
    }
}

/// Pieces after which time must have moved on, and by how much.
const PROGRESS_PIECES: u64 = 4096;
const PROGRESS_S: f64 = 1e-8;

impl Simulator {
    /// A simulator at the start of a setup's run.
    #[must_use]
    pub fn new(setup: &Setup) -> Self {
        let machine = Machine::new(&setup.machine);
        let bench = setup.bench.clone();
        let plant = Plant::new(&machine, &bench);
        let reverse = bench.drive.direction == Direction::Reverse;
        let (mut sector, mut phi_rad) =
            State::sector_of(setup.run.start_angle_rad * plant.pole_pairs);
        let backwards =
            setup.run.start_speed_rad_s < 0.0 || setup.run.start_speed_rad_s == 0.0 && reverse;
        if phi_rad == 0.0 && backwards {
            // on an edge, looking the other way
            (sector, phi_rad) = (sector - 1, FRAC_PI_3);
        }
        let state = State {
            time_s: 0.0,
            current_a: [0.0; 3],
            loop_current_a: 0.0,
            bridge_v: bench.supply.voltage_v,
            speed_rad_s: setup.run.start_speed_rad_s,
            sector,
            phi_rad,
            motion: if setup.run.hold_speed {
                Motion::Driven
            } else {
                Motion::Free {
                    negative: backwards,
                }
            },
        };
        let scales = Scales {
            current_a: 0.0,
            speed_rad_s: 0.0,
            voltage_v: 0.0,
            tolerance: DEFAULT_TOLERANCE,
        };
        let mut simulator = Self {
            branches: Branches::new([Path::Open; 3], plant.switch),
            threshold: Threshold::new(0.0, 0.0, false),
            machine,
            changes: setup.changes.clone(),
            n_changes: 0,
            plant,
            state,
            legs: [LegState::Floating; 3],
            pwm: bench.drive.pwm.map(|pwm| PwmClock::new(pwm, 0.0)),
            forced: None,
            bench,
            expansion: Expansion::new(),
            trial: Expansion::new(),
            scales,
            circuit_rate: 0.0,
            totals: Totals::default(),
            work: Work::default(),
            started: false,
            progress: (0.0, 0),
            forced_slip_reference_turns: 0.0,
        };
        simulator.start_commutator();
        simulator.take_up_plant();
        simulator
    }

    /// The same with another size of the last coefficients, relative to full scale.
    #[must_use]
    pub fn with_tolerance(mut self, tolerance: f64) -> Self {
        self.scales.tolerance = tolerance;
        self
    }

    /// The machine on the bench.
    #[must_use]
    pub const fn machine(&self) -> &Machine {
        &self.machine
    }

    /// What drives, feeds and loads it now.
    #[must_use]
    pub const fn bench(&self) -> &Bench {
        &self.bench
    }

    /// Time since the start of the run in s.
    #[must_use]
    pub const fn time_s(&self) -> f64 {
        self.state.time_s
    }

    /// Mechanical speed in rad/s.
    #[must_use]
    pub const fn speed_rad_s(&self) -> f64 {
        self.state.speed_rad_s
    }

    /// Where the energy went so far.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        &self.totals
    }

    /// How much work the run was so far.
    #[must_use]
    pub const fn work(&self) -> &Work {
        &self.work
    }

    /// Electrical angle of the rotor in rad, not wrapped.
    #[must_use]
    pub fn theta_elec_rad(&self) -> f64 {
        plant::theta_elec_rad(self.state.sector, self.state.phi_rad)
    }

    /// Electrical turns by which the rotor has fallen behind a forced drive since that drive
    /// began (negative: run ahead); `None` where the drive is not forced.
    #[must_use]
    pub fn forced_slip_turns(&self) -> Option<f64> {
        let clock = self.forced.as_ref()?;
        let sign = self.sense();
        Some(
            clock.turns_at(self.state.time_s)
                - sign * self.theta_elec_rad() / std::f64::consts::TAU
                - self.forced_slip_reference_turns,
        )
    }

    /// Commanded frequency of a forced drive in Hz; `None` where the drive is not forced.
    #[must_use]
    pub fn forced_frequency_hz(&self) -> Option<f64> {
        self.forced
            .as_ref()
            .map(|clock| clock.frequency_at_hz(self.state.time_s))
    }

    /// Energy stored now.
    #[must_use]
    pub fn stored(&self) -> Stored {
        let mut squares = 0.0;
        for current in self.state.current_a {
            squares += current * current;
        }
        let loop_square = self.state.loop_current_a * self.state.loop_current_a;
        Stored {
            magnetic_j: 0.5 * self.plant.lead_inductance_h * squares
                + if self.plant.delta {
                    1.5 * self.plant.winding_inductance_h * loop_square
                } else {
                    0.0
                },
            capacitor_j: self.plant.soft.map_or(0.0, |(_, capacitance_f)| {
                0.5 * capacitance_f * self.state.bridge_v * self.state.bridge_v
            }),
            kinetic_j: if self.state.motion == Motion::Driven {
                0.0
            } else {
                0.5 * self.plant.inertia_kg_m2 * self.state.speed_rad_s * self.state.speed_rad_s
            },
            cogging_j: self
                .plant
                .cogging_energy_j(self.state.sector, self.state.phi_rad),
        }
    }

    /// The solution now. At an instant where the circuit changes, the value after the change.
    #[must_use]
    pub fn now(&mut self) -> Sample {
        self.expand(self.length_limit_s());
        self.piece(0.0, self.state.time_s).sample(self.state.time_s)
    }

    /// Runs until `time_s`, handing pieces and events to `sink`.
    ///
    /// # Errors
    /// [`RunError`] where the run cannot go on; the simulator stays where it stopped.
    pub fn run_until(&mut self, time_s: f64, sink: &mut impl Sink) -> Result<(), RunError> {
        self.start(sink);
        while self.state.time_s < time_s {
            self.next_piece(time_s, sink)?;
        }
        Ok(())
    }

    /// Runs whole pieces until `time_s` is reached or passed, without cutting one there: the
    /// bits of the run do not depend on when somebody looked.
    ///
    /// # Errors
    /// [`RunError`] where the run cannot go on; the simulator stays where it stopped.
    pub fn run_past(
        &mut self,
        time_s: f64,
        max_pieces: u32,
        sink: &mut impl Sink,
    ) -> Result<(), RunError> {
        self.start(sink);
        for _ in 0..max_pieces {
            if self.state.time_s >= time_s {
                break;
            }
            self.next_piece(f64::INFINITY, sink)?;
        }
        Ok(())
    }

    /// Puts another bench under the machine, now: what a hand does while it runs.
    pub fn set_bench(&mut self, bench: Bench, sink: &mut impl Sink) {
        self.start(sink);
        self.change_bench(bench);
        self.refresh_gates(EventKind::Change { idx: u32::MAX }, sink);
    }

    /// Puts another machine on the bench, now, keeping angle, speed and currents.
    pub fn set_machine(&mut self, machine: Machine, sink: &mut impl Sink) {
        self.start(sink);
        let before = self.stored_sum();
        let turns = self.theta_elec_rad() / self.plant.pole_pairs;
        self.machine = machine;
        self.plant = Plant::new(&self.machine, &self.bench);
        (self.state.sector, self.state.phi_rad) = State::sector_of(turns * self.plant.pole_pairs);
        if !self.plant.delta {
            self.state.loop_current_a = 0.0;
        }
        self.start_commutator();
        self.take_up_plant();
        self.totals.by_hand_j += self.stored_sum() - before;
        self.refresh_gates(EventKind::Change { idx: u32::MAX }, sink);
    }

    // ---- one piece -----------------------------------------------------------------------

    fn start(&mut self, sink: &mut impl Sink) {
        if self.started {
            return;
        }
        self.started = true;
        self.refresh_gates(EventKind::Start, sink);
        if self.state.motion != Motion::Driven && self.state.speed_rad_s == 0.0 {
            self.decide_motion();
        }
    }

    /// Longest a piece may be by the rates of the circuit and the rotor, in s.
    fn length_limit_s(&self) -> f64 {
        let electrical_rad_s = (self.plant.pole_pairs * self.state.speed_rad_s).abs();
        let cogging = self
            .plant
            .cogging
            .map_or(0.0, |cogging| f64::from(cogging.per_electrical_turn));
        let rate = self
            .circuit_rate
            .max(electrical_rad_s * self.plant.highest_order.max(cogging));
        // where nothing changes by itself, a second is as good as any length
        (4.0 / rate).min(1.0)
    }

    fn expand(&mut self, length_s: f64) {
        for current in self.state.current_a {
            self.scales.current_a = self.scales.current_a.max(current.abs());
        }
        self.scales.speed_rad_s = self.scales.speed_rad_s.max(self.state.speed_rad_s.abs());
        self.expansion.expand(
            &self.plant,
            &self.branches,
            &self.state,
            length_s,
            &self.scales,
        );
    }

    fn piece(&self, end_tau: f64, end_s: f64) -> Piece<'_> {
        Piece {
            plant: &self.plant,
            branches: &self.branches,
            expansion: &self.expansion,
            state: &self.state,
            end_tau,
            end_s,
            step_count: self.step_count(),
            legs: self.legs,
        }
    }

    fn next_piece(&mut self, until_s: f64, sink: &mut impl Sink) -> Result<(), RunError> {
        let (due_s, due) = self.next_due(until_s);
        let full_s = due_s - self.state.time_s;
        if full_s <= 0.0 {
            self.pass_due(due, sink);
            return Ok(());
        }
        let wanted_s = full_s.min(self.length_limit_s());
        self.expand(wanted_s);
        let found = self.search();
        let (end_tau, end_s) = match found {
            Some((tau, _)) => (tau, self.state.time_s + tau * self.expansion.length_s),
            None if self.expansion.length_s >= full_s => (1.0, due_s),
            None => (1.0, self.state.time_s + self.expansion.length_s),
        };
        // a located event never lies behind the time that limits the piece
        let end_s = end_s.min(due_s);
        if end_tau > 0.0 {
            let piece = self.piece(end_tau, end_s);
            let flows = piece.flows();
            sink.piece(&piece);
            self.totals.flows.add(&flows);
            self.totals.turnover_j += flows.bridge_input_j.abs();
            self.move_to(end_tau, end_s)?;
            self.work.n_pieces += 1;
            self.work.n_orders += self.expansion.order as u64;
        }
        if let Some((_, found)) = found {
            self.work.n_located += 1;
            self.pass_found(found, sink);
        } else if self.state.time_s >= due_s {
            self.pass_due(due, sink);
        }
        self.check_progress()
    }

    /// Takes the state to the end of the piece.
    fn move_to(&mut self, tau: f64, end_s: f64) -> Result<(), RunError> {
        let (x, order) = (&self.expansion, self.expansion.order);
        let (first, second, third) = (
            self.branches.pair.0,
            self.branches.pair.1,
            self.branches.third,
        );
        let mut check = 0.0;
        if self.branches.n_connected >= 2 {
            let a = poly::value(&x.current[first], order, tau);
            let b = if self.branches.n_connected == 3 {
                poly::value(&x.current[second], order, tau)
            } else {
                -a
            };
            self.state.current_a[first] = a;
            self.state.current_a[second] = b;
            self.state.current_a[third] = if self.branches.n_connected == 3 {
                -(a + b)
            } else {
                0.0
            };
            check += a + b;
        }
        if self.plant.delta {
            self.state.loop_current_a = poly::value(&x.loop_current, order, tau);
            check += self.state.loop_current_a;
        }
        if let Motion::Free { .. } = self.state.motion {
            self.state.speed_rad_s = poly::value(&x.speed, x.mechanical_order, tau);
        }
        if self.state.motion != Motion::Held {
            self.state.phi_rad = poly::value(&x.phi, x.mechanical_order, tau);
        }
        if self.plant.soft.is_some() {
            self.state.bridge_v = poly::value(&x.bridge_v, order, tau);
            self.totals.lowest_bridge_v = self.totals.lowest_bridge_v.min(self.state.bridge_v);
            check += self.state.bridge_v;
        }
        self.state.time_s = end_s;
        if !check.is_finite() {
            return Err(RunError::Overflow {
                at_s: end_s,
                quantity: "current",
            });
        }
        if !(self.state.speed_rad_s.is_finite() && self.state.phi_rad.is_finite()) {
            return Err(RunError::Overflow {
                at_s: end_s,
                quantity: "speed",
            });
        }
        Ok(())
    }

    fn check_progress(&mut self) -> Result<(), RunError> {
        self.progress.1 += 1;
        if self.progress.1 < PROGRESS_PIECES {
            return Ok(());
        }
        let within_s = self.state.time_s - self.progress.0;
        self.progress = (self.state.time_s, 0);
        if within_s < PROGRESS_S {
            return Err(RunError::Chatter {
                at_s: self.state.time_s,
                n_events: 4096,
                within_s,
            });
        }
        Ok(())
    }

    // ---- events in time ------------------------------------------------------------------

    fn next_due(&self, until_s: f64) -> (f64, Due) {
        let mut next = (until_s, Due::Until);
        if let Some(pwm) = &self.pwm {
            let at = pwm.next_edge_s();
            if at < next.0 {
                next = (at, Due::Pwm);
            }
        }
        if let Some(forced) = &self.forced {
            let at = forced.next_change_s();
            if at < next.0 {
                next = (at, Due::ForcedStep);
            }
        }
        if let Some(change) = self.changes.get(self.n_changes)
            && change.at_s <= next.0
        {
            next = (change.at_s, Due::Change);
        }
        next
    }

    fn pass_due(&mut self, due: Due, sink: &mut impl Sink) {
        match due {
            Due::Until => {}
            Due::Pwm => {
                let Some((clock, setup)) = self.pwm.as_mut().zip(self.bench.drive.pwm) else {
                    return;
                };
                let was_on = clock.on();
                clock.pass_edge(setup);
                if clock.on() != was_on {
                    let kind = if clock.on() {
                        EventKind::PwmOn
                    } else {
                        EventKind::PwmOff
                    };
                    self.refresh_gates(kind, sink);
                }
            }
            Due::ForcedStep => {
                if let Some(clock) = &mut self.forced {
                    clock.pass_change();
                }
                self.work.n_commutations += 1;
                self.refresh_gates(EventKind::StepChange, sink);
            }
            Due::Change => {
                let idx = self.n_changes;
                self.n_changes += 1;
                self.change_bench(self.changes[idx].bench.clone());
                self.refresh_gates(
                    EventKind::Change {
                        idx: u32::try_from(idx).unwrap_or(u32::MAX),
                    },
                    sink,
                );
            }
        }
    }

    // ---- events in the state -------------------------------------------------------------

    fn pass_found(&mut self, found: Found, sink: &mut impl Sink) {
        match found {
            Found::SectorUp | Found::SectorDown => {
                let up = found == Found::SectorUp;
                self.state.sector += if up { 1 } else { -1 };
                self.state.phi_rad = if up { 0.0 } else { FRAC_PI_3 };
                if self.threshold.phi_rad.is_some() {
                    self.threshold.past = !up;
                } else {
                    self.pass_step(sink);
                }
            }
            Found::ThresholdUp | Found::ThresholdDown => {
                if let Some(phi_rad) = self.threshold.phi_rad {
                    self.state.phi_rad = phi_rad;
                }
                self.threshold.past = found == Found::ThresholdUp;
                self.pass_step(sink);
            }
            Found::CurrentZero(leg) => {
                self.stop_current(leg);
                self.resolve();
                self.tell(
                    EventKind::DiodeOff {
                        leg: leg_number(leg),
                    },
                    sink,
                );
            }
            Found::OpenLeg { .. } | Found::OpenPair => {
                let before = self.branches.path;
                let started = match found {
                    Found::OpenLeg { leg, upper } => self.start_diode(leg, upper),
                    _ => false,
                };
                if !started {
                    self.resolve();
                }
                for leg in 0..3 {
                    let path = self.branches.path[leg];
                    if path != before[leg] && path.is_diode() {
                        self.tell(
                            EventKind::DiodeOn {
                                leg: leg_number(leg),
                                upper: path.is_upper(),
                            },
                            sink,
                        );
                    }
                }
            }
            Found::SpeedZero => {
                self.state.speed_rad_s = 0.0;
                self.decide_motion();
                let kind = if self.state.motion == Motion::Held {
                    EventKind::Stuck
                } else {
                    EventKind::Reversal
                };
                self.tell(kind, sink);
            }
            Found::BreakAway { negative } => {
                self.state.motion = Motion::Free { negative };
                self.tell(EventKind::BrokeAway, sink);
            }
        }
    }

    /// The rotor passed an angle at which a position-sensed drive steps.
    fn pass_step(&mut self, sink: &mut impl Sink) {
        if self.bench.drive.commutation == Commutation::Position
            && self.bench.drive.gates == Gates::Stepping
        {
            self.work.n_commutations += 1;
            self.refresh_gates(EventKind::StepChange, sink);
        }
    }

    /// Sets the current of a leg to exactly zero and what follows from it.
    fn stop_current(&mut self, leg: usize) {
        let current = &mut self.state.current_a;
        current[leg] = 0.0;
        let (a, b) = ((leg + 1) % 3, (leg + 2) % 3);
        if self.branches.n_connected == 2 {
            current[a] = 0.0;
            current[b] = 0.0;
        } else {
            let half = 0.5 * (current[a] - current[b]);
            current[a] = half;
            current[b] = -half;
        }
    }

    /// At zero speed: which way the rotor goes, if any.
    fn decide_motion(&mut self) {
        let torque_nm = self.standstill_torque_nm();
        let noise_nm = 1e-12 * self.torque_scale_nm();
        let was_negative = self.state.motion == (Motion::Free { negative: true });
        self.state.motion = if torque_nm.abs() <= self.plant.dry_nm && self.plant.dry_nm > 0.0 {
            Motion::Held
        } else if torque_nm.abs() > noise_nm {
            Motion::Free {
                negative: torque_nm < 0.0,
            }
        } else {
            Motion::Free {
                negative: if self.started {
                    !was_negative
                } else {
                    was_negative
                },
            }
        };
    }

    /// All torque on the standing rotor but dry friction, in N m.
    fn standstill_torque_nm(&self) -> f64 {
        let shape = self.plant.shape_at(self.state.sector, self.state.phi_rad);
        let mut torque = self
            .plant
            .cogging_torque_nm(self.state.sector, self.state.phi_rad)
            - self.plant.gravity_nm;
        for leg in 0..3 {
            torque += shape[leg] * self.state.current_a[leg];
        }
        if self.plant.delta {
            torque += 3.0 * shape[plant::LOOP] * self.state.loop_current_a;
        }
        torque
    }

    fn torque_scale_nm(&self) -> f64 {
        self.plant.emf_scale_v_s * self.scales.current_a
            + self.plant.dry_nm
            + self.plant.gravity_nm.abs()
            + self.machine.cogging_peak_nm
    }

    // ---- bench, commutator, gates --------------------------------------------------------

    fn stored_sum(&self) -> f64 {
        let stored = self.stored();
        stored.magnetic_j + stored.capacitor_j + stored.kinetic_j + stored.cogging_j
    }

    fn change_bench(&mut self, bench: Bench) {
        let before = self.stored_sum();
        let old = std::mem::replace(&mut self.bench, bench);
        self.plant = Plant::new(&self.machine, &self.bench);
        let (drive, old_drive) = (&self.bench.drive, &old.drive);
        match (drive.pwm, &mut self.pwm) {
            (None, pwm) => *pwm = None,
            (Some(setup), pwm @ None) => *pwm = Some(PwmClock::new(setup, self.state.time_s)),
            (Some(_), Some(_)) => {}
        }
        if drive.commutation != old_drive.commutation
            || drive.direction != old_drive.direction
            || drive.advance_rad.to_bits() != old_drive.advance_rad.to_bits()
        {
            self.start_commutator();
        } else if let (Some(setup), Some(clock)) = (&drive.forced, &mut self.forced)
            && drive.forced != old_drive.forced
        {
            clock.retune(setup, self.state.time_s);
        }
        self.take_up_plant();
        // a held rotor may be freed or loaded by the change; a driven one stays driven
        if self.state.motion == Motion::Held
            && self.standstill_torque_nm().abs() > self.plant.dry_nm
        {
            self.decide_motion();
        }
        self.totals.by_hand_j += self.stored_sum() - before;
    }

    /// Sets up what decides the step, for the present angle and time.
    fn start_commutator(&mut self) {
        let drive = &self.bench.drive;
        let reverse = drive.direction == Direction::Reverse;
        let advance_rad = if reverse {
            -drive.advance_rad
        } else {
            drive.advance_rad
        };
        self.threshold = Threshold::new(advance_rad, self.state.phi_rad, reverse);
        self.forced = match (drive.commutation, &drive.forced) {
            (Commutation::Forced, Some(setup)) => Some(ForcedClock::new(setup, self.state.time_s)),
            _ => None,
        };
        if self.forced.is_some() {
            let sign = self.sense();
            self.forced_slip_reference_turns =
                -sign * self.theta_elec_rad() / std::f64::consts::TAU;
        }
    }

    /// +1 forward, −1 in reverse.
    fn sense(&self) -> f64 {
        if self.bench.drive.direction == Direction::Reverse {
            -1.0
        } else {
            1.0
        }
    }

    /// Running count of the step; 0 is step 1.
    fn step_count(&self) -> i64 {
        match (&self.forced, &self.bench.drive.forced) {
            (Some(clock), Some(setup)) => {
                let start = i64::from(setup.start_step) - 1;
                match self.bench.drive.direction {
                    Direction::Forward => start + clock.n_changes(),
                    Direction::Reverse => start - clock.n_changes(),
                }
            }
            _ => self.state.sector + self.threshold.shift + i64::from(self.threshold.past),
        }
    }

    /// Takes up a new plant: rates, scales, stiff voltage.
    fn take_up_plant(&mut self) {
        let plant = &self.plant;
        if plant.soft.is_none() {
            self.state.bridge_v = plant.supply_v;
        }
        let ohm = plant.lead_resistance_ohm + plant.switch.on_ohm.max(plant.switch.diode_ohm);
        let mut rate = ohm / plant.lead_inductance_h;
        if self.state.motion != Motion::Driven {
            rate = rate
                .max(plant.emf_scale_v_s / (plant.lead_inductance_h * plant.inertia_kg_m2).sqrt());
            rate = rate.max(plant.viscous_nm_s / plant.inertia_kg_m2);
        }
        if let Some((source_ohm, capacitance_f)) = plant.soft {
            rate = rate.max(1.0 / (source_ohm * capacitance_f));
            rate = rate.max(1.0 / (plant.lead_inductance_h * capacitance_f).sqrt());
        }
        self.circuit_rate = rate;
        let voltage_v = plant
            .supply_v
            .max(self.state.bridge_v.abs())
            .max(plant.emf_scale_v_s * self.state.speed_rad_s.abs())
            .max(1e-6);
        self.scales.voltage_v = self.scales.voltage_v.max(voltage_v);
        // what the voltage could drive in a tenth of a millisecond, or at most, whichever is less
        let rise_a = voltage_v * 1e-4 / plant.lead_inductance_h;
        let most_a = if ohm > 0.0 { voltage_v / ohm } else { rise_a };
        self.scales.current_a = self.scales.current_a.max(1e-3 * rise_a.min(most_a));
        self.scales.speed_rad_s = self
            .scales
            .speed_rad_s
            .max(1e-3 * (voltage_v / plant.emf_scale_v_s).min(1e5));
        self.branches = Branches::new(self.branches.path, plant.switch);
        // series that a plant leaves alone stay zero
        self.expansion = Expansion::new();
        self.trial = Expansion::new();
    }

    /// Sets the gates by step, PWM and bench, then what the legs connect.
    fn refresh_gates(&mut self, kind: EventKind, sink: &mut impl Sink) {
        let drive = &self.bench.drive;
        let on_part = self.pwm.as_ref().is_none_or(PwmClock::on);
        let chop = drive
            .pwm
            .map_or(Chop::HighSide, |PwmSetup { chop, .. }| chop);
        let active = active_legs(self.step_count(), drive.direction);
        self.legs = leg_states(active, drive.gates, chop, on_part);
        self.resolve();
        self.tell(kind, sink);
    }

    fn tell(&self, kind: EventKind, sink: &mut impl Sink) {
        sink.event(&Event {
            time_s: self.state.time_s,
            kind,
            step: steps::step_number(self.step_count()),
            legs: self.legs,
        });
    }
}

/// What a clock announces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Due {
    Until,
    Pwm,
    ForcedStep,
    Change,
}

fn leg_number(leg: usize) -> u8 {
    [0, 1, 2][leg]
}

impl Flows {
    /// Adds another part.
    pub fn add(&mut self, other: &Self) {
        self.supply_charge_as += other.supply_charge_as;
        self.supply_j += other.supply_j;
        self.bridge_input_j += other.bridge_input_j;
        self.copper_j += other.copper_j;
        self.bridge_j += other.bridge_j;
        self.friction_j += other.friction_j;
        self.shaft_j += other.shaft_j;
        self.load_torque_nm_s += other.load_torque_nm_s;
        self.angle_mech_rad += other.angle_mech_rad;
    }

    /// What came between an earlier total and this one.
    #[must_use]
    pub fn since(&self, earlier: &Self) -> Self {
        Self {
            supply_charge_as: self.supply_charge_as - earlier.supply_charge_as,
            supply_j: self.supply_j - earlier.supply_j,
            bridge_input_j: self.bridge_input_j - earlier.bridge_input_j,
            copper_j: self.copper_j - earlier.copper_j,
            bridge_j: self.bridge_j - earlier.bridge_j,
            friction_j: self.friction_j - earlier.friction_j,
            shaft_j: self.shaft_j - earlier.shaft_j,
            load_torque_nm_s: self.load_torque_nm_s - earlier.load_torque_nm_s,
            angle_mech_rad: self.angle_mech_rad - earlier.angle_mech_rad,
        }
    }
}
