//! Pictures from the painters against the SVG of the same scene.
//!
//! Two renderers that share nothing but the shapes: the shaders with their signed distances, and
//! resvg, which fills paths. Where they agree, both draw what the scene says.
#![cfg(feature = "window")]
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test stops where something is not as it should be, prints what it measured, and \
              may draw any curve"
)]

mod common;

use common::{bridges, machines};
use wyebench::scene::{Colour, Dash, Scene, Shape, Theme, Width, at, to_svg};
use wyebench::view::Offscreen;

/// Pixels of an SVG, RGBA row by row.
fn resvg_pixels(scene: &Scene, size_px: [u32; 2], ground: Colour) -> Vec<u8> {
    let svg = to_svg(scene, size_px.map(f64::from), ground, false);
    let tree = resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).unwrap();
    let mut pixels = resvg::tiny_skia::Pixmap::new(size_px[0], size_px[1]).unwrap();
    resvg::render(
        &tree,
        resvg::tiny_skia::Transform::identity(),
        &mut pixels.as_mut(),
    );
    pixels.data().to_vec()
}

/// How far two pictures are apart: the mean difference of a channel, and the share of pixels in
/// which some channel differs by more than a quarter of its range.
fn apart(a: &[u8], b: &[u8]) -> (f64, f64) {
    assert_eq!(a.len(), b.len());
    let total: u64 = a
        .iter()
        .zip(b)
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    let far = a
        .chunks_exact(4)
        .zip(b.chunks_exact(4))
        .filter(|(a, b)| a.iter().zip(*b).any(|(a, b)| a.abs_diff(*b) > 64))
        .count();
    let (bytes, pixels) = (a.len() as f64, a.len() as f64 / 4.0);
    (total as f64 / bytes, far as f64 / pixels)
}

/// Leaves a picture where a person can look at it: in `target/tmp`.
fn save(name: &str, pixels: &[u8], size_px: [u32; 2]) {
    let name = name.replace([' ', '/', ','], "_");
    let path = format!("{}/{name}.png", env!("CARGO_TARGET_TMPDIR"));
    let size = resvg::tiny_skia::IntSize::from_wh(size_px[0], size_px[1]).unwrap();
    resvg::tiny_skia::Pixmap::from_vec(pixels.to_vec(), size)
        .unwrap()
        .save_png(path)
        .unwrap();
}

/// Draws with both and compares.
///
/// The tolerance: a pixel on an outline may differ, because resvg counts sixteenths of a pixel
/// and the painters take the distance from the middle, which at a sharp corner is not the
/// covered area; and the lamp's glow, which fills the picture, is rounded to bytes in two ways
/// and so is one step off in many places. Together that is below 1 of 255 on average. Hardly a
/// pixel may be quite different: three in two thousand.
fn compare(offscreen: &Offscreen, name: &str, scene: &Scene, size_px: [u32; 2], ground: Colour) {
    compare_within(offscreen, name, scene, size_px, ground, [1.0, 0.0015]);
}

/// The same with a tolerance of its own: mean difference of 255, and share of pixels.
fn compare_within(
    offscreen: &Offscreen,
    name: &str,
    scene: &Scene,
    size_px: [u32; 2],
    ground: Colour,
    [most_mean, most_far]: [f64; 2],
) {
    let ours = offscreen.render(scene, size_px, 1.0, ground).unwrap();
    let theirs = resvg_pixels(scene, size_px, ground);
    let face = if ground.luminance() > 0.5 {
        "light"
    } else {
        "dark"
    };
    save(&format!("{name} {face} painters"), &ours, size_px);
    save(&format!("{name} {face} svg"), &theirs, size_px);
    let (mean, far) = apart(&ours, &theirs);
    println!(
        "{name:<28} mean {mean:.3} of 255 (below {most_mean}), far {far:.5} (below {most_far})"
    );
    assert!(
        mean < most_mean && far < most_far,
        "{name}: mean {mean:.3}, far {far:.5}"
    );
}

#[test]
fn painters_and_svg_draw_the_same() {
    let offscreen = Offscreen::new().expect("a software Vulkan device: mesa-vulkan-drivers");
    println!("{}", offscreen.name());
    for theme in [Theme::DARK, Theme::LIGHT] {
        for (name, scene) in machines(&theme) {
            compare(&offscreen, &name, &scene, [700, 700], theme.ground);
        }
        for (name, scene) in bridges(&theme) {
            compare(&offscreen, &name, &scene, [700, 340], theme.panel);
        }
    }
    for theme in [Theme::DARK, Theme::LIGHT] {
        for (name, scene) in waveforms(&theme) {
            // Waveforms are outline almost everywhere, and the painters blend each column by
            // itself where the SVG has one path: a few pixels in a thousand are quite different.
            let (size, within) = ([600, 420], [2.0, 0.005]);
            compare_within(&offscreen, name, &scene, size, theme.panel, within);
        }
    }
    compare(
        &offscreen,
        "every shape",
        &every_shape(),
        [640, 640],
        Colour::hex(0xFFFFFF),
    );
}

/// Waveforms of the built-in setup's first 40 ms: a stretch of time, and turns over each other.
fn waveforms(theme: &Theme) -> Vec<(&'static str, Scene)> {
    use wyebench::record::{Tape, Taping};
    use wyebench::scene::plots::{Axis, PlotView, Row, plots};
    let setup = wyebench::setup::Setup::parse(wyebench::setup::built_in(), "built-in").unwrap();
    let mut tape = Tape::new(200_000, setup.machine.connection);
    let mut sink = Taping {
        tape: &mut tape,
        spacing_s: 1e-5,
    };
    let mut simulator = wyebench::sim::Simulator::new(&setup);
    simulator.run_until(0.04, &mut sink).unwrap();
    let time = Axis::Time {
        from: 0.036,
        to: 0.041,
    };
    let angle = Axis::Angle {
        from: 0.0,
        to: 360.0,
        turns: 3,
    };
    [("waveforms over time", time), ("waveforms folded", angle)]
        .map(|(name, axis)| {
            let view = PlotView {
                tape: &tape,
                now_s: 0.0398,
                rows: &[
                    Row::LeadCurrents,
                    Row::PhaseBackEmf,
                    Row::TerminalVoltages,
                    Row::Torque,
                    Row::Legs,
                ],
                axis,
                cursors: [Some(axis.place(0.3)), Some(axis.place(0.6))],
                kept: None,
                lit: None,
            };
            (name, plots(&view, [600.0, 420.0], theme))
        })
        .to_vec()
}

/// Shapes that the machine does not happen to use: wide sectors, dashes on arcs, traces.
fn every_shape() -> Scene {
    let mut scene = Scene::new(at(-1.0, -1.0), at(1.0, 1.0));
    let (ink, red) = (Colour::hex(0x202020), Colour::hex(0xB03020));
    let edge = Some(wyebench::scene::Edge {
        width: Width::Points(3.0),
        colour: red,
    });
    for (idx, sweep_deg) in [40.0_f64, 120.0, 200.0, 300.0].into_iter().enumerate() {
        scene.push(Shape::RingSector {
            centre: at(-0.7 + 0.45 * idx as f64, 0.7),
            inner: 0.08,
            outer: 0.19,
            middle_rad: 0.7 + idx as f64,
            sweep_rad: sweep_deg.to_radians(),
            corner: 0.025,
            fill: Colour::hex(0x80A0C0),
            edge,
        });
        let dash = Some(Dash {
            on: 0.05,
            period: 0.12,
            offset: 0.03 * idx as f64,
        });
        scene.push(Shape::Arc {
            centre: at(-0.7 + 0.45 * idx as f64, 0.25),
            radius: 0.15,
            start_rad: 0.3,
            sweep_rad: if idx % 2 == 0 { sweep_deg } else { -sweep_deg }.to_radians(),
            width: Width::Bench(0.03),
            colour: ink,
            dash: if idx < 3 { dash } else { None },
        });
        let y = -0.1 - 0.08 * idx as f64;
        scene.push(Shape::Line {
            from: at(-0.9, y),
            to: at(0.3, y - 0.03),
            width: Width::Points(4.0),
            colour: ink,
            dash: if idx > 0 { dash } else { None },
        });
    }
    scene.push(Shape::Arrow {
        from: at(0.4, -0.4),
        to: at(0.85, 0.0),
        width: 0.06,
        head: 0.18,
        fill: Colour::hex(0x80C080),
        edge,
    });
    let ranges = (0..80)
        .map(|k| {
            let y = -0.7 + 0.15 * (f64::from(k) / 6.0).sin();
            if k == 40 { [y - 0.2, y + 0.2] } else { [y, y] }
        })
        .collect();
    let (left, column) = (-0.9, 1.8 / 79.0);
    scene.push(Shape::Trace {
        left,
        column,
        ranges,
        width: Width::Points(2.0),
        colour: red,
    });
    scene
}

#[test]
fn an_impossible_size_is_an_error_that_says_so() {
    let offscreen = Offscreen::new().expect("a software Vulkan device: mesa-vulkan-drivers");
    let error = offscreen
        .render(&every_shape(), [0, 10], 1.0, Colour::hex(0))
        .unwrap_err();
    assert!(error.to_string().contains("0 by 10 pixels"), "{error}");
}
