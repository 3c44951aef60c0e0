//! Whether an answer to a task is right, and what to say where it is not.

use std::rc::Rc;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt as _, SeedableRng as _};

use super::condition::{ConditionError, near};
use super::front::is_order;
use super::model::{Answer, Right, Task, TaskKind, When};
use super::problem::Complaint;
use super::runs::{Ran, Runs, Subject, spaced};
use super::text;
use super::value::Value;
use crate::setup::{Quantity, Setup};

/// What an answer came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Whether it passes.
    pub passed: bool,
    /// What was found: the figure of the run, how many trials passed.
    pub found: String,
    /// What to say to a wrong answer; Markdown with its numbers put in.
    pub reply: Option<String>,
}

/// A key and the value it is set to.
pub type Setting = (String, toml::Value);

impl Answer {
    /// Reads an answer as a person types it: `b`, `1500 rpm`, `drive.pwm.duty=0.4`, `3 1 2`.
    ///
    /// # Errors
    /// Words that are no answer to this task.
    pub fn parse(task: &Task, texts: &[&str]) -> Result<Self, Complaint> {
        let joined = texts.join(" ");
        let wanted = |wanted| Complaint::NoAnswer {
            found: joined.trim().to_owned(),
            wanted,
        };
        match &task.kind {
            TaskKind::Choice(options) => {
                let letter = joined.trim().to_ascii_lowercase();
                let mut letters = letter.chars();
                match (letters.next(), letters.next()) {
                    (Some(letter @ 'a'..='z'), None) => {
                        let idx = usize::from(letter as u8 - b'a');
                        (idx < options.len())
                            .then_some(Self::Choice(idx))
                            .ok_or(wanted("the letter of an answer, such as b"))
                    }
                    _ => Err(wanted("the letter of an answer, such as b")),
                }
            }
            TaskKind::Number { answer, .. } => {
                Value::answer_like(&joined, answer).map(Self::Number)
            }
            TaskKind::Bench { .. } => texts
                .iter()
                .filter(|text| !text.trim().is_empty())
                .map(|text| {
                    let (key, value) = text
                        .split_once('=')
                        .ok_or(wanted("KEY=VALUE, as in drive.pwm.duty=0.4"))?;
                    Ok((key.trim().to_owned(), typed(value.trim())))
                })
                .collect::<Result<_, _>>()
                .map(Self::Set),
            TaskKind::Order { items, .. } => {
                let order: Option<Vec<usize>> = joined
                    .split(|c: char| c.is_whitespace() || c == ',')
                    .filter(|word| !word.is_empty())
                    .map(|word| word.parse::<usize>().ok()?.checked_sub(1))
                    .collect();
                // numbers are those of the list as it is shown
                let shown = task.shown_order();
                order
                    .filter(|order| is_order(order, items.len()))
                    .map(|order| Self::Order(order.into_iter().map(|k| shown[k]).collect()))
                    .ok_or(wanted("the number of each item once, such as 3 1 2"))
            }
        }
    }

    /// The answer that a setup of the reader's own gives to a task on the bench.
    ///
    /// # Errors
    /// A setup that differs from the start in what must not be touched.
    pub fn of_setup(task: &Task, runs: &Runs<'_>, own: &Setup) -> Result<Self, Complaint> {
        let TaskKind::Bench { run, may_set, .. } = &task.kind else {
            return Err(Complaint::Arguments {
                wanted: "a setup for a task on the bench only",
            });
        };
        let spec = runs.lesson().run(run).ok_or(Complaint::Arguments {
            wanted: "the run of the task",
        })?;
        let (start, _) = runs.setup_with(spec, &[])?;
        let table = |setup: &Setup| setup.to_toml().parse::<toml::Table>().unwrap_or_default();
        let (start, own) = (flat(&table(&start)), flat(&table(own)));
        let mut set = Vec::new();
        for (key, value) in &own {
            if start.iter().any(|(k, v)| k == key && v == value) || key == "title" {
                continue;
            }
            if !may_set.contains(key) {
                return Err(not_yours(task, key, may_set));
            }
            set.push((key.clone(), value.clone()));
        }
        Ok(Self::Set(set))
    }
}

fn flat(table: &toml::Table) -> Vec<Setting> {
    let mut found = Vec::new();
    for (key, value) in table {
        match value {
            toml::Value::Table(inner) => {
                found.extend(
                    flat(inner)
                        .into_iter()
                        .map(|(rest, value)| (format!("{key}.{rest}"), value)),
                );
            }
            other => found.push((key.clone(), other.clone())),
        }
    }
    found
}

fn not_yours(task: &Task, key: &str, may_set: &[String]) -> Complaint {
    Complaint::Unknown {
        what: "key that this task lets you set, called",
        name: text::harmless(key),
        nearest: super::front::nearest(key, may_set.iter().map(String::as_str))
            .or_else(|| may_set.first().cloned())
            .filter(|_| matches!(task.kind, TaskKind::Bench { .. })),
    }
}

/// A value as typed: a number, true or false, else a text.
fn typed(text: &str) -> toml::Value {
    let text = text.trim_matches('"');
    if let Ok(whole) = text.parse::<i64>() {
        return whole.into();
    }
    match (text, text.parse::<f64>()) {
        ("true", _) => true.into(),
        ("false", _) => false.into(),
        (_, Ok(number)) if number.is_finite() => number.into(),
        _ => text.into(),
    }
}

/// Picks one value for each key that varies. The same seed and sheet pick the same.
#[must_use]
pub fn pick(vary: &[(String, Vec<toml::Value>)], seed: u64, sheet: u64) -> Vec<Setting> {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    random.set_stream(sheet);
    vary.iter()
        .filter_map(|(key, values)| {
            let last = values.len().checked_sub(1)?;
            Some((key.clone(), values[random.random_range(0..=last)].clone()))
        })
        .collect()
}

/// The run that the bare names of a task's text mean, with these keys set.
///
/// # Errors
/// A run that cannot be made.
pub fn subject_of(task: &Task, runs: &mut Runs<'_>, set: &[Setting]) -> Result<Subject, Complaint> {
    let name = match &task.kind {
        TaskKind::Number { run, .. } => run.clone(),
        TaskKind::Bench { run, .. } => Some(run.clone()),
        TaskKind::Choice(_) | TaskKind::Order { .. } => None,
    };
    let run = match name {
        None => None,
        Some(name) if set.is_empty() => Some(runs.get(&name, false)?),
        Some(name) => Some(Rc::new(runs.with(&name, set, false)?)),
    };
    Ok(Subject { run, answer: None })
}

/// Seed of the trials of a task: every reader meets the same ones.
const TRIAL_SEED: u64 = 7;

/// Judges an answer. `set` are the keys of a student's own sheet.
///
/// # Errors
/// A run that cannot be made, a key that the reader may not set, or a condition of the lesson
/// that makes no sense.
pub fn judge(
    task: &Task,
    answer: &Answer,
    runs: &mut Runs<'_>,
    set: &[Setting],
) -> Result<Verdict, ConditionError> {
    let nowhere = |complaint| ConditionError {
        complaint,
        place: crate::setup::Place { start: 0, end: 0 },
    };
    match (&task.kind, answer) {
        (TaskKind::Choice(options), Answer::Choice(idx)) => {
            let option = options.get(*idx).ok_or_else(|| {
                nowhere(Complaint::Arguments {
                    wanted: "the letter of an answer",
                })
            })?;
            let passed = match &option.right {
                Right::Said(right) => *right,
                Right::Holds(condition) => runs.holds(condition, &Subject::default())?,
            };
            let reply = fill(runs, &option.reply, &Subject::default())?;
            Ok(Verdict {
                passed,
                found: String::new(),
                reply: Some(reply).filter(|reply| !reply.is_empty()),
            })
        }
        (TaskKind::Number { figure, within, .. }, Answer::Number(given)) => {
            let mut subject = subject_of(task, runs, set).map_err(nowhere)?;
            let value = runs.value(figure, &subject)?;
            let passed = near(*given, value, *within).map_err(nowhere)?;
            subject.answer = Some(*given);
            let reply = if passed {
                None
            } else {
                Some(reply_for(task, runs, &subject, &[])?)
            };
            Ok(Verdict {
                passed,
                found: shown(&value),
                reply,
            })
        }
        (
            TaskKind::Bench {
                run,
                may_set,
                check,
                trials,
                vary,
                ..
            },
            Answer::Set(own),
        ) => {
            if let Some((key, _)) = own.iter().find(|(key, _)| !may_set.contains(key)) {
                return Err(nowhere(not_yours(task, key, may_set)));
            }
            let recorded = needs_record(check);
            let mut n_passed = 0;
            let mut failed: Option<Rc<Ran>> = None;
            let mut last = None;
            for trial in 0..*trials {
                let mut all = pick(vary, TRIAL_SEED, u64::from(trial));
                all.extend(own.iter().cloned());
                let ran = Rc::new(runs.with(run, &all, recorded).map_err(nowhere)?);
                let subject = Subject {
                    run: Some(Rc::clone(&ran)),
                    answer: None,
                };
                if runs.holds(check, &subject)? {
                    n_passed += 1;
                } else {
                    failed.get_or_insert(Rc::clone(&ran));
                }
                last = Some(ran);
            }
            let passed = n_passed == *trials;
            let shown_run = failed.or(last);
            let subject = Subject {
                run: shown_run,
                answer: None,
            };
            let mut found = figures_of(check, runs, &subject)?;
            if *trials > 1 {
                found = format!("{n_passed} of {trials} trials pass; {found}");
            }
            let reply = if passed {
                None
            } else {
                Some(reply_for(task, runs, &subject, &[])?)
            };
            Ok(Verdict {
                passed,
                found,
                reply,
            })
        }
        (TaskKind::Order { items, .. }, Answer::Order(order)) => {
            let passed = order.iter().copied().eq(0..items.len());
            let reply = if passed {
                None
            } else {
                Some(reply_for(task, runs, &Subject::default(), order)?)
            };
            Ok(Verdict {
                passed,
                found: String::new(),
                reply,
            })
        }
        _ => Err(nowhere(Complaint::Arguments {
            wanted: "an answer of the task's own kind",
        })),
    }
}

fn fill(runs: &mut Runs<'_>, words: &str, subject: &Subject) -> Result<String, ConditionError> {
    runs.fill(words, subject)
        .map_err(|(complaint, range)| ConditionError {
            complaint,
            place: range.into(),
        })
}

/// The first reply that fits, or the one for all others.
fn reply_for(
    task: &Task,
    runs: &mut Runs<'_>,
    subject: &Subject,
    order: &[usize],
) -> Result<String, ConditionError> {
    for reply in &task.replies {
        let fits = match &reply.when {
            When::Holds(condition) => runs.holds(condition, subject)?,
            When::Before(first, second) => {
                let at = |item: usize| order.iter().position(|k| *k == item);
                at(*first) < at(*second)
            }
        };
        if fits {
            return fill(runs, &reply.say, subject);
        }
    }
    fill(runs, &task.otherwise, subject)
}

fn needs_record(check: &super::Condition) -> bool {
    // a name that only the record has
    let words = check.text();
    ["max(", "min(", "at("]
        .iter()
        .any(|call| words.replace(' ', "").contains(call))
}

/// The figures that a condition names, as found.
fn figures_of(
    check: &super::Condition,
    runs: &mut Runs<'_>,
    subject: &Subject,
) -> Result<String, ConditionError> {
    let mut found: Vec<String> = Vec::new();
    for name in check.names() {
        let value = runs.look(subject, super::Ask::Fact(name));
        if let Ok(value) = value {
            let words = format!("{name} {}", shown(&value));
            if !found.contains(&words) {
                found.push(words);
            }
        }
    }
    Ok(found.join(", "))
}

fn shown(value: &Value) -> String {
    spaced(value, 4, false)
}

/// The right answer in words, for a sheet of answers: the letter, the figure, the keys, the order.
///
/// # Errors
/// As [`judge`].
pub fn right_answer(
    task: &Task,
    runs: &mut Runs<'_>,
    set: &[Setting],
) -> Result<String, ConditionError> {
    Ok(match &task.kind {
        TaskKind::Choice(options) => {
            let mut letters = Vec::new();
            for idx in 0..options.len() {
                if judge(task, &Answer::Choice(idx), runs, set)?.passed {
                    letters.push(letter(idx).to_string());
                }
            }
            letters.join(", ")
        }
        TaskKind::Number { figure, answer, .. } => {
            let percent = answer.ends_with('%');
            let subject = subject_of(task, runs, set).map_err(|complaint| ConditionError {
                complaint,
                place: crate::setup::Place { start: 0, end: 0 },
            })?;
            match runs.value(figure, &subject)? {
                value @ Value::Of(_, Quantity::Speed) => spaced(&value, 4, false),
                value => spaced(&value, 3, percent),
            }
        }
        TaskKind::Bench { answer, .. } => answer
            .iter()
            .map(|(key, value)| match value {
                toml::Value::String(text) => format!("{key} = {text}"),
                other => format!("{key} = {other}"),
            })
            .collect::<Vec<_>>()
            .join(", "),
        TaskKind::Order { items, .. } => {
            let shown = task.shown_order();
            (0..items.len())
                .filter_map(|item| shown.iter().position(|k| *k == item))
                .map(|at| (at + 1).to_string())
                .collect::<Vec<_>>()
                .join(" ")
        }
    })
}

/// The letter of an answer of a choice.
#[must_use]
pub fn letter(idx: usize) -> char {
    u8::try_from(idx.min(25)).map_or('z', |idx| char::from(b'a' + idx))
}
