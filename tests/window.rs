//! The window by accessible role and name, with a given clock.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    reason = "a test stops where something is not as it should be"
)]

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use wyebench::app::{App, Shown};
use wyebench::setup::{Setup, built_in};

/// The built-in setup in a window of that size; a frame takes a sixtieth of a second.
fn window(size: [f32; 2]) -> Harness<'static, App> {
    let setup = Setup::parse(built_in(), "built-in").unwrap();
    let shown = Shown::new(&setup).unwrap();
    Harness::builder()
        .with_size(size)
        .with_step_dt(1.0 / 60.0)
        .wgpu()
        .build_eframe(|creation| App::new(creation, shown, setup))
}

#[test]
fn it_opens_paused_and_runs_and_pauses_again() {
    let mut window = window([1360.0, 860.0]);
    window.run();
    assert!(!window.state().time().running);
    window.get_by_label("Run").click();
    window.run_steps(30);
    let cursor_s = window.state().time().cursor_s;
    // 30 frames of a sixtieth, two hundred times slower; the click takes effect within three.
    assert!((0.002..=0.002_75).contains(&cursor_s), "{cursor_s}");
    window.get_by_label("Pause").click();
    window.run();
    let paused_s = window.state().time().cursor_s;
    window.run_steps(10);
    assert_eq!(window.state().time().cursor_s, paused_s, "paused is still");
}

#[test]
fn slower_and_faster_say_what_they_did() {
    let mut window = window([1360.0, 860.0]);
    window.get_by_label("1 s here = 5 ms there");
    window.get_by_label("Slower").click();
    window.run();
    window.get_by_label("1 s here = 2 ms there");
    window.get_by_label("Faster").click();
    window.run();
    window.get_by_label("1 s here = 5 ms there");
}

#[test]
fn a_step_back_goes_to_the_change_before_and_the_table_follows() {
    let mut window = window([1360.0, 860.0]);
    for _ in 0..7 {
        window.get_by_label("Faster").click();
        window.run();
    }
    window.get_by_label("Run").click();
    window.run_steps(20);
    window.get_by_label("Pause").click();
    window.run();
    let before = window.state().frame().unwrap();
    assert!(
        before.now.time_s > 0.1,
        "a third of a second of life: {}",
        before.now.time_s
    );
    window.get_by_label("Step back").click();
    window.run();
    let after = window.state().frame().unwrap();
    assert!(after.now.time_s < before.now.time_s);
    window.get_by_label(&format!("Step {} of six", after.now.step));
}

#[test]
fn every_picture_says_what_it_shows() {
    let mut window = window([1360.0, 860.0]);
    window.run();
    window.get_by_label_contains("12 slots, 14 poles");
    window.get_by_label_contains("Bridge: U");
    window.get_by_label_contains(
        "Waveforms over time: lead currents, phase back-EMF, torque, legs; ",
    );
    window.get_by_label_contains("mean speed: ");
    window.get_by_label("Time in ms");
}

#[test]
fn a_narrow_window_keeps_every_control() {
    let mut window = window([500.0, 900.0]);
    window.run();
    for name in [
        "Run",
        "Step back",
        "Step on",
        "Slower",
        "Faster",
        "Setup",
        "View",
    ] {
        window.get_by_label(name);
    }
}

/// Leaves pictures of both faces in `target/tmp` for a person to look at.
#[test]
fn the_window_draws_something_everywhere() {
    for (name, size) in [("wide", [1360.0, 860.0]), ("narrow", [500.0, 900.0])] {
        let mut window = window(size);
        window.run();
        window.get_by_label("Run").click();
        window.run_steps(240);
        for face in ["dark", "light"] {
            let image = window.render().unwrap();
            let path = format!("{}/window_{name}_{face}.png", env!("CARGO_TARGET_TMPDIR"));
            let (width, height) = (image.width(), image.height());
            let pixels = image.into_raw();
            let colours: std::collections::BTreeSet<[u8; 4]> = pixels
                .chunks_exact(4)
                .map(|pixel| [pixel[0], pixel[1], pixel[2], pixel[3]])
                .collect();
            assert!(
                colours.len() > 200,
                "{name} {face}: {} colours",
                colours.len()
            );
            let size = resvg::tiny_skia::IntSize::from_wh(width, height).unwrap();
            resvg::tiny_skia::Pixmap::from_vec(pixels, size)
                .unwrap()
                .save_png(path)
                .unwrap();
            if face == "dark" {
                window.key_press(egui::Key::L);
                window.run_steps(3);
            }
        }
    }
}

/// What stands on the bench is a click away, every value by its name.
#[test]
fn the_drawer_opens_and_closes() {
    let mut window = window([1360.0, 860.0]);
    window.run();
    assert!(
        window.query_by_label("Poles").is_none(),
        "closed from the start"
    );
    window.get_by_label("Bench").click();
    window.run();
    for name in [
        "Poles",
        "Slots",
        "Chop mode",
        "Direction",
        "Connection",
        "EMF shape",
    ] {
        assert!(window.query_all_by_label(name).next().is_some(), "{name}");
    }
    window.get_by_label("Bench").click();
    window.run();
    assert!(window.query_by_label("Poles").is_none(), "closed again");
}

/// Steps of every kind, by their keys, from the instant at which the run pauses.
#[test]
fn keys_step_by_what_was_chosen() {
    let mut window = window([1360.0, 860.0]);
    for _ in 0..4 {
        window.key_press(egui::Key::ArrowUp);
        window.run();
    }
    window.get_by_label("1 s here = 100 ms there");
    window.key_press(egui::Key::Space);
    window.run_steps(60);
    window.key_press(egui::Key::Space);
    window.run();
    let paused_s = window.state().time().cursor_s;
    assert!(paused_s > 0.05, "{paused_s}");
    let mut last_s = 0.0;
    for key in [
        egui::Key::Num1,
        egui::Key::Num2,
        egui::Key::Num3,
        egui::Key::Num4,
    ] {
        window.key_press(key);
        window.run();
        window.key_press(egui::Key::ArrowLeft);
        window.run();
        let back_s = window.state().time().cursor_s;
        window.key_press(egui::Key::ArrowRight);
        window.run();
        let on_s = window.state().time().cursor_s;
        assert!(on_s - back_s > last_s, "{key:?}: {back_s} {on_s}");
        last_s = on_s - back_s;
    }
    // A whole turn of the rotor cannot be left of the record: the run went on for it.
    for _ in 0..3 {
        window.key_press(egui::Key::ArrowRight);
        window.run();
    }
    let beyond_s = window.state().time().cursor_s;
    assert!(
        beyond_s > paused_s + 2.0 * last_s,
        "{beyond_s} {paused_s} {last_s}"
    );
}

/// Cursors by keys, read out by name; the folded axis has its own.
#[test]
fn cursors_stand_where_they_are_put() {
    let mut window = window([1360.0, 860.0]);
    window.get_by_label("Run").click();
    window.run_steps(120);
    window.get_by_label("Pause").click();
    window.run();
    for name in ["A", "B"] {
        window.get_by_label(name).click();
        window.run();
    }
    window.get_by_label_contains("; cursor A at 0.00");
    window.get_by_label_contains("; cursor B at 0.00");
    window.key_press(egui::Key::E);
    window.run();
    window.get_by_label_contains(
        "Waveforms over electrical angle: lead currents, phase back-EMF, torque, legs; 360° in sight",
    );
    window.get_by_label("Time").click();
    window.run();
    window.get_by_label("A").click();
    window.run();
    assert!(window.query_by_label_contains("; cursor A").is_none());
}

/// A spectrum by name, over the whole turns that are there; and back.
#[test]
fn a_spectrum_is_a_menu_away() {
    let mut window = window([1360.0, 860.0]);
    window.run();
    window.get_by_label("Spectrum").click();
    window.run();
    window.get_by_label("torque").click();
    window.run();
    window.get_by_label("Spectrum: no whole electrical turn yet");
    window.get_by_label("Waveforms").click();
    window.run();
    for _ in 0..6 {
        window.get_by_label("Faster").click();
        window.run();
    }
    window.get_by_label("Run").click();
    window.run_steps(90);
    window.get_by_label("Pause").click();
    window.run();
    window.get_by_label("Spectrum").click();
    window.run();
    window.get_by_label("speed").click();
    window.run();
    window.get_by_label_contains("Spectrum of speed over 8 electrical turns");
}
