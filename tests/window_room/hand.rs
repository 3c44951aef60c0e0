//! The rotor in a hand: EMF in proportion to the speed, and the Hall sensors.

use egui::{Key, Pos2, vec2};
use egui_kittest::kittest::{NodeT as _, Queryable as _};

use super::{Window, click, picture, press, run_for, window};

fn now(window: &Window) -> wyebench::record::Sample {
    window.state().frame().unwrap().now
}

/// Drags the rotor through an angle round the middle of the machine, in so many frames.
fn drag(window: &mut Window, degrees: f32, frames: u16) {
    let middle = super::parts::on_screen(window, wyebench::scene::at(0.0, 0.0));
    let at = |share: f32| -> Pos2 {
        let angle = (degrees * share).to_radians();
        middle + 180.0 * vec2(angle.cos(), -angle.sin())
    };
    window.hover_at(at(0.0));
    window.step();
    window.drag_at(at(0.0));
    window.step();
    for frame in 1..=frames {
        window.hover_at(at(f32::from(frame) / f32::from(frames)));
        window.step();
    }
}

fn let_go(window: &mut Window) {
    window.drop_at(Pos2::new(10.0, 10.0));
    window.run_steps(2);
}

#[test]
fn a_drag_turns_the_rotor_and_the_emf_follows_its_speed() {
    let mut window = window([1360.0, 860.0]);
    press(&mut window, Key::H);
    window.get_by_label_contains("The drive is off and the leads hang free");
    let before = now(&window);
    assert_eq!(before.back_emf_v, [0.0; 3]);
    drag(&mut window, 90.0, 60);
    let slow = now(&window);
    let turned = (slow.theta_mech_rad - before.theta_mech_rad).to_degrees();
    assert!((turned - 90.0).abs() < 2.0, "{turned}°");
    // A quarter turn in a second: 15 rpm.
    assert!(
        (slow.speed_rad_s - 1.57).abs() < 0.15,
        "{}",
        slow.speed_rad_s
    );
    picture(&mut window, "hand");
    let_go(&mut window);
    drag(&mut window, 180.0, 60);
    let fast = now(&window);
    assert!((fast.speed_rad_s / slow.speed_rad_s - 2.0).abs() < 0.1);
    // 920 rpm/V: the largest EMF between two leads is speed over Kv.
    let line = |k: usize| (fast.back_emf_v[k] - fast.back_emf_v[(k + 1) % 3]).abs();
    let wanted = fast.speed_rad_s * 30.0 / std::f64::consts::PI / 920.0;
    let peak = line(0).max(line(1)).max(line(2));
    assert!((peak / wanted - 1.0).abs() < 0.01, "{peak} {wanted}");
    assert_eq!(fast.line_current_a, [0.0; 3], "the drive is off");
    let_go(&mut window);
    window.run_steps(60);
    assert_eq!(now(&window).back_emf_v, [0.0; 3], "at rest");
    // At rest nothing asks for another frame; this would run out of frames.
    window.run();
}

/// `[[step]]` of `tests/reference/machine_relations.toml` (derived there): the code of each step.
#[test]
fn the_hall_sensors_say_the_code_of_the_step() {
    let mut window = window([1360.0, 860.0]);
    click(&mut window, "View");
    click(&mut window, "Turn by hand");
    let mut seen = std::collections::BTreeMap::new();
    window.key_down(Key::ArrowLeft);
    for _ in 0..60 {
        window.step();
        let node = window.get_by_label_contains("Hall sensors: ");
        let label = node.accesskit_node().label().unwrap();
        seen.insert(now(&window).step, label.replace("Hall sensors: ", ""));
    }
    window.key_up(Key::ArrowLeft);
    window.run_steps(2);
    let wanted = [
        (1, "100"),
        (2, "110"),
        (3, "010"),
        (4, "011"),
        (5, "001"),
        (6, "101"),
    ];
    let wanted = wanted.map(|(step, code)| (step, code.to_owned()));
    assert_eq!(seen, wanted.into());
}

#[test]
fn the_drive_takes_the_rotor_back_where_the_run_was() {
    let mut window = window([1360.0, 860.0]);
    run_for(&mut window, 0, 30);
    let before = now(&window);
    press(&mut window, Key::H);
    window.key_down(Key::ArrowRight);
    window.run_steps(20);
    window.key_up(Key::ArrowRight);
    window.run_steps(2);
    assert!(
        now(&window).theta_mech_rad < before.theta_mech_rad,
        "clockwise"
    );
    click(&mut window, "Back to the drive");
    assert_eq!(now(&window), before);
    assert!(!window.state().is_changed(), "the setup has not changed");
}
