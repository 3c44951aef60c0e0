//! The column of the course: its head, what stands on the bench, the list or the lesson.

use egui::{Align, Context, Layout, Rect, RichText, Ui};

use super::App;
use super::lesson::Stands;
use crate::app::course::{Asked, Heard, Seen, Setting, list_ui, reading_ui};
use crate::app::style;
use crate::lesson::{self, Sight};
use crate::scene::TYPE_POINTS;

impl App {
    /// Draws the column of the course.
    pub(super) fn course_ui(&mut self, ui: &mut Ui, rect: Rect) {
        let theme = self.theme;
        ui.painter()
            .rect_filled(rect, style::gap(1.0), style::colour(theme.panel));
        // What lies under it in a narrow window hears nothing.
        ui.interact(
            rect,
            ui.scope_id().with("course ground"),
            egui::Sense::hover(),
        );
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
                if self.aside.is_some() {
                    self.bench_line_ui(ui);
                }
                self.lessons_ui(ui);
            }
        });
    }

    fn course_head_ui(&mut self, ui: &mut Ui, reads: bool) {
        let ink = style::colour(self.theme.ink);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = style::gap(1.0);
            if reads {
                if ui
                    .button("All lessons")
                    .on_hover_text("The list of lessons; this one keeps its place")
                    .clicked()
                {
                    self.course.list = true;
                }
            } else {
                ui.label(
                    RichText::new("Lessons")
                        .font(style::type_size(2))
                        .color(ink),
                );
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui
                    .button("Hide")
                    .on_hover_text("Hide the lessons; the place is kept · C")
                    .clicked()
                {
                    self.turn_course();
                }
                if reads
                    && ui
                        .button("Talk")
                        .on_hover_text("The lesson on a projector, one thing at a time · T")
                        .clicked()
                {
                    self.turn_talk(ui.ctx());
                }
            });
        });
    }

    /// What stands on the bench, and the ways to the lesson's setup and to the own.
    fn bench_line_ui(&mut self, ui: &mut Ui) {
        let stands = self.stands();
        let soft = style::colour(self.theme.ink_soft);
        let runs: Vec<String> = self
            .course
            .reading
            .as_ref()
            .map_or_else(Vec::new, |reading| {
                reading
                    .lesson
                    .runs
                    .iter()
                    .map(|run| run.name.clone())
                    .collect()
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
        let words =
            "Each square is a task, filled when it is met. Your own bench is put aside meanwhile.";
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
            Some(Asked::FromRest) => self.start_over(),
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
}
