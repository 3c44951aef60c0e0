//! Draws one thing of a talk: words as large as they fit, a picture, a question and its answer.

use egui::{Align2, Rect, Role, Sense, Ui, WidgetInfo, pos2};

use super::blocks::{Block, Span};
use super::page::Page;
use super::reading::Reading;
use super::words::Setting;
use crate::app::style;
use crate::lesson::{Answer, Right, Runs, Task, TaskKind, judge, letter};
use crate::scene::Theme;

/// Sizes of type that a slide is tried in, the largest first, in points of a presenter's room.
const SIZES: [f32; 7] = [30.0, 27.0, 24.0, 21.0, 18.0, 16.0, 14.0];
/// Width of a column of words alone, as a part of the room.
const MEASURE: f32 = 0.86;

fn setting(theme: &Theme, size: f32) -> Setting<'_> {
    Setting {
        theme,
        size,
        held: None,
        links: false,
    }
}

/// The heading over a thing, in one line.
pub(crate) fn heading_ui(ui: &Ui, rect: Rect, words: &str, theme: &Theme) {
    let soft = style::colour(theme.ink_soft);
    let font = style::type_size(2);
    let painter = ui.painter().with_clip_rect(rect);
    painter.text(
        pos2(rect.left(), rect.center().y),
        Align2::LEFT_CENTER,
        words,
        font,
        soft,
    );
    let response = ui.interact(rect, ui.scope_id().with(("heading", words)), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, words));
}

/// The title of the lesson.
pub(crate) fn title_ui(ui: &mut Ui, rect: Rect, reading: &Reading, theme: &Theme) {
    let inside = middle(rect);
    let lesson = &reading.lesson;
    let number = lesson
        .number()
        .map_or_else(String::new, |number| format!("Lesson {number}"));
    let spans = [Span {
        words: crate::lesson::text::printable(&lesson.title),
        ..Span::default()
    }];
    let builder = egui::UiBuilder::new().max_rect(inside);
    ui.scope_builder(builder, |ui| {
        ui.add_space(inside.height() * 0.3);
        let soft = style::colour(theme.ink_soft);
        ui.label(
            egui::RichText::new(number)
                .font(style::type_size(2))
                .color(soft),
        );
        ui.add_space(style::gap(2.0));
        let ink = Some(style::colour(theme.ink));
        setting(theme, 44.0).set_ui(ui, &spans, 44.0, ink, Role::Heading, &mut Vec::new());
        if reading.texts.is_none() {
            let (n, all) = reading.n_made();
            ui.add_space(style::gap(4.0));
            let words = format!("The runs of this lesson are being made: {n:.1} of {all}");
            ui.label(
                egui::RichText::new(words)
                    .font(style::type_size(2))
                    .color(soft),
            );
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
pub(crate) fn words_ui(
    ui: &mut Ui,
    rect: Rect,
    reading: &mut Reading,
    heading: &str,
    blocks: &[Block],
    theme: &Theme,
) {
    let inside = middle(rect);
    let (head, body) = cut(inside, style::gap(11.0));
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
        let high =
            |spans: &[Span], width: f32| setting.galley(ui, spans, size, width, None).rect.height();
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
                    Block::Caution(paragraphs) => paragraphs
                        .iter()
                        .map(|spans| high(spans, space.x - style::gap(4.0)))
                        .sum(),
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

/// A picture of a run over the whole room.
pub(crate) fn picture_slide_ui(
    ui: &mut Ui,
    rect: Rect,
    reading: &mut Reading,
    heading: &str,
    (wish, words): (&crate::lesson::text::PictureWish, &str),
    theme: &Theme,
) {
    let (head, body) = cut(rect, style::gap(9.0));
    heading_ui(ui, head, heading, theme);
    let builder = egui::UiBuilder::new().max_rect(body);
    ui.scope_builder(builder, |ui| {
        let most = body.height() - style::gap(14.0);
        let setting = setting(theme, 18.0);
        reading
            .pictures
            .picture_ui(ui, wish, words, &reading.made, &setting, Some(most));
    });
}

/// A question, and what may be answered; then which answer is right, and why.
pub(crate) fn ask_ui(
    ui: &mut Ui,
    rect: Rect,
    reading: &mut Reading,
    idx: usize,
    reveal: bool,
    theme: &Theme,
) {
    reading.task_texts(idx);
    let texts = reading.tasks[idx].texts.clone().unwrap_or_default();
    let heading = if reveal {
        "The answer"
    } else {
        "Your guess first"
    };
    let mut blocks = texts.ask.clone();
    let right = right_of(reading, idx);
    for (at, spans) in texts.items.iter().enumerate() {
        let is_right = right.get(at).copied().unwrap_or(false);
        let mark = format!("{}  ", letter(at).to_ascii_uppercase());
        let mut spans = spans.clone();
        for span in &mut spans {
            span.strong |= reveal && is_right;
        }
        if reveal && is_right {
            spans.push(Span {
                words: "  ■".to_owned(),
                strong: true,
                ..Span::default()
            });
        }
        if let Some((hands, all)) = reading.tasks[idx].hands_of(at) {
            spans.push(Span {
                words: format!(" — {}", hands_words(hands, all)),
                strong: true,
                ..Span::default()
            });
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
    let n_choices = match &reading.lesson.tasks[idx].kind {
        TaskKind::Choice(options) if !reveal => options.len(),
        _ => 0,
    };
    let foot = if n_choices > 0 { style::gap(9.0) } else { 0.0 };
    let (words, foot) = style::cut_bottom(rect, foot, 0.0);
    words_ui(ui, words, reading, heading, &blocks, theme);
    if n_choices > 0 {
        hands_ui(ui, middle(foot), reading, idx, n_choices);
    }
}

/// How many of all hands.
fn hands_words(hands: u32, all: u32) -> String {
    match hands {
        0 => format!("no hand of {all}"),
        1 => format!("1 hand of {all}"),
        _ => format!("{hands} hands of {all}"),
    }
}

/// Counts the hands of a class.
fn hands_ui(ui: &mut Ui, rect: Rect, reading: &mut Reading, idx: usize, n_choices: usize) {
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
    ui.scope_builder(builder, |ui| {
        ui.label("Count hands:");
        for choice in 0..n_choices {
            let state = &mut reading.tasks[idx];
            let hands = state.hands.get(choice).copied().unwrap_or(0);
            let words = format!("{}  {hands}", letter(choice).to_ascii_uppercase());
            let button = ui.button(words);
            let hint = format!(
                "One more · key {}; one fewer with the other button of the mouse",
                choice + 1
            );
            let button = button.on_hover_text(hint);
            if button.clicked() {
                state.count_hand(choice, true);
            } else if button.secondary_clicked() {
                state.count_hand(choice, false);
            }
        }
        let counted = !reading.tasks[idx].hands.is_empty();
        let none = ui.add_enabled(counted, egui::Button::new("Count anew"));
        if none.on_hover_text("Key 0").clicked() {
            reading.tasks[idx].hands.clear();
        }
    });
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

/// The upper part of a space, so high, and the rest.
fn cut(rect: Rect, height: f32) -> (Rect, Rect) {
    let at = (rect.top() + height).min(rect.bottom());
    (
        Rect::from_min_max(rect.min, pos2(rect.right(), at)),
        Rect::from_min_max(pos2(rect.left(), at), rect.max),
    )
}
