//! The course beside the bench: its column, what a lesson puts on the bench, and the person's
//! own bench, which is put aside for it and comes back as it was.

use std::path::PathBuf;

use egui::{Align, Context, Layout, Rect, RichText, Ui};
use miette::{GraphicalReportHandler, GraphicalTheme};

use super::App;
use crate::app::course::{Asked, Heard, Reading, Seen, Setting, list_ui, reading_ui};
use crate::app::shelf::Refusal;
use crate::app::{Standing, style};
use crate::lesson::{self, LessonErrors, LessonFiles, Sight, TaskKind, course};
use crate::scene::TYPE_POINTS;
use crate::setup::Setup;

/// Seconds of watching that a lesson's run is shown over, about.
const SHOW_S: f64 = 12.0;
/// Columns of an error text.
const COLUMNS: usize = 84;

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

    fn name(&self) -> String {
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
                self.refuse(refusal(&errors));
                Err(Box::new(errors))
            }
        }
    }

    /// Shows the course, or hides it. The lesson keeps its place.
    pub(super) fn turn_course(&mut self) {
        self.course.open = !self.course.open;
        (self.course.held, self.course.pointed) = (None, None);
    }

    fn open_folder(&mut self, folder: &str) {
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
                let words = crate::app::course::sentence(&complaint);
                // beside the field that was written, where there is one
                let task = reading.lesson.tasks.iter().position(|task| match &task.kind {
                    TaskKind::Bench { run: of, may_set, .. } => {
                        of == run && keys.iter().all(|(key, _)| may_set.contains(key)) && !keys.is_empty()
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
        self.time.set_pace(setup.run.duration_s / SHOW_S);
        self.time.running = running;
    }

    /// The run that stands there, once more from rest.
    fn from_rest(&mut self) {
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
    fn stands(&mut self) -> Stands {
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
            let mut same = specs.filter(|spec| runs.setup_with(spec, &[]).is_ok_and(|(other, _)| other == *setup));
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

    /// True where closing would lose what stands on the bench: an own setup that has changed, or
    /// what a person made of a lesson's. An answer to a task is kept as one.
    pub(super) fn would_lose(&mut self) -> bool {
        self.is_changed() && (self.aside.is_none() || self.stands() == Stands::Free)
    }

    /// Makes one run of the open lesson, and asks for a frame while there are more.
    pub(super) fn make_runs(&mut self, ctx: &Context) {
        if let Some(reading) = &mut self.course.reading
            && reading.make_one()
        {
            ctx.request_repaint();
        }
    }

    /// Draws the column of the course.
    pub(super) fn course_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let theme = self.theme;
        ui.painter()
            .rect_filled(rect, style::gap(1.0), style::colour(theme.panel));
        // What lies under it in a narrow window hears nothing.
        ui.interact(rect, ui.scope_id().with("course ground"), egui::Sense::hover());
        let inside = rect.shrink2(egui::vec2(style::gap(4.0), style::gap(3.0)));
        let builder = egui::UiBuilder::new().max_rect(inside);
        ui.scope_builder(builder, |ui| {
            ui.set_clip_rect(rect.intersect(ui.clip_rect()));
            let reads = self.course.reading.is_some() && !self.course.list;
            self.course_head_ui(ui, reads);
            if reads {
                self.bench_line_ui(ui);
                self.read_ui(ui);
            } else {
                self.lessons_ui(ui);
            }
        });
    }

    fn course_head_ui(&mut self, ui: &mut Ui, reads: bool) {
        let ink = style::colour(self.theme.ink);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style::gap(1.0);
            if reads {
                if ui.button("All lessons").on_hover_text("The list of lessons; this one keeps its place").clicked() {
                    self.course.list = true;
                }
            } else {
                ui.label(RichText::new("Lessons").font(style::type_size(2)).color(ink));
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui.button("Hide").on_hover_text("Hide the lessons; the place is kept · C").clicked() {
                    self.turn_course();
                }
                if reads && ui.button("Talk").on_hover_text("The lesson on a projector, one thing at a time · T").clicked() {
                    self.turn_talk(ui.ctx());
                }
            });
        });
    }

    /// What stands on the bench, and the ways to the lesson's setup and to the own.
    fn bench_line_ui(&mut self, ui: &mut Ui) {
        let stands = self.stands();
        let soft = style::colour(self.theme.ink_soft);
        let runs: Vec<String> = self.course.reading.as_ref().map_or_else(Vec::new, |reading| {
            reading.lesson.runs.iter().map(|run| run.name.clone()).collect()
        });
        let mut wanted = None;
        let mut own = false;
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = style::gap(1.5);
            ui.spacing_mut().button_padding = egui::vec2(style::gap(2.0), style::gap(0.75));
            let words = match &stands {
                Stands::Run(_) => "On the bench: the run",
                Stands::Task => "On the bench: your answer",
                Stands::Free => "On the bench: your free play",
                Stands::Own => "On the bench: your own setup",
            };
            let label = ui.label(RichText::new(words).small().color(soft));
            match &stands {
                Stands::Run(name) => {
                    let list = egui::ComboBox::from_id_salt("lesson run").selected_text(name);
                    let list = list.show_ui(ui, |ui| {
                        for run in &runs {
                            if ui.selectable_label(run == name, run).clicked() {
                                wanted = Some(run.clone());
                                ui.close();
                            }
                        }
                    });
                    let list = list.response.labelled_by(label.id);
                    list.on_hover_text("Put another run of this lesson on the bench");
                }
                _ => {
                    let back = ui.button("Back to the lesson");
                    let hint = "Put the lesson's setup on the bench; Undo takes that back";
                    if back.on_hover_text(hint).clicked() {
                        wanted = runs.first().cloned();
                    }
                }
            }
            if let Some(aside) = &self.aside {
                let hint = format!("Go back to {}, which is put aside as it was", aside.name());
                own = ui.button("My bench").on_hover_text(hint).clicked();
            }
        });
        ui.add_space(style::gap(1.0));
        if let Some(run) = wanted {
            self.load_run(&run, &[], true);
        } else if own {
            self.own_back();
        }
    }

    fn lessons_ui(&mut self, ui: &mut Ui) {
        let theme = self.theme;
        let soft = style::colour(theme.ink_soft);
        let words = "Guess, run, compare. A square is a task, filled when it is met; your own bench is put aside while a \
                     lesson's stands there.";
        ui.add(egui::Label::new(RichText::new(words).color(soft)).wrap());
        let setting = self.setting(&theme);
        let chosen = {
            let progress = self.papers.memory.course.clone();
            list_ui(ui, self.course.lessons(), &progress, &setting)
        };
        if let Some(folder) = chosen {
            let open = self.course.reading.as_ref();
            if open.is_some_and(|reading| reading.lesson.files.folder == folder) {
                self.course.list = false;
            } else {
                self.open_folder(&folder);
            }
        }
    }

    /// How the words of a lesson are set beside the bench.
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    const fn setting<'a>(&self, theme: &'a crate::scene::Theme) -> Setting<'a> {
        Setting {
            theme,
            size: TYPE_POINTS[1] as f32 + 1.0,
            held: None,
            links: true,
        }
    }

    fn read_ui(&mut self, ui: &mut Ui) {
        let theme = self.theme;
        let held = self.course.held.clone();
        let setting = Setting {
            held: held.as_ref(),
            ..self.setting(&theme)
        };
        let facts = self.course.facts(self.bench.setup());
        let in_step = self.figures.iter().find(|figure| figure.key == "in_step");
        let in_step = in_step.is_none_or(|figure| figure.shown(3).to_string() == "yes");
        let Some(mut reading) = self.course.reading.take() else {
            return;
        };
        let gated = reading.gate().is_some();
        let seen = Seen {
            bench: lesson::Bench {
                figures: &self.figures,
                in_step,
                tape: self.live.record(),
                now_s: self.time.cursor_s,
            },
            facts: &facts,
            of_lesson: self.aside.is_some(),
        };
        let (asked, heard) = reading_ui(ui, &mut reading, &seen, &setting);
        let guessed = gated && reading.gate().is_none();
        self.course.reading = Some(reading);
        self.keep_progress();
        match asked {
            Some(Asked::Load(run)) => self.load_run(&run, &[], true),
            Some(Asked::Set(run, keys)) => self.load_run(&run, &keys, true),
            Some(Asked::FromRest) => self.from_rest(),
            None => {}
        }
        // who has guessed sees it happen
        if guessed && self.aside.is_some() {
            self.time.running = true;
        }
        self.hear(ui.ctx(), heard);
    }

    /// Does what a reader did with links.
    fn hear(&mut self, ctx: &Context, heard: Vec<Heard>) {
        let mut pointed = None;
        for heard in heard {
            match heard {
                Heard::Point(sight) => pointed = Some(sight),
                Heard::Hold(sight) => {
                    if matches!(sight, Sight::Set(_)) {
                        self.drawer_open = Some(true);
                    }
                    let same = self.course.held.as_ref() == Some(&sight);
                    self.course.held = (!same).then_some(sight);
                    ctx.request_repaint();
                }
                Heard::Lesson(folder) => {
                    self.open_folder(&folder);
                    return;
                }
            }
        }
        if self.course.pointed != pointed {
            self.course.pointed = pointed;
            ctx.request_repaint();
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

/// What is wrong with a lesson, as the window shows it.
fn refusal(errors: &LessonErrors) -> Refusal {
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_width(COLUMNS)
        .with_links(false);
    let mut words = String::new();
    if handler.render_report(&mut words, errors).is_err() {
        words = errors.to_string();
    }
    Refusal {
        title: "The lesson was not opened".to_owned(),
        words: words.trim_end().to_owned(),
    }
}
