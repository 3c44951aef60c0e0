//! The column of the course: the list of lessons, or the lesson that is open.

use egui::{Align, Layout, RichText, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::page::Page;
use super::progress::Progress;
use super::reading::Reading;
use super::task_view::{Asked, Seen, mark_ui, task_ui};
use super::words::{Heard, Setting};
use crate::app::style;
use crate::lesson::{Lesson, Part};

/// Most lines of a title in the list; what is longer ends in dots, and is told whole on hover.
const MOST_TITLE_ROWS: usize = 2;

/// Draws the list of lessons with what is done in each. The folder of one that was chosen.
pub(crate) fn list_ui(
    ui: &mut Ui,
    lessons: &[Lesson],
    progress: &Progress,
    setting: &Setting<'_>,
) -> Option<String> {
    let mut chosen = None;
    let area = ScrollArea::vertical().id_salt("lessons").auto_shrink(false);
    area.show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = style::gap(0.5);
        for lesson in lessons {
            if line_ui(ui, lesson, progress, setting) {
                chosen = Some(lesson.files.folder.clone());
            }
        }
    });
    chosen
}

/// A lesson of the list: number, title, a square for each task.
fn line_ui(ui: &mut Ui, lesson: &Lesson, progress: &Progress, setting: &Setting<'_>) -> bool {
    let theme = setting.theme;
    let folder = &lesson.files.folder;
    let n_tasks = lesson.tasks.len();
    let n_met = progress.n_met(folder, lesson.tasks.iter().map(|task| task.name.as_str()));
    let here = progress.last.as_ref() == Some(folder);
    let number = lesson
        .number()
        .map_or_else(String::new, |number| number.to_string());
    let title = crate::lesson::text::printable(&lesson.title);
    let ink = style::colour(theme.ink);
    let font = egui::FontId::proportional(setting.size);
    let column = setting.size * 1.8;
    let side = style::gap(2.5);
    #[expect(clippy::cast_precision_loss, reason = "a few tasks")]
    let marks_w = (side + style::gap(1.0)) * n_tasks as f32;
    let width = ui.available_width();
    let room = width - 2.0 * style::gap(2.0) - column - marks_w - style::gap(2.0);
    let mut job = egui::text::LayoutJob::simple(title.clone(), font.clone(), ink, room.max(20.0));
    job.wrap.max_rows = MOST_TITLE_ROWS;
    let galley = ui.painter().layout_job(job);
    let height = (galley.rect.height() + style::gap(1.0)).max(style::gap(7.0));
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::click());
    let words = format!("Lesson {number}: {title}, {n_met} of {n_tasks} tasks met");
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
    if response.gained_focus() {
        response.scroll_to_me(None);
    }
    if !ui.is_rect_visible(rect) {
        return response.clicked();
    }
    let painter = ui.painter();
    if response.hovered() || response.has_focus() || here {
        let edge = if response.has_focus() {
            theme.ink_soft
        } else {
            theme.plate
        };
        painter.rect(
            rect,
            style::gap(1.0),
            style::colour(theme.plate),
            Stroke::new(1.0, style::colour(edge)),
            egui::StrokeKind::Inside,
        );
    }
    let inside = rect.shrink2(vec2(style::gap(2.0), 0.0));
    let middle = inside.center().y;
    let soft = style::colour(theme.ink_soft);
    painter.text(
        egui::pos2(inside.left() + column - style::gap(2.0), middle),
        egui::Align2::RIGHT_CENTER,
        &number,
        font,
        soft,
    );
    let at = egui::pos2(inside.left() + column, middle - galley.rect.height() / 2.0);
    painter.galley(at, galley, ink);
    for k in 0..n_tasks {
        #[expect(clippy::cast_precision_loss, reason = "a few tasks")]
        let left = inside.right() - marks_w + (side + style::gap(1.0)) * k as f32 + style::gap(1.0);
        let mark =
            egui::Rect::from_min_size(egui::pos2(left, middle - side / 2.0), vec2(side, side));
        if k < n_met {
            painter.rect_filled(mark, 2.0, ink);
        } else {
            painter.rect_stroke(mark, 2.0, Stroke::new(1.0, soft), egui::StrokeKind::Inside);
        }
    }
    // the idea would give the answer away to who has not been there yet
    let idea = if n_met > 0 {
        format!("\n{}", crate::lesson::text::printable(&lesson.idea))
    } else {
        String::new()
    };
    let title = crate::lesson::text::printable(&lesson.title);
    let hint = format!("{title}\n{n_met} of {n_tasks} tasks met{idea}");
    response.on_hover_text(hint).clicked()
}

/// Draws the lesson that is open. What it asks of the window, and what the reader did with links.
pub(crate) fn reading_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    seen: &Seen<'_>,
    setting: &Setting<'_>,
) -> (Option<Asked>, Vec<Heard>) {
    let (mut asked, mut heard) = (None, Vec::new());
    let scroll = std::mem::take(&mut reading.scroll);
    let mut area = ScrollArea::vertical()
        .id_salt(("lesson", &reading.lesson.files.folder))
        .auto_shrink(false);
    if std::mem::take(&mut reading.fresh) {
        area = area.vertical_scroll_offset(0.0);
    }
    area.show(ui, |ui| {
        if scroll != 0.0 {
            ui.scroll_with_delta(vec2(0.0, -scroll));
        }
        // the bar of the area lies beside the words
        ui.set_max_width(ui.available_width() - style::gap(3.0));
        title_ui(ui, reading, setting);
        let Some(texts) = reading.texts.clone() else {
            let (n, all) = reading.n_made();
            let words = format!("The runs of this lesson are being made: {n:.1} of {all}");
            ui.label(
                RichText::new(words)
                    .size(setting.size)
                    .color(style::colour(setting.theme.ink_soft)),
            );
            return;
        };
        if let Some(trouble) = &reading.trouble {
            let words = format!("! Something of this lesson cannot be shown: {trouble}");
            let words = RichText::new(words).size(setting.size);
            ui.add(egui::Label::new(words.color(style::colour(setting.theme.ink))).wrap());
        }
        let lesson = std::rc::Rc::clone(&reading.lesson);
        let gate = reading.gate();
        let mut number = 0;
        let middle = ui.clip_rect().center().y;
        reading.at_task = 0;
        for (at, (part, blocks)) in lesson.parts.iter().zip(texts.iter()).enumerate() {
            if gate.is_some_and(|gate| at > gate) {
                break;
            }
            ui.add_space(setting.size * 0.6);
            match part {
                Part::Text { .. } => {
                    let mut page = Page {
                        setting: *setting,
                        pictures: &mut reading.pictures,
                        made: &reading.made,
                        heard: Vec::new(),
                    };
                    page.blocks_ui(ui, blocks);
                    heard.append(&mut page.heard);
                }
                Part::Task(idx) => {
                    number += 1;
                    if ui.cursor().top() < middle {
                        reading.at_task = number;
                    }
                    if reading.wanted_task == Some(number) {
                        ui.scroll_to_cursor(Some(Align::TOP));
                        reading.wanted_task = None;
                    }
                    let (wish, more) = task_ui(ui, reading, *idx, number, seen, setting);
                    asked = asked.take().or(wish);
                    heard.extend(more);
                }
            }
        }
        ui.add_space(setting.size);
        foot_ui(ui, reading, gate.is_some(), setting, &mut heard);
        ui.add_space(setting.size);
    });
    (asked, heard)
}

fn title_ui(ui: &mut Ui, reading: &Reading, setting: &Setting<'_>) {
    let lesson = &reading.lesson;
    let ink = Some(style::colour(setting.theme.ink));
    let title = [super::blocks::Span {
        words: crate::lesson::text::printable(&lesson.title),
        ..Default::default()
    }];
    let size = (setting.size * 1.7).round();
    setting.set_ui(ui, &title, size, ink, Role::Heading, &mut Vec::new());
}

/// What comes after the text: the way past the prediction, or the idea and the next lesson.
fn foot_ui(
    ui: &mut Ui,
    reading: &mut Reading,
    gated: bool,
    setting: &Setting<'_>,
    heard: &mut Vec<Heard>,
) {
    let soft = style::colour(setting.theme.ink_soft);
    if gated {
        let words = "Guess first: the lesson goes on when you have answered, right or wrong.";
        ui.add(egui::Label::new(RichText::new(words).size(setting.size).color(soft)).wrap());
        if ui.button("Read on without a guess").clicked() {
            reading.read_on = true;
        }
        return;
    }
    let line = Stroke::new(1.0, style::colour(setting.theme.line));
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 1.0), Sense::hover());
    ui.painter().hline(rect.x_range(), rect.center().y, line);
    ui.add_space(setting.size * 0.5);
    let spans = super::blocks::spans(&reading.lesson.idea);
    setting.words_ui(ui, &spans, heard);
    ui.add_space(setting.size * 0.5);
    ui.horizontal(|ui| {
        let next = crate::lesson::course::folders()
            .skip_while(|folder| *folder != reading.lesson.files.folder)
            .nth(1);
        if let Some(next) = next
            && ui.button("Next lesson").clicked()
        {
            heard.push(Heard::Lesson(next.to_owned()));
        }
        let n_met = reading.tasks.iter().filter(|task| task.met).count();
        let words = format!("{n_met} of {} tasks met", reading.tasks.len());
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.label(RichText::new(words).color(soft));
            mark_ui(ui, n_met == reading.tasks.len(), setting);
        });
    });
}
