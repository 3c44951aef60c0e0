//! A lesson as read: text, runs, tasks. Only what passed the checks of [`super::front`] gets here.

use std::collections::BTreeMap;

use super::condition::{Condition, Tolerance};
use crate::scene::plots::Row;
use crate::setup::Place;

/// The files of a lesson's folder, brought by whoever can read them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LessonFiles {
    /// Name of the folder, without what leads to it: `03-poles`.
    pub folder: String,
    /// Text of each file by its plain name: `lesson.md`, `trolley.toml`.
    pub texts: BTreeMap<String, String>,
}

/// A checked lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct Lesson {
    /// Its files.
    pub files: LessonFiles,
    /// Heading.
    pub title: String,
    /// The one idea, in a sentence.
    pub idea: String,
    /// Terms of the glossary that it defines.
    pub terms: Vec<String>,
    /// The one row of waveforms that it speaks of; what a talk shows.
    pub plot: Option<Row>,
    /// What the text says in words and the runs must bear out.
    pub claims: Vec<Claim>,
    /// Its runs, at least one.
    pub runs: Vec<RunSpec>,
    /// Its tasks in the order of the front matter.
    pub tasks: Vec<Task>,
    /// The text after the front matter, in pieces.
    pub parts: Vec<Part>,
}

/// A claim and its place in lesson.md.
#[derive(Clone, Debug, PartialEq)]
pub struct Claim {
    /// What must hold.
    pub condition: Condition,
    /// Where it stands.
    pub place: Place,
}

/// A setup, perhaps with some keys set to something else.
#[derive(Clone, Debug, PartialEq)]
pub struct RunSpec {
    /// What the lesson calls it.
    pub name: String,
    /// File of the setup.
    pub file: String,
    /// Whole keys and their values: `drive.pwm.duty`, 0.3.
    pub with: Vec<(String, toml::Value)>,
    /// Where it stands in lesson.md.
    pub place: Place,
}

/// A piece of the text.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Markdown with placeholders.
    Text {
        /// As written.
        markdown: String,
        /// Where it begins in lesson.md.
        start: usize,
    },
    /// A task, by its place among [`Lesson::tasks`].
    Task(usize),
}

/// Something for the reader to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// What the lesson calls it.
    pub name: String,
    /// The question, Markdown with placeholders.
    pub ask: String,
    /// A nudge, and a way.
    pub hints: [String; 2],
    /// The worked answer, Markdown with placeholders.
    pub worked: String,
    /// What is asked.
    pub kind: TaskKind,
    /// What to say to a wrong answer; the first that fits is taken.
    pub replies: Vec<Reply>,
    /// What to say where none fits; empty for a choice.
    pub otherwise: String,
    /// Where it stands in lesson.md.
    pub place: Place,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub enum TaskKind {
    /// One of several.
    Choice(Vec<Choice>),
    /// A figure, foretold.
    Number {
        /// Which run the bare names of `figure` mean.
        run: Option<String>,
        /// What the answer is compared with.
        figure: Condition,
        /// How near it must be.
        within: Tolerance,
        /// What the lesson itself answers.
        answer: String,
        /// Keys of the run and the values among which a student's sheet picks.
        vary: Vec<(String, Vec<toml::Value>)>,
    },
    /// Keys of a setup to be set so that a condition holds.
    Bench {
        /// The run that the reader starts from.
        run: String,
        /// Keys that the reader may set.
        may_set: Vec<String>,
        /// What must hold of the reader's run; bare names mean that run.
        check: Condition,
        /// What the lesson itself sets.
        answer: Vec<(String, toml::Value)>,
        /// How many runs must pass, each with other values of `vary`; at least 1.
        trials: u32,
        /// Keys that differ from trial to trial, and the values among which one is picked.
        vary: Vec<(String, Vec<toml::Value>)>,
    },
    /// Things to put in order; given in the right one.
    Order {
        /// The things.
        items: Vec<String>,
        /// A run in whose record the legs go through `states`, item by item.
        legs: Option<(String, Vec<String>)>,
    },
}

/// One answer of a choice.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The answer.
    pub text: String,
    /// Whether it is right.
    pub right: Right,
    /// What to say to who takes it.
    pub reply: String,
}

/// What makes an answer of a choice right.
#[derive(Clone, Debug, PartialEq)]
pub enum Right {
    /// The lesson says so.
    Said(bool),
    /// The runs say so.
    Holds(Condition),
}

/// What to say to a wrong answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Reply {
    /// When it fits.
    pub when: When,
    /// A wrong answer that must get it.
    pub example: Answer,
    /// The words.
    pub say: String,
}

/// When a reply fits.
#[derive(Clone, Debug, PartialEq)]
pub enum When {
    /// The condition holds of the reader's run or of `answer`.
    Holds(Condition),
    /// The first item (counted from 0) stands before the second.
    Before(usize, usize),
}

/// A reader's answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A choice, counted from 0.
    Choice(usize),
    /// A figure.
    Number(super::Value),
    /// Keys of the setup.
    Set(Vec<(String, toml::Value)>),
    /// Items by their place in the right order, counted from 0.
    Order(Vec<usize>),
}

impl Lesson {
    /// The number at the start of the folder's name, and the rest.
    #[must_use]
    pub fn number(&self) -> Option<u32> {
        self.files.folder.split('-').next()?.parse().ok()
    }

    /// A run by its name.
    #[must_use]
    pub fn run(&self, name: &str) -> Option<&RunSpec> {
        self.runs.iter().find(|run| run.name == name)
    }

    /// A task by its name.
    #[must_use]
    pub fn task(&self, name: &str) -> Option<&Task> {
        self.tasks.iter().find(|task| task.name == name)
    }
}

impl Task {
    /// The order in which a list of things is first shown: never the right one, the same each
    /// time. Empty for tasks of another kind.
    #[must_use]
    pub fn shown_order(&self) -> Vec<usize> {
        let TaskKind::Order { items, .. } = &self.kind else {
            return Vec::new();
        };
        let n = items.len();
        // a step that shares no factor with the count reaches every item
        let step = (2..n).rev().find(|step| n % step != 0).unwrap_or(1);
        let mut order: Vec<usize> = (0..n).map(|k| (k * step + n / 2) % n).collect();
        if order.windows(2).all(|pair| pair[0] < pair[1]) {
            order.reverse();
        }
        order
    }
}
