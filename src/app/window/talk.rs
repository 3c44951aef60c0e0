//! A lesson as a talk: one thing at a time on the wall, one key forwards and one back. A question
//! waits until the class has shown its hands.

use egui::{Align2, Context, Key, Modifiers, Rect, Role, Sense, Ui, WidgetInfo, pos2};

use super::{App, cut_bottom, cut_top};
use crate::app::course::{Block, Page, Reading, Setting, Slide, Span, slides};
use crate::app::style;
use crate::lesson::{Answer, Panel, Right, Runs, Sight, Task, TaskKind, judge, letter};
use crate::scene::Theme;

/// Sizes of type that a slide is tried in, the largest first, in points of a presenter's room.
const SIZES: [f32; 7] = [30.0, 27.0, 24.0, 21.0, 18.0, 16.0, 14.0];
/// Width of a column of words alone, as a part of the room.
const MEASURE: f32 = 0.86;

/// What is drawn beside the words of a slide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Beside {
    Nothing,
    Machine,
    Bridge,
    Plot,
}

impl App {
    /// Shows the lesson as a talk from its beginning, or leaves it; without a lesson the list of
    /// them is shown.
    pub(super) fn turn_talk(&mut self, ctx: &Context) {
        if self.course.reading.is_none() {
            self.course.open = true;
            return;
        }
        if self.presenter.is_some() {
            self.leave_talk();
            self.turn_presenter(ctx);
            return;
        }
        self.turn_presenter(ctx);
        if let Some(presenter) = &mut self.presenter {
            presenter.talk = Some(0);
        }
        self.enter_slide();
    }

    /// Nothing of a talk is pointed at any more.
    pub(super) fn leave_talk(&mut self) {
        (self.course.held, self.course.pointed) = (None, None);
    }

    /// The keys of a talk. True where a talk is shown, and has them.
    pub(super) fn talk_keys(&mut self, ui: &Ui) -> bool {
        let Some(at) = self.presenter.as_ref().and_then(|presenter| presenter.talk) else {
            return false;
        };
        let pressed = |keys: &[Key]| {
            ui.input_mut(|input| {
                let mut hit = keys.iter().map(|key| input.consume_key(Modifiers::NONE, *key));
                hit.any(|hit| hit)
            })
        };
        let on = pressed(&[Key::ArrowRight, Key::PageDown, Key::Enter]);
        let back = pressed(&[Key::ArrowLeft, Key::PageUp, Key::Backspace]);
        if pressed(&[Key::Space]) {
            self.time.running = !self.time.running;
        }
        if pressed(&[Key::ArrowUp]) {
            self.time.faster();
        }
        if pressed(&[Key::ArrowDown]) {
            self.time.slower();
        }
        if on || back {
            self.go_to(at, on);
        }
        true
    }

    fn go_to(&mut self, at: usize, on: bool) {
        let last = self.all_slides().len().saturating_sub(1);
        let next = if on { (at + 1).min(last) } else { at.saturating_sub(1) };
        if next != at {
            if let Some(presenter) = &mut self.presenter {
                presenter.talk = Some(next);
            }
            self.enter_slide();
        }
    }

    fn all_slides(&self) -> Vec<Slide> {
        let Some(reading) = &self.course.reading else {
            return Vec::new();
        };
        let texts = reading.texts.as_deref();
        texts.map_or_else(|| vec![Slide::Title], |texts| slides(&reading.lesson, texts))
    }

    /// Puts on the bench what the slide shows, and marks what it points at.
    fn enter_slide(&mut self) {
        let Some(at) = self.presenter.as_ref().and_then(|presenter| presenter.talk) else {
            return;
        };
        let slide = self.all_slides().into_iter().nth(at);
        self.course.pointed = None;
        self.course.held = match &slide {
            Some(Slide::Say { sight, .. }) => sight.clone(),
            _ => None,
        };
        if let Some(Slide::Watch { run, task, row }) = slide {
            if let Some(presenter) = &mut self.presenter {
                presenter.row = Some(row);
            }
            let keys = task.and_then(|idx| {
                let reading = self.course.reading.as_ref()?;
                match &reading.lesson.tasks.get(idx)?.kind {
                    TaskKind::Bench { answer, .. } => Some(answer.clone()),
                    _ => None,
                }
            });
            self.load_run(&run, &keys.unwrap_or_default(), true);
        }
    }

    /// Draws the talk over the whole window.
    pub(super) fn talk_ui(&mut self, ui: &mut Ui, all: Rect) {
        let Some(at) = self.presenter.as_ref().and_then(|presenter| presenter.talk) else {
            return;
        };
        let Some(mut reading) = self.course.reading.take() else {
            return;
        };
        let theme = self.theme;
        let gap = style::gap(2.0);
        let (rest, foot) = cut_bottom(all.shrink(gap), style::gap(7.0), gap);
        let texts = reading.texts.clone();
        let all_slides = texts.as_deref().map_or_else(
            || vec![Slide::Title],
            |texts| slides(&reading.lesson, texts),
        );
        let n = all_slides.len();
        let slide = all_slides.into_iter().nth(at.min(n.saturating_sub(1)));
        match slide {
            Some(Slide::Title) | None => title_ui(ui, rest, &reading, &theme),
            Some(Slide::Say { heading, blocks, sight }) => {
                let (words, beside) = match beside(sight.as_ref()) {
                    Beside::Nothing => (rest, None),
                    other => {
                        let split = rest.left() + rest.width() * 0.5;
                        let left = Rect::from_min_max(rest.min, pos2(split - gap, rest.bottom()));
                        let right = Rect::from_min_max(pos2(split, rest.top()), rest.max);
                        (left, Some((other, right)))
                    }
                };
                words_ui(ui, words, &mut reading, &heading, &blocks, &theme);
                if let Some((beside, rect)) = beside {
                    self.beside_ui(ui, rect, beside);
                }
            }
            Some(Slide::Picture { heading, wish, words }) => {
                picture_slide_ui(ui, rest, &mut reading, &heading, (&wish, &words), &theme);
            }
            Some(Slide::Ask(idx)) => ask_ui(ui, rest, &mut reading, idx, false, &theme),
            Some(Slide::Reveal(idx)) => ask_ui(ui, rest, &mut reading, idx, true, &theme),
            Some(Slide::Watch { task, .. }) => self.watch_ui(ui, rest, &mut reading, task),
            Some(Slide::Idea) => {
                let spans = crate::app::course::blocks(&reading.lesson.idea);
                words_ui(ui, rest, &mut reading, "What stays", &spans, &theme);
            }
        }
        self.course.reading = Some(reading);
        self.talk_foot_ui(ui, foot, at, n);
    }

    /// The motor itself: the machine, and the one plot.
    fn watch_ui(&mut self, ui: &mut Ui, rect: Rect, reading: &mut Reading, task: Option<usize>) {
        let gap = style::gap(2.0);
        let (head, rest) = cut_top(rect, style::gap(9.0), gap);
        let words = match task.map(|idx| &reading.lesson.tasks[idx].kind) {
            Some(TaskKind::Bench { answer, .. }) => {
                let keys: Vec<String> = answer
                    .iter()
                    .map(|(key, value)| match value {
                        toml::Value::String(text) => format!("{key} = {text}"),
                        other => format!("{key} = {other}"),
                    })
                    .collect();
                keys.join(", ")
            }
            _ => "See it happen".to_owned(),
        };
        heading_ui(ui, head, &words, &self.theme);
        let split = rest.left() + rest.width() * 0.5;
        let left = Rect::from_min_max(rest.min, pos2(split - gap, rest.bottom()));
        let right = Rect::from_min_max(pos2(split, rest.top()), rest.max);
        self.beside_ui(ui, left, Beside::Machine);
        self.beside_ui(ui, right, Beside::Plot);
    }

    fn beside_ui(&mut self, ui: &mut Ui, rect: Rect, beside: Beside) {
        let Some(frame) = self.frame() else { return };
        if beside != Beside::Machine {
            let colour = style::colour(self.theme.panel);
            ui.painter().rect_filled(rect, style::gap(1.0), colour);
        }
        match beside {
            Beside::Nothing => {}
            Beside::Machine => self.machine_ui(ui, rect, &frame),
            Beside::Bridge => self.bridge_ui(ui, rect, &frame),
            Beside::Plot => self.plots_ui(ui, rect),
        }
    }

    /// Where the talk stands, how fast time goes, and the ways on and back.
    fn talk_foot_ui(&mut self, ui: &mut Ui, rect: Rect, at: usize, n: usize) {
        let soft = style::colour(self.theme.ink_soft);
        let pace = if self.time.running {
            self.time.pace_words()
        } else {
            format!("stands still · {}", self.time.pace_words())
        };
        ui.painter().text(
            pos2(rect.left(), rect.center().y),
            Align2::LEFT_CENTER,
            &pace,
            style::type_size(1),
            soft,
        );
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        let mut wish = None;
        ui.scope_builder(builder, |ui| {
            let on = ui.add_enabled(at + 1 < n, egui::Button::new("On"));
            if on.on_hover_text("→ or Page down").clicked() {
                wish = Some(true);
            }
            let words = format!("{} of {n}", at + 1);
            ui.label(egui::RichText::new(words).color(soft));
            let back = ui.add_enabled(at > 0, egui::Button::new("Back"));
            if back.on_hover_text("← or Page up · Esc leaves the talk").clicked() {
                wish = Some(false);
            }
        });
        if let Some(on) = wish {
            self.go_to(at, on);
        }
    }
}

/// What shows the thing that a slide points at.
fn beside(sight: Option<&Sight>) -> Beside {
    match sight {
        Some(Sight::Coil(_) | Sight::Slot(_) | Sight::Magnet(_) | Sight::Magnets | Sight::Panel(Panel::Machine)) => {
            Beside::Machine
        }
        Some(Sight::Leg(_) | Sight::Panel(Panel::Bridge)) => Beside::Bridge,
        Some(Sight::Row(_) | Sight::Panel(Panel::Waveforms)) => Beside::Plot,
        _ => Beside::Nothing,
    }
}

fn setting(theme: &Theme, size: f32) -> Setting<'_> {
    Setting {
        theme,
        size,
        held: None,
        links: false,
    }
}

fn heading_ui(ui: &Ui, rect: Rect, words: &str, theme: &Theme) {
    let soft = style::colour(theme.ink_soft);
    let font = style::type_size(2);
    let painter = ui.painter().with_clip_rect(rect);
    painter.text(pos2(rect.left(), rect.center().y), Align2::LEFT_CENTER, words, font, soft);
    let response = ui.interact(rect, ui.scope_id().with(("heading", words)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, words));
}

fn title_ui(ui: &mut Ui, rect: Rect, reading: &Reading, theme: &Theme) {
    let inside = middle(rect);
    let lesson = &reading.lesson;
    let number = lesson.number().map_or_else(String::new, |number| format!("Lesson {number}"));
    let spans = [Span {
        words: crate::lesson::text::printable(&lesson.title),
        ..Span::default()
    }];
    let builder = egui::UiBuilder::new().max_rect(inside);
    ui.scope_builder(builder, |ui| {
        ui.add_space(inside.height() * 0.3);
        let soft = style::colour(theme.ink_soft);
        ui.label(egui::RichText::new(number).font(style::type_size(2)).color(soft));
        ui.add_space(style::gap(2.0));
        let ink = Some(style::colour(theme.ink));
        setting(theme, 44.0).set_ui(ui, &spans, 44.0, ink, Role::Heading, &mut Vec::new());
        if reading.texts.is_none() {
            let (n, all) = reading.n_made();
            ui.add_space(style::gap(4.0));
            let words = format!("The runs of this lesson are being made: {n} of {all}");
            ui.label(egui::RichText::new(words).font(style::type_size(2)).color(soft));
        }
    });
}

/// The column of words in the middle of the room.
fn middle(rect: Rect) -> Rect {
    let width = rect.width() * MEASURE;
    let left = rect.left() + (rect.width() - width) / 2.0;
    Rect::from_min_max(pos2(left, rect.top()), pos2(left + width, rect.bottom()))
}

/// Words under their heading, as large as they fit.
fn words_ui(ui: &mut Ui, rect: Rect, reading: &mut Reading, heading: &str, blocks: &[Block], theme: &Theme) {
    let inside = middle(rect);
    let (head, body) = cut_top(inside, style::gap(11.0), 0.0);
    heading_ui(ui, head, heading, theme);
    let size = fitting(ui, blocks, body.size(), theme);
    let builder = egui::UiBuilder::new().max_rect(body);
    let id = ui.next_auto_id();
    ui.scope_builder(builder, |ui| {
        let area = egui::ScrollArea::vertical().id_salt(id).auto_shrink(false);
        area.show(ui, |ui| {
            let mut page = Page {
                setting: setting(theme, size),
                pictures: &mut reading.pictures,
                made: &reading.made,
                heard: Vec::new(),
            };
            page.blocks_ui(ui, blocks);
        });
    });
}

/// The largest size of type in which pieces fit a space.
fn fitting(ui: &Ui, blocks: &[Block], space: egui::Vec2, theme: &Theme) -> f32 {
    let fits = |size: f32| {
        let setting = setting(theme, size);
        let high = |spans: &[Span], width: f32| setting.galley(ui, spans, size, width, None).rect.height();
        let height: f32 = blocks
            .iter()
            .map(|block| {
                let here = match block {
                    Block::Heading(_, spans) | Block::Paragraph(spans) => high(spans, space.x),
                    Block::Point { spans, depth, .. } => {
                        #[expect(clippy::cast_precision_loss, reason = "a few")]
                        let left = size * (2.0 + 1.5 * *depth as f32);
                        high(spans, space.x - left)
                    }
                    Block::Caution(paragraphs) => {
                        paragraphs.iter().map(|spans| high(spans, space.x - style::gap(4.0))).sum()
                    }
                    #[expect(clippy::cast_precision_loss, reason = "a few rows")]
                    Block::Table(rows) => rows
                        .iter()
                        .map(|row| {
                            let n = row.len().max(1) as f32;
                            let cells = row.iter().map(|cell| high(cell, space.x / n - 12.0));
                            cells.fold(0.0, f32::max) + style::gap(2.0)
                        })
                        .sum(),
                    #[expect(clippy::cast_precision_loss, reason = "a few lines")]
                    Block::Code(words) => words.lines().count() as f32 * size * 1.3,
                    Block::Picture(..) | Block::Rule => size,
                };
                here + 0.6 * size
            })
            .sum();
        height <= space.y
    };
    let found = SIZES.into_iter().find(|size| fits(*size));
    found.unwrap_or(SIZES[SIZES.len() - 1])
}

fn picture_slide_ui(
    ui: &mut Ui,
    rect: Rect,
    reading: &mut Reading,
    heading: &str,
    (wish, words): (&crate::lesson::text::PictureWish, &str),
    theme: &Theme,
) {
    let (head, body) = cut_top(rect, style::gap(9.0), 0.0);
    heading_ui(ui, head, heading, theme);
    let builder = egui::UiBuilder::new().max_rect(body);
    ui.scope_builder(builder, |ui| {
        let most = body.height() - style::gap(14.0);
        let setting = setting(theme, 18.0);
        reading.pictures.picture_ui(ui, wish, words, &reading.made, &setting, Some(most));
    });
}

/// A question, and what may be answered; then which answer is right, and why.
fn ask_ui(ui: &mut Ui, rect: Rect, reading: &mut Reading, idx: usize, reveal: bool, theme: &Theme) {
    reading.task_texts(idx);
    let texts = reading.tasks[idx].texts.clone().unwrap_or_default();
    let heading = if reveal { "The answer" } else { "Your guess first" };
    let mut blocks = texts.ask.clone();
    let right = right_of(reading, idx);
    for (at, spans) in texts.items.iter().enumerate() {
        let is_right = right.get(at).copied().unwrap_or(false);
        let mark = match (reveal, is_right) {
            (true, true) => format!("{} ●", letter(at).to_ascii_uppercase()),
            _ => format!("{}  ", letter(at).to_ascii_uppercase()),
        };
        let mut spans = spans.clone();
        for span in &mut spans {
            span.strong |= reveal && is_right;
        }
        blocks.push(Block::Point {
            mark,
            depth: 0,
            spans,
        });
    }
    if reveal {
        blocks.extend(texts.worked.clone());
    } else {
        let words = match &reading.lesson.tasks[idx].kind {
            TaskKind::Choice(_) => "Hands up for each answer; then on.",
            TaskKind::Number { .. } => "Write a figure down; then on.",
            TaskKind::Order { .. } => "In which order? Say it aloud; then on.",
            TaskKind::Bench { .. } => "What would you set, and to what? Then on.",
        };
        blocks.push(Block::Paragraph(vec![Span {
            words: words.to_owned(),
            slanted: true,
            ..Span::default()
        }]));
    }
    words_ui(ui, rect, reading, heading, &blocks, theme);
}

/// Which of the choices of a task is right.
fn right_of(reading: &mut Reading, idx: usize) -> Vec<bool> {
    let lesson = std::rc::Rc::clone(&reading.lesson);
    let task = &lesson.tasks[idx];
    let TaskKind::Choice(options) = &task.kind else {
        return Vec::new();
    };
    let is_right = |runs: &mut Runs<'_>, task: &Task, at: usize| {
        judge(task, &Answer::Choice(at), runs, &[]).is_ok_and(|verdict| verdict.passed)
    };
    reading.with_runs(|runs| {
        let options = options.iter().enumerate();
        options
            .map(|(at, option)| match option.right {
                Right::Said(right) => right,
                Right::Holds(_) => is_right(runs, task, at),
            })
            .collect()
    })
}
