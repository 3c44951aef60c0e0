//! A run that goes on while it is watched.

use std::collections::VecDeque;

use super::outside;
use crate::analysis::measure::account;
use crate::analysis::{Figure, RunEnd, RunFigures, Scales, Trailing};
use crate::machine::Machine;
use crate::record::{Quantity, Tape, Taping, Trace};
use crate::setup::Setup;
use crate::sim::{Simulator, Stored};

/// Most pieces of the solution that one frame waits for.
const PIECES_PER_SLICE: u32 = 4_000;
/// Samples kept: some 70 MB, and in a browser a third of it.
const MOST_SAMPLES: usize = if cfg!(target_arch = "wasm32") {
    100_000
} else {
    300_000
};

/// A simulator with the record it fills, slice by slice.
pub struct Live {
    simulator: Simulator,
    tape: Tape,
    spacing_s: f64,
    /// What the figures are made from, turn by turn.
    trailing: Trailing,
    stored_at_start: Stored,
    /// How large its quantities can become.
    scales: Scales,
    /// Instants, in s, and by how many turns the rotor had fallen behind a forced drive.
    slips: VecDeque<(f64, f64)>,
    stopped: Option<String>,
}

/// The current of late is that of so much of the show, in s, and of so many samples at least.
const LATE_SHOW_S: f64 = 1.0;
const LATE_SAMPLES: f64 = 2_000.0;
/// Seconds of the show in which the full current falls to a third of what it is too large.
const FALL_S: f64 = 1.0;
/// The full current before any has flowed, in A.
pub(super) const LEAST_FULL_A: f64 = 0.1;
/// Least time between two looks at the slip of a forced drive, in s.
const SLIP_LOOK_S: f64 = 1e-3;
/// Most looks kept.
const MOST_SLIPS: usize = 4_096;
/// Electrical turns lost within a window that say that the rotor does not follow.
const LOST_TURNS: f64 = 0.5;

impl std::fmt::Debug for Live {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Live")
            .field("stopped", &self.stopped)
            .finish_non_exhaustive()
    }
}

impl Live {
    /// Puts the setup on the bench, at rest at t = 0.
    #[must_use]
    pub fn new(setup: &Setup) -> Self {
        let simulator = Simulator::new(setup);
        let mut live = Self {
            stored_at_start: simulator.stored(),
            scales: Scales::of(setup, simulator.machine()),
            trailing: Trailing::new(simulator.machine().pole_pairs, setup.run.measure_s),
            slips: VecDeque::new(),
            simulator,
            tape: Tape::new(MOST_SAMPLES, setup.machine.connection),
            spacing_s: spacing_s(setup),
            stopped: None,
        };
        live.slice(2.0 * live.spacing_s);
        live
    }

    /// What has been recorded.
    #[must_use]
    pub const fn record(&self) -> &Tape {
        &self.tape
    }

    /// Puts another bench and machine under the run, at the end of the record.
    pub fn change(&mut self, setup: &Setup, other_machine: bool) {
        self.spacing_s = spacing_s(setup);
        if other_machine {
            self.tape.set_connection(setup.machine.connection);
        }
        let mut taping = Taping {
            tape: &mut self.tape,
            spacing_s: self.spacing_s,
        };
        let sink = &mut (&mut taping, &mut self.trailing);
        if other_machine {
            let machine = Machine::new(&setup.machine);
            sink.1.other_machine(machine.pole_pairs);
            self.simulator.set_machine(machine, sink);
        }
        self.simulator.set_bench(setup.bench.clone(), sink);
        self.scales = Scales::of(setup, self.simulator.machine());
        self.slips.clear();
        self.stopped = None;
    }

    /// Why the run cannot go on, in words.
    #[must_use]
    pub fn stopped(&self) -> Option<&str> {
        self.stopped.as_deref()
    }

    /// Lets the run go on until `time_s` is on record, or as far as one slice reaches.
    pub fn slice(&mut self, time_s: f64) {
        let mut left = PIECES_PER_SLICE;
        outside::within_frame(|n_pieces| {
            let n_pieces = n_pieces.min(left);
            left -= n_pieces;
            if !self.reaches(time_s) {
                self.go_on(time_s, n_pieces);
            }
            left > 0 && !self.reaches(time_s)
        });
    }

    /// True where that instant is on record, or never will be.
    fn reaches(&self, time_s: f64) -> bool {
        let known_s = self
            .tape
            .range_s()
            .map_or(f64::NEG_INFINITY, |range| range[1]);
        self.stopped.is_some() || known_s >= time_s
    }

    fn go_on(&mut self, time_s: f64, n_pieces: u32) {
        let mut taping = Taping {
            tape: &mut self.tape,
            spacing_s: self.spacing_s,
        };
        let result =
            self.simulator
                .run_past(time_s, n_pieces, &mut (&mut taping, &mut self.trailing));
        if let Err(error) = result {
            self.stopped = Some(error.to_string());
        }
        self.look_at_slip();
    }

    /// The current that is drawn at full size, in A: the largest of a lead of late. It rises at once
    /// and falls slowly, so that the surge of a start does not make all later currents small.
    pub(super) fn full_current_a(&self, before_a: f64, at_s: f64, pace: f64, wall_s: f64) -> f64 {
        let to = self.tape.mark(at_s);
        let late_s = (pace * LATE_SHOW_S).max(LATE_SAMPLES * self.spacing_s);
        let from = self.tape.mark(at_s - late_s);
        let mut late_a = 0.0_f64;
        for leg in 0..3 {
            let trace = Trace::Of(Quantity::LineCurrent(leg));
            if let Some(range) = self.tape.min_max(trace, from, to) {
                late_a = late_a.max(range.max).max(-range.min);
            }
        }
        let late_a = late_a.max(LEAST_FULL_A);
        if late_a >= before_a {
            late_a
        } else {
            late_a + (before_a - late_a) * (-wall_s / FALL_S).exp()
        }
    }

    fn look_at_slip(&mut self) {
        let now_s = self.simulator.time_s();
        let due = self
            .slips
            .back()
            .is_none_or(|(last_s, _)| now_s - last_s >= SLIP_LOOK_S);
        if let (true, Some(slip_turns)) = (due, self.simulator.forced_slip_turns()) {
            if self.slips.len() == MOST_SLIPS {
                self.slips.pop_front();
            }
            self.slips.push_back((now_s, slip_turns));
        }
    }

    /// The figures of a window that ends at an instant of the record: of whole turns, as many as
    /// fit into `wish_s`, at least one. The energy account and the step changes are those of the
    /// whole run so far. `None` before anything has flowed.
    #[must_use]
    pub fn figures(&self, at_s: f64, wish_s: f64) -> Option<Vec<Figure>> {
        let (totals, pole_pairs) = self.trailing.window(at_s, wish_s)?;
        let slip_at = |time_s: f64| {
            let after = self.slips.partition_point(|(slip_s, _)| *slip_s <= time_s);
            self.slips
                .get(after.saturating_sub(1))
                .map_or(0.0, |(_, turns)| *turns)
        };
        let lost = (slip_at(totals.end_s) - slip_at(totals.start_s)).abs() > LOST_TURNS;
        let lost_words = "The rotor does not follow the clock of the drive.";
        let end = RunEnd {
            pole_pairs,
            final_speed_rad_s: self.tape.at(at_s)?.speed_rad_s,
            commutations: self.simulator.work().n_commutations,
            in_step: !lost,
            warnings: lost.then(|| lost_words.to_owned()).into_iter().collect(),
            scales: self.scales,
        };
        let account = account(&self.simulator, &self.stored_at_start);
        Some(RunFigures::from_totals(&totals, &account, &end).1)
    }
}

/// Samples between the corners of the curves: fine enough that between two of them every curve
/// is straight to the eye. A fifth of a period of 50 µs is a fortieth of the time constant of a
/// small winding, off a straight line by less than a ten-thousandth.
fn spacing_s(setup: &Setup) -> f64 {
    let pwm = setup.bench.drive.pwm;
    let period_s = pwm.map_or(f64::INFINITY, |pwm| 1.0 / pwm.frequency_hz);
    setup.run.sample_s.min(period_s / 5.0)
}

/// Samples for the tests of this room.
#[cfg(test)]
pub(super) mod tests_support {
    use crate::drive::LegState;
    use crate::record::Sample;

    /// A sample at t = 0 with nothing going on.
    pub(crate) fn at_rest() -> Sample {
        Sample {
            time_s: 0.0,
            theta_mech_rad: 0.0,
            theta_elec_rad: 0.0,
            speed_rad_s: 0.0,
            phase_current_a: [0.0; 3],
            line_current_a: [0.0; 3],
            back_emf_v: [0.0; 3],
            terminal_v: [0.0; 3],
            em_torque_nm: 0.0,
            torque_nm: 0.0,
            supply_current_a: 0.0,
            supply_voltage_v: 11.1,
            step: 1,
            legs: [LegState::High, LegState::Low, LegState::Floating],
        }
    }
}
