//! Draws a task: question, answer, what is said to it, hints.

use egui::{Align, Layout, RichText, Role, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::page::Page;
use super::reading::Reading;
use super::task::{MOST_HINTS, Said, TaskState};
use super::words::{Heard, Setting};
use crate::app::style;
use crate::lesson::{Answer, Bench, Facts, Setting as Key, Standing, TaskKind, letter, state};
use crate::setup::{Kind, key_spec};

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
        let words = RichText::new(format!("Task {number}")).size(setting.size).strong();
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
            ui.label(RichText::new(words).size((setting.size * 0.9).max(11.0)).color(style::colour(colour)));
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
        ui.painter().rect_stroke(rect, 2.0, stroke, egui::StrokeKind::Inside);
    }
}

fn choice_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, items: &[Vec<super::blocks::Span>], setting: &Setting<'_>) {
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
fn option_ui(ui: &mut Ui, option: usize, spans: &[super::blocks::Span], picked: bool, setting: &Setting<'_>) -> bool {
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
    painter.rect(rect, style::gap(1.0), style::colour(fill), stroke, egui::StrokeKind::Inside);
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
    ui.horizontal(|ui| {
        let label = ui.label(RichText::new("Your figure").color(style::colour(setting.theme.ink_soft)));
        let field = egui::TextEdit::singleline(&mut reading.tasks[idx].number)
            .hint_text("a number with its unit")
            .desired_width(style::gap(36.0));
        let field = ui.add(field).labelled_by(label.id);
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
        let empty = reading.tasks[idx].number.trim().is_empty();
        let check = ui.add_enabled(!empty, egui::Button::new("Check the figure"));
        if (check.clicked() || entered) && !empty {
            let typed = reading.tasks[idx].number.clone();
            reading.answer_typed(idx, &[&typed]);
        }
    });
}

fn order_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, items: &[Vec<super::blocks::Span>], setting: &Setting<'_>) {
    let theme = setting.theme;
    let order = reading.tasks[idx].order.clone();
    let mut moved = None;
    ui.spacing_mut().item_spacing.y = style::gap(1.0);
    let last = order.len().saturating_sub(1);
    for (at, item) in order.iter().enumerate() {
        let Some(spans) = items.get(*item) else { continue };
        // by its item, so that the keyboard goes along with what it moves
        ui.push_id(("item", *item), |ui| {
            ui.horizontal(|ui| {
                let plain = super::blocks::plain(spans);
                for (sign, words, can, to) in [
                    ("▲", "Earlier", at > 0, at.wrapping_sub(1)),
                    ("▼", "Later", at < last, at + 1),
                ] {
                    let button = egui::Button::new(RichText::new(sign).size(10.0)).min_size(vec2(style::gap(7.0), 0.0));
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

fn bench_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, seen: &Seen<'_>, setting: &Setting<'_>) -> Option<Asked> {
    let mut asked = None;
    let theme = setting.theme;
    let lesson = std::rc::Rc::clone(&reading.lesson);
    let TaskKind::Bench { run, may_set, .. } = &lesson.tasks[idx].kind else {
        return None;
    };
    let here = if seen.of_lesson {
        reading.of_bench(idx, &seen.facts.setup)
    } else {
        Err(String::new())
    };
    let editing = ui.memory(|memory| memory.focused()).is_some_and(|focused| {
        (0..may_set.len()).any(|k| focused == field_id(idx, k))
    });
    if !editing {
        reading.take_fields(idx, here.is_ok().then_some(seen.facts));
    }
    for (k, key) in may_set.iter().enumerate() {
        if let Some(text) = field_ui(ui, reading, idx, k, key, setting) {
            let mut keys = here.clone().unwrap_or_default();
            keys.retain(|(other, _)| other != key);
            if let Ok(Answer::Set(set)) = Answer::parse(&lesson.tasks[idx], &[&format!("{key}={text}")]) {
                keys.extend(set);
            }
            asked = Some(Asked::Set(run.clone(), keys));
        }
    }
    ui.add_space(style::gap(0.5));
    let soft = style::colour(theme.ink_soft);
    let small = (setting.size * 0.92).max(11.0);
    ui.horizontal_wrapped(|ui| {
        if here.is_err() {
            let put = ui.button("Put it on the bench");
            if put.on_hover_text("The setup of this task, from rest; what stands there now can be had back with Undo").clicked() {
                asked = Some(Asked::Load(run.clone()));
            }
            return;
        }
        if ui.button("From rest").on_hover_text("Start the run anew with these values").clicked() {
            asked = Some(Asked::FromRest);
        }
        let check = ui.button("Check the bench");
        if check.on_hover_text("Run it from rest over the lesson's whole time, and say what comes of it").clicked()
            && let Ok(keys) = &here
        {
            reading.answer(idx, &Answer::Set(keys.clone()));
        }
    });
    match &here {
        Ok(keys) => live_ui(ui, reading, idx, keys, seen, setting),
        Err(_) => {
            let words = "Something else stands on the bench now.";
            ui.label(RichText::new(words).size(small).color(soft));
        }
    }
    asked
}

/// How the running bench stands to the task, part by part.
fn live_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, keys: &[Key], seen: &Seen<'_>, setting: &Setting<'_>) {
    let lesson = std::rc::Rc::clone(&reading.lesson);
    let now = reading.with_runs(|runs| state(&lesson.tasks[idx], runs, seen.facts, &seen.bench));
    let theme = setting.theme;
    let (ink, soft) = (style::colour(theme.ink), style::colour(theme.ink_soft));
    let small = (setting.size * 0.92).max(11.0);
    let standing = match now {
        Ok(Some(standing)) => standing,
        Ok(None) => return,
        Err(error) => {
            reading.tasks[idx].wrong = Some(super::task::sentence(&error.complaint));
            return;
        }
    };
    ui.spacing_mut().item_spacing.y = style::gap(0.5);
    match &standing {
        Standing::Waiting => {
            let words = "Not yet: the figures come with the first turn of the run.";
            ui.label(RichText::new(words).size(small).color(soft));
        }
        Standing::Known(clauses) => {
            let head = if standing.is_met() { "Met at this moment" } else { "Not yet" };
            ui.label(RichText::new(head).size(small).color(ink));
            for clause in clauses {
                ui.horizontal_top(|ui| {
                    mark_ui(ui, clause.holds, setting);
                    let found: Vec<String> = clause.found.iter().map(|(name, value)| format!("{name} is {value}")).collect();
                    let found = if found.is_empty() { String::new() } else { format!("{}; ", found.join(", ")) };
                    let words = format!("{found}wanted: {}", clause.wanted);
                    let words = RichText::new(words).size(small).color(soft);
                    ui.add(egui::Label::new(words).wrap());
                });
            }
        }
    }
    // what is met while it is watched is judged once, without being asked
    if standing.is_met() && !reading.tasks[idx].met && !reading.tasks[idx].judged_live {
        reading.tasks[idx].judged_live = true;
        reading.answer(idx, &Answer::Set(keys.to_vec()));
    } else if !standing.is_met() {
        reading.tasks[idx].judged_live = false;
    }
}

fn field_id(idx: usize, k: usize) -> egui::Id {
    egui::Id::unique(("lesson field", idx, k))
}

/// One key that the reader may set. What was written, where that is another value.
fn field_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, k: usize, key: &str, setting: &Setting<'_>) -> Option<String> {
    let spec = key_spec(key);
    let about = spec.map_or_else(String::new, |spec| format!("{}: {}", spec.about, spec.kind.allowed()));
    let (_, text) = reading.tasks[idx].fields.get_mut(k)?;
    let mut wanted = None;
    ui.horizontal(|ui| {
        let name = RichText::new(key).font(egui::FontId::monospace((setting.size - 1.0).max(11.0)));
        let label = ui.label(name.color(style::colour(setting.theme.ink)));
        let label = label.on_hover_text(&about);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if let Some(Kind::Word { words, .. }) = spec.map(|spec| spec.kind) {
                let list = egui::ComboBox::from_id_salt(("word", idx, k))
                    .selected_text(text.clone())
                    .width(style::gap(30.0));
                let list = list.show_ui(ui, |ui| {
                    for word in words {
                        if ui.selectable_label(text == word, *word).clicked() {
                            wanted = Some((*word).to_owned());
                            ui.close();
                        }
                    }
                });
                list.response.labelled_by(label.id);
                return;
            }
            let before = text.clone();
            let field = egui::TextEdit::singleline(text)
                .id(field_id(idx, k))
                .hint_text(spec.map_or("", |spec| spec.example).trim_matches('"'))
                .desired_width(style::gap(30.0));
            let field = ui.add(field).labelled_by(label.id).on_hover_text(&about);
            if field.gained_focus() {
                ui.data_mut(|data| data.insert_temp(field_id(idx, k), before));
            } else if field.lost_focus() {
                let from: Option<String> = ui.data(|data| data.get_temp(field_id(idx, k)));
                let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
                if !given_up && from.as_ref() != Some(text) {
                    wanted = Some(text.trim().to_owned());
                }
            }
        });
    });
    wanted.filter(|text| !text.is_empty())
}

fn wrong_ui(ui: &mut Ui, state: &TaskState, setting: &Setting<'_>) {
    if let Some(wrong) = &state.wrong {
        let words = RichText::new(format!("This cannot be taken: {wrong}")).size((setting.size * 0.92).max(11.0));
        ui.add(egui::Label::new(words.color(style::colour(setting.theme.ink))).wrap());
    }
}

fn said_ui(ui: &mut Ui, reading: &mut Reading, said: &Said, setting: &Setting<'_>, heard: &mut Vec<Heard>) {
    let theme = setting.theme;
    ui.add_space(style::gap(1.0));
    let head = match (said.passed, said.found.is_empty()) {
        (true, true) => "Right.".to_owned(),
        (true, false) => format!("Right: {}.", said.found),
        (false, _) => "Not yet.".to_owned(),
    };
    let words = RichText::new(head).size(setting.size).strong();
    ui.add(egui::Label::new(words.color(style::colour(theme.ink))).wrap());
    page_ui(ui, reading, &said.words, setting, heard);
}

/// Hints in two levels and the worked answer, each when it is asked for.
fn help_ui(ui: &mut Ui, reading: &mut Reading, idx: usize, setting: &Setting<'_>, heard: &mut Vec<Heard>) {
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
