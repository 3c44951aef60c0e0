//! A run that goes on while it is watched.

use crate::machine::Machine;
use crate::record::{Tape, Taping};
use crate::setup::Setup;
use crate::sim::Simulator;

/// Most pieces of the solution that one frame waits for; a browser's frame bears them.
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
    stopped: Option<String>,
}

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
        let mut live = Self {
            simulator: Simulator::new(setup),
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

    /// The machine that runs.
    #[must_use]
    pub fn machine(&self) -> &Machine {
        self.simulator.machine()
    }

    /// Puts another bench and machine under the run, at the end of the record.
    pub fn change(&mut self, setup: &Setup, other_machine: bool) {
        self.spacing_s = spacing_s(setup);
        if other_machine {
            self.tape.set_connection(setup.machine.connection);
        }
        let mut sink = Taping {
            tape: &mut self.tape,
            spacing_s: self.spacing_s,
        };
        if other_machine {
            self.simulator
                .set_machine(Machine::new(&setup.machine), &mut sink);
        }
        self.simulator.set_bench(setup.bench.clone(), &mut sink);
        self.stopped = None;
    }

    /// Why the run cannot go on, in words.
    #[must_use]
    pub fn stopped(&self) -> Option<&str> {
        self.stopped.as_deref()
    }

    /// Lets the run go on until `time_s` is on record, or as far as one slice reaches.
    pub fn slice(&mut self, time_s: f64) {
        let known_s = self
            .tape
            .range_s()
            .map_or(f64::NEG_INFINITY, |range| range[1]);
        if self.stopped.is_some() || known_s >= time_s {
            return;
        }
        let mut sink = Taping {
            tape: &mut self.tape,
            spacing_s: self.spacing_s,
        };
        let result = self.simulator.run_past(time_s, PIECES_PER_SLICE, &mut sink);
        if let Err(error) = result {
            self.stopped = Some(error.to_string());
        }
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
