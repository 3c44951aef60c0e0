//! At every usual size of the window, in both rooms, nothing is cut and nothing overlaps.

use egui::Key;
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};

use super::{Window, picture, press, press_ctrl, run_for, window};

/// Roles of what a person works with.
const CONTROLS: [Role; 4] = [Role::Button, Role::ComboBox, Role::TextInput, Role::Slider];

/// Names and places of all controls, those outside the window too.
fn controls(window: &Window) -> Vec<(String, egui::Rect)> {
    window
        .root()
        .children_recursive()
        .filter(|node| CONTROLS.contains(&node.accesskit_node().role()))
        .map(|node| {
            let own = node.accesskit_node().label();
            (own.unwrap_or_else(|| "a field".to_owned()), node.rect())
        })
        .collect()
}

#[track_caller]
fn apart_and_whole(window: &Window, face: &str) {
    let all = window.ctx.content_rect();
    let controls = controls(window);
    assert!(controls.len() >= 16, "{face}: {} controls", controls.len());
    for (idx, (name, rect)) in controls.iter().enumerate() {
        assert!(
            all.expand(0.5).contains_rect(*rect),
            "{face}: {name} at {rect:?} leaves {all:?}"
        );
        for (other, other_rect) in &controls[idx + 1..] {
            let both = rect.shrink(0.5).intersect(other_rect.shrink(0.5));
            assert!(
                !both.is_positive(),
                "{face}: {name} at {rect:?} lies on {other} at {other_rect:?}"
            );
        }
    }
}

#[test]
fn nothing_is_cut_and_nothing_overlaps() {
    for size in [
        [500.0, 900.0],
        [1280.0, 720.0],
        [1920.0, 1080.0],
        [3840.0, 2160.0],
    ] {
        let mut window = window(size);
        run_for(&mut window, 2, 60);
        for room in ["dark", "light"] {
            let face = format!("room_{}x{}_{room}", size[0], size[1]);
            apart_and_whole(&window, &face);
            picture(&mut window, &face);
            press(&mut window, Key::L);
        }
    }
}

/// On a small window the drawer scrolls, and lies over what is under it; its controls stay apart.
#[test]
fn a_small_window_shows_drawer_sheets_and_dialogs_whole() {
    let mut window = window([1280.0, 720.0]);
    run_for(&mut window, 2, 60);
    press(&mut window, Key::D);
    picture(&mut window, "small_drawer");
    press(&mut window, Key::F);
    picture(&mut window, "small_figures");
    window.get_by_label_contains("copper loss: ");
    press(&mut window, Key::Escape);
    press(&mut window, Key::H);
    picture(&mut window, "small_hand");
    press(&mut window, Key::H);
    press(&mut window, Key::L);
    press_ctrl(&mut window, Key::O);
    picture(&mut window, "small_open_light");
    press(&mut window, Key::Escape);
    press(&mut window, Key::P);
    window.run_steps(4);
    picture(&mut window, "small_presenter_light");
}

/// The menus and an explanation, for a person to look at.
#[test]
fn menus_and_explanations_are_drawn() {
    let mut window = window([1280.0, 720.0]);
    run_for(&mut window, 6, 60);
    window.get_by_label("Setup").click();
    window.run_steps(4);
    picture(&mut window, "menu_setup");
    press(&mut window, Key::Escape);
    window.get_by_label("View").click();
    window.run_steps(4);
    picture(&mut window, "menu_view");
    press(&mut window, Key::Escape);
    window
        .get_by_label_contains("torque ripple, peak to peak: ")
        .click();
    window.run_steps(4);
    picture(&mut window, "why");
}

/// On a wall of 3840 points the words grow with the window until a person sets a size.
#[test]
fn a_very_wide_window_is_larger_by_itself() {
    let mut window = window([3840.0, 2160.0]);
    window.run_steps(4);
    assert_eq!(window.ctx.zoom_factor(), 1.75);
    press_ctrl(&mut window, Key::Num0);
    window.run_steps(4);
    assert_eq!(window.ctx.zoom_factor(), 1.0, "a person's size stays");
}
