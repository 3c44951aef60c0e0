//! The drawer: what stands on the bench, to be changed while the motor runs.

use egui::Key;
use egui::accesskit::Role;
use egui_kittest::Node;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::setup::{Setup, built_in};

use super::{Window, click, count, picture, press, run_for, window, window_on};

/// The control of that role whose label has that name.
pub(super) fn control<'a>(window: &'a Window, role: Role, name: &str) -> Option<Node<'a>> {
    window.query_all_by_role(role).find(|node| {
        let node = node.accesskit_node();
        let named = |label: &egui_kittest::kittest::AccessKitNode<'_>| {
            label.value().as_deref() == Some(name) || label.label().as_deref() == Some(name)
        };
        node.label().as_deref() == Some(name) || node.labelled_by().any(|label| named(&label))
    })
}

pub(super) fn choose(window: &mut Window, name: &str, word: &str) {
    // Asked for as by a screen reader: the list may lie below the edge of the drawer.
    control(window, Role::ComboBox, name)
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
    window.get_by_label(word).click_accesskit();
    window.run_steps(3);
    assert!(
        !egui::Popup::is_any_open(&window.ctx),
        "a choice without the pointer closes the list too"
    );
}

fn write(window: &mut Window, name: &str, text: &str) {
    control(window, Role::TextInput, name).unwrap().focus();
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    window.run_steps(2);
    control(window, Role::TextInput, name)
        .unwrap()
        .type_text(text);
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
}

fn field(window: &Window, name: &str) -> String {
    let node = control(window, Role::TextInput, name).unwrap();
    node.accesskit_node().value().unwrap_or_default()
}

#[test]
fn every_value_has_a_slider_a_field_and_a_unit() {
    let mut window = window([1920.0, 1080.0]);
    for (name, unit) in [
        ("Voltage", "V"),
        ("Duty", ""),
        ("PWM frequency", "kHz"),
        ("Advance", "deg"),
        ("Constant", "mNm"),
        ("Air, by speed²", "Nm s2/rad2"),
        ("Poles", ""),
        ("Slots", ""),
    ] {
        assert!(control(&window, Role::Slider, name).is_some(), "{name}");
        assert!(field(&window, name).ends_with(unit), "{name}");
    }
    for name in [
        "Chop mode",
        "Commutation",
        "Direction",
        "Gates",
        "Connection",
        "EMF shape",
    ] {
        assert!(control(&window, Role::ComboBox, name).is_some(), "{name}");
    }
    picture(&mut window, "drawer");
}

/// Was cut: the longest unit did not fit into its field.
#[test]
fn the_longest_unit_fits_into_its_field() {
    let window = window([1920.0, 1080.0]);
    let node = control(&window, Role::TextInput, "Air, by speed²").unwrap();
    let text = field(&window, "Air, by speed²");
    assert_eq!(text, "1.5e-8 Nm s2/rad2");
    let font = egui::FontId::proportional(13.0);
    let wide = window.ctx.fonts_mut(|fonts| {
        let galley = fonts.layout_no_wrap(text, font, egui::Color32::WHITE);
        galley.size().x
    });
    assert!(
        node.rect().width() >= wide + 8.0,
        "{} {wide}",
        node.rect().width()
    );
}

#[test]
fn a_bad_value_says_why_and_the_motor_runs_on() {
    let mut window = window([1920.0, 1080.0]);
    press(&mut window, Key::Space);
    write(&mut window, "Voltage", "12");
    assert_eq!(
        count(&window, "The motor runs on with the last good value."),
        1
    );
    let before_s = window.state().time().cursor_s;
    window.run_steps(10);
    assert!(window.state().time().cursor_s > before_s);
    write(&mut window, "Voltage", "12 V");
    assert_eq!(
        count(&window, "The motor runs on with the last good value."),
        0
    );
    assert_eq!(field(&window, "Voltage"), "12 V");
    click(&mut window, "Undo");
    assert_eq!(field(&window, "Voltage"), "11.1 V");
    click(&mut window, "Redo");
    assert_eq!(field(&window, "Voltage"), "12 V");
}

/// Was silent: a forced drive without a clock got one of 50 Hz.
#[test]
fn a_clock_that_was_not_written_is_said() {
    let mut window = window([1920.0, 1080.0]);
    choose(&mut window, "Commutation", "forced");
    assert_eq!(
        count(&window, "so 50 electrical turns a second are taken"),
        1
    );
    assert_eq!(field(&window, "Clock"), "50 Hz");
    write(&mut window, "Clock", "80 Hz");
    assert_eq!(field(&window, "Clock"), "80 Hz");
}

#[test]
fn a_drive_that_is_fully_on_can_be_made_to_chop() {
    let text = built_in();
    let (from, to) = (
        text.find("[drive.pwm]").unwrap(),
        text.find("[drive.switch]").unwrap(),
    );
    let text = format!("{}{}", &text[..from], &text[to..]);
    let mut window = window_on([1920.0, 1080.0], &Setup::parse(&text, "on").unwrap());
    assert!(control(&window, Role::Slider, "Duty").is_none());
    click(&mut window, "Chop them");
    assert_eq!(field(&window, "Duty"), "1");
}

/// Controls do not move when a caution comes: cautions stand at the foot of the drawer.
#[test]
fn cautions_stand_at_the_foot_and_move_nothing() {
    let mut window = window([1920.0, 1080.0]);
    let before = control(&window, Role::Slider, "Duty").unwrap().rect();
    assert_eq!(count(&window, "keep fingers"), 0);
    run_for(&mut window, 2, 60);
    let caution = window.get_by_label_contains("keep fingers");
    assert!(caution.rect().top() > before.bottom());
    window.get_by_label_contains("a lithium pack that is shorted");
    window.get_by_label_contains("Local rules");
    assert_eq!(
        control(&window, Role::Slider, "Duty").unwrap().rect(),
        before
    );
    picture(&mut window, "cautions");
}

/// Esc in a field gives up what was written, and closes nothing else.
#[test]
fn esc_gives_up_what_was_written() {
    let mut window = window([1920.0, 1080.0]);
    control(&window, Role::TextInput, "Voltage")
        .unwrap()
        .focus();
    window.run_steps(2);
    control(&window, Role::TextInput, "Voltage")
        .unwrap()
        .type_text("9");
    window.run_steps(2);
    assert_ne!(field(&window, "Voltage"), "11.1 V");
    press(&mut window, Key::Escape);
    assert_eq!(field(&window, "Voltage"), "11.1 V");
    assert!(!window.state().is_changed());
    assert_eq!(
        count(&window, "The motor runs on with the last good value."),
        0
    );
}

/// A slider that is dragged is one change, however far it goes.
#[test]
fn dragging_a_slider_changes_the_bench_as_one_change() {
    let mut window = window([1920.0, 1080.0]);
    let rect = control(&window, Role::Slider, "Duty").unwrap().rect();
    let at = |share: f32| rect.left_center() + egui::vec2(rect.width() * share, 0.0);
    window.hover_at(at(0.6));
    window.step();
    window.drag_at(at(0.6));
    window.step();
    for k in 1..=5_u8 {
        window.hover_at(at(0.6 + 0.05 * f32::from(k)));
        window.step();
    }
    window.drop_at(at(0.85));
    window.run_steps(3);
    let duty: f64 = field(&window, "Duty").parse().unwrap();
    assert!((0.75..=1.0).contains(&duty), "{duty}");
    click(&mut window, "Undo");
    assert_eq!(field(&window, "Duty"), "0.6");
}
