//! What a person can do in the window, by accessible role and name, with a given clock.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test stops where something is not as it should be, and looks at the files that were written"
)]

mod bench;
mod course;
mod figures;
mod forms;
mod hand;
mod keys;
mod layout;
mod pages;
mod parts;
mod setups;

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use wyebench::app::{App, Shown};
use wyebench::setup::{Setup, built_in};

type Window = Harness<'static, App>;

/// The built-in setup in a window of that size; a frame takes a sixtieth of a second.
fn window(size: [f32; 2]) -> Window {
    window_on(size, &Setup::parse(built_in(), "built-in").unwrap())
}

/// The same on another setup.
fn window_on(size: [f32; 2], setup: &Setup) -> Window {
    let shown = Shown::new(setup).unwrap();
    let setup = setup.clone();
    let mut window = Harness::builder()
        .with_size(size)
        .with_step_dt(1.0 / 60.0)
        .wgpu()
        .build_eframe(|creation| App::new(creation, shown, setup));
    window.run();
    window
}

/// Lets the show run so many steps of the pace faster than at the start, for so many frames,
/// and pauses it.
fn run_for(window: &mut Window, faster: u32, frames: usize) {
    for _ in 0..faster {
        click(window, "Faster");
    }
    click(window, "Run");
    window.run_steps(frames);
    click(window, "Pause");
}

/// Clicks what has that name, and lets a frame or two go by.
fn click(window: &mut Window, name: &str) {
    window.get_by_label(name).click();
    window.run_steps(3);
}

/// Presses a key that nothing else has asked for.
fn press(window: &mut Window, key: egui::Key) {
    window.key_press(key);
    window.run_steps(3);
}

/// All accessible names and values that hold these words.
fn count(window: &Window, words: &str) -> usize {
    window.query_all_by_label_contains(words).count()
}

/// Presses a key with Ctrl, or the command key of a Mac.
fn press_ctrl(window: &mut Window, key: egui::Key) {
    window.key_press_modifiers(egui::Modifiers::COMMAND, key);
    window.run_steps(3);
}

/// Leaves a picture in `target/tmp` for a person to look at.
fn picture(window: &mut Window, name: &str) {
    let image = window.render().unwrap();
    let (width, height) = (image.width(), image.height());
    let size = resvg::tiny_skia::IntSize::from_wh(width, height).unwrap();
    let path = format!("{}/room_{name}.png", env!("CARGO_TARGET_TMPDIR"));
    resvg::tiny_skia::Pixmap::from_vec(image.into_raw(), size)
        .unwrap()
        .save_png(path)
        .unwrap();
}
