//! Source, capacitor, switch and diode.

use super::WIRE;
use crate::scene::{Align, Edge, LINE_BOLD, LINE_THIN, Point, Scene, Shape, Theme, Width, at};

/// Two cells in a row: long plates are positive. With words of a size.
pub(super) fn source(
    scene: &mut Scene,
    middle: Point,
    (words, type_size): (&str, Width),
    theme: &Theme,
) {
    clear_way(scene, middle, 0.20, theme);
    for (y, half, width) in [
        (0.18, 0.24, 0.03),
        (0.06, 0.12, 0.055),
        (-0.06, 0.24, 0.03),
        (-0.18, 0.12, 0.055),
    ] {
        let (from, to) = (middle + at(-half, y), middle + at(half, y));
        scene.push(Shape::line(from, to, Width::Bench(width), theme.ink));
    }
    scene.push(Shape::text(
        middle + at(-0.2, 0.36),
        "+",
        type_size,
        Align::Centre,
        theme.ink_soft,
    ));
    scene.push(Shape::text(
        at(middle.x, -1.42),
        words,
        type_size,
        Align::Centre,
        theme.ink,
    ));
}

/// Two plates.
pub(super) fn capacitor(scene: &mut Scene, middle: Point, theme: &Theme) {
    clear_way(scene, middle, 0.055, theme);
    for y in [0.055, -0.055] {
        let (from, to) = (middle + at(-0.2, y), middle + at(0.2, y));
        scene.push(Shape::line(from, to, Width::Bench(0.035), theme.ink_soft));
    }
    for rail in [1.0, -1.0] {
        scene.push(Shape::disc(at(middle.x, rail), 0.03, theme.ink_soft, None));
    }
}

/// Takes the wire away between the plates.
fn clear_way(scene: &mut Scene, middle: Point, half: f64, theme: &Theme) {
    let corner = at(0.1, half);
    scene.push(Shape::rect(
        middle - corner,
        middle + corner,
        0.0,
        theme.panel,
        None,
    ));
}

/// A switch: its channel is one bar while it is on and broken in three while it is off.
pub(super) fn switch(scene: &mut Scene, middle: Point, on: bool, theme: &Theme) {
    let half = 0.16;
    let body = at(0.055, half);
    let edge = |colour| {
        Some(Edge {
            width: Width::Points(LINE_THIN),
            colour,
        })
    };
    // A plate under the symbol takes the wire away, so that an open channel is open.
    let plate = at(0.09, half + 0.03);
    if on {
        scene.push(Shape::rect(
            middle - body,
            middle + body,
            0.02,
            theme.ink,
            edge(theme.panel),
        ));
    } else {
        scene.push(Shape::rect(
            middle - plate,
            middle + plate,
            0.0,
            theme.panel,
            None,
        ));
        let third = 2.0 * half / 3.0;
        for piece in [-1.0, 0.0, 1.0] {
            let here = middle + at(0.0, piece * third);
            let corner = at(0.04, 0.32 * third);
            let (low, high) = (here - corner, here + corner);
            scene.push(Shape::rect(
                low,
                high,
                0.01,
                theme.panel,
                edge(theme.ink_soft),
            ));
        }
    }
    let gate = middle + at(-0.13, 0.0);
    let (width, colour) = if on {
        (0.032, theme.ink)
    } else {
        (WIRE, theme.ink_soft)
    };
    scene.push(Shape::line(
        gate + at(0.0, 0.12),
        gate - at(0.0, 0.12),
        Width::Bench(width),
        colour,
    ));
    scene.push(Shape::line(
        gate,
        gate + at(-0.12, 0.0),
        Width::Bench(width),
        colour,
    ));
}

/// The body diode beside a switch, pointing to the positive rail.
pub(super) fn diode(scene: &mut Scene, middle: Point, lit: bool, theme: &Theme) {
    let colour = if lit { theme.ink } else { theme.ink_soft };
    let fill = if lit { theme.ink } else { theme.panel };
    let points = if lit { LINE_BOLD } else { LINE_THIN };
    let (half, low, high) = (0.10, -0.09, 0.09);
    scene.push(Shape::triangle(
        middle + at(-half, low),
        middle + at(half, low),
        middle + at(0.0, high),
        fill,
        Some(Edge {
            width: Width::Points(points),
            colour,
        }),
    ));
    let bar = Width::Bench(if lit { 0.045 } else { 0.025 });
    scene.push(Shape::line(
        middle + at(-half, high),
        middle + at(half, high),
        bar,
        colour,
    ));
}
