//! A plain reference solver, for tests and benches only.
//!
//! It answers the same question as the crate's own simulator and shares nothing with it but the
//! setup and the record types: the circuit of the present topology is written down as an ordinary
//! differential equation, a general-purpose Runge-Kutta crate integrates it from one event to the
//! next, and events are found by root finding on the solution. Nothing is closed form, nothing is
//! clever; what it lacks in speed it makes up by being easy to check by eye.
//!
//! ```text
//! cases ─► event_loop ─► piece (equations, watched functions) ─► circuit, machine
//!              │  └────► clock (PWM, forced steps, six-step table)
//!              ├───────► steppers (ode_solvers Dopri5 / Dop853, diffsol tsit45)
//!              └───────► figures (integrals over the measuring window)
//! ```
#![allow(
    dead_code,
    unreachable_pub,
    clippy::cast_possible_truncation,
    clippy::needless_range_loop,
    reason = "shared by several test and bench binaries, each of which uses a part of it; counts are small, and an index runs over the three phases of several arrays at once"
)]

pub mod cases;
pub mod circuit;
pub mod clock;
pub mod event_loop;
pub mod figures;
pub mod machine;
pub mod piece;
pub mod recorder;
pub mod steppers;
pub mod watch;

use steppers::{Dop853Stepper, Dopri5Stepper};
use wyebench::analysis::{EnergyAccount, WindowTotals};
use wyebench::record::{Event, Sample};
use wyebench::setup::Setup;

/// States that are always there: three winding currents, speed, angle, bridge voltage.
pub const N_STATES: usize = 6;
/// States together with the integrals for the figures.
pub const N_WITH_INTEGRALS: usize = N_STATES + figures::N_INTEGRALS;

/// How closely to solve.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Relative and absolute tolerance of the integrator, on states scaled to about 1.
    pub tolerance: f64,
    /// How far past its zero a watched function is followed before the event is taken, on
    /// functions scaled to about 1. Larger than rounding, smaller than anything visible.
    pub event_margin: f64,
    /// Points inside each step at which watched functions are looked at.
    pub look_inside: usize,
    /// True: every sample instant is a stop of the integrator. False: samples are taken from
    /// the cubic through both ends of a step.
    pub stop_at_samples: bool,
    /// Longest step as a part of an electrical turn at top speed.
    pub step_per_turn: f64,
    /// Winding currents at the start in A; zero in an ordinary run.
    pub start_current_a: [f64; 3],
}

impl Options {
    /// For a converged answer.
    pub const fn tight() -> Self {
        Self {
            tolerance: 1e-12,
            event_margin: 4e-12,
            look_inside: 4,
            stop_at_samples: true,
            step_per_turn: 0.01,
            start_current_a: [0.0; 3],
        }
    }

    /// For speed, at a given tolerance.
    pub const fn fast(tolerance: f64) -> Self {
        Self {
            tolerance,
            event_margin: 1e-8,
            look_inside: 1,
            stop_at_samples: false,
            step_per_turn: 0.25,
            start_current_a: [0.0; 3],
        }
    }
}

/// Work done.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Smooth pieces integrated, sample stops included.
    pub pieces: u64,
    /// Smooth pieces between events proper, sample stops not counted.
    pub smooth_pieces: u64,
    /// Steps the integrator accepted.
    pub steps: u64,
    /// Events located by root finding.
    pub located: u64,
    /// Events known beforehand (PWM edges, forced steps, changes).
    pub timed: u64,
    /// Re-integrations while locating.
    pub leaps: u64,
}

/// What a run leaves.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Samples at the multiples of the setup's spacing.
    pub samples: Vec<Sample>,
    /// Events in order of time.
    pub events: Vec<Event>,
    /// Integrals over the measuring window, where integrals were asked for.
    pub window: Option<WindowTotals>,
    /// Energy account of the whole run, where integrals were asked for.
    pub energy: Option<EnergyAccount>,
    /// Step changes of the whole run.
    pub commutations: u64,
    /// Work done.
    pub work: Work,
}

/// The converged answer, with integrals.
pub fn solve(setup: &Setup) -> Outcome {
    solve_with(setup, &Options::tight())
}

/// With integrals, at options of one's own.
pub fn solve_with(setup: &Setup, options: &Options) -> Outcome {
    let mut stepper = Dop853Stepper::<N_WITH_INTEGRALS>::new(options.tolerance);
    event_loop::run(setup, options, &mut stepper)
}

/// Waveforms only, by `ode_solvers` Dormand-Prince 5(4).
pub fn waveforms_dopri5(setup: &Setup, options: &Options) -> Outcome {
    let mut stepper = Dopri5Stepper::<N_STATES>::new(options.tolerance);
    event_loop::run(setup, options, &mut stepper)
}

/// Waveforms only, by `ode_solvers` Dormand-Prince 8(5,3).
pub fn waveforms_dop853(setup: &Setup, options: &Options) -> Outcome {
    let mut stepper = Dop853Stepper::<N_STATES>::new(options.tolerance);
    event_loop::run(setup, options, &mut stepper)
}

/// Waveforms only, by `diffsol` Tsitouras 4(5).
pub fn waveforms_tsit45(setup: &Setup, options: &Options) -> Outcome {
    steppers::with_tsit45::<N_STATES, _>(options.tolerance, |stepper| {
        event_loop::run(setup, options, stepper)
    })
}

/// Largest difference of two runs over all samples: winding currents, speed, angle and bridge
/// voltage, each against its own largest magnitude in the first run; the angle against one
/// electrical turn.
pub fn waveform_error(exact: &Outcome, other: &Outcome) -> f64 {
    assert_eq!(exact.samples.len(), other.samples.len());
    let top = |read: fn(&Sample) -> f64| {
        exact
            .samples
            .iter()
            .map(read)
            .fold(1e-12, |top: f64, v| top.max(v.abs()))
    };
    let current = [0, 1, 2]
        .map(|k| {
            exact
                .samples
                .iter()
                .fold(0.0, |top: f64, s| top.max(s.phase_current_a[k].abs()))
        })
        .into_iter()
        .fold(1e-12, f64::max);
    let speed = top(|s| s.speed_rad_s);
    let voltage = top(|s| s.supply_voltage_v);
    let mut worst = 0.0_f64;
    for (a, b) in exact.samples.iter().zip(&other.samples) {
        for k in 0..3 {
            worst = worst.max((a.phase_current_a[k] - b.phase_current_a[k]).abs() / current);
        }
        worst = worst.max((a.speed_rad_s - b.speed_rad_s).abs() / speed);
        let turn = std::f64::consts::TAU;
        worst = worst.max((a.theta_elec_rad - b.theta_elec_rad).abs() / turn);
        worst = worst.max((a.supply_voltage_v - b.supply_voltage_v).abs() / voltage);
    }
    worst
}
