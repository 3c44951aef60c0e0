//! Lessons: a text, its setups, its tasks, and whether all of it is true.
//!
//! ```text
//! files of a folder ─► front (sizes, keys, conditions, text) ─► Lesson
//!                                                               │
//!            Runs (each made once, within limits) ◄─────────────┤
//!              │                                                ▼
//!              ├─► text with the numbers of the runs      judge: an answer, a reply
//!              └─► check: start fails, answer passes, claims hold
//! ```
//!
//! A lesson comes from anywhere and is trusted with nothing: sizes, nesting, runs and their
//! length are limited, a condition is a small typed grammar, and HTML in its text is text. This
//! room reads no file: whoever calls it brings the texts ([`LessonFiles`]); the course of the
//! program is built in ([`course`]).
//!
//! ```
//! use wyebench::lesson::{Answer, Runs, course, judge};
//! let lesson = course::lesson("poles").unwrap().unwrap();
//! let mut runs = Runs::new(&lesson);
//! let task = lesson.task("count-the-magnets").unwrap();
//! let answer = Answer::parse(task, &["machine.poles=4"]).unwrap();
//! assert!(!judge(task, &answer, &mut runs, &[]).unwrap().passed);
//! ```

pub mod check;
mod condition;
pub mod course;
mod front;
mod front_tasks;
mod glossary;
mod grammar;
mod judge;
mod live;
mod making;
mod model;
mod pictures;
mod problem;
mod runs;
mod sight;
mod starter;
pub mod tally;
pub mod text;
mod tokens;
mod value;

pub use condition::{
    Ask, Condition, ConditionError, MOST_CONDITION_BYTES, Tolerance, parse_tolerance,
};
pub use front::{TEXT_FILE, parse};
pub use glossary::{Glossary, Term};
pub use judge::{Setting, Verdict, judge, letter, pick, right_answer, subject_of};
pub use live::{Bench, Clause, Facts, Standing, state};
pub use making::Making;
pub use model::*;
pub use pictures::{Drawn, height_share, picture_scene};
pub use problem::{Complaint, LessonErrors, LessonProblem};
pub use runs::{Made, Ran, Runs, Subject, spaced};
pub use sight::{BENCH_KEYS, Control, LARGE_FIGURES, Panel, Sight};
pub use starter::starter;
pub use value::Value;

/// Largest lesson.md in bytes.
pub const MOST_TEXT_BYTES: usize = 64 << 10;
/// Largest setup of a lesson in bytes.
pub const MOST_SETUP_BYTES: usize = 64 << 10;
/// Most files in a lesson's folder.
pub const MOST_FILES: usize = 17;
/// Most runs of a lesson.
pub const MOST_RUNS: usize = 16;
/// Most tasks of a lesson.
pub const MOST_TASKS: usize = 8;
/// Most things in a list: answers, replies, keys.
pub const MOST_ITEMS: usize = 16;
/// Most trials of one task.
pub const MOST_TRIALS: u32 = 20;
/// Longest run in simulated seconds.
pub const MOST_RUN_S: f64 = 10.0;
/// Most pieces of solution in a run.
pub const MOST_PIECES: u32 = 1_000_000;
/// Most samples of a run that is drawn.
pub const MOST_SAMPLES: f64 = 2e5;
/// Most slots and most poles of a lesson's machine.
pub const MOST_SLOTS: u32 = 120;
/// Words of a lesson.
pub const WORDS: (usize, usize) = (300, 900);
