//! The window at three sizes and in both themes against pictures that were looked at.
//!
//! The pictures under `tests/snapshots` are a sixth to a half of the window's size, each pixel
//! the mean of what it covers: small files, and a comparison that forgives how one device rounds
//! an edge but not a control that moved. `INSTA_UPDATE=always cargo test --test looks` draws
//! them anew; look at them before they are committed.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test stops where something is not as it should be, and prints what it measured"
)]

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use resvg::tiny_skia::{IntSize, Pixmap};
use wyebench::app::{App, Shown};
use wyebench::setup::{Setup, built_in};

/// Mean difference of a channel that is allowed, of 255, and share of pixels in which some
/// channel may differ by more than an eighth of its range. The same device draws the same to the
/// last bit; other versions and devices round edges their own way. One button moved by half its
/// width must be told: `a_moved_button_is_told` holds that against these two.
const MEAN: f64 = 0.5;
const FAR: f64 = 0.000_5;

/// Width of every picture, in pixels.
const WIDTH: u32 = 640;

/// The mean of each square of that many pixels.
fn smaller(pixels: &[u8], [width, height]: [u32; 2]) -> (Vec<u8>, [u32; 2]) {
    let by = width / WIDTH;
    let size = [width / by, height / by];
    let mut out = Vec::with_capacity(4 * (size[0] * size[1]) as usize);
    for y in 0..size[1] {
        for x in 0..size[0] {
            for channel in 0..4 {
                let mut sum = 0_u32;
                for dy in 0..by {
                    for dx in 0..by {
                        let at = 4 * ((y * by + dy) * width + x * by + dx) + channel;
                        sum += u32::from(pixels[at as usize]);
                    }
                }
                out.push(u8::try_from((sum + by * by / 2) / (by * by)).unwrap());
            }
        }
    }
    (out, size)
}

/// Mean difference of a channel, and share of pixels that are far off.
fn apart(got: &[u8], wanted: &[u8]) -> (f64, f64) {
    let pairs = got.iter().zip(wanted);
    let total: u64 = pairs.map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
    let far = got
        .chunks_exact(4)
        .zip(wanted.chunks_exact(4))
        .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > 32))
        .count();
    let n_bytes = got.len() as f64;
    (total as f64 / n_bytes, 4.0 * far as f64 / n_bytes)
}

/// The button *Step back* of the small screen, moved to the right by half its width.
#[test]
fn a_moved_button_is_told() {
    for face in ["dark", "light"] {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/snapshots");
        let picture = Pixmap::load_png(format!("{folder}/window_1280x720_{face}.png")).unwrap();
        let width = picture.width() as usize;
        let mut moved = picture.data().to_vec();
        // In pixels of the picture, which is half the window's size.
        let (left, top, w, h, by) = (46, 305, 41, 14, 20);
        for y in top..top + h {
            for x in 0..w + by {
                let to = 4 * (y * width + left + x);
                // What it leaves behind is the panel beside it.
                let from = if x < by {
                    4 * (y * width + left - 2)
                } else {
                    to - 4 * by
                };
                moved[to..to + 4].copy_from_slice(&picture.data()[from..from + 4]);
            }
        }
        let (mean, far) = apart(&moved, picture.data());
        println!("{face}: a moved button is mean {mean:.3}, far {far:.5}");
        assert!(mean > MEAN || far > FAR, "{face}: {mean:.3} {far:.5}");
    }
}

/// Compares with the picture of that name, or draws it anew where that is asked.
fn compare(name: &str, pixels: Vec<u8>, [width, height]: [u32; 2]) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/snapshots");
    let path = format!("{folder}/{name}.png");
    let size = IntSize::from_wh(width, height).unwrap();
    let got = Pixmap::from_vec(pixels, size).unwrap();
    if std::env::var("INSTA_UPDATE").is_ok_and(|wish| wish == "always") {
        got.save_png(&path).unwrap();
    }
    let wanted = Pixmap::load_png(&path).unwrap_or_else(|error| {
        panic!("{path}: {error}; INSTA_UPDATE=always draws it, then look at it")
    });
    assert_eq!((wanted.width(), wanted.height()), (width, height), "{name}");
    let (mean, far) = apart(got.data(), wanted.data());
    println!("{name:<24} mean {mean:.3} of 255 (at most {MEAN}), far {far:.5} (at most {FAR})");
    if mean > MEAN || far > FAR {
        let path = format!("{}/{name}.png", env!("CARGO_TARGET_TMPDIR"));
        got.save_png(&path).unwrap();
        panic!("{name}: mean {mean:.3}, far {far:.5}; what was drawn is at {path}");
    }
}

/// Runs the built-in setup for five seconds of the show, pauses, and takes both faces.
fn look(size: [u16; 2]) {
    let setup = Setup::parse(built_in(), "built-in").unwrap();
    let shown = Shown::new(&setup).unwrap();
    let mut window = Harness::builder()
        .with_size(size.map(f32::from))
        .with_step_dt(1.0 / 60.0)
        .wgpu()
        .build_eframe(|creation| App::new(creation, shown, setup));
    window.run();
    window.get_by_label("Run").click();
    window.run_steps(300);
    window.get_by_label("Pause").click();
    window.run();
    for face in ["dark", "light"] {
        // Nothing under the pointer, no control with the keyboard.
        window.hover_at(egui::pos2(2.0, f32::from(size[1]) - 2.0));
        window.ctx.memory_mut(|memory| {
            if let Some(focused) = memory.focused() {
                memory.surrender_focus(focused);
            }
        });
        window.run();
        let image = window.render().unwrap();
        let whole = [image.width(), image.height()];
        assert_eq!(whole, size.map(u32::from), "a pixel a point");
        let (pixels, small) = smaller(&image.into_raw(), whole);
        compare(
            &format!("window_{}x{}_{face}", size[0], size[1]),
            pixels,
            small,
        );
        window.key_press(egui::Key::L);
        window.run();
    }
}

/// Takes one face of a window as it stands.
fn take(window: &mut Harness<'static, App>, name: &str) {
    let size = window.ctx.content_rect().size() * window.ctx.zoom_factor();
    window.hover_at(egui::pos2(2.0, window.ctx.content_rect().height() - 2.0));
    window.ctx.memory_mut(|memory| {
        if let Some(focused) = memory.focused() {
            memory.surrender_focus(focused);
        }
    });
    window.run();
    let image = window.render().unwrap();
    let whole = [image.width(), image.height()];
    assert!((size.x - whole[0] as f32).abs() < 1.0, "a pixel a point");
    let (pixels, small) = smaller(&image.into_raw(), whole);
    compare(name, pixels, small);
}

/// The course: its list, a lesson beside the bench after the first guess, a question of a talk.
#[test]
fn the_course() {
    let open = |size: [f32; 2]| {
        let setup = Setup::parse(built_in(), "built-in").unwrap();
        let shown = Shown::new(&setup).unwrap();
        let mut window = Harness::builder()
            .with_size(size)
            .with_step_dt(1.0 / 60.0)
            .wgpu()
            .build_eframe(|creation| App::new(creation, shown, setup));
        window.run();
        window
    };
    let mut list = open([1280.0, 720.0]);
    list.get_by_label("Lessons").click();
    list.run();
    take(&mut list, "course_list_1280x720_dark");
    for (w, h) in [(1280_u16, 720_u16), (1920, 1080)] {
        let mut window = open([f32::from(w), f32::from(h)]);
        let files = wyebench::lesson::course::files("01-why-a-magnet-turns").unwrap();
        window.state_mut().open_lesson(files).unwrap();
        // the runs of a lesson are made a part to a frame
        window.run_steps(60);
        window
            .get_by_label("b) It turns part of a turn and stops.")
            .click();
        window.run_steps(180);
        window.get_by_label("Pause").click();
        window.run();
        take(&mut window, &format!("lesson_{w}x{h}_dark"));
        if w == 1280 {
            for key in [
                egui::Key::L,
                egui::Key::T,
                egui::Key::ArrowRight,
                egui::Key::ArrowRight,
            ] {
                window.key_press(key);
                window.run();
            }
            take(&mut window, "talk_1280x720_light");
        }
    }
}

#[test]
fn a_small_screen() {
    look([1280, 720]);
}

#[test]
fn a_usual_screen() {
    look([1920, 1080]);
}

#[test]
fn a_large_screen() {
    look([3840, 2160]);
}
