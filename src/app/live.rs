//! A run that goes on while it is watched.

use std::cell::RefCell;
use std::rc::Rc;

use super::RecordRing;
use crate::machine::Machine;
use crate::record::{Sample, Sampler};
use crate::setup::Setup;
use crate::sim::Simulator;

/// Most pieces of the solution that one frame waits for; a browser's frame bears them.
const PIECES_PER_SLICE: u32 = 4_000;
/// Samples kept: some 20 MB.
const MOST_SAMPLES: usize = 100_000;

type Take = Box<dyn FnMut(&Sample)>;

/// A simulator with the record it fills, slice by slice.
pub struct Live {
    simulator: Simulator,
    sampler: Sampler<Take>,
    /// What the sampler took in the slice, on its way into the record.
    inbox: Rc<RefCell<Vec<Sample>>>,
    record: RecordRing,
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
        // Fine enough that a PWM period is drawn with its edges.
        let period_s = setup
            .bench
            .drive
            .pwm
            .map_or(f64::INFINITY, |pwm| 1.0 / pwm.frequency_hz);
        let spacing_s = setup.run.sample_s.min(period_s / 20.0);
        let inbox = Rc::new(RefCell::new(Vec::new()));
        let into = Rc::clone(&inbox);
        let take: Take = Box::new(move |sample: &Sample| into.borrow_mut().push(*sample));
        let mut live = Self {
            simulator: Simulator::new(setup),
            sampler: Sampler::new(spacing_s, f64::INFINITY, take),
            inbox,
            record: RecordRing::new(MOST_SAMPLES),
            stopped: None,
        };
        live.slice(2.0 * spacing_s);
        live
    }

    /// What has been recorded.
    #[must_use]
    pub const fn record(&self) -> &RecordRing {
        &self.record
    }

    /// The machine that runs.
    #[must_use]
    pub fn machine(&self) -> &Machine {
        self.simulator.machine()
    }

    /// Puts another bench and machine under the run, at the end of the record.
    pub fn change(&mut self, setup: &Setup, other_machine: bool) {
        if other_machine {
            self.simulator
                .set_machine(Machine::new(&setup.machine), &mut self.sampler);
        }
        self.simulator
            .set_bench(setup.bench.clone(), &mut self.sampler);
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
            .record
            .range_s()
            .map_or(f64::NEG_INFINITY, |range| range[1]);
        if self.stopped.is_some() || known_s >= time_s {
            return;
        }
        let result = self
            .simulator
            .run_past(time_s, PIECES_PER_SLICE, &mut self.sampler);
        for sample in self.inbox.borrow_mut().drain(..) {
            self.record.push(sample);
        }
        if let Err(error) = result {
            self.stopped = Some(error.to_string());
        }
    }
}
