//! A task of a lesson: what the reader did, and what is said to it.

use super::blocks::{Block, Span, blocks, spans};
use super::progress::TaskProgress;
use super::reading::Reading;
use crate::lesson::{Answer, Facts, Setting as Key, Task, TaskKind, judge, letter};
use crate::setup::Setup;

/// Hints, the worked answer counted as the third.
pub(crate) const MOST_HINTS: u8 = 3;

/// What was said to the last answer.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Said {
    /// Whether it was right.
    pub(crate) passed: bool,
    /// What was found.
    pub(crate) found: String,
    /// The words that fit.
    pub(crate) words: Vec<Block>,
}

/// The texts of a task with their numbers.
#[derive(Clone, Debug, Default)]
pub(crate) struct Texts {
    pub(crate) ask: Vec<Block>,
    pub(crate) hints: [Vec<Block>; 2],
    pub(crate) worked: Vec<Block>,
    /// Choices, or things to order.
    pub(crate) items: Vec<Vec<Span>>,
}

/// What a reader did with a task.
#[derive(Clone, Debug, Default)]
pub(crate) struct TaskState {
    /// An answer was given at some time, right or wrong.
    pub(crate) answered: bool,
    /// A right one was given.
    pub(crate) met: bool,
    /// Hints that are open.
    pub(crate) hints: u8,
    /// The choice that was taken.
    pub(crate) picked: Option<usize>,
    /// The figure as it is being written.
    pub(crate) number: String,
    /// Things in the order in which they lie, by their place in the right one.
    pub(crate) order: Vec<usize>,
    /// Keys of the setup as they are being written.
    pub(crate) fields: Vec<(String, String)>,
    /// What was said to the last answer.
    pub(crate) said: Option<Said>,
    /// Why an answer cannot be read.
    pub(crate) wrong: Option<String>,
    /// The texts, once they are made.
    pub(crate) texts: Option<Texts>,
    /// The last answer as it is remembered.
    answer: Vec<String>,
    /// What the bench was asked about last, and the answer that it gives.
    pub(crate) of_bench: Option<(Setup, Result<Vec<Key>, String>)>,
    /// True once the live bench met the task and was judged for it.
    pub(crate) judged_live: bool,
    /// Hands that went up in a class for each of the choices; empty: nobody counted.
    pub(crate) hands: Vec<u32>,
}

/// Most hands that are counted for a choice.
const MOST_HANDS: u32 = 999;

impl TaskState {
    /// One more hand for a choice, or one fewer.
    pub(crate) fn count_hand(&mut self, choice: usize, up: bool) {
        if self.hands.len() <= choice {
            self.hands.resize(choice + 1, 0);
        }
        let hands = &mut self.hands[choice];
        *hands = if up {
            (*hands + 1).min(MOST_HANDS)
        } else {
            hands.saturating_sub(1)
        };
    }

    /// Hands for a choice and in all; `None` where nobody counted.
    pub(crate) fn hands_of(&self, choice: usize) -> Option<(u32, u32)> {
        let all: u32 = self.hands.iter().sum();
        (all > 0).then(|| (self.hands.get(choice).copied().unwrap_or(0), all))
    }

    pub(crate) fn new(task: &Task, before: Option<&TaskProgress>) -> Self {
        let mut state = Self {
            order: task.shown_order(),
            ..Self::default()
        };
        if let Some(before) = before {
            state.met = before.met;
            state.hints = before.hints.min(MOST_HINTS);
            state.answer.clone_from(&before.answer);
            let texts: Vec<&str> = before.answer.iter().map(String::as_str).collect();
            if let (false, Ok(answer)) = (texts.is_empty(), Answer::parse(task, &texts)) {
                state.answered = true;
                state.put_back(task, answer, &texts);
            }
        }
        state
    }

    /// Shows an answer of another day again.
    fn put_back(&mut self, task: &Task, answer: Answer, texts: &[&str]) {
        match answer {
            Answer::Choice(idx) => self.picked = Some(idx),
            Answer::Number(_) => self.number = texts.join(" "),
            Answer::Order(order) => {
                if order.len() == task.shown_order().len() {
                    self.order = order;
                }
            }
            Answer::Set(_) => {}
        }
    }

    /// True where there is something to remember.
    pub(crate) const fn is_touched(&self) -> bool {
        self.answered || self.met || self.hints > 0
    }

    /// What is remembered.
    pub(crate) fn progress(&self) -> TaskProgress {
        TaskProgress {
            answer: self.answer.clone(),
            met: self.met,
            hints: self.hints,
        }
    }
}

impl Reading {
    /// Makes the texts of a task, where they are not made yet.
    pub(crate) fn task_texts(&mut self, idx: usize) {
        if self.tasks[idx].texts.is_some() {
            return;
        }
        let lesson = std::rc::Rc::clone(&self.lesson);
        let task = &lesson.tasks[idx];
        let mut fill = |words: &str| self.fill(words, Some(task));
        let texts = Texts {
            ask: blocks(&fill(&task.ask)),
            hints: [blocks(&fill(&task.hints[0])), blocks(&fill(&task.hints[1]))],
            worked: blocks(&fill(&task.worked)),
            items: match &task.kind {
                TaskKind::Choice(options) => options
                    .iter()
                    .map(|option| spans(&fill(&option.text)))
                    .collect(),
                TaskKind::Order { items, .. } => {
                    items.iter().map(|item| spans(&fill(item))).collect()
                }
                TaskKind::Number { .. } | TaskKind::Bench { .. } => Vec::new(),
            },
        };
        self.tasks[idx].texts = Some(texts);
    }

    /// Judges an answer and keeps what is said to it. True where it is right.
    pub(crate) fn answer(&mut self, idx: usize, answer: &Answer) -> bool {
        let lesson = std::rc::Rc::clone(&self.lesson);
        let task = &lesson.tasks[idx];
        let verdict = self.with_runs(|runs| judge(task, answer, runs, &[]));
        let written = written(task, answer, &self.tasks[idx].number);
        let state = &mut self.tasks[idx];
        match verdict {
            Ok(verdict) => {
                state.answered = true;
                state.met |= verdict.passed;
                state.wrong = None;
                state.answer = written;
                state.said = Some(Said {
                    passed: verdict.passed,
                    found: verdict.found,
                    words: verdict.reply.as_deref().map(blocks).unwrap_or_default(),
                });
                verdict.passed
            }
            Err(error) => {
                state.wrong = Some(sentence(&error.complaint));
                false
            }
        }
    }

    /// Takes an answer where it is right, and says nothing where it is not.
    pub(crate) fn answer_if_right(&mut self, idx: usize, answer: &Answer) {
        let lesson = std::rc::Rc::clone(&self.lesson);
        let verdict = self.with_runs(|runs| judge(&lesson.tasks[idx], answer, runs, &[]));
        if verdict.is_ok_and(|verdict| verdict.passed) {
            self.answer(idx, answer);
        }
    }

    /// Judges what was typed.
    pub(crate) fn answer_typed(&mut self, idx: usize, texts: &[&str]) -> bool {
        let lesson = std::rc::Rc::clone(&self.lesson);
        match Answer::parse(&lesson.tasks[idx], texts) {
            Ok(answer) => self.answer(idx, &answer),
            Err(complaint) => {
                self.tasks[idx].wrong = Some(sentence(&complaint));
                false
            }
        }
    }

    /// The answer that the bench gives to a task on the bench: keys that differ from its start.
    /// The reason where something else stands there.
    pub(crate) fn of_bench(&mut self, idx: usize, setup: &Setup) -> Result<Vec<Key>, String> {
        if let Some((known, answer)) = &self.tasks[idx].of_bench
            && known == setup
        {
            return answer.clone();
        }
        let lesson = std::rc::Rc::clone(&self.lesson);
        let answer = self.with_runs(|runs| Answer::of_setup(&lesson.tasks[idx], runs, setup));
        let answer = match answer {
            Ok(Answer::Set(keys)) => Ok(keys),
            Ok(_) => Ok(Vec::new()),
            Err(complaint) => Err(sentence(&complaint)),
        };
        self.tasks[idx].of_bench = Some((setup.clone(), answer.clone()));
        answer
    }

    /// Takes the values of the bench into the fields of a task, or those of the task's start.
    pub(crate) fn take_fields(&mut self, idx: usize, facts: Option<&Facts>) {
        let lesson = std::rc::Rc::clone(&self.lesson);
        let TaskKind::Bench { may_set, run, .. } = &lesson.tasks[idx].kind else {
            return;
        };
        let start = match facts {
            Some(_) => None,
            None => self.with_runs(|runs| runs.get(run, false).ok()),
        };
        let value = |key: &str| match (facts, &start) {
            (Some(facts), _) => facts.written(key),
            (None, Some(ran)) => ran.written(key),
            (None, None) => None,
        };
        self.tasks[idx].fields = may_set
            .iter()
            .map(|key| (key.clone(), value(key).unwrap_or_default()))
            .collect();
    }
}

/// An answer as it is remembered.
fn written(task: &Task, answer: &Answer, typed: &str) -> Vec<String> {
    match answer {
        Answer::Choice(idx) => vec![letter(*idx).to_string()],
        Answer::Number(_) => vec![typed.to_owned()],
        Answer::Set(keys) => keys
            .iter()
            .map(|(key, value)| match value {
                toml::Value::String(text) => format!("{key}={text}"),
                other => format!("{key}={other}"),
            })
            .collect(),
        Answer::Order(order) => {
            let shown = task.shown_order();
            let place = |item: &usize| shown.iter().position(|k| k == item).map_or(0, |at| at + 1);
            vec![
                order
                    .iter()
                    .map(|item| place(item).to_string())
                    .collect::<Vec<_>>()
                    .join(" "),
            ]
        }
    }
}

/// A complaint and its remedy in a line or two.
pub(crate) fn sentence(complaint: &crate::lesson::Complaint) -> String {
    let mut words = complaint.to_string();
    if let crate::lesson::Complaint::Setup { errors, .. } = complaint
        && let Some(problem) = errors.problems().first()
    {
        words = problem.to_string();
        if let Some(remedy) = problem.remedy() {
            words = format!("{words}: {remedy}");
        }
    } else if let Some(remedy) = complaint.remedy() {
        words = format!("{words}: {remedy}");
    }
    words
}
