//! How the three phases are joined, in the corner of the picture: star point or delta.

use super::{MachineView, REACH};
use crate::scene::{
    Align, LINE_THIN, Point, Scene, Shape, TURN, Theme, Width, at, path, phase_dash,
};
use crate::setup::Connection;
use crate::winding::Phase;

/// Radius of the terminals' circle.
const RADIUS: f64 = 0.175;
/// Width of a winding's line.
const WIDTH: f64 = 0.011;

/// Draws the three windings between their terminals.
pub(super) fn terminals(scene: &mut Scene, view: &MachineView<'_>, theme: &Theme) {
    let middle = at(REACH - 0.31, -REACH + 0.20);
    let corner = |phase: Phase| middle + Point::polar(RADIUS, direction_rad(phase));
    for phase in Phase::ALL {
        let (start, end) = match view.connection {
            Connection::Star => (corner(phase), middle),
            // U2-V1, V2-W1, W2-U1.
            Connection::Delta => (corner(phase), corner(next(phase))),
        };
        winding(scene, start, end, phase, theme);
        let share = view.phase_current_a[phase.idx()] / view.full_current_a.max(1e-12);
        current_head(scene, start, end, share, theme);
    }
    if view.connection == Connection::Star {
        scene.push(Shape::disc(middle, 0.02, theme.ink, None));
    }
    for phase in Phase::ALL {
        let place = corner(phase);
        scene.push(Shape::disc(
            place,
            0.022,
            theme.ground,
            super::thin(theme.ink_soft),
        ));
        let words = format!("{}1", phase.letter());
        let anchor = middle + Point::polar(RADIUS + 0.07, direction_rad(phase));
        scene.push(Shape::text(
            anchor,
            words,
            Width::Bench(0.055),
            Align::Centre,
            theme.phase(phase),
        ));
    }
}

/// U upwards, V and W after it in the order of positive rotation.
fn direction_rad(phase: Phase) -> f64 {
    TURN / 4.0 + TURN / 3.0 * f64::from(phase as u8)
}

const fn next(phase: Phase) -> Phase {
    match phase {
        Phase::U => Phase::V,
        Phase::V => Phase::W,
        Phase::W => Phase::U,
    }
}

/// A winding as three half circles between straight leads, in its phase's hue and line style.
fn winding(scene: &mut Scene, from: Point, to: Point, phase: Phase, theme: &Theme) {
    let colour = theme.phase(phase);
    let dash = phase_dash(phase, WIDTH);
    let width = Width::Bench(WIDTH);
    let along = (to - from).unit();
    let length = (to - from).length();
    let radius = 0.11 * length;
    let first = from + along * (0.55 * length - 3.0 * radius);
    let last = from + along * (0.55 * length + 3.0 * radius);
    scene
        .shapes
        .extend(path(&[from, first], width, colour, dash));
    scene.shapes.extend(path(&[last, to], width, colour, dash));
    let mut gone = 0.0;
    for turn in [1.0, 3.0, 5.0] {
        let start_rad = libm::atan2(-along.y, -along.x);
        scene.push(Shape::Arc {
            centre: first + along * (turn * radius),
            radius,
            start_rad,
            sweep_rad: -TURN / 2.0,
            width,
            colour,
            dash: dash.map(|dash| crate::scene::Dash {
                offset: -gone,
                ..dash
            }),
        });
        gone += TURN / 2.0 * radius;
    }
}

/// A triangle on the lead that points the way the current flows, as large as the current.
fn current_head(scene: &mut Scene, from: Point, to: Point, share: f64, theme: &Theme) {
    if share.abs() < 0.01 {
        return;
    }
    let size = 0.042 * libm::sqrt(share.abs().min(1.0));
    let along = (to - from).unit() * if share > 0.0 { 1.0 } else { -1.0 };
    let middle = from.towards(to, 0.14);
    let (tip, back, side) = (
        along * (0.6 * size),
        along * (-0.5 * size),
        along.left() * (0.5 * size),
    );
    scene.push(Shape::triangle(
        middle + tip,
        middle + back + side,
        middle + back - side,
        theme.ink,
        Some(crate::scene::Edge {
            width: Width::Points(LINE_THIN),
            colour: theme.ground,
        }),
    ));
}
