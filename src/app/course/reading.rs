//! The lesson that is open: its runs, its texts with their numbers, and what the reader has done.

use std::rc::Rc;

use super::blocks::{Block, blocks};
use super::pictures::Pictures;
use super::progress::LessonProgress;
use super::task::TaskState;
use crate::app::outside;
use crate::lesson::text::{self, pictures};
use crate::lesson::{
    Complaint, Lesson, LessonErrors, LessonFiles, Made, Making, Part, Runs, Subject, Task, parse,
    subject_of,
};

/// Most pieces of the solution that a frame waits for; in a browser the clock alone says.
const PIECES_OF_A_FRAME: u32 = if cfg!(target_arch = "wasm32") {
    u32::MAX
} else {
    6_000
};

/// A lesson at work.
#[derive(Debug)]
pub(crate) struct Reading {
    /// The lesson.
    pub(crate) lesson: Rc<Lesson>,
    /// Runs that were made.
    pub(crate) made: Made,
    /// Runs that are still to be made, the next one last: name, and whether with waveforms.
    to_make: Vec<(String, bool)>,
    /// The run in the making.
    making: Option<(String, Making)>,
    /// What the reader did with each task, in the order of [`Lesson::tasks`].
    pub(crate) tasks: Vec<TaskState>,
    /// The text in pieces, part by part; empty for a task. `None`: the runs are not made yet.
    pub(crate) texts: Option<Rc<[Vec<Block>]>>,
    /// What was wrong with a run or a number, in words.
    pub(crate) trouble: Option<String>,
    /// Its pictures.
    pub(crate) pictures: Pictures,
    /// True once the reader has gone beyond the prediction.
    pub(crate) read_on: bool,
    /// Scroll by so many points at the next frame.
    pub(crate) scroll: f32,
    /// True for the first frame.
    pub(crate) fresh: bool,
    /// The number of the last task that the reader has scrolled to; 0 before the first.
    pub(crate) at_task: usize,
    /// The number of a task to scroll to, once it is there.
    pub(crate) wanted_task: Option<usize>,
}

impl Reading {
    /// Opens a lesson from its files, with what was done in it before.
    ///
    /// # Errors
    /// What is wrong with the lesson.
    pub(crate) fn open(
        files: LessonFiles,
        before: Option<&LessonProgress>,
    ) -> Result<Self, LessonErrors> {
        let lesson = Rc::new(parse(files)?);
        let to_make = to_make(&lesson);
        let tasks = lesson
            .tasks
            .iter()
            .map(|task| {
                TaskState::new(task, before.and_then(|before| before.tasks.get(&task.name)))
            })
            .collect();
        Ok(Self {
            made: Made::default(),
            to_make,
            making: None,
            tasks,
            texts: None,
            trouble: None,
            pictures: Pictures::default(),
            read_on: before.is_some_and(|before| before.read_on),
            scroll: 0.0,
            fresh: true,
            at_task: 0,
            wanted_task: None,
            lesson,
        })
    }

    /// Goes to a task by the number it has in the text, beyond the prediction where it lies
    /// there; to the top for 0, to the last for one that is not there.
    pub(crate) fn go_to_task(&mut self, number: usize) {
        let number = number.min(self.tasks.len());
        if number > 1 {
            self.read_on = true;
        }
        self.wanted_task = (number > 0).then_some(number);
        self.fresh = number == 0;
    }

    /// The number of the task that the reader is at, or is on the way to; 0 before the first.
    pub(crate) fn place(&self) -> usize {
        self.wanted_task.unwrap_or(self.at_task)
    }

    /// How many of its runs are made, the one in the making in part, and how many there are.
    pub(crate) fn n_made(&self) -> (f64, usize) {
        let n = self.lesson.runs.len();
        let (to_make, making) = match &self.making {
            Some((_, making)) => (self.to_make.len() + 1, making.share()),
            None => (self.to_make.len(), 0.0),
        };
        #[expect(clippy::cast_precision_loss, reason = "a few runs")]
        let made = n.saturating_sub(to_make) as f64 + making;
        (made, n)
    }

    /// Goes on with the runs that are still missing, as far as a frame of the window bears; true
    /// while there is more to do. `last_s`: how long the last frame took, in s.
    pub(crate) fn go_on(&mut self, last_s: f64) -> bool {
        let lesson = Rc::clone(&self.lesson);
        if self.making.is_none()
            && let Some((name, recorded)) = self.to_make.pop()
        {
            if self.made.run(&name, recorded).is_none() {
                match self.with_runs(|runs| runs.begin(&name, &[], recorded)) {
                    Ok(making) => self.making = Some((name, making)),
                    Err(complaint) => self.complain(&complaint),
                }
            }
            return true;
        }
        if let Some((name, mut making)) = self.making.take() {
            let (mut done, mut left) = (Ok(false), PIECES_OF_A_FRAME);
            outside::within_long_frame(last_s, |n_pieces| {
                let n_pieces = n_pieces.min(left);
                left -= n_pieces;
                done = making.advance(n_pieces);
                left > 0 && matches!(done, Ok(false))
            });
            match done {
                Ok(false) => self.making = Some((name, making)),
                Ok(true) => match making.ran() {
                    Ok(ran) => self.with_runs(|runs| runs.put(&name, ran)),
                    Err(complaint) => self.complain(&complaint),
                },
                Err(complaint) => self.complain(&complaint),
            }
            return true;
        }
        if self.texts.is_some() {
            return false;
        }
        let texts = lesson
            .parts
            .iter()
            .map(|part| match part {
                Part::Text { markdown, .. } => blocks(&self.fill(markdown, None)),
                Part::Task(_) => Vec::new(),
            })
            .collect();
        self.texts = Some(texts);
        true
    }

    fn complain(&mut self, complaint: &Complaint) {
        let remedy = complaint.remedy();
        let remedy = remedy.map_or(String::new(), |remedy| format!(": {remedy}"));
        self.trouble = Some(format!("{complaint}{remedy}"));
    }

    /// Lends the runs, and takes them back with what was made of them meanwhile.
    pub(crate) fn with_runs<R>(&mut self, work: impl FnOnce(&mut Runs<'_>) -> R) -> R {
        let lesson = Rc::clone(&self.lesson);
        let mut runs = Runs::of(&lesson, std::mem::take(&mut self.made));
        let result = work(&mut runs);
        self.made = runs.into_made();
        result
    }

    /// A text with its numbers; as it is written where one cannot be had, with a word about it.
    pub(crate) fn fill(&mut self, markdown: &str, task: Option<&Task>) -> String {
        let result = self.with_runs(|runs| {
            let subject = match task {
                Some(task) => subject_of(task, runs, &[])?,
                None => Subject::default(),
            };
            runs.fill(markdown, &subject)
                .map_err(|(complaint, _)| complaint)
        });
        match result {
            Ok(filled) => filled,
            Err(complaint) => {
                self.trouble = Some(complaint.to_string());
                markdown.to_owned()
            }
        }
    }

    /// The part that the reader may not look beyond before a prediction was made; `None` where
    /// one was, or where the lesson asks for none at its beginning.
    pub(crate) fn gate(&self) -> Option<usize> {
        if self.read_on {
            return None;
        }
        let at = self
            .lesson
            .parts
            .iter()
            .position(|part| matches!(part, Part::Task(_)))?;
        let Part::Task(idx) = self.lesson.parts[at] else {
            return None;
        };
        let headings: usize = self.lesson.parts[..at]
            .iter()
            .map(|part| match part {
                Part::Text { markdown, .. } => markdown
                    .lines()
                    .filter(|line| line.starts_with("## "))
                    .count(),
                Part::Task(_) => 0,
            })
            .sum();
        let guessed = self.tasks.get(idx).is_some_and(|task| task.answered);
        (headings <= 1 && !guessed).then_some(at)
    }

    /// What is worth remembering.
    pub(crate) fn progress(&self) -> LessonProgress {
        let tasks = self.lesson.tasks.iter().zip(&self.tasks);
        LessonProgress {
            read_on: self.read_on || self.gate().is_none(),
            tasks: tasks
                .filter(|(_, state)| state.is_touched())
                .map(|(task, state)| (task.name.clone(), state.progress()))
                .collect(),
        }
    }
}

/// Every run of a lesson, with waveforms where a picture or an instant needs them; the first one
/// last, since they are made from the end.
fn to_make(lesson: &Lesson) -> Vec<(String, bool)> {
    let mut words = String::new();
    let mut pictured = Vec::new();
    for part in &lesson.parts {
        if let Part::Text { markdown, .. } = part {
            pictured.extend(pictures(markdown).into_iter().map(|(wish, _)| wish.run));
            for wish in text::placeholders(markdown).unwrap_or_default() {
                words += wish.expression.text();
                words.push(' ');
            }
        }
    }
    let recorded = |name: &str| {
        let calls = ["at(", "max(", "min("];
        pictured.iter().any(|run| run == name)
            || calls
                .iter()
                .any(|call| words.contains(&format!("{call}{name}.")))
    };
    lesson
        .runs
        .iter()
        .rev()
        .map(|run| (run.name.clone(), recorded(&run.name)))
        .collect()
}
