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

/// Calls a method that is compiled for each number of free currents, for plain pieces and for others.
macro_rules! for_circuit {
    (($plain:expr, $n_free:expr), $self:ident.$method:ident($($argument:expr),*)) => {
        match ($plain, $n_free) {
            (true, 0) => $self.$method::<0, true>($($argument),*),
            (true, 1) => $self.$method::<1, true>($($argument),*),
            (true, _) => $self.$method::<2, true>($($argument),*),
            (false, 0) => $self.$method::<0, false>($($argument),*),
            (false, 1) => $self.$method::<1, false>($($argument),*),
            (false, _) => $self.$method::<2, false>($($argument),*),
        }
    };
}

mod bridge;
mod by_hand;
mod commutator;
mod error;
mod expansion;
mod flows;
mod passing;
mod piece;
mod plant;
mod poly;
mod recurrence;
mod sample;
mod search;
mod shape;
mod state;
mod totals;

pub use bridge::Path;
pub use by_hand::{Handling, by_hand, loop_current_a};
pub use error::RunError;
pub use flows::Flows;
pub use piece::{Moments, Piece};
pub use sample::{Event, EventKind, Sample};
pub use totals::{Stored, Totals, Work};

use std::f64::consts::FRAC_PI_3;

use bridge::{Branches, Circuits};
use commutator::Threshold;
use expansion::{Expansion, Scales};
use flows::End;
use plant::Plant;
use poly::{larger, smaller};
use search::Found;
use state::{Motion, State};

use crate::drive::LegState;
use crate::drive::clocks::{ForcedClock, PwmClock};
use crate::drive::steps::{ActiveLegs, active_legs};
use crate::machine::Machine;
use crate::setup::{Bench, Change, Direction, Setup};

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

/// Default size of what a piece may leave out, relative to full scale.
///
/// With it the standard case is within 2e-7 of full scale of a converged run
/// (`cargo bench --bench against_general_purpose`), and over random setups a hundredth of it
/// moves no figure by more than 1e-8 (`tests/properties.rs`). 1e-11 takes 13 % more orders for
/// 2e-9 there; at 1e-9 the lowest order used makes up the error, and no time is won.
pub const DEFAULT_TOLERANCE: f64 = 1e-10;

/// A machine on the bench, at an instant of its run.
#[derive(Clone, Debug)]
pub struct Simulator {
    machine: Machine,
    bench: Bench,
    changes: Vec<Change>,
    n_changes: usize,
    plant: Plant,
    state: State,
    /// The state at the start of the piece in hand, and what flows in it.
    start: State,
    flows: Flows,
    /// Which of the plant's circuits the present paths make.
    circuit: usize,
    legs: [LegState; 3],
    /// The step that the gates follow, and the legs that are active in it.
    step: (i64, Direction),
    active: ActiveLegs,
    pwm: Option<PwmClock>,
    forced: Option<ForcedClock>,
    /// Position-sensed commutation: where inside a sector the step changes.
    threshold: Threshold,
    expansion: Expansion,
    trial: Expansion,
    scales: Scales,
    totals: Totals,
    work: Work,
    started: bool,
    progress: Progress,
    forced_slip_reference_turns: f64,
}

/// Pieces after which time must have moved on, and by how much.
const PROGRESS_PIECES: u32 = 4096;
const PROGRESS_S: f64 = 1e-8;

/// What happened since it was last looked at whether time moves on.
#[derive(Clone, Copy, Debug, Default)]
struct Progress {
    /// When that was, in s.
    since_s: f64,
    n_pieces: u32,
    /// Of these, pieces that ended in no event: the solution could not be followed farther at once.
    n_without_event: u32,
}

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
            sixth: plant::sector_idx(sector),
            phi_rad,
            motion: if setup.run.hold_speed {
                Motion::Driven
            } else {
                Motion::Free {
                    negative: backwards,
                }
            },
        };
        let mut simulator = Self {
            circuit: Circuits::idx([Path::Open; 3]),
            threshold: Threshold::new(0.0, 0.0, false),
            machine,
            changes: setup.changes.clone(),
            n_changes: 0,
            plant,
            state,
            start: state,
            flows: Flows::default(),
            legs: [LegState::Floating; 3],
            step: (0, Direction::Forward),
            active: active_legs(0, Direction::Forward),
            pwm: bench.drive.pwm.map(|pwm| PwmClock::new(pwm, 0.0)),
            forced: None,
            bench,
            expansion: Expansion::new(),
            trial: Expansion::new(),
            scales: Scales::new(DEFAULT_TOLERANCE),
            totals: Totals {
                lowest_bridge_v: f64::INFINITY,
                ..Totals::default()
            },
            work: Work::default(),
            started: false,
            progress: Progress::default(),
            forced_slip_reference_turns: 0.0,
        };
        simulator.start_commutator();
        simulator.take_up_plant();
        simulator
    }

    /// The same with another size of the last coefficients, relative to full scale.
    #[must_use]
    pub fn with_tolerance(mut self, tolerance: f64) -> Self {
        self.scales.set_tolerance(tolerance);
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
    pub fn now(&self) -> Sample {
        // of a copy: a question changes nothing
        let mut copy = self.clone();
        copy.meet_state();
        let length_s = copy.length_limit_s::<false>();
        copy.expansion.expand(
            &copy.plant,
            copy.plant.circuits.at(copy.circuit),
            &copy.state,
            length_s,
            &copy.scales,
        );
        (copy.start, copy.flows) = (copy.state, Flows::default());
        copy.piece(0.0).sample(copy.state.time_s)
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

    /// Goes on towards `time_s`, as [`Simulator::run_until`], for at most so many pieces. True once
    /// it is reached: the bits are the same in however many goes.
    ///
    /// # Errors
    /// [`RunError`] where the run cannot go on; the simulator stays where it stopped.
    pub fn run_towards(
        &mut self,
        time_s: f64,
        max_pieces: u32,
        sink: &mut impl Sink,
    ) -> Result<bool, RunError> {
        self.start(sink);
        for _ in 0..max_pieces {
            if self.state.time_s >= time_s {
                break;
            }
            self.next_piece(time_s, sink)?;
        }
        Ok(self.state.time_s >= time_s)
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
        self.refresh_gates(EventKind::Change { idx: None }, sink);
    }

    /// Puts another machine on the bench, now, keeping angle, speed and currents.
    pub fn set_machine(&mut self, machine: Machine, sink: &mut impl Sink) {
        self.start(sink);
        let before = self.stored_sum();
        let turns = self.theta_elec_rad() / self.plant.pole_pairs;
        self.machine = machine;
        self.plant = Plant::new(&self.machine, &self.bench);
        let (sector, phi_rad) = State::sector_of(turns * self.plant.pole_pairs);
        self.state.enter(sector);
        self.state.phi_rad = phi_rad;
        if !self.plant.delta {
            self.state.loop_current_a = 0.0;
        }
        self.start_commutator();
        self.take_up_plant();
        self.take_up_motion();
        self.totals.by_hand_j += self.stored_sum() - before;
        self.refresh_gates(EventKind::Change { idx: None }, sink);
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
    #[inline]
    fn length_limit_s<const PLAIN: bool>(&self) -> f64 {
        let plant = &self.plant;
        let speed_rad_s = self.state.speed_rad_s;
        let rate = plant.series_rate::<PLAIN>(speed_rad_s, self.state.motion);
        // a sector's edge ends it before that
        let rate = larger((plant.pole_pairs * speed_rad_s).abs(), rate);
        // where nothing changes by itself, a second is as good as any length
        smaller(recurrence::LONGEST / rate, 1.0)
    }

    /// Takes what stands now into the scales.
    #[inline]
    fn meet_state(&mut self) {
        let [u, v, w] = self.state.current_a.map(f64::abs);
        let (current_a, speed_rad_s) = (larger(larger(u, v), w), self.state.speed_rad_s.abs());
        if (current_a > self.scales.current_a) | (speed_rad_s > self.scales.speed_rad_s) {
            self.scales.meet(current_a, speed_rad_s, 0.0);
        }
    }

    /// The circuit of the present paths.
    #[inline]
    fn branches(&self) -> &Branches {
        self.plant.circuits.at(self.circuit)
    }

    /// The piece in hand, which ends at the present state.
    fn piece(&self, end_tau: f64) -> Piece<'_> {
        Piece {
            plant: &self.plant,
            branches: self.branches(),
            expansion: &self.expansion,
            state: &self.start,
            flows: &self.flows,
            end_tau,
            end_s: self.state.time_s,
            step_count: self.step_count(),
            legs: self.legs,
        }
    }

    fn next_piece(&mut self, until_s: f64, sink: &mut impl Sink) -> Result<(), RunError> {
        let (due_s, due) = self.next_due(until_s);
        if due_s <= self.state.time_s {
            self.pass_due(due, sink);
            return Ok(());
        }
        // what the circuit and the plant leave out, known to the compiler
        let plain = self.plant.is_plain(self.state.motion);
        let n_free = self.branches().n_free;
        let (end_tau, found) = for_circuit!((plain, n_free), self.solve(due_s))?;
        if end_tau > 0.0 {
            sink.piece(&self.piece(end_tau));
            self.work.n_pieces += 1;
            self.work.n_orders += self.expansion.order as u64;
        }
        if let Some(found) = found {
            self.work.n_located += 1;
            self.pass_found(found, sink);
        } else if self.state.time_s >= due_s {
            self.pass_due(due, sink);
        } else {
            self.progress.n_without_event += 1;
        }
        self.check_progress()
    }

    /// Solves the piece that begins now, up to the first event and at most to `due_s`: where it
    /// ends and with what. What flows in it goes on the account, and the state to its end.
    #[inline(never)]
    fn solve<const N: usize, const PLAIN: bool>(
        &mut self,
        due_s: f64,
    ) -> Result<(f64, Option<Found>), RunError> {
        self.meet_state();
        let start_s = self.state.time_s;
        let full_s = due_s - start_s;
        let wanted_s = smaller(full_s, self.length_limit_s::<PLAIN>());
        let (plant, state) = (&self.plant, &self.state);
        let b = plant.circuits.at(self.circuit);
        self.expansion
            .expand_as::<N, PLAIN>(plant, b, state, wanted_s, &self.scales);
        let (end_tau, found) = self.search::<N, PLAIN>(b);
        let x = &self.expansion;
        let end_s = match found {
            None if x.length_s >= full_s => due_s,
            // a located event never lies behind the time that limits the piece
            _ => smaller(start_s + end_tau * x.length_s, due_s),
        };
        if end_tau > 0.0 {
            let end = End::new::<N, PLAIN>(plant, x, end_tau);
            if !end.is_finite() {
                return Err(self.overflow(&end));
            }
            let flows = flows::flows::<N, PLAIN>(plant, b, x, state.motion, &end);
            self.totals.flows.add(&flows);
            self.totals.turnover_j += flows.bridge_input_j.abs();
            (self.start, self.flows) = (self.state, flows);
            self.state.move_to::<N, PLAIN>(plant, b, &end, end_s);
            if !PLAIN && plant.soft.is_some() {
                self.totals.lowest_bridge_v = self.totals.lowest_bridge_v.min(end.bridge_v);
            }
        }
        Ok((end_tau, found))
    }

    /// A piece that does not end in numbers: nobody is shown it.
    #[cold]
    #[inline(never)]
    fn overflow(&self, end: &End) -> RunError {
        RunError::Overflow {
            at_s: self.state.time_s,
            quantity: if end.is_electrically_finite() {
                "speed"
            } else {
                "current"
            },
        }
    }

    fn check_progress(&mut self) -> Result<(), RunError> {
        self.progress.n_pieces += 1;
        if self.progress.n_pieces < PROGRESS_PIECES {
            return Ok(());
        }
        let (at_s, speed_rad_s) = (self.state.time_s, self.state.speed_rad_s);
        let within_s = at_s - self.progress.since_s;
        let n_without_event = self.progress.n_without_event;
        self.progress = Progress {
            since_s: at_s,
            ..Progress::default()
        };
        if within_s >= PROGRESS_S {
            return Ok(());
        }
        Err(if 2 * n_without_event > PROGRESS_PIECES {
            RunError::Stiff {
                at_s,
                n_pieces: PROGRESS_PIECES,
                within_s,
                speed_rad_s,
            }
        } else {
            RunError::Chatter {
                at_s,
                n_events: PROGRESS_PIECES,
                within_s,
                speed_rad_s,
            }
        })
    }
}
