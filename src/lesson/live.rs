//! A task on the bench while the reader's motor runs: met, not yet, and why.
//!
//! The condition is asked of what runs there at this moment: of the figures of the latest whole
//! turns, of the record so far and of the setup as it stands. [`super::judge`] has the last word
//! with a run of its own, from rest and over the lesson's whole time.

use super::condition::{Ask, Condition, ConditionError};
use super::model::{Task, TaskKind};
use super::problem::Complaint;
use super::runs::{CHANNELS, Runs, Subject, facts_of_machine, get, spaced};
use super::text;
use super::value::Value;
use crate::analysis::{self, Figure};
use crate::machine::Machine;
use crate::record::{Tape, Trace};
use crate::setup::Setup;

/// What runs on the bench at this moment.
#[derive(Clone, Copy, Debug)]
pub struct Bench<'a> {
    /// The figures up to now.
    pub figures: &'a [Figure],
    /// False where the rotor does not follow the clock of the drive.
    pub in_step: bool,
    /// What was recorded.
    pub tape: &'a Tape,
    /// Now, in s.
    pub now_s: f64,
}

/// How a task stands at this moment.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// The figures that it asks about are not there yet.
    Waiting,
    /// Part by part, in the order in which they are written; met where all of them hold.
    Known(Vec<Clause>),
}

/// A part of a condition that must hold with all others.
#[derive(Clone, Debug, PartialEq)]
pub struct Clause {
    /// What must hold, in the names that figures have for people: `mean speed > 400 rpm`.
    pub wanted: String,
    /// Whether it holds now.
    pub holds: bool,
    /// The figures in it, each with its name and present value.
    pub found: Vec<(String, String)>,
}

impl Standing {
    /// True where every part holds.
    #[must_use]
    pub fn is_met(&self) -> bool {
        matches!(self, Self::Known(clauses) if clauses.iter().all(|clause| clause.holds))
    }
}

/// What a setup says and what is known of its machine: the same as long as it stands there.
#[derive(Clone, Debug)]
pub struct Facts {
    /// Whose they are.
    pub setup: Setup,
    written: toml::Table,
    machine: std::collections::BTreeMap<String, Value>,
}

impl Facts {
    /// Of what stands on the bench. A machine that is computed is computed for it.
    #[must_use]
    pub fn of(setup: &Setup) -> Self {
        Self {
            setup: setup.clone(),
            written: setup.to_toml().parse().unwrap_or_default(),
            machine: facts_of_machine(setup, &Machine::new(&setup.machine)),
        }
    }

    /// A key as a person would write it; `None` where the setup does not have it.
    #[must_use]
    pub fn written(&self, key: &str) -> Option<String> {
        match get(&self.written, key)? {
            toml::Value::String(text) => Some(text.clone()),
            toml::Value::Table(_) | toml::Value::Array(_) => None,
            other => Some(other.to_string()),
        }
    }
}

/// How a task on the bench stands. `None` for a task of another kind.
///
/// # Errors
/// A condition that makes no sense for this bench.
pub fn state(
    task: &Task,
    runs: &mut Runs<'_>,
    facts: &Facts,
    bench: &Bench<'_>,
) -> Result<Option<Standing>, ConditionError> {
    let TaskKind::Bench { check, .. } = &task.kind else {
        return Ok(None);
    };
    let mut looker = Looker { bench, facts };
    let mut clauses = Vec::new();
    for clause in check.clauses() {
        let look = &mut |ask: Ask<'_>| looker.look(runs, ask);
        let holds = match clause.holds(look) {
            Ok(holds) => holds,
            Err(error) if matches!(error.complaint, Complaint::Absent { .. }) => {
                return Ok(Some(Standing::Waiting));
            }
            Err(error) => return Err(error),
        };
        let found = found(&clause, runs, &mut looker);
        clauses.push(Clause {
            wanted: in_words(&clause, bench.figures),
            holds,
            found,
        });
    }
    Ok(Some(Standing::Known(clauses)))
}

/// A condition with the names of its figures in the place of their keys.
fn in_words(clause: &Condition, figures: &[Figure]) -> String {
    let mut words = clause.text().to_owned();
    for name in clause.names() {
        if let Some(figure) = figures.iter().find(|figure| figure.key == name) {
            words = words.replace(name, figure.name);
        }
    }
    words
}

fn found(
    clause: &Condition,
    runs: &mut Runs<'_>,
    looker: &mut Looker<'_>,
) -> Vec<(String, String)> {
    let mut found: Vec<(String, String)> = Vec::new();
    for name in clause.names() {
        if let Ok(value) = looker.look(runs, Ask::Fact(name)) {
            let figure = looker
                .bench
                .figures
                .iter()
                .find(|figure| figure.key == name);
            let words =
                figure.map_or_else(|| text::harmless(name), |figure| figure.name.to_owned());
            let pair = (words, spaced(&value, 3, false));
            if !found.contains(&pair) {
                found.push(pair);
            }
        }
    }
    found
}

struct Looker<'a> {
    bench: &'a Bench<'a>,
    facts: &'a Facts,
}

impl Looker<'_> {
    fn look(&mut self, runs: &mut Runs<'_>, ask: Ask<'_>) -> Result<Value, Complaint> {
        let (Ask::Fact(path) | Ask::Max(path, _) | Ask::Min(path, _) | Ask::At(path, _)) = ask;
        // what is said of a run of the lesson is meant of that run
        if path
            .split_once('.')
            .is_some_and(|(run, _)| runs.lesson().run(run).is_some())
        {
            return runs.look(&Subject::default(), ask);
        }
        match ask {
            Ask::Fact(_) => self.fact(path),
            Ask::Max(_, span) => self.extreme(path, span, true),
            Ask::Min(_, span) => self.extreme(path, span, false),
            Ask::At(_, time_s) => {
                let [_, end_s] = self.recorded(path)?;
                let trace = trace(path)?;
                if time_s > end_s {
                    return Err(absent(path));
                }
                let value = self.bench.tape.value(trace, time_s);
                value
                    .map(|value| Value::of_key(path, value))
                    .ok_or_else(|| absent(path))
            }
        }
    }

    fn fact(&self, name: &str) -> Result<Value, Complaint> {
        let figure = self.bench.figures.iter().find(|figure| figure.key == name);
        match figure.map(|figure| &figure.value) {
            Some(analysis::Value::Number(number)) => return Ok(Value::of_key(name, *number)),
            #[expect(clippy::cast_precision_loss, reason = "a count of steps")]
            Some(analysis::Value::Count(n)) => return Ok(Value::Number(*n as f64)),
            // words for people; a fact here
            Some(analysis::Value::Words(_)) if name == "in_step" => {
                return Ok(Value::Truth(self.bench.in_step));
            }
            _ => {}
        }
        if let Some(value) = self.facts.machine.get(name) {
            return Ok(*value);
        }
        #[expect(clippy::cast_precision_loss, reason = "counts in a setup are small")]
        match get(&self.facts.written, name) {
            Some(toml::Value::String(text)) => Value::quantity(text),
            Some(toml::Value::Integer(n)) => Ok(Value::Number(*n as f64)),
            Some(toml::Value::Float(x)) => Ok(Value::Number(*x)),
            Some(toml::Value::Boolean(flag)) => Ok(Value::Truth(*flag)),
            _ => Err(absent(name)),
        }
    }

    fn recorded(&self, name: &str) -> Result<[f64; 2], Complaint> {
        self.bench.tape.range_s().ok_or_else(|| absent(name))
    }

    fn extreme(&self, name: &str, span: Option<(f64, f64)>, max: bool) -> Result<Value, Complaint> {
        let [start_s, _] = self.recorded(name)?;
        let (from_s, to_s) = span.unwrap_or((start_s, self.bench.now_s));
        if from_s < start_s || to_s > self.bench.now_s {
            return Err(absent(name));
        }
        let tape = self.bench.tape;
        let range = tape
            .min_max(trace(name)?, tape.mark(from_s), tape.mark(to_s))
            .ok_or_else(|| absent(name))?;
        Ok(Value::of_key(name, if max { range.max } else { range.min }))
    }
}

fn trace(name: &str) -> Result<Trace, Complaint> {
    CHANNELS
        .iter()
        .find(|(known, _)| *known == name)
        .map(|(_, channel)| Trace::Of(*channel))
        .ok_or_else(|| absent(name))
}

fn absent(name: &str) -> Complaint {
    Complaint::Absent {
        name: text::harmless(name),
    }
}
