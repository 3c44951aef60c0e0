//! The course in the window: the list of lessons, the lesson beside the bench, the lesson as a
//! talk.
//!
//! ```text
//! lesson files ─► Reading ─┬─ blocks ─► page, table, words, pictures   (the column)
//!                          ├─ task ───► task_view                      (answers, hints, live state)
//!                          └─ slides                                   (the talk)
//!                 Progress ◄─ what was done, plain data for the shelf
//! ```
//!
//! Nothing here knows a file, a clock or a thread; runs are made a part to a frame. What a task or a
//! link asks of the bench goes back to the window as a value.

mod blocks;
mod page;
mod pictures;
mod progress;
mod reading;
mod slide_view;
mod slides;
mod table;
mod task;
mod task_bench;
mod task_view;
mod view;
mod words;

pub(super) use blocks::blocks;
pub(super) use progress::Progress;
pub(super) use reading::Reading;
pub(super) use slide_view::{ask_ui, heading_ui, picture_slide_ui, title_ui, words_ui};
pub(super) use slides::{Slide, slides};
pub(super) use task::sentence;
pub(super) use task_view::{Asked, Seen};
pub(super) use view::{list_ui, reading_ui};
pub(super) use words::{Heard, Setting};

use std::rc::Rc;

use crate::lesson::{Facts, Lesson, Sight, course, parse};
use crate::setup::Setup;

/// The course as the window holds it.
#[derive(Debug, Default)]
pub(super) struct Course {
    /// True while the column is shown.
    pub(super) open: bool,
    /// True while it shows the list although a lesson is open.
    pub(super) list: bool,
    /// The lesson that is open.
    pub(super) reading: Option<Reading>,
    /// What a pointer that was clicked shows, until it is clicked again.
    pub(super) held: Option<Sight>,
    /// What the pointer under the mouse or the keyboard shows.
    pub(super) pointed: Option<Sight>,
    /// What is known of the setup that stands on the bench.
    facts: Option<Rc<Facts>>,
    /// The lessons of the course, once they are read.
    lessons: Option<Vec<Lesson>>,
}

impl Course {
    /// The lessons of the course.
    pub(super) fn lessons(&mut self) -> &[Lesson] {
        self.lessons.get_or_insert_with(|| {
            let files = course::folders().filter_map(course::files);
            files.filter_map(|files| parse(files).ok()).collect()
        })
    }

    /// What is known of a setup: made once as long as it stands there.
    pub(super) fn facts(&mut self, setup: &Setup) -> Rc<Facts> {
        match &self.facts {
            Some(facts) if facts.setup == *setup => Rc::clone(facts),
            _ => Rc::clone(self.facts.insert(Rc::new(Facts::of(setup)))),
        }
    }

    /// What is to be marked on the bench now.
    pub(super) fn sight(&self) -> Option<&Sight> {
        self.pointed.as_ref().or(self.held.as_ref())
    }
}
