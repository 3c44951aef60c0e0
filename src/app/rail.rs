//! The time rail: what is on record, now, and the control of time.

use egui::{Align2, Rect, Response, Sense, Stroke, Ui, WidgetInfo};

use super::{RecordRing, TimeControl, style};
use crate::scene::{LINE_BOLD, LINE_THIN, Theme};

/// Room for the buttons, in points.
const BUTTONS: f32 = 400.0;
/// A rail narrower than this, in points, stacks words under buttons.
const NARROW: f32 = 640.0;

/// The height that a rail of that width needs, in points.
pub(super) fn height(width: f32) -> f32 {
    style::gap(if width < NARROW { 29.0 } else { 21.0 })
}

/// Draws the rail and lets a person move time.
pub(super) fn rail_ui(
    ui: &mut Ui,
    rect: Rect,
    time: &mut TimeControl,
    record: &RecordRing,
    theme: &Theme,
) {
    let row = egui::vec2(rect.width(), style::gap(8.0));
    let controls = Rect::from_min_size(rect.min, row);
    // In a narrow window the words have a row of their own.
    let words = if rect.width() < NARROW {
        Rect::from_min_size(controls.left_bottom(), row)
    } else {
        Rect::from_min_max(controls.min + egui::vec2(BUTTONS, 0.0), controls.max)
    };
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let place = |rect| egui::UiBuilder::new().max_rect(rect).layout(layout);
    ui.scope_builder(place(controls), |ui| controls_ui(ui, time, record));
    ui.scope_builder(place(words), |ui| words_ui(ui, time, theme));
    let top = words.bottom() + style::gap(2.0);
    let bar = Rect::from_min_max(egui::pos2(rect.left(), top), rect.max);
    bar_ui(ui, bar, time, record, theme);
}

fn controls_ui(ui: &mut Ui, time: &mut TimeControl, record: &RecordRing) {
    let run = if time.running { "Pause" } else { "Run" };
    let button = egui::Button::new(run).min_size(egui::vec2(style::gap(18.0), 0.0));
    let run = ui.add(button).on_hover_text("Space");
    let back = step_button(
        ui,
        "Step back",
        "Back to the step change before · left arrow",
    );
    let on = step_button(ui, "Step on", "On to the next step change · right arrow");
    let slower = ui.add_enabled(time.can_slow(), egui::Button::new("Slower"));
    let slower = slower.on_hover_text("Show the motor slower · down arrow");
    let faster = ui.add_enabled(time.can_hurry(), egui::Button::new("Faster"));
    let faster = faster.on_hover_text("Show the motor faster · up arrow");
    if run.clicked() {
        time.running = !time.running;
    }
    if slower.clicked() {
        time.slower();
    }
    if faster.clicked() {
        time.faster();
    }
    for (pressed, later) in [(back.clicked(), false), (on.clicked(), true)] {
        if pressed {
            time.running = false;
            time.step(record, later);
        }
    }
}

/// Moves time as the keys say, whether the rail is drawn or not.
pub(super) fn keys(ui: &Ui, time: &mut TimeControl, record: &RecordRing) {
    // A control that has the keyboard keeps its keys.
    if ui.memory(|memory| memory.focused().is_some()) {
        return;
    }
    let key = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
    if key(egui::Key::Space) {
        time.running = !time.running;
    }
    if key(egui::Key::ArrowDown) {
        time.slower();
    }
    if key(egui::Key::ArrowUp) {
        time.faster();
    }
    for (pressed, later) in [
        (key(egui::Key::ArrowLeft) || key(egui::Key::PageUp), false),
        (key(egui::Key::ArrowRight) || key(egui::Key::PageDown), true),
    ] {
        if pressed {
            time.running = false;
            time.step(record, later);
        }
    }
}

/// The pace in words, and now.
fn words_ui(ui: &mut Ui, time: &TimeControl, theme: &Theme) {
    ui.label(egui::RichText::new(time.pace_words()).color(style::colour(theme.ink_soft)));
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let words = format!("{:.3} ms", time.cursor_s * 1e3);
        ui.label(egui::RichText::new(words).color(style::colour(theme.ink)));
    });
}

fn step_button(ui: &mut Ui, words: &str, hint: &str) -> Response {
    ui.add(egui::Button::new(words)).on_hover_text(hint)
}

/// What is on record, from its first to its last instant, with the line of now.
fn bar_ui(ui: &mut Ui, rect: Rect, time: &mut TimeControl, record: &RecordRing, theme: &Theme) {
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
