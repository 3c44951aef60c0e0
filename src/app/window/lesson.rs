//! The course beside the bench: its column, what a lesson puts on the bench, and the person's
//! own bench, which is put aside for it and comes back as it was.

use std::path::PathBuf;

use egui::Context;

use super::App;
use crate::app::Standing;
use crate::app::course::{Reading, sentence};
use crate::app::shelf::{self, Refusal};
use crate::lesson::{self, LessonErrors, LessonFiles, TaskKind, course};
use crate::setup::Setup;

/// Seconds of watching that a lesson's run is shown over at most, about.
const SHOW_S: f64 = 12.0;
/// Electrical turns a second that an eye follows, and the pace that is slow enough for any.
const TURNS_HZ: f64 = 1.5;
const SLOW: f64 = 5e-3;

/// A person's own bench while a lesson's setup stands in its place.
#[derive(Debug)]
pub(super) struct Aside {
    pub(super) bench: Standing,
    pub(super) path: Option<PathBuf>,
    pub(super) saved: Setup,
    pub(super) text: Option<String>,
}

impl Aside {
    /// True where it has changes that are in no file.
    pub(super) fn is_changed(&self) -> bool {
        *self.bench.setup() != self.saved
    }

    pub(super) fn name(&self) -> String {
        let title = &self.bench.setup().title;
        if title.is_empty() {
            "the setup of before".to_owned()
        } else {
            format!("“{title}”")
        }
    }
}

/// What stands on the bench, as a lesson sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    /// A run of the lesson by its name.
    Run(String),
    /// An answer to one of its tasks.
    Task,
    /// Something that a person made of a lesson's setup.
    Free,
    /// The person's own setup.
    Own,
}

impl App {
    /// Opens a lesson from its files beside the bench, and puts its first run there.
    ///
    /// # Errors
    /// What is wrong with the lesson; the window then shows it.
    pub fn open_lesson(&mut self, files: LessonFiles) -> Result<(), Box<LessonErrors>> {
        self.keep_progress();
        let progress = &self.papers.memory.course;
        let before = progress.lessons.get(&files.folder).cloned();
        let folder = files.folder.clone();
        match Reading::open(files, before.as_ref()) {
            Ok(reading) => {
                let first = reading.lesson.runs.first().map(|run| run.name.clone());
                self.course.reading = Some(reading);
                self.course.open = true;
                self.course.list = false;
                self.course.held = None;
                self.papers.memory.course.last = Some(folder);
                self.papers.memory.keep();
                if let Some(run) = first {
                    self.load_run(&run, &[], false);
                }
                Ok(())
            }
            Err(errors) => {
                self.refuse(Refusal {
                    title: "The lesson was not opened".to_owned(),
                    words: shelf::report(&errors),
                });
                Err(Box::new(errors))
            }
        }
    }

    /// Shows the course, or hides it. The lesson keeps its place.
    pub(super) fn turn_course(&mut self) {
        self.course.open = !self.course.open;
        (self.course.held, self.course.pointed) = (None, None);
    }

    pub(super) fn open_folder(&mut self, folder: &str) {
        if let Some(files) = course::files(folder) {
            // what is wrong is shown already
            let _ = self.open_lesson(files);
        }
    }

    /// Keeps what was done in the lesson, where that is news.
    pub(super) fn keep_progress(&mut self) {
        let Some(reading) = &self.course.reading else {
            return;
        };
        let now = reading.progress();
        let memory = &mut self.papers.memory;
        let kept = memory.course.lesson_mut(&reading.lesson.files.folder);
        if *kept != now {
            *kept = now;
            memory.keep();
        }
    }

    /// Puts a run of the lesson on the bench, with keys set otherwise, at rest.
    pub(super) fn load_run(&mut self, run: &str, keys: &[lesson::Setting], running: bool) {
        let Some(reading) = &mut self.course.reading else {
            return;
        };
        let found = reading.with_runs(|runs| {
            let spec = runs.lesson().run(run).cloned();
            spec.map(|spec| runs.setup_with(&spec, keys))
        });
        match found {
            Some(Ok((setup, _))) => self.stand_lesson(setup, running),
            Some(Err(complaint)) => {
                let words = sentence(&complaint);
                // beside the field that was written, where there is one
                let task = reading
                    .lesson
                    .tasks
                    .iter()
                    .position(|task| match &task.kind {
                        TaskKind::Bench {
                            run: of, may_set, ..
                        } => {
                            of == run
                                && keys.iter().all(|(key, _)| may_set.contains(key))
                                && !keys.is_empty()
                        }
                        _ => false,
                    });
                match task {
                    Some(idx) => reading.tasks[idx].wrong = Some(words),
                    None => self.refuse(Refusal {
                        title: "The run cannot stand on the bench".to_owned(),
                        words,
                    }),
                }
            }
            None => {}
        }
    }

    /// Puts a lesson's setup on the bench. The person's own goes aside first; a lesson's that
    /// was changed can be had back with Undo.
    fn stand_lesson(&mut self, setup: Setup, running: bool) {
        if self.aside.is_none() {
            let before = self.lesson_bench.take();
            let bench = before.unwrap_or_else(|| Standing::new(setup.clone()));
            self.aside = Some(self.put_aside(bench));
        }
        self.bench.put(setup.clone());
        self.call_saved(&setup);
        if let Some(reading) = &mut self.course.reading {
            for task in &mut reading.tasks {
                (task.wrong, task.judged_live) = (None, false);
            }
        }
        self.begin(setup.clone());
        self.time.set_pace(self.pace_of(&setup));
        self.time.running = running;
    }

    /// How fast a lesson's run is shown: slow enough to follow, and over before it bores.
    fn pace_of(&self, setup: &Setup) -> f64 {
        let all = setup.run.duration_s / SHOW_S;
        let reading = self.course.reading.as_ref();
        let runs = reading.into_iter().flat_map(|reading| {
            let specs = reading.lesson.runs.iter();
            specs.filter_map(|spec| reading.made.run(&spec.name, false))
        });
        let hertz = runs
            .filter(|ran| ran.setup.machine == setup.machine)
            .flat_map(|ran| &ran.figures)
            .filter(|figure| figure.key == "electrical_frequency_hz")
            .filter_map(crate::analysis::Figure::number)
            .fold(0.0, |most: f64, hertz| most.max(hertz.abs()));
        all.min((TURNS_HZ / hertz.max(1e-3)).max(SLOW))
    }

    /// The run that stands there, once more from rest.
    pub(super) fn start_over(&mut self) {
        let setup = self.bench.setup().clone();
        self.begin(setup);
        self.time.running = true;
    }

    /// Puts the person's own bench back. False where it stands there already. What a person made
    /// of the lesson's stays among its changes: back at the lesson, Undo brings it.
    pub(super) fn own_back(&mut self) -> bool {
        let Some(aside) = self.aside.take() else {
            return false;
        };
        let setup = aside.bench.setup().clone();
        self.lesson_bench = Some(self.bring_back(aside));
        self.begin(setup);
        self.time.running = false;
        true
    }

    /// What stands on the bench, as the lesson sees it.
    pub(super) fn stands(&mut self) -> Stands {
        if self.aside.is_none() {
            return Stands::Own;
        }
        let setup = self.bench.setup().clone();
        let Some(reading) = &mut self.course.reading else {
            return Stands::Free;
        };
        let lesson = std::rc::Rc::clone(&reading.lesson);
        let folder = lesson.files.folder.clone();
        if let Some((known, of, stands)) = &self.stood
            && *known == setup
            && *of == folder
        {
            return stands.clone();
        }
        let stands = Self::stands_in(reading, &lesson, &setup);
        self.stood = Some((setup, folder, stands.clone()));
        stands
    }

    fn stands_in(reading: &mut Reading, lesson: &lesson::Lesson, setup: &Setup) -> Stands {
        let run = reading.with_runs(|runs| {
            let specs = runs.lesson().runs.iter();
            let mut same = specs.filter(|spec| {
                runs.setup_with(spec, &[])
                    .is_ok_and(|(other, _)| other == *setup)
            });
            same.next().map(|spec| spec.name.clone())
        });
        if let Some(run) = run {
            return Stands::Run(run);
        }
        for (idx, task) in lesson.tasks.iter().enumerate() {
            if matches!(task.kind, TaskKind::Bench { .. }) && reading.of_bench(idx, setup).is_ok() {
                return Stands::Task;
            }
        }
        Stands::Free
    }

    /// True where a person made something of a lesson's setup and went back to the own bench:
    /// closing would lose it, and nobody would see.
    pub(super) fn lesson_would_lose(&mut self) -> bool {
        let (None, Some(bench)) = (&self.aside, &self.lesson_bench) else {
            return false;
        };
        let setup = bench.setup().clone();
        self.course.reading.as_mut().is_none_or(|reading| {
            let lesson = std::rc::Rc::clone(&reading.lesson);
            Self::stands_in(reading, &lesson, &setup) == Stands::Free
        })
    }

    /// Puts what a person made of a lesson's setup back on the bench, so that it can be seen.
    pub(super) fn lesson_back(&mut self) {
        if let Some(bench) = self.lesson_bench.take() {
            let setup = bench.setup().clone();
            self.aside = Some(self.put_aside(bench));
            self.begin(setup);
        }
    }

    /// True where closing would lose what stands on the bench: an own setup that has changed, or
    /// what a person made of a lesson's. An answer to a task is kept as one.
    pub(super) fn would_lose(&mut self) -> bool {
        self.is_changed() && (self.aside.is_none() || self.stands() == Stands::Free)
    }

    /// Makes one run of the open lesson, and asks for a frame while there are more.
    pub(super) fn make_runs(&mut self, ctx: &Context) {
        let Some(reading) = &mut self.course.reading else {
            return;
        };
        let before = reading.texts.is_some();
        let last_s = ctx.input(|input| f64::from(input.unstable_dt));
        if !reading.go_on(last_s) {
            return;
        }
        ctx.request_repaint();
        // how fast a motor is shown goes by what its runs came to
        let made = !before && reading.texts.is_some();
        if made && self.aside.is_some() && self.time.cursor_s <= 0.0 {
            let setup = self.bench.setup().clone();
            self.time.set_pace(self.pace_of(&setup));
        }
    }

    /// Scrolls the lesson by a part of its height.
    pub(super) fn scroll_lesson(&mut self, ctx: &Context, on: bool) {
        let by = ctx.content_rect().height() * 0.6;
        if let Some(reading) = &mut self.course.reading {
            reading.scroll += if on { by } else { -by };
        }
    }
}
