//! A run of a lesson on its way: in parts, so that a page in a browser goes on hearing its reader.

use std::cell::RefCell;
use std::rc::Rc;

use super::MOST_PIECES;
use super::problem::Complaint;
use super::runs::{Ran, facts_of_machine, within_limits};
use super::value::Value;
use crate::analysis::{RunEnd, RunFigures, Running};
use crate::machine::Machine;
use crate::record::{Event, Record, Sample, Sampler};
use crate::setup::Setup;
use crate::sim::{Piece, Simulator, Sink};

/// A run on its way.
pub struct Making {
    name: String,
    setup: Setup,
    written: toml::Table,
    running: Running,
    keeper: Option<Keeper>,
    /// More pieces than a lesson has were used up by then, in s.
    used_up_s: Option<f64>,
}

impl std::fmt::Debug for Making {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Making")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

impl Making {
    /// Begins. `recorded`: with waveforms.
    ///
    /// # Errors
    /// A run beyond the limits, as far as that is known before.
    pub(super) fn new(
        name: &str,
        setup: Setup,
        written: toml::Table,
        recorded: bool,
    ) -> Result<Self, Complaint> {
        within_limits(name, &setup, recorded)?;
        Ok(Self {
            name: name.to_owned(),
            running: Running::new(Simulator::new(&setup), &setup),
            keeper: recorded.then(|| Keeper::new(&setup)),
            setup,
            written,
            used_up_s: None,
        })
    }

    /// The run's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Goes on by so many pieces at most. True while there is more to do.
    pub fn go_on(&mut self, max_pieces: u32) -> bool {
        if self.used_up_s.is_some() {
            return false;
        }
        let max_pieces = max_pieces.min(MOST_PIECES);
        let more = match &mut self.keeper {
            Some(keeper) => self.running.go_on(max_pieces, keeper),
            None => self.running.go_on(max_pieces, &mut ()),
        };
        let too_many = self.running.n_pieces() >= u64::from(MOST_PIECES);
        if more && too_many && self.running.time_s() < self.setup.run.duration_s {
            self.used_up_s = Some(self.running.time_s());
            return false;
        }
        more
    }

    /// What it came to.
    ///
    /// # Errors
    /// It stopped, or went beyond the limits.
    pub(super) fn finish(self) -> Result<Ran, Complaint> {
        let name = self.name;
        let stopped = |message: String| Complaint::RunStopped {
            run: name.clone(),
            message,
        };
        if let Some(at_s) = self.used_up_s {
            return Err(Complaint::TooLongRun {
                found: format!("its {MOST_PIECES} pieces were used up at {at_s:.3e} s"),
                allowed: format!("{MOST_PIECES} pieces of solution"),
                run: name,
            });
        }
        let setup = self.setup;
        let written = self.written;
        let record = self.keeper.map(|keeper| keeper.record).unwrap_or_default();
        let outcome = self.running.outcome(&setup);
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
            record,
            facts,
        })
    }
}

/// Where a sampler puts what it takes.
type Take = Box<dyn FnMut(&Sample)>;

/// Keeps the ends of all pieces, where the corners of the curves are, and the samples between.
struct Keeper {
    /// What the sampler has taken of the present piece.
    samples: Rc<RefCell<Vec<Sample>>>,
    sampler: Sampler<Take>,
    record: Record,
}

impl Keeper {
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

    fn keep(&mut self, sample: &Sample) {
        let last = self.record.span_s();
        if last.is_none_or(|(_, last_s)| sample.time_s > last_s) {
            self.record.push_sample(sample);
        }
    }
}

impl Sink for Keeper {
    fn piece(&mut self, piece: &Piece<'_>) {
        self.sampler.piece(piece);
        let samples = self.samples.take();
        for sample in &samples {
            self.keep(sample);
        }
        self.keep(&piece.sample(piece.end_s()));
    }

    fn event(&mut self, event: &Event) {
        self.record.push_event(*event);
    }
}
