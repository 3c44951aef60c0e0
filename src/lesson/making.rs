//! A run of a lesson in the making: within limits, and in goes.

use std::cell::RefCell;
use std::rc::Rc;

use super::problem::Complaint;
use super::runs::{Ran, facts_of_machine};
use super::value::Value;
use super::{MOST_PIECES, MOST_RUN_S, MOST_SAMPLES, MOST_SLOTS};
use crate::analysis::{Measuring, RunEnd, RunFigures, Scales};
use crate::machine::Machine;
use crate::record::{Event, Record, Sample, Sampler};
use crate::setup::Setup;
use crate::sim::{Piece, Sink};

/// A run that is not at its end yet.
pub struct Making {
    name: String,
    setup: Setup,
    written: toml::Table,
    measuring: Measuring,
    keep: Option<Keep>,
}

impl std::fmt::Debug for Making {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Making")
            .field("name", &self.name)
            .field("share", &self.share())
            .finish_non_exhaustive()
    }
}

impl Making {
    /// Begins a run; `recorded`: with waveforms.
    ///
    /// # Errors
    /// [`Complaint::TooLongRun`] where it lies beyond what a lesson may ask.
    pub(super) fn new(
        name: &str,
        setup: Setup,
        written: toml::Table,
        recorded: bool,
    ) -> Result<Self, Complaint> {
        within_limits(name, &setup, recorded)?;
        Ok(Self {
            name: name.to_owned(),
            measuring: Measuring::new(&setup),
            keep: recorded.then(|| Keep::new(&setup)),
            setup,
            written,
        })
    }

    /// The share that is done, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.measuring.share()
    }

    /// Goes on by at most so many pieces of the solution. True at the end.
    ///
    /// # Errors
    /// [`Complaint::TooLongRun`] where the run needs more pieces than a lesson may.
    pub fn advance(&mut self, max_pieces: u32) -> Result<bool, Complaint> {
        let done = match &mut self.keep {
            None => self.measuring.advance(max_pieces, &mut ()),
            Some(keep) => {
                let mut keeper = Keeper {
                    samples: &keep.samples,
                    record: &mut keep.record,
                };
                let sink = &mut (&mut keep.sampler, &mut keeper);
                self.measuring.advance(max_pieces, sink)
            }
        };
        if !done && self.measuring.n_pieces() >= u64::from(MOST_PIECES) {
            let at_s = self.measuring.time_s();
            return Err(too_long(
                &self.name,
                format!("its {MOST_PIECES} pieces were used up at {at_s:.3e} s"),
                format!("{MOST_PIECES} pieces of solution"),
            ));
        }
        Ok(done)
    }

    /// What came of it.
    ///
    /// # Errors
    /// [`Complaint::RunStopped`] where it could not go on.
    pub fn ran(self) -> Result<Ran, Complaint> {
        let Self {
            name,
            setup,
            written,
            measuring,
            keep,
        } = self;
        let stopped = |message: String| Complaint::RunStopped {
            run: name.clone(),
            message,
        };
        let outcome = measuring.outcome();
        if let Some(error) = outcome.error {
            return Err(stopped(error.to_string()));
        }
        let Some(window) = outcome.window else {
            return Err(stopped(
                "it ended before there was anything to measure".to_owned(),
            ));
        };
        let machine = Machine::new(&setup.machine);
        let end = RunEnd {
            pole_pairs: machine.pole_pairs,
            final_speed_rad_s: outcome.final_speed_rad_s,
            commutations: outcome.work.n_commutations,
            in_step: outcome.in_step,
            warnings: Vec::new(),
            scales: Scales::of(&setup, &machine),
        };
        let (run_figures, figures) = RunFigures::from_totals(&window, &outcome.account, &end);
        let mut facts = facts_of_machine(&setup, &machine);
        for figure in &figures {
            if let Some(number) = figure.number() {
                facts.insert(figure.key.to_owned(), Value::of_key(figure.key, number));
            }
        }
        #[expect(
            clippy::cast_precision_loss,
            reason = "a count of steps in a short run"
        )]
        let commutations = run_figures.commutations as f64;
        facts.insert("commutations".to_owned(), Value::Number(commutations));
        facts.insert("in_step".to_owned(), Value::Truth(run_figures.in_step));
        Ok(Ran {
            setup,
            written,
            figures,
            record: keep.map(|keep| keep.record).unwrap_or_default(),
            facts,
        })
    }
}

/// What takes a sample.
type Take = Box<dyn FnMut(&Sample)>;

/// What a run keeps: samples that lie evenly, and the corners between them.
struct Keep {
    samples: Rc<RefCell<Vec<Sample>>>,
    sampler: Sampler<Take>,
    record: Record,
}

impl Keep {
    fn new(setup: &Setup) -> Self {
        let samples = Rc::new(RefCell::new(Vec::new()));
        let taken = Rc::clone(&samples);
        let take: Take = Box::new(move |sample| taken.borrow_mut().push(*sample));
        Self {
            samples,
            sampler: Sampler::new(setup.run.sample_s, setup.run.duration_s, take),
            record: Record::default(),
        }
    }
}

fn too_long(run: &str, found: String, allowed: String) -> Complaint {
    Complaint::TooLongRun {
        run: run.to_owned(),
        found,
        allowed,
    }
}

/// Refuses what a lesson does not need.
fn within_limits(name: &str, setup: &Setup, recorded: bool) -> Result<(), Complaint> {
    let duration_s = setup.run.duration_s;
    if duration_s > MOST_RUN_S {
        return Err(too_long(
            name,
            format!("{duration_s} s"),
            format!("{MOST_RUN_S} s of simulated time"),
        ));
    }
    let (slots, poles) = (setup.machine.slots, setup.machine.poles);
    if slots.max(poles) > MOST_SLOTS {
        return Err(too_long(
            name,
            format!("{slots} slots and {poles} poles"),
            format!("{MOST_SLOTS} of each"),
        ));
    }
    let n_samples = duration_s / setup.run.sample_s;
    if recorded && n_samples > MOST_SAMPLES {
        return Err(too_long(
            name,
            format!("{n_samples:.1e} samples"),
            format!("{MOST_SAMPLES:.0e} samples (run.sample is their spacing)"),
        ));
    }
    Ok(())
}

/// Keeps the ends of all pieces, where the corners of the curves are, and the samples between.
struct Keeper<'a> {
    samples: &'a std::cell::RefCell<Vec<Sample>>,
    record: &'a mut Record,
}

impl Keeper<'_> {
    fn keep(&mut self, sample: &Sample) {
        let last = self.record.span_s();
        if last.is_none_or(|(_, last_s)| sample.time_s > last_s) {
            self.record.push_sample(sample);
        }
    }
}

impl Sink for Keeper<'_> {
    fn piece(&mut self, piece: &Piece<'_>) {
        for sample in self.samples.take() {
            self.keep(&sample);
        }
        self.keep(&piece.sample(piece.end_s()));
    }

    fn event(&mut self, event: &Event) {
        self.record.push_event(*event);
    }
}
