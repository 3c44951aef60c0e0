//! The pages in the place of the room: the winding by hand, and two machines side by side.

use egui::Key;
use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wyebench::setup::{Setup, built_in};

use super::bench::control;
use super::forms::{wait_for, wait_until_gone};
use super::{Window, click, count, picture, press, press_ctrl, window, window_on};

const SIZE: [f32; 2] = [1360.0, 860.0];

/// A machine with dimensions: an invented pump motor.
const WITH_DIMENSIONS: &str = r#"
format = 1
title = "Sluice drive"
[machine]
construction = "inrunner"
slots = 9
poles = 6
[machine.emf]
shape = "computed"
[machine.winding]
turns = 24
[machine.geometry]
bore_radius = "15 mm"
air_gap = "0.7 mm"
magnet_thickness = "3 mm"
magnet_arc = 0.85
magnet_remanence = "1.2 T"
stack_length = "30 mm"
slot_opening = "2.4 mm"
tooth_tip = "1.2 mm"
slot_depth = "11 mm"
tooth_width = "5.5 mm"
yoke_thickness = "4 mm"
rotor_yoke_thickness = "5 mm"
wire_diameter = "0.5 mm"
[machine.rotor]
inertia = "8e-6 kg m2"
[supply]
voltage = "24 V"
[drive.pwm]
frequency = "20 kHz"
duty = 0.5
[load]
quadratic = "1e-7 Nm s2/rad2"
[run]
duration = "0.1 s"
"#;

fn disabled(window: &Window, name: &str) -> bool {
    window.get_by_label(name).accesskit_node().is_disabled()
}

#[test]
fn one_coil_the_wrong_way_round_is_told_and_taken_back() {
    let mut window = window(SIZE);
    press(&mut window, Key::Q);
    assert_eq!(count(&window, "In balance: winding factor 0.933"), 1);
    assert!(disabled(&window, "Wind it so"), "nothing has changed");
    picture(&mut window, "winding");
    click(&mut window, "Slot 1, second side: +U");
    assert_eq!(count(&window, "Slot 1, second side: -U"), 1);
    assert_eq!(
        count(&window, "Slot 2, first side: +U"),
        1,
        "the coil's other side follows"
    );
    assert_eq!(
        count(
            &window,
            "Not balanced: the EMF of U is 0.518 times that of V"
        ),
        1
    );
    assert!(disabled(&window, "Wind it so"));
    picture(&mut window, "winding_off");
    press_ctrl(&mut window, Key::Z);
    assert_eq!(count(&window, "In balance"), 1);
    press_ctrl(&mut window, Key::Y);
    assert_eq!(count(&window, "Not balanced"), 1);
    // Left and entered again, the draft waits.
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "Winding by hand"), 0);
    assert!(!window.state().is_changed());
    press(&mut window, Key::Q);
    assert_eq!(count(&window, "Not balanced"), 1);
    click(&mut window, "Start again");
    assert_eq!(count(&window, "In balance"), 1);
}

/// V and W exchanged coil by coil with the keyboard alone: the motor turns the other way round,
/// and the page says so before it is wound.
#[test]
fn a_whole_layout_is_written_by_keyboard_and_wound() {
    let mut window = window(SIZE);
    press(&mut window, Key::Q);
    let setup = Setup::parse(built_in(), "built in").unwrap();
    let winding =
        wyebench::winding::Winding::lay_out(setup.machine.slots, setup.machine.poles, 2, 1);
    for side in winding.unwrap().sides() {
        // Entry by entry; the other side of each coil follows, and is written again in its turn.
        match side.phase {
            wyebench::winding::Phase::U => {}
            wyebench::winding::Phase::V => press(&mut window, Key::W),
            wyebench::winding::Phase::W => press(&mut window, Key::V),
        }
        press(
            &mut window,
            if side.towards_viewer {
                Key::Plus
            } else {
                Key::Minus
            },
        );
        press(&mut window, Key::ArrowRight);
    }
    assert_eq!(count(&window, "In balance: winding factor 0.933"), 1);
    assert_eq!(count(&window, "Its phases follow U, W, V"), 1);
    press(&mut window, Key::Enter);
    assert_eq!(count(&window, "Winding by hand"), 0, "back at the bench");
    assert!(window.state().is_changed());
    press_ctrl(&mut window, Key::Z);
    assert!(
        !window.state().is_changed(),
        "one change, taken back as one"
    );
}

#[test]
fn two_machines_turn_side_by_side() {
    let mut window = window_on(
        [1920.0, 1080.0],
        &Setup::parse(WITH_DIMENSIONS, "dimensions").unwrap(),
    );
    press(&mut window, Key::M);
    assert_eq!(
        count(&window, "Machine A in cross-section: 9 slots, 6 poles"),
        1
    );
    assert!(disabled(&window, "Put B on the bench"));
    let field = control(&window, Role::TextInput, "Poles").unwrap();
    assert_eq!(
        field.accesskit_node().value().unwrap_or_default(),
        "2..10/2"
    );
    click(&mut window, "Find candidates");
    window.run_steps(60);
    assert_eq!(count(&window, "25 of 25 computed"), 1);
    // Asked for as by a screen reader: the line may lie below the edge of the table.
    let line = "Put 12 slots, 8 poles, 24 turns, star as B";
    window.get_by_label(line).click_accesskit();
    window.run_steps(240);
    assert_eq!(
        count(&window, "Machine B in cross-section: 12 slots, 8 poles"),
        1
    );
    picture(&mut window, "beside");
    // What the loss at a torque is, what a run of each comes to, and all of them as marks.
    write(&mut window, "Loss at", "80");
    click(&mut window, "Find candidates");
    assert_eq!(count(&window, "Loss at: a torque above 0 with its unit"), 1);
    write(&mut window, "Loss at", "80 mNm");
    click(&mut window, "run each");
    click(&mut window, "Find candidates");
    let begun =
        |window: &Window| count(window, "25 of 25 computed, 4 cannot be built, 21 of 21 run");
    for _ in 0..4000 {
        if begun(&window) == 1 {
            break;
        }
        window.run_steps(1);
    }
    assert_eq!(begun(&window), 1);
    for heading in ["Cu loss W", "ripple mNm"] {
        assert_eq!(count(&window, heading), 1, "{heading}");
    }
    click(&mut window, "ripple mNm");
    picture(&mut window, "beside_run");
    click(&mut window, "Picture");
    picture(&mut window, "beside_picture");
    assert_eq!(count(&window, "21 candidates: "), 1);
    click(&mut window, "Candidates");
    let line = "Put 12 slots, 10 poles, 24 turns, star as A";
    window.get_by_label(line).click_accesskit();
    window.run_steps(30);
    assert_eq!(
        count(&window, "Machine A in cross-section: 12 slots, 10 poles"),
        1
    );
    assert_eq!(
        count(&window, "Machine B in cross-section: 12 slots, 8 poles"),
        1
    );
    click(&mut window, "Waveforms");
    picture(&mut window, "beside_waveforms");
    click(&mut window, "Change B");
    picture(&mut window, "beside_change");
    click(&mut window, "Put B on the bench");
    window.run_steps(3);
    assert_eq!(
        count(&window, "Machine in cross-section: 12 slots, 8 poles"),
        1
    );
    press_ctrl(&mut window, Key::Z);
    assert_eq!(
        count(&window, "Machine in cross-section: 9 slots, 6 poles"),
        1
    );
}

/// Lists that say nothing are refused with the list named, and a setup without dimensions says
/// what is not compared.
#[test]
fn lists_that_cannot_be_read_are_refused() {
    let mut window = window(SIZE);
    press(&mut window, Key::M);
    assert_eq!(count(&window, "The setup has no dimensions"), 1);
    assert!(control(&window, Role::TextInput, "Turns").is_none());
    control(&window, Role::TextInput, "Slots").unwrap().focus();
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    window.run_steps(2);
    control(&window, Role::TextInput, "Slots")
        .unwrap()
        .type_text("9, many");
    window.run_steps(2);
    click(&mut window, "Find candidates");
    assert_eq!(
        count(&window, "! Slots: “9, many” is not a list of whole numbers"),
        1
    );
    press(&mut window, Key::Escape);
    press(&mut window, Key::Escape);
    assert_eq!(count(&window, "Side by side"), 0);
}

/// Both pages fit a small screen and a light room; a person looks at the pictures.
#[test]
fn the_pages_fit_a_small_screen() {
    for (size, name) in [([1280.0, 720.0], "1280"), ([700.0, 900.0], "700")] {
        let mut window = window_on(size, &Setup::parse(WITH_DIMENSIONS, "dimensions").unwrap());
        press(&mut window, Key::L);
        press(&mut window, Key::Q);
        picture(&mut window, &format!("winding_{name}"));
        press(&mut window, Key::Escape);
        press(&mut window, Key::M);
        click(&mut window, "Find candidates");
        window.run_steps(60);
        picture(&mut window, &format!("beside_{name}"));
        for control in ["Back to the bench", "Find candidates", "Waveforms"] {
            let place = window.get_by_label(control).rect();
            let [right, bottom] = size;
            assert!(
                place.right() <= right && place.bottom() <= bottom && place.width() > 8.0,
                "{name}: {control} at {place:?}"
            );
        }
    }
}

pub(super) fn write(window: &mut Window, name: &str, text: &str) {
    control(window, Role::TextInput, name).unwrap().focus();
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    window.run_steps(2);
    control(window, Role::TextInput, name)
        .unwrap()
        .type_text(text);
    window.run_steps(3);
}

/// Writes over the field that holds this text.
fn rewrite(window: &mut Window, from: &str, to: &str) {
    window
        .query_all_by_role(Role::TextInput)
        .find(|node| node.accesskit_node().value().as_deref() == Some(from))
        .unwrap()
        .focus();
    window.run_steps(2);
    window.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    window.run_steps(2);
    window
        .input_mut()
        .events
        .push(egui::Event::Text(to.to_owned()));
    window.run_steps(3);
}

/// A label is typed in and the figures follow at once; what cannot be is told at its field and
/// the figures stay; a figure opens its formula; the point is simulated; the build goes on the
/// bench.
#[test]
fn a_build_is_predicted_while_it_is_typed() {
    let mut window = window([1360.0, 860.0]);
    press(&mut window, Key::G);
    let speed = |window: &Window| {
        let node = window
            .query_all_by_label_contains("speed: ")
            .next()
            .unwrap();
        node.accesskit_node().label().unwrap_or_default()
    };
    let first = speed(&window);
    picture(&mut window, "prediction");
    write(&mut window, "Kv", "1400 rpm/V");
    let second = speed(&window);
    assert_ne!(first, second);
    write(&mut window, "Kv", "1400");
    assert!(count(&window, "The figures are those of the last form") == 1);
    assert!(count(&window, "! ") >= 2, "told at its field too");
    assert_eq!(speed(&window), second, "the figures stay");
    picture(&mut window, "prediction_wrong");
    write(&mut window, "Kv", "920 rpm/V ± 5 %");
    assert_eq!(speed(&window), first);
    window
        .query_all_by_label_contains("speed: ")
        .next()
        .unwrap()
        .click_accesskit();
    window.run_steps(3);
    assert_eq!(count(&window, "averaged six-step machine"), 1);
    press(&mut window, Key::Escape);
    window.get_by_label("Simulate it").click_accesskit();
    wait_until_gone(&mut window, "Simulating it");
    assert!(count(&window, "simulated") >= 2);
    click(&mut window, "Curves over torque");
    wait_until_gone(&mut window, "Making the curves");
    assert_eq!(count(&window, "Curves Against load torque"), 1);
    picture(&mut window, "prediction_curves");
    click(&mut window, "Curves over duty");
    picture(&mut window, "prediction_duty");
    click(&mut window, "Put it on the bench");
    assert!(window.state().is_changed());
    assert_eq!(
        count(&window, "Machine in cross-section: 12 slots, 14 poles"),
        1
    );
    press_ctrl(&mut window, Key::Z);
    assert!(!window.state().is_changed());
}

/// The example agrees; a miscounted magnet is told with its cause, and a reading is added and
/// taken out again.
#[test]
fn readings_are_judged_while_they_are_typed() {
    let mut window = window([1360.0, 860.0]);
    press(&mut window, Key::J);
    assert_eq!(count(&window, "The readings agree"), 1);
    picture(&mut window, "readings");
    write(&mut window, "Magnets", "12");
    wait_for(&mut window, "These readings cannot all be true");
    assert!(count(&window, "the magnets were miscounted") >= 1);
    picture(&mut window, "readings_off");
    write(&mut window, "Magnets", "14");
    wait_for(&mut window, "The readings agree");
    // two slips at once: neither alone explains it
    write(&mut window, "Magnets", "12");
    wait_for(&mut window, "the magnets were miscounted");
    rewrite(&mut window, "1.92 V", "2.63 V");
    wait_for(&mut window, "No single slip explains it; two at once do");
    assert!(
        count(
            &window,
            "the magnets were miscounted, and a peak was noted as RMS"
        ) >= 1
    );
    picture(&mut window, "readings_two_slips");
    rewrite(&mut window, "2.63 V", "1.92 V");
    write(&mut window, "Magnets", "14");
    wait_for(&mut window, "The readings agree");
    window.get_by_label("Add: Stall").click_accesskit();
    window.run_steps(3);
    assert!(
        count(&window, "The verdict is on the last form") == 1,
        "an empty row lacks its values"
    );
    window.get_by_label("Take out: stall 2").click_accesskit();
    wait_until_gone(&mut window, "The verdict is on the last form");
    click(&mut window, "Put the motor on the bench");
    assert!(window.state().is_changed());
    assert_eq!(
        count(&window, "Machine in cross-section: 12 slots, 14 poles"),
        1
    );
}
