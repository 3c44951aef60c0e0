//! A lesson as a talk: one thing at a time on the wall, one key forwards and one back. A question
//! waits until the class has shown its hands.

use egui::{Align2, Context, Key, Modifiers, Rect, Ui, pos2};

use super::App;
use crate::app::course::{
    Reading, Slide, ask_ui, blocks, heading_ui, picture_slide_ui, slides, title_ui, words_ui,
};
use crate::app::style;
use crate::app::style::{cut_bottom, cut_top};
use crate::lesson::{Panel, Sight, TaskKind};

/// A hand for the first, the second … of the choices.
const CHOICE_KEYS: [Key; 9] = [
    Key::Num1,
    Key::Num2,
    Key::Num3,
    Key::Num4,
    Key::Num5,
    Key::Num6,
    Key::Num7,
    Key::Num8,
    Key::Num9,
];

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
                let mut hit = keys
                    .iter()
                    .map(|key| input.consume_key(Modifiers::NONE, *key));
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
        self.hand_keys(ui, at);
        if on || back {
            self.go_to(at, on);
        }
        true
    }

    /// Counts the hands that go up for a question: a figure key for each of its choices.
    fn hand_keys(&mut self, ui: &Ui, at: usize) {
        let pressed = |key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
        let counted = CHOICE_KEYS.iter().position(|key| pressed(*key));
        let anew = pressed(Key::Num0);
        if counted.is_none() && !anew {
            return;
        }
        let Some(Slide::Ask(idx)) = self.all_slides().into_iter().nth(at) else {
            return;
        };
        let Some(reading) = &mut self.course.reading else {
            return;
        };
        let TaskKind::Choice(options) = &reading.lesson.tasks[idx].kind else {
            return;
        };
        match counted.filter(|choice| *choice < options.len()) {
            Some(choice) => reading.tasks[idx].count_hand(choice, true),
            None if anew => reading.tasks[idx].hands.clear(),
            None => {}
        }
    }

    fn go_to(&mut self, at: usize, on: bool) {
        let last = self.all_slides().len().saturating_sub(1);
        let next = if on {
            (at + 1).min(last)
        } else {
            at.saturating_sub(1)
        };
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
        texts.map_or_else(
            || vec![Slide::Title],
            |texts| slides(&reading.lesson, texts),
        )
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
        let moves = match &slide {
            Some(Slide::Watch { .. }) => true,
            Some(Slide::Say { sight, .. }) => beside(sight.as_ref()) != Beside::Nothing,
            _ => false,
        };
        match slide {
            Some(Slide::Title) | None => title_ui(ui, rest, &reading, &theme),
            Some(Slide::Say {
                heading,
                blocks,
                sight,
            }) => {
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
            Some(Slide::Picture {
                heading,
                wish,
                words,
            }) => {
                picture_slide_ui(ui, rest, &mut reading, &heading, (&wish, &words), &theme);
            }
            Some(Slide::Ask(idx)) => ask_ui(ui, rest, &mut reading, idx, false, &theme),
            Some(Slide::Reveal(idx)) => ask_ui(ui, rest, &mut reading, idx, true, &theme),
            Some(Slide::Watch { task, .. }) => self.watch_ui(ui, rest, &mut reading, task),
            Some(Slide::Idea) => {
                let spans = blocks(&reading.lesson.idea);
                words_ui(ui, rest, &mut reading, "What stays", &spans, &theme);
            }
        }
        self.course.reading = Some(reading);
        self.talk_foot_ui(ui, foot, [at, n], moves);
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
    fn talk_foot_ui(&mut self, ui: &mut Ui, rect: Rect, [at, n]: [usize; 2], moves: bool) {
        let soft = style::colour(self.theme.ink_soft);
        let pace = match (moves, self.time.running) {
            (false, _) => String::new(),
            (true, true) => self.time.pace_words(),
            (true, false) => format!("stands still · {}", self.time.pace_words()),
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
            if back
                .on_hover_text("← or Page up · Esc leaves the talk")
                .clicked()
            {
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
        Some(
            Sight::Coil(_)
            | Sight::Slot(_)
            | Sight::Magnet(_)
            | Sight::Magnets
            | Sight::Panel(Panel::Machine),
        ) => Beside::Machine,
        Some(Sight::Leg(_) | Sight::Panel(Panel::Bridge)) => Beside::Bridge,
        Some(Sight::Row(_) | Sight::Trace(..) | Sight::Panel(Panel::Waveforms)) => Beside::Plot,
        _ => Beside::Nothing,
    }
}
