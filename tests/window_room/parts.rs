//! What is pointed at, with the pointer or through the list, says its name and values.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use wyebench::scene::{Point, at};

use super::{Window, count, picture, press, run_for, window};

/// Where a place of the machine, in outer radii, lies on the screen.
pub(super) fn on_screen(window: &Window, place: Point) -> egui::Pos2 {
    let rect = window
        .get_by_label_contains("Machine in cross-section")
        .rect();
    // As the picture is fitted: 2.6 units across, 2.42 up, the table of steps at its left.
    let (w, h) = (f64::from(rect.width()), f64::from(rect.height()));
    let fit = (w / 2.6).min(h / 2.42);
    let aside = (w - 1.075 * h).clamp(0.0, 140.0) / 2.0;
    #[expect(clippy::cast_possible_truncation, reason = "points")]
    let offset = egui::vec2((aside + place.x * fit) as f32, (-place.y * fit) as f32);
    rect.center() + offset
}

fn point(window: &mut Window, place: Point) {
    window.hover_at(on_screen(window, place));
    window.run_steps(4);
}

#[test]
fn hovering_names_coil_sides_and_magnets() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 0, 60);
    // Slot 1 lies at three o'clock; layer 2 is the side counter-clockwise of its middle.
    point(&mut window, at(0.65, 0.05));
    window.get_by_label("Coil side +U, slot 1, tooth 1");
    window.get_by_label("turns times current");
    picture(&mut window, "hover");
    point(&mut window, at(0.65, -0.05));
    assert!(count(&window, ", slot 1, tooth 12") >= 1);
    // Somewhere on the ring of magnets there is one, or a gap no wider than a tenth of a pole.
    let mut found = 0;
    for degrees in [3.0_f64, 20.0, 45.0, 100.0, 200.0] {
        point(&mut window, Point::polar(0.9, degrees.to_radians()));
        found += usize::from(count(&window, " of 14, ") > 0);
    }
    assert!(found >= 3, "{found} of 5");
}

#[test]
fn hovering_a_leg_says_state_voltage_and_current() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 0, 60);
    let rect = window.get_by_label_contains("Bridge: U").rect();
    // The middle leg stands a little right of the middle.
    window.hover_at(rect.center() + egui::vec2(rect.width() * 0.08, -rect.height() * 0.2));
    window.run_steps(4);
    window.get_by_label("Leg V");
    for value in ["state", "terminal voltage", "lead current", "flows through"] {
        window.get_by_label(value);
    }
}

#[test]
fn the_list_goes_through_all_parts_with_the_keyboard() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 0, 60);
    press(&mut window, Key::I);
    window.get_by_label("Leg U").focus();
    window.run_steps(3);
    assert_eq!(count(&window, "Leg U"), 2, "the line and its values");
    window.key_press(Key::Tab);
    window.run_steps(3);
    assert_eq!(count(&window, "Leg V"), 2);
    // Of a long list only the lines in sight are there; the keyboard still comes to all of them.
    assert_eq!(count(&window, "Magnet 14 of 14"), 0);
    for _ in 0..2 + 24 {
        window.key_press(Key::Tab);
        window.run_steps(3);
    }
    assert_eq!(count(&window, "Magnet 1 of 14, north"), 2);
    window.get_by_label("pole at the gap");
    picture(&mut window, "parts");
}
