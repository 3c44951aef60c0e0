//! From event to event: what happens at an instant, then the smooth piece after it.

use super::circuit::Link;
use super::clock::{ForcedClock, PwmClock, gates, step_of_sector};
use super::figures::{self, Extremes, N_INTEGRALS, RunEnd, Sum};
use super::machine::sector_of;
use super::piece::{MAX_WATCHED, Motion, Piece, State, Watched};
use super::recorder::{Recorder, same_instant};
use super::steppers::Stepper;
use super::watch::{Step, Watch};
use super::{N_STATES, Options, Outcome, Work};
use wyebench::analysis::EnergyAccount;
use wyebench::drive::LegState;
use wyebench::record::{Event, EventKind};
use wyebench::setup::{Bench, Commutation, Direction, DriveSetup, Setup};

/// The start of a piece inside the measuring time.
#[derive(Clone, Debug)]
pub struct Checkpoint<const N: usize> {
    /// s.
    pub time: f64,
    /// The equations from here on.
    pub piece: Piece,
    /// The state here.
    pub state: State,
    /// Integrals up to here.
    pub integrals: [f64; N_INTEGRALS],
    /// Step changes up to here.
    pub commutations: u64,
    /// Extremes from here to the next checkpoint.
    pub extremes: Extremes,
}

struct Bencher<'s> {
    setup: &'s Setup,
    t: f64,
    state: State,
    piece: Piece,
    pwm: Option<PwmClock>,
    forced: Option<ForcedClock>,
    changes_done: usize,
    commutations: u64,
    events: Vec<Event>,
    work: Work,
    by_hand: f64,
}

/// Runs a setup.
pub fn run<const N: usize, S: Stepper<N> + ?Sized>(
    setup: &Setup,
    options: &Options,
    stepper: &mut S,
) -> Outcome {
    let mut bench = Bencher::new(setup, options);
    let mut recorder = Recorder::new(setup, options);
    let mut sums = [Sum::default(); N_INTEGRALS];
    let mut checkpoints: Vec<Checkpoint<N>> = Vec::new();
    let with_integrals = N > N_STATES;
    let end = setup.run.duration_s;
    let measure_from = if with_integrals {
        (end - setup.run.measure_s).max(0.0)
    } else {
        f64::INFINITY
    };
    let energy_before = bench.stored();
    let h_max = options.step_per_turn * std::f64::consts::TAU
        / (bench.piece.machine.pole_pairs * bench.piece.scales.speed);
    let mut without_progress = 0;
    loop {
        let tolerance = same_instant(bench.t);
        bench.timed_events(tolerance);
        bench.piece.place(bench.state.theta);
        let y0 = bench.piece.scaled::<N>(&bench.state);
        while recorder.next_time() <= bench.t + tolerance {
            recorder.push(&bench.piece, &y0);
        }
        if bench.t >= end - tolerance {
            break;
        }
        recorder.piece_start = bench.t;
        if bench.t >= measure_from - tolerance {
            recorder.want_extremes = true;
            recorder.extremes = Extremes::NONE;
            checkpoints.push(Checkpoint {
                time: bench.t,
                piece: bench.piece.clone(),
                state: bench.state,
                integrals: sums.map(|s| s.value()),
                commutations: bench.commutations,
                extremes: Extremes::NONE,
            });
        }
        let mut next = bench.next_timed().min(end);
        if measure_from > bench.t + tolerance {
            next = next.min(measure_from);
        }
        if options.stop_at_samples {
            next = next.min(recorder.next_time());
        }
        let length = next - bench.t;
        bench.work.pieces += 1;
        let mut watch = Watch::new(&bench.piece, &mut recorder, options.look_inside, y0);
        let mut reached = next;
        let mut happened = watch.over_at_start();
        if happened {
            reached = bench.t;
        } else {
            stepper.advance(&mut watch, length, h_max);
            if let Some((step, x)) = watch.hit {
                let (x, y) = locate(watch.piece, stepper, &step, x, options, &mut bench.work);
                let mut d = [0.0; N];
                watch.piece.rhs(&y, &mut d);
                if x > step.x0 {
                    let part = Step {
                        x1: x,
                        y1: y,
                        d1: d,
                        ..step
                    };
                    watch.accept(&part);
                }
                reached = bench.t + x;
                happened = true;
            }
        }
        bench.work.steps += watch.steps;
        let y = watch.y;
        for (sum, part) in sums.iter_mut().zip(bench.piece.integrals(&y)) {
            sum.add(part);
        }
        if let Some(last) = checkpoints.last_mut() {
            last.extremes = recorder.extremes;
        }
        without_progress = if reached > bench.t {
            0
        } else {
            without_progress + 1
        };
        assert!(
            without_progress < 30,
            "stands still at t = {} with {:?} {:?} {:?}",
            bench.t,
            bench.piece.links,
            bench.piece.motion,
            bench.piece.watched()
        );
        bench.state = bench.piece.state(&y);
        bench.t = reached;
        if happened {
            bench.work.located += 1;
            bench.fire(&y);
        }
    }
    bench.work.smooth_pieces = 1 + bench.work.located + bench.work.timed;
    bench.log(EventKind::End);
    let energy_after = bench.stored();
    let integrals = sums.map(|s| s.value());
    let mut outcome = Outcome {
        samples: std::mem::take(&mut recorder.samples),
        events: std::mem::take(&mut bench.events),
        window: None,
        energy: None,
        commutations: bench.commutations,
        work: bench.work,
    };
    if with_integrals {
        outcome.energy = Some(EnergyAccount {
            supply_j: integrals[9],
            shaft_j: integrals[10],
            friction_j: integrals[13],
            copper_j: integrals[11],
            bridge_j: integrals[12],
            magnetic_change_j: energy_after[0] - energy_before[0],
            capacitor_change_j: energy_after[1] - energy_before[1],
            kinetic_change_j: energy_after[2] - energy_before[2],
            cogging_change_j: energy_after[3] - energy_before[3],
            by_hand_j: bench.by_hand,
            turnover_j: 0.0,
        });
        let run_end = RunEnd {
            time: bench.t,
            theta: bench.state.theta,
            integrals,
            commutations: bench.commutations,
        };
        figures::window(setup, &checkpoints, &run_end, stepper, &mut outcome);
    }
    outcome
}

/// The event in a step: the zero on the cubic is a first guess, then the solution itself is
/// integrated to the guess until the least watched function is at zero within the margin.
fn locate<const N: usize, S: Stepper<N> + ?Sized>(
    piece: &Piece,
    stepper: &mut S,
    step: &Step<N>,
    guess: f64,
    options: &Options,
    work: &mut Work,
) -> (f64, [f64; N]) {
    let (mut low, mut high) = (step.x0, step.x1);
    let mut x = guess;
    let mut previous: Option<(f64, f64)> = None;
    let mut y = step.y0;
    for _ in 0..40 {
        y = stepper.inside(piece, step, x);
        work.leaps += 1;
        let g = piece.least_watched(&y);
        if g.abs() <= 0.25 * options.event_margin || high - low <= 4e-16 * step.x1 {
            break;
        }
        if g > 0.0 {
            low = x;
        } else {
            high = x;
        }
        let slope = match previous {
            Some((x_before, g_before)) if g_before != g => (g - g_before) / (x - x_before),
            _ => {
                let dx = 1e-3 * (step.x1 - step.x0);
                let ahead = piece.least_watched(&step.at(x + dx));
                let behind = piece.least_watched(&step.at(x - dx));
                (ahead - behind) / (2.0 * dx)
            }
        };
        previous = Some((x, g));
        let better = x - g / slope;
        x = if better > low && better < high {
            better
        } else {
            0.5 * (low + high)
        };
    }
    (x, y)
}

impl<'s> Bencher<'s> {
    fn new(setup: &'s Setup, options: &Options) -> Self {
        let piece = Piece::new(setup, options);
        let state = State {
            i: options.start_current_a,
            omega: setup.run.start_speed_rad_s,
            theta: setup.run.start_angle_rad,
            v_dc: setup.bench.supply.voltage_v,
        };
        let drive = &setup.bench.drive;
        let mut bench = Self {
            setup,
            t: 0.0,
            state,
            pwm: drive.pwm.as_ref().map(|pwm| PwmClock::new(pwm, 0.0)),
            forced: None,
            changes_done: 0,
            commutations: 0,
            events: Vec::new(),
            work: Work::default(),
            by_hand: 0.0,
            piece,
        };
        let p = bench.piece.machine.pole_pairs;
        bench.piece.corner_sector = sector_of(p * state.theta + 1e-12);
        bench.start_commutation(drive);
        bench.take_legs();
        bench.relink(false);
        bench.decide_motion();
        bench.piece.list_watched();
        bench.log(EventKind::Start);
        bench
    }

    fn drive(&self) -> &DriveSetup {
        &self.piece.bench.drive
    }

    fn log(&mut self, kind: EventKind) {
        self.events.push(Event {
            time_s: self.t,
            kind,
            step: self.piece.step,
            legs: self.piece.legs,
        });
    }

    /// Begins with the rotor's sector or the clock's first step.
    fn start_commutation(&mut self, drive: &DriveSetup) {
        match drive.commutation {
            Commutation::Position => {
                let offset = match drive.direction {
                    Direction::Forward => drive.advance_rad,
                    Direction::Reverse => -drive.advance_rad,
                };
                let theta_elec = self.piece.machine.pole_pairs * self.state.theta;
                let sector = sector_of(theta_elec + offset + 1e-12);
                self.piece.step_sector = Some((sector, offset));
                self.piece.step = step_of_sector(sector);
                self.forced = None;
            }
            Commutation::Forced => {
                let forced = drive.forced.expect("a forced drive has its clock");
                self.piece.step_sector = None;
                match &mut self.forced {
                    Some(clock) => clock.change(forced, self.t),
                    None => {
                        self.forced = Some(ForcedClock::new(forced));
                        self.piece.step = forced.start_step;
                    }
                }
            }
        }
    }

    fn take_legs(&mut self) {
        let on = self.pwm.is_none_or(|pwm| pwm.on);
        self.piece.legs = gates(self.drive(), self.piece.step, on);
    }

    fn next_timed(&self) -> f64 {
        let mut next = f64::INFINITY;
        if let Some(change) = self.setup.changes.get(self.changes_done) {
            next = next.min(change.at_s);
        }
        if let Some(pwm) = &self.pwm {
            next = next.min(pwm.next);
        }
        if let Some(forced) = &self.forced {
            next = next.min(forced.next);
        }
        next
    }

    /// All that happens by the clock at this instant: changes, then PWM, then forced steps.
    fn timed_events(&mut self, tolerance: f64) {
        if self.next_timed() > self.t + tolerance {
            return;
        }
        let now = self.t + tolerance;
        while let Some(change) = self.setup.changes.get(self.changes_done)
            && change.at_s <= now
        {
            self.take_change(&change.bench);
            self.log(EventKind::Change {
                idx: Some(self.changes_done as u32),
            });
            self.changes_done += 1;
            self.work.timed += 1;
        }
        if let (Some(mut pwm), Some(settings)) = (self.pwm, self.drive().pwm) {
            while pwm.next <= now {
                let was_on = pwm.on;
                pwm.advance(&settings);
                self.pwm = Some(pwm);
                if pwm.on != was_on {
                    self.work.timed += 1;
                    self.take_legs();
                    self.log(if pwm.on {
                        EventKind::PwmOn
                    } else {
                        EventKind::PwmOff
                    });
                }
            }
        }
        while let Some(mut clock) = self.forced
            && clock.next <= now
        {
            clock.advance();
            self.forced = Some(clock);
            let step = self.piece.step;
            self.piece.step = match self.drive().direction {
                Direction::Forward => step % 6 + 1,
                Direction::Reverse => (step + 4) % 6 + 1,
            };
            self.step_changed();
            self.work.timed += 1;
        }
        self.take_legs();
        self.relink(true);
        self.piece.list_watched();
    }

    fn step_changed(&mut self) {
        self.commutations += 1;
        self.take_legs();
        self.log(EventKind::StepChange);
    }

    fn take_change(&mut self, bench: &Bench) {
        let before = self.stored();
        self.piece.set_bench(bench);
        if bench.supply.source.is_none() {
            self.state.v_dc = bench.supply.voltage_v;
        }
        let after = self.stored();
        self.by_hand += after[1] - before[1] + after[2] - before[2];
        self.pwm = match (self.pwm, &bench.drive.pwm) {
            (Some(clock), Some(_)) => Some(clock),
            (None, Some(pwm)) => Some(PwmClock::new(pwm, self.t)),
            (_, None) => None,
        };
        let step = self.piece.step;
        self.start_commutation(&bench.drive);
        if self.piece.step != step {
            self.step_changed();
        }
        self.take_legs();
        self.decide_motion();
    }

    /// What happened in the piece that ended with states `y`.
    fn fire(&mut self, y: &[f64]) {
        let mut values = [f64::INFINITY; MAX_WATCHED];
        self.piece.watch_values(y, &mut values);
        let level = 0.5 * self.piece.event_margin;
        let watched = self.piece.watched().to_vec();
        let mut motion_event = false;
        for (what, _) in watched.iter().zip(values).filter(|(_, v)| *v <= level) {
            match *what {
                Watched::DiodeCurrent(k) => self.clear_lead(k),
                Watched::AboveLow(_) | Watched::BelowHigh(_) | Watched::AllOpen => {}
                Watched::StepUp | Watched::StepDown => {
                    if let Some((sector, _)) = &mut self.piece.step_sector {
                        *sector += if *what == Watched::StepUp { 1 } else { -1 };
                        self.piece.step = step_of_sector(*sector);
                    }
                    self.step_changed();
                }
                Watched::CornerUp => self.piece.corner_sector += 1,
                Watched::CornerDown => self.piece.corner_sector -= 1,
                Watched::Moving => {
                    self.state.omega = 0.0;
                    motion_event = true;
                }
                Watched::Holding | Watched::AboutZero => motion_event = true,
                Watched::Angle => {}
            }
        }
        if motion_event {
            let before = self.piece.motion;
            self.decide_motion();
            match (before, self.piece.motion) {
                (Motion::Stuck, Motion::Stuck) => {}
                (_, Motion::Stuck) => self.log(EventKind::Stuck),
                (Motion::Stuck, _) => self.log(EventKind::BrokeAway),
                (Motion::Forward, Motion::Backward | Motion::Free)
                | (Motion::Backward, Motion::Forward | Motion::Free) => {
                    self.log(EventKind::Reversal);
                }
                _ => {}
            }
        }
        self.take_legs();
        self.relink(true);
        self.piece.list_watched();
    }

    /// Makes the current of a lead exactly zero.
    fn clear_lead(&mut self, k: usize) {
        let i = &mut self.state.i;
        if self.piece.machine.delta {
            let before = (k + 2) % 3;
            let both = 0.5 * (i[k] + i[before]);
            i[k] = both;
            i[before] = both;
        } else {
            i[k] = 0.0;
        }
    }

    /// Decides what connects each leg, and makes currents that must be zero exactly so.
    fn relink(&mut self, log: bool) {
        let tiny = 4.0 * self.piece.event_margin * self.piece.scales.current;
        for k in 0..3 {
            let lead = self.piece.circuit.leads(self.state.i)[k];
            if self.piece.legs[k] == LegState::Floating && lead.abs() < tiny {
                self.clear_lead(k);
            }
        }
        self.piece.place(self.state.theta);
        let y = self.piece.scaled::<N_STATES>(&self.state);
        let e = self.piece.emf(&y);
        let before = self.piece.links;
        let (legs, i) = (self.piece.legs, self.state.i);
        let links = self.piece.circuit.decide(legs, i, e, self.state.v_dc);
        self.piece.links = links;
        let connected = links.iter().filter(|&&l| l != Link::Open).count();
        let i = &mut self.state.i;
        let sum = i[0] + i[1] + i[2];
        match (self.piece.machine.delta, connected) {
            (true, 0 | 1) => *i = [sum / 3.0; 3],
            (true, _) => {}
            (false, 0 | 1) => *i = [0.0; 3],
            (false, _) => {
                // Rounding is shared by the legs that carry current; a diode that is about to
                // conduct begins at exactly zero.
                let carrying = i.iter().filter(|&&i| i != 0.0).count();
                for current in i.iter_mut().filter(|i| **i != 0.0) {
                    *current -= sum / carrying as f64;
                }
            }
        }
        if !log {
            return;
        }
        for k in 0..3 {
            let leg = k as u8;
            if links[k].is_diode() && links[k] != before[k] {
                self.log(EventKind::DiodeOn {
                    leg,
                    upper: links[k] == Link::DiodeHigh,
                });
            } else if before[k].is_diode() && links[k] == Link::Open {
                self.log(EventKind::DiodeOff { leg });
            }
        }
    }

    fn decide_motion(&mut self) {
        if self.setup.run.hold_speed {
            self.piece.motion = Motion::Held;
            return;
        }
        self.piece.motion = if self.state.omega > 0.0 {
            Motion::Forward
        } else if self.state.omega < 0.0 {
            Motion::Backward
        } else {
            self.piece.place(self.state.theta);
            let y = self.piece.scaled::<N_STATES>(&self.state);
            let net = self.piece.net_at_rest(&y);
            let level = self.piece.dry_level();
            if level == 0.0 {
                Motion::Free
            } else if net.abs() <= level {
                Motion::Stuck
            } else if net > 0.0 {
                Motion::Forward
            } else {
                Motion::Backward
            }
        };
    }

    /// Magnetic, capacitor, kinetic and cogging energy in J.
    fn stored(&self) -> [f64; 4] {
        let m = &self.piece.machine;
        let [u, v, w] = self.state.i;
        let capacitance = self
            .piece
            .bench
            .supply
            .source
            .map_or(0.0, |s| s.capacitance_f);
        let spring = if m.cogging > 0.0 {
            let turn = m.cogging_order * self.state.theta;
            m.cogging / m.cogging_order * (1.0 - libm::cos(turn))
        } else {
            0.0
        };
        [
            0.5 * m.inductance * (u * u + v * v + w * w),
            0.5 * capacitance * self.state.v_dc * self.state.v_dc,
            0.5 * self.piece.inertia() * self.state.omega * self.state.omega,
            spring,
        ]
    }
}
