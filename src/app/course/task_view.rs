//! Draws a task: question, answer, what is said to it, hints.

use egui::{Align, Layout, RichText, Role, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::page::Page;
use super::reading::Reading;
use super::task::{MOST_HINTS, Said, TaskState};
use super::task_bench::bench_ui;
use super::words::{Heard, Setting};
use crate::app::style;
use crate::lesson::{Answer, Bench, Facts, Setting as Key, TaskKind, letter};

/// What a task asks of the window.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Asked {
    /// Put a run of the lesson on the bench, at rest.
    Load(String),
    /// Put a run there with keys set otherwise, and let it run from rest.
    Set(String, Vec<Key>),
    /// Let what stands there run from rest.
    FromRest,
}

/// The bench as a task sees it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen<'a> {
    /// What runs there.
    pub(crate) bench: Bench<'a>,
    /// What stands there.
    pub(crate) facts: &'a Facts,
    /// True where it is a lesson's setup.
    pub(crate) of_lesson: bool,
}

/// Draws a task of the lesson.
pub(crate) fn task_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    number: usize,
    seen: &Seen<'_>,
    setting: &Setting<'_>,
) -> (Option<Asked>, Vec<Heard>) {
    reading.task_texts(idx);
    let (mut asked, mut heard) = (None, Vec::new());
    let theme = setting.theme;
    let frame = egui::Frame::new()
        .fill(style::colour(theme.ground))
        .stroke(Stroke::new(1.0, style::colour(theme.line)))
        .corner_radius(style::gap(1.0))
        .inner_margin(style::gap(3.0));
    frame.show(ui, |ui| {
        ui.push_id(("task", idx), |ui| {
            ui.set_min_width(ui.available_width());
            head_ui(ui, &reading.tasks[idx], number, setting);
            let texts = reading.tasks[idx].texts.clone().unwrap_or_default();
            page_ui(ui, reading, &texts.ask, setting, &mut heard);
            ui.add_space(style::gap(1.5));
            match reading.lesson.tasks[idx].kind {
                TaskKind::Choice(_) => choice_ui(ui, reading, idx, &texts.items, setting),
                TaskKind::Number { .. } => number_ui(ui, reading, idx, setting),
                TaskKind::Order { .. } => order_ui(ui, reading, idx, &texts.items, setting),
                TaskKind::Bench { .. } => asked = bench_ui(ui, reading, idx, seen, setting),
            }
            wrong_ui(ui, &reading.tasks[idx], setting);
            if let Some(said) = reading.tasks[idx].said.clone() {
                said_ui(ui, reading, &said, setting, &mut heard);
            }
            help_ui(ui, reading, idx, setting, &mut heard);
        });
    });
    (asked, heard)
}

fn page_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    blocks: &[super::blocks::Block],
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let mut page = Page {
        setting: *setting,
        pictures: &mut reading.pictures,
        made: &reading.made,
        heard: Vec::new(),
    };
    page.blocks_ui(ui, blocks);
    heard.append(&mut page.heard);
}

/// Which task it is, and how it stands.
fn head_ui(ui: &mut Ui, state: &TaskState, number: usize, setting: &Setting<'_>) {
    let theme = setting.theme;
    ui.horizontal(|ui| {
        let words = RichText::new(format!("Task {number}"))
            .size(setting.size)
            .strong();
        ui.label(words.color(style::colour(theme.ink)));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let words = if state.met {
                "met"
            } else if state.answered {
                "not yet"
            } else {
                "open"
            };
            let colour = if state.met { theme.ink } else { theme.ink_soft };
            ui.label(
                RichText::new(words)
                    .size((setting.size * 0.9).max(11.0))
                    .color(style::colour(colour)),
            );
            mark_ui(ui, state.met, setting);
        });
    });
}

/// A small square: filled where a task is met.
pub(crate) fn mark_ui(ui: &mut Ui, met: bool, setting: &Setting<'_>) {
    let side = (setting.size * 0.7).round();
    let (rect, _) = ui.allocate_exact_size(vec2(side, side), Sense::hover());
    let ink = style::colour(setting.theme.ink);
    let soft = style::colour(setting.theme.ink_soft);
    if met {
        ui.painter().rect_filled(rect, 2.0, ink);
    } else {
        let stroke = Stroke::new(1.0, soft);
        ui.painter()
            .rect_stroke(rect, 2.0, stroke, egui::StrokeKind::Inside);
    }
}

fn choice_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    items: &[Vec<super::blocks::Span>],
    setting: &Setting<'_>,
) {
    ui.spacing_mut().item_spacing.y = style::gap(1.0);
    for (option, spans) in items.iter().enumerate() {
        let state = &reading.tasks[idx];
        let picked = state.picked == Some(option);
        let clicked = option_ui(ui, option, spans, picked, setting);
        if clicked {
            reading.tasks[idx].picked = Some(option);
            reading.answer(idx, &Answer::Choice(option));
        }
    }
}

/// One answer of a choice over the whole width.
fn option_ui(
    ui: &mut Ui,
    option: usize,
    spans: &[super::blocks::Span],
    picked: bool,
    setting: &Setting<'_>,
) -> bool {
    let theme = setting.theme;
    let plain_setting = Setting {
        links: false,
        ..*setting
    };
    let pad = vec2(style::gap(2.0), style::gap(1.25));
    let letter_w = setting.size * 1.5;
    let width = ui.available_width();
    let ink = Some(style::colour(theme.ink));
    let galley = plain_setting.galley(ui, spans, setting.size, width - letter_w - 2.0 * pad.x, ink);
    let size = vec2(width, galley.rect.height() + 2.0 * pad.y);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    let words = format!("{}) {}", letter(option), super::blocks::plain(spans));
    response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, picked, &words));
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    let fill = if picked { theme.line } else { theme.plate };
    let edge = if response.hovered() || response.has_focus() {
        theme.ink_soft
    } else {
        fill
    };
    let stroke = Stroke::new(1.0, style::colour(edge));
    let painter = ui.painter();
    painter.rect(
        rect,
        style::gap(1.0),
        style::colour(fill),
        stroke,
        egui::StrokeKind::Inside,
    );
    let at = rect.min + pad;
    let font = egui::FontId::proportional(setting.size);
    let line = vec2(0.0, (setting.size * 1.42).round() - setting.size * 1.2);
    painter.text(
        at + line * 0.5,
        egui::Align2::LEFT_TOP,
        letter(option).to_ascii_uppercase(),
        font,
        style::colour(theme.ink_soft),
    );
    painter.galley(at + vec2(letter_w, 0.0), galley, style::colour(theme.ink));
    response.clicked()
}

fn number_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, setting: &Setting<'_>) {
    let label = ui.label(RichText::new("Your figure").color(style::colour(setting.theme.ink_soft)));
    ui.horizontal(|ui| {
        let empty = reading.tasks[idx].number.trim().is_empty();
        let field = egui::TextEdit::singleline(&mut reading.tasks[idx].number)
            .hint_text("a number with its unit")
            .desired_width(style::gap(40.0).min(ui.available_width() - style::gap(36.0)));
        let field = ui.add(field).labelled_by(label.id);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let check = ui.add_enabled(!empty, egui::Button::new("Check the figure"));
        if (check.clicked() || entered) && !empty {
            let typed = reading.tasks[idx].number.clone();
            reading.answer_typed(idx, &[&typed]);
        }
    });
}

fn order_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    items: &[Vec<super::blocks::Span>],
    setting: &Setting<'_>,
) {
    let theme = setting.theme;
    let order = reading.tasks[idx].order.clone();
    let mut moved = None;
    ui.spacing_mut().item_spacing.y = style::gap(1.0);
    let last = order.len().saturating_sub(1);
    for (at, item) in order.iter().enumerate() {
        let Some(spans) = items.get(*item) else {
            continue;
        };
        // by its item, so that the keyboard goes along with what it moves
        ui.push_id(("item", *item), |ui| {
            ui.horizontal(|ui| {
                let plain = super::blocks::plain(spans);
                for (sign, words, can, to) in [
                    ("▲", "Earlier", at > 0, at.wrapping_sub(1)),
                    ("▼", "Later", at < last, at + 1),
                ] {
                    let button = egui::Button::new(RichText::new(sign).size(10.0))
                        .min_size(vec2(style::gap(7.0), 0.0));
                    let button = ui.add_enabled(can, button);
                    let name = format!("{words}: {plain}");
                    button.widget_info(|| WidgetInfo::labeled(Role::Button, can, &name));
                    if button.clicked() {
                        moved = Some((at, to));
                    }
                }
                let number = RichText::new(format!("{}.", at + 1)).size(setting.size);
                ui.label(number.color(style::colour(theme.ink_soft)));
                let setting = Setting {
                    links: false,
                    ..*setting
                };
                setting.words_ui(ui, spans, &mut Vec::new());
            });
        });
    }
    if let Some((from, to)) = moved {
        reading.tasks[idx].order.swap(from, to);
        reading.tasks[idx].said = None;
    }
    if ui.button("Check the order").clicked() {
        let order = reading.tasks[idx].order.clone();
        reading.answer(idx, &Answer::Order(order));
    }
}

fn wrong_ui(ui: &mut Ui, state: &TaskState, setting: &Setting<'_>) {
    if let Some(wrong) = &state.wrong {
        let words = RichText::new(format!("This cannot be taken: {wrong}"))
            .size((setting.size * 0.92).max(11.0));
        ui.add(egui::Label::new(words.color(style::colour(setting.theme.ink))).wrap());
    }
}

fn said_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    said: &Said,
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let theme = setting.theme;
    ui.add_space(style::gap(1.0));
    let head = match (said.passed, said.found.is_empty()) {
        // the words of a choice say it themselves
        (true, true) if !said.words.is_empty() => String::new(),
        (true, true) => "Right.".to_owned(),
        (true, false) => format!("Right: {}.", said.found),
        (false, _) => "Not yet.".to_owned(),
    };
    if !head.is_empty() {
        let words = RichText::new(head).size(setting.size).strong();
        ui.add(egui::Label::new(words.color(style::colour(theme.ink))).wrap());
    }
    page_ui(ui, reading, &said.words, setting, heard);
}

/// Hints in two levels and the worked answer, each when it is asked for.
fn help_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    idx: usize,
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let texts = reading.tasks[idx].texts.clone().unwrap_or_default();
    let shown = reading.tasks[idx].hints;
    let all = [
        ("A nudge", "Nudge", &texts.hints[0]),
        ("A way", "Way", &texts.hints[1]),
        ("Worked answer", "Worked answer", &texts.worked),
    ];
    for (_, name, blocks) in all.iter().take(usize::from(shown)) {
        ui.add_space(style::gap(1.0));
        let head = RichText::new(*name).size((setting.size * 0.86).max(11.0));
        ui.label(head.color(style::colour(setting.theme.ink_soft)));
        page_ui(ui, reading, blocks, setting, heard);
    }
    if let Some((button, ..)) = all.get(usize::from(shown)) {
        ui.add_space(style::gap(1.0));
        let words = RichText::new(*button).size((setting.size * 0.92).max(11.0));
        let hint = match shown {
            0 => "A hint that sends your thoughts the right way",
            1 => "A hint that says how to go about it",
            _ => "The answer, worked out",
        };
        if ui.button(words).on_hover_text(hint).clicked() {
            reading.tasks[idx].hints = (shown + 1).min(MOST_HINTS);
        }
    }
}
