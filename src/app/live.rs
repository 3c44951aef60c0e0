//! A run that goes on while it is watched.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

use super::RecordRing;
use crate::analysis::measure::account;
use crate::analysis::{Figure, RunEnd, RunFigures, Trailing};
use crate::machine::Machine;
use crate::record::{Sample, Sampler};
use crate::setup::Setup;
use crate::sim::{Simulator, Stored};

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
    /// What the figures are made from, turn by turn.
    trailing: Trailing,
    stored_at_start: Stored,
    /// Instants, in s, and by how many turns the rotor had fallen behind a forced drive.
    slips: VecDeque<(f64, f64)>,
    stopped: Option<String>,
}

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
        let simulator = Simulator::new(setup);
        let mut live = Self {
            stored_at_start: simulator.stored(),
            trailing: Trailing::new(simulator.machine().pole_pairs, setup.run.measure_s),
            slips: VecDeque::new(),
            simulator,
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

    /// Puts another bench and machine under the run, at the end of the record.
    pub fn change(&mut self, setup: &Setup, other_machine: bool) {
        let sink = &mut (&mut self.sampler, &mut self.trailing);
        if other_machine {
            let machine = Machine::new(&setup.machine);
            sink.1.other_machine(machine.pole_pairs);
            self.simulator.set_machine(machine, sink);
        }
        self.simulator.set_bench(setup.bench.clone(), sink);
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
        let known_s = self
            .record
            .range_s()
            .map_or(f64::NEG_INFINITY, |range| range[1]);
        if self.stopped.is_some() || known_s >= time_s {
            return;
        }
        let result = self.simulator.run_past(
            time_s,
            PIECES_PER_SLICE,
            &mut (&mut self.sampler, &mut self.trailing),
        );
        for sample in self.inbox.borrow_mut().drain(..) {
            self.record.push(sample);
        }
        if let Err(error) = result {
            self.stopped = Some(error.to_string());
        }
        self.look_at_slip();
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
            final_speed_rad_s: self.record.at(at_s)?.speed_rad_s,
            commutations: self.simulator.work().n_commutations,
            in_step: !lost,
            warnings: lost.then(|| lost_words.to_owned()).into_iter().collect(),
        };
        let account = account(&self.simulator, &self.stored_at_start);
        Some(RunFigures::from_totals(&totals, &account, &end).1)
    }
}
