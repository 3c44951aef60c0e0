//! How far a person has come in the course: plain data, to be kept wherever the window keeps
//! what it remembers.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// Longest text of an answer that is kept, in bytes.
const LONGEST: usize = 400;
/// Most lessons and most tasks of a lesson that are kept.
const MOST: usize = 200;

/// All lessons by the names of their folders.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Progress {
    /// The lesson that was open last.
    pub(crate) last: Option<String>,
    /// What was done in each.
    pub(crate) lessons: BTreeMap<String, LessonProgress>,
}

/// One lesson.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct LessonProgress {
    /// True once the reader has gone beyond the prediction.
    pub(crate) read_on: bool,
    /// What was done with each task.
    pub(crate) tasks: BTreeMap<String, TaskProgress>,
}

/// One task.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct TaskProgress {
    /// The last answer as a person types it: `b`, `1500 rpm`, `drive.pwm.duty=0.4`, `3 1 2`.
    pub(crate) answer: Vec<String>,
    /// Whether a right one was ever given.
    pub(crate) met: bool,
    /// Hints that were asked for; 3 is the worked answer.
    pub(crate) hints: u8,
}

impl Progress {
    /// Reads it back; what is damaged is as if it had never been.
    pub(crate) fn parse(text: &str) -> Self {
        let mut found: Self = toml::from_str(text).unwrap_or_default();
        while found.lessons.len() > MOST {
            found.lessons.pop_last();
        }
        for lesson in found.lessons.values_mut() {
            while lesson.tasks.len() > MOST {
                lesson.tasks.pop_last();
            }
            for task in lesson.tasks.values_mut() {
                task.answer.truncate(MOST);
                task.answer.retain(|text| text.len() <= LONGEST);
                task.hints = task.hints.min(3);
            }
        }
        found
    }

    /// As text.
    pub(crate) fn to_text(&self) -> String {
        toml::to_string(self).unwrap_or_default()
    }

    /// How many of a lesson's tasks are met.
    pub(crate) fn n_met<'a>(
        &self,
        folder: &str,
        mut tasks: impl Iterator<Item = &'a str>,
    ) -> usize {
        let Some(lesson) = self.lessons.get(folder) else {
            return 0;
        };
        let mut n = 0;
        for name in &mut tasks {
            n += usize::from(lesson.tasks.get(name).is_some_and(|task| task.met));
        }
        n
    }

    /// What was done in a lesson.
    pub(crate) fn lesson_mut(&mut self, folder: &str) -> &mut LessonProgress {
        self.lessons.entry(folder.to_owned()).or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_comes_back_whole_and_damage_is_nothing() {
        let mut progress = Progress {
            last: Some("04-poles".to_owned()),
            ..Progress::default()
        };
        let lesson = progress.lesson_mut("04-poles");
        lesson.read_on = true;
        lesson.tasks.insert(
            "count".to_owned(),
            TaskProgress {
                answer: vec!["machine.poles=8".to_owned()],
                met: true,
                hints: 2,
            },
        );
        assert_eq!(Progress::parse(&progress.to_text()), progress);
        assert_eq!(
            progress.n_met("04-poles", ["count", "other"].into_iter()),
            1
        );
        for damaged in ["last = [", "lessons = 3", "\0", "lessons = { a = 1 }"] {
            assert_eq!(Progress::parse(damaged), Progress::default(), "{damaged}");
        }
        let long = format!(
            "[lessons.a.tasks.b]\nanswer = [\"{}\"]\nhints = 200",
            "x".repeat(5_000)
        );
        let task = Progress::parse(&long).lessons["a"].tasks["b"].clone();
        assert_eq!((task.answer.len(), task.hints), (0, 3));
    }
}
