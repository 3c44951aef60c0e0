//! The time rail: what is on record, now, and the control of time.

use egui::{Align2, Rect, Response, Sense, Stroke, Ui, WidgetInfo};

use super::time_control::SLOWEST;
use super::window::spot;
use super::{Stride, TimeControl, style};
use crate::lesson::{Control, Sight};
use crate::record::Tape;
use crate::scene::{LINE_BOLD, LINE_THIN, Theme};

/// A rail at least this wide, in points, has all controls in one row.
const WIDE: f32 = 960.0;
/// A rail at least this wide has steps and pace in a row each; below, the words have a third.
const MIDDLING: f32 = 520.0;
/// Width of the slider of the pace, in points.
const SLIDER: f32 = 110.0;

/// The height that a rail of that width needs, in points.
pub(super) fn height(width: f32) -> f32 {
    style::gap(13.0 + 8.0 * n_rows(width))
}

fn n_rows(width: f32) -> f32 {
    if width >= WIDE {
        1.0
    } else if width >= MIDDLING {
        2.0
    } else {
        3.0
    }
}

/// Draws the rail and lets a person move time. Comes back with the direction of a step that was
/// asked for: `true` on, `false` back.
pub(super) fn rail_ui(
    ui: &mut Ui,
    rect: Rect,
    time: &mut TimeControl,
    record: &Tape,
    theme: &Theme,
) -> Option<bool> {
    let n_rows = n_rows(rect.width());
    let row = |idx: f32| {
        Rect::from_min_size(
            rect.min + egui::vec2(0.0, idx * style::gap(8.0)),
            egui::vec2(rect.width(), style::gap(8.0)),
        )
    };
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let place = |rect| egui::UiBuilder::new().max_rect(rect).layout(layout);
    let step = ui
        .scope_builder(place(row(0.0)), |ui| {
            let step = steps_ui(ui, time);
            if n_rows == 1.0 {
                pace_ui(ui, time);
                pace_words_ui(ui, time, theme);
            }
            if n_rows < 3.0 {
                now_ui(ui, time, theme);
            }
            step
        })
        .inner;
    if n_rows > 1.0 {
        ui.scope_builder(place(row(1.0)), |ui| {
            pace_ui(ui, time);
            if n_rows == 2.0 {
                pace_words_ui(ui, time, theme);
            }
        });
    }
    if n_rows > 2.0 {
        ui.scope_builder(place(row(2.0)), |ui| {
            pace_words_ui(ui, time, theme);
            now_ui(ui, time, theme);
        });
    }
    let top = row(n_rows - 1.0).bottom() + style::gap(2.0);
    let bar = Rect::from_min_max(egui::pos2(rect.left(), top), rect.max);
    bar_ui(ui, bar, time, record, theme);
    step
}

/// Run and pause, and steps.
fn steps_ui(ui: &mut Ui, time: &mut TimeControl) -> Option<bool> {
    let run = if time.running { "Pause" } else { "Run" };
    let button = egui::Button::new(run).min_size(egui::vec2(style::gap(16.0), 0.0));
    let run = ui.add(button).on_hover_text("Space");
    spot(ui.ctx(), Sight::Control(Control::Run), run.rect);
    let name = time.stride.name();
    let back = step_button(ui, "Step back", &format!("Back by one {name} · left arrow"));
    // a phone's rail has no room for the longest name
    let wide = ui.available_width() >= style::gap(54.0);
    egui::ComboBox::from_id_salt("stride")
        .selected_text(name)
        .width(style::gap(if wide { 32.0 } else { 26.0 }))
        .show_ui(ui, |ui| {
            for (number, stride) in (1..).zip(Stride::ALL) {
                ui.selectable_value(&mut time.stride, stride, stride.name())
                    .on_hover_text(format!("Key {number}"));
            }
        })
        .response
        .on_hover_text("How far a step goes · keys 1 to 4");
    let on = step_button(ui, "Step on", &format!("On by one {name} · right arrow"));
    spot(ui.ctx(), Sight::Control(Control::StepBack), back.rect);
    spot(ui.ctx(), Sight::Control(Control::StepOn), on.rect);
    if run.clicked() {
        time.running = !time.running;
    }
    (back.clicked() || on.clicked()).then_some(on.clicked())
}

/// Moves time as the keys say, whether the rail is drawn or not; a step that is asked for comes
/// back: on, or back.
pub(super) fn keys(ui: &Ui, time: &mut TimeControl) -> Option<bool> {
    let key = |key| free_key(ui, key);
    if key(egui::Key::Space) {
        time.running = !time.running;
    }
    if key(egui::Key::ArrowDown) {
        time.slower();
    }
    if key(egui::Key::ArrowUp) {
        time.faster();
    }
    let numbers = [
        egui::Key::Num1,
        egui::Key::Num2,
        egui::Key::Num3,
        egui::Key::Num4,
    ];
    for (number, stride) in numbers.into_iter().zip(Stride::ALL) {
        if key(number) {
            time.stride = stride;
        }
    }
    let back = key(egui::Key::ArrowLeft) || key(egui::Key::PageUp);
    let on = key(egui::Key::ArrowRight) || key(egui::Key::PageDown);
    (back || on).then_some(on)
}

/// True where that key was pressed and no control has the keyboard: one that has keeps its keys.
fn free_key(ui: &Ui, key: egui::Key) -> bool {
    let free = ui.memory(|memory| memory.focused().is_none());
    free && ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key))
}

/// How fast the motor is shown.
fn pace_ui(ui: &mut Ui, time: &mut TimeControl) {
    let slower = ui.add_enabled(time.can_slow(), egui::Button::new("Slower"));
    let slower = slower.on_hover_text("Show the motor slower · down arrow");
    let mut exponent = time.pace().log10();
    ui.spacing_mut().slider_width = SLIDER;
    let slider = egui::Slider::new(&mut exponent, SLOWEST.log10()..=0.0).show_value(false);
    let slider = ui.add(slider);
    ui.ctx()
        .accesskit_node_builder(slider.id, |node| node.set_label("Pace of the show"));
    if slider.changed() {
        time.set_pace(10.0_f64.powf(exponent));
    }
    slider.on_hover_text("From a millionth of life, on the left, to life");
    let faster = ui.add_enabled(time.can_hurry(), egui::Button::new("Faster"));
    let faster = faster.on_hover_text("Show the motor faster · up arrow");
    let pace = Sight::Control(Control::Pace);
    spot(ui.ctx(), pace, slower.rect.union(faster.rect));
    if slower.clicked() {
        time.slower();
    }
    if faster.clicked() {
        time.faster();
    }
}

/// The pace in words.
fn pace_words_ui(ui: &mut Ui, time: &TimeControl, theme: &Theme) {
    let words = egui::RichText::new(time.pace_words()).color(style::colour(theme.ink_soft));
    ui.label(words)
        .on_hover_text("What passes at the motor in a second of watching");
}

/// Now.
fn now_ui(ui: &mut Ui, time: &TimeControl, theme: &Theme) {
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let words = format!("{:.3} ms", time.cursor_s * 1e3);
        ui.label(egui::RichText::new(words).color(style::colour(theme.ink)));
    });
}

fn step_button(ui: &mut Ui, words: &str, hint: &str) -> Response {
    ui.add(egui::Button::new(words)).on_hover_text(hint)
}

/// What is on record, from its first to its last instant, with the line of now.
fn bar_ui(ui: &mut Ui, rect: Rect, time: &mut TimeControl, record: &Tape, theme: &Theme) {
    let response = ui.interact(rect, ui.scope_id().with("time"), Sense::click_and_drag());
    let [from_s, to_s] = record.range_s().unwrap_or([0.0, 0.0]);
    let length_s = (to_s - from_s).max(1e-12);
    if let Some(pointer) = response.interact_pointer_pos() {
        let share = f64::from((pointer.x - rect.left()) / rect.width()).clamp(0.0, 1.0);
        time.running = false;
        time.cursor_s = from_s + share * length_s;
    }
    let painter = ui.painter();
    let middle = egui::pos2(rect.center().x, rect.top() + style::gap(2.0));
    let track = Rect::from_center_size(middle, egui::vec2(rect.width(), style::gap(1.5)));
    painter.rect_filled(track, 3.0, style::colour(theme.plate));
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    let x = |time_s: f64| {
        rect.left() + rect.width() * ((time_s - from_s) / length_s).clamp(0.0, 1.0) as f32
    };
    let now = x(time.cursor_s);
    let gone = Rect::from_min_max(track.min, egui::pos2(now, track.bottom()));
    painter.rect_filled(gone, 3.0, style::colour(theme.ink_soft));
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    let stroke = |points: f64, colour| Stroke::new(points as f32, style::colour(colour));
    painter.vline(
        now,
        track.expand(style::gap(1.5)).y_range(),
        stroke(LINE_BOLD, theme.ink),
    );
    // The handle: what can be changed has a shape of its own.
    let handle = egui::pos2(now, track.center().y);
    painter.circle(
        handle,
        style::gap(1.75),
        style::colour(theme.ink),
        stroke(LINE_THIN, theme.ground),
    );
    let soft = style::colour(theme.ink_soft);
    for (place, align, time_s) in [
        (rect.left_bottom(), Align2::LEFT_BOTTOM, from_s),
        (rect.right_bottom(), Align2::RIGHT_BOTTOM, to_s),
    ] {
        let words = format!("{:.1} ms", time_s * 1e3);
        painter.text(place, align, words, style::type_size(0), soft);
    }
    let cursor_ms = time.cursor_s * 1e3;
    response.widget_info(|| WidgetInfo::slider(true, cursor_ms, "Time in ms"));
}
