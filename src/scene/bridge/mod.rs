//! The three legs of the bridge, the supply, and the way the current takes.
//!
//! ```text
//!   +──┬──────┬──────┬──────┐
//!      │     ┤U┤    ┤V┤    ┤W┤    upper switches, each with its body diode
//!  supply  C  ├──────┼──────┼──── U1
//!      │      │      ├──────┼──── V1
//!      │      │      │      ├──── W1
//!      │     ┤U┤    ┤V┤    ┤W┤    lower switches
//!   ───┴──────┴──────┴──────┘
//! ```
//!
//! A path through a switch is an unbroken band with marks that run along it; a path through a
//! diode is broken into dashes that run, and the diode is lit. Width and speed follow the
//! current.

mod flows;
mod symbols;

use super::{Align, Colour, Dash, LINE_THIN, Point, Scene, Shape, Theme, Width, at, path, steps};
use std::f64::consts::PI;

use crate::drive::LegState;
use crate::winding::Phase;
pub use flows::{Flows, Travel, Way, way};
use symbols::{capacitor, diode, source, switch};

/// What the picture of the bridge shows at an instant.
#[derive(Clone, Copy, Debug)]
pub struct BridgeView<'a> {
    /// What the gates say, U V W.
    pub legs: [LegState; 3],
    /// The currents in every part.
    pub flows: Flows,
    /// How far the marks have run.
    pub travel: Travel,
    /// True where a capacitor lies across the bridge.
    pub capacitor: bool,
    /// Words beside the source: its voltage.
    pub source_words: &'a str,
    /// The current that is shown at full width, in A; above 0.
    pub full_current_a: f64,
    /// Size of letters and words: in points, or with the picture where it is seen from afar.
    pub words: Width,
}

/// The positive rail's height; the negative one lies as far below.
const RAIL: f64 = 1.0;
/// Where the source stands.
const SOURCE_X: f64 = -2.45;
/// Where the capacitor stands.
const CAPACITOR_X: f64 = -1.65;
/// Where the legs stand.
const LEG_X: [f64; 3] = [-0.75, 0.45, 1.65];
/// Heights of the leads.
const LEAD_Y: [f64; 3] = [0.3, 0.0, -0.3];
/// Where the leads end.
const LEAD_X: f64 = 2.6;
/// Heights of the names of the leads: apart, so that they do not touch where the picture is small.
const LEAD_NAME_Y: [f64; 3] = [0.36, 0.0, -0.36];
/// Height of the middle of an upper switch.
const SWITCH_Y: f64 = 0.64;
/// From a switch to its diode.
const DIODE_DX: f64 = 0.27;
/// Half the height of a diode's branch.
const DIODE_DY: f64 = 0.27;
/// Spacing of the marks that run along a path.
pub const MARK_PERIOD: f64 = 0.2;

/// Draws the bridge.
#[must_use]
pub fn bridge(view: &BridgeView<'_>, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(-3.0, -1.72), at(3.36, 1.2));
    wires(&mut scene, view, theme);
    rail_paths(&mut scene, view, theme);
    for leg in 0..3 {
        leg_path(&mut scene, view, leg, theme);
    }
    for leg in 0..3 {
        lead(&mut scene, view, leg, theme);
    }
    source(
        &mut scene,
        at(SOURCE_X, 0.0),
        (view.source_words, view.words),
        theme,
    );
    if view.capacitor {
        capacitor(&mut scene, at(CAPACITOR_X, 0.0), theme);
    }
    for leg in 0..3 {
        leg_symbols(&mut scene, view, leg, theme);
    }
    scene
}

/// The leg at a place of the picture: switches, diodes, state and lead of U, V, W as 0, 1, 2.
#[must_use]
pub fn leg_at(place: Point) -> Option<usize> {
    let column = LEG_X
        .iter()
        .position(|x| (*x - 0.45..=*x + 0.45).contains(&place.x))
        .filter(|_| place.y <= 1.1 && place.y >= -1.72);
    let lead = LEAD_Y
        .iter()
        .position(|y| (*y - 0.1..=*y + 0.1).contains(&place.y))
        .filter(|_| (LEG_X[2] + 0.45..=3.0).contains(&place.x));
    column.or(lead)
}

/// Draws a line round a leg.
pub fn mark_leg(scene: &mut Scene, leg: usize, theme: &Theme) {
    let x = LEG_X[leg];
    let edge = Some(super::Edge {
        width: Width::Points(super::LINE_BOLD),
        colour: theme.ink,
    });
    scene.push(Shape::rect(
        at(x - 0.42, -1.08),
        at(x + 0.46, 1.12),
        0.06,
        Colour::CLEAR,
        edge,
    ));
}

/// Plain wires, so that the circuit is there when no current flows.
fn wires(scene: &mut Scene, view: &BridgeView<'_>, theme: &Theme) {
    let mut wire = |from: Point, to: Point| {
        scene.push(Shape::line(from, to, Width::Bench(WIRE), theme.steel));
    };
    for rail in [RAIL, -RAIL] {
        wire(at(SOURCE_X, rail), at(LEG_X[2], rail));
    }
    wire(at(SOURCE_X, -RAIL), at(SOURCE_X, RAIL));
    if view.capacitor {
        wire(at(CAPACITOR_X, -RAIL), at(CAPACITOR_X, RAIL));
    }
    for x in LEG_X {
        wire(at(x, -RAIL), at(x, RAIL));
        // The branch of each body diode beside its switch.
        for y in [SWITCH_Y, -SWITCH_Y] {
            let (low, high, side) = (y - DIODE_DY, y + DIODE_DY, x + DIODE_DX);
            wire(at(x, low), at(side, low));
            wire(at(side, low), at(side, high));
            wire(at(side, high), at(x, high));
        }
    }
}

/// Width of the band of the least current that is shown, and of the full one.
const LEAST_BAND: f64 = 0.04;
const FULL_BAND: f64 = 0.10;
/// Width of a plain wire.
const WIRE: f64 = 0.018;

/// Radius of the hop of a lead over a leg that it crosses.
const HOP: f64 = 0.09;

/// The way of a lead from its leg to its terminal: where it crosses another leg it hops over it, as wires do
/// that are not joined. The hop of the upper lead goes down, where there is room.
fn lead_way(leg: usize) -> Vec<Point> {
    const N: u32 = 8;
    let y = LEAD_Y[leg];
    let side = if y > 0.0 { -1.0 } else { 1.0 };
    let mut way = vec![at(LEG_X[leg], y)];
    for &x in &LEG_X[leg + 1..] {
        way.extend((0..=N).map(|k| {
            let (sine, cosine) = libm::sincos(PI * f64::from(k) / f64::from(N));
            at(x - HOP * cosine, y + side * HOP * sine)
        }));
    }
    way.push(at(LEAD_X, y));
    way
}

/// A lead from its leg to its terminal.
fn lead(scene: &mut Scene, view: &BridgeView<'_>, leg: usize, theme: &Theme) {
    let current_a = view.flows.lead_a[leg];
    let way = lead_way(leg);
    if band_width(view, current_a).is_none() {
        scene
            .shapes
            .extend(path(&way, Width::Bench(WIRE), theme.steel, None));
    }
    // The marks come out of the leg where its own left off.
    let travel = view.travel.lead[leg] - leg_length(view, leg);
    let colour = theme.phases[leg];
    band(scene, view, &way, current_a, travel, colour, theme);
}

/// A band along a path with marks that run along it; nothing where no current flows.
fn band(
    scene: &mut Scene,
    view: &BridgeView<'_>,
    points: &[Point],
    current_a: f64,
    travel: f64,
    colour: Colour,
    theme: &Theme,
) {
    let Some(width) = band_width(view, current_a) else {
        return;
    };
    scene
        .shapes
        .extend(path(points, Width::Bench(width), colour, None));
    let marks = Dash {
        on: 0.0,
        period: MARK_PERIOD,
        offset: travel,
    };
    scene.shapes.extend(path(
        points,
        Width::Bench(0.5 * width),
        theme.ground,
        Some(marks),
    ));
}

/// Width of a band for a current; `None` below a hundredth of the full current.
fn band_width(view: &BridgeView<'_>, current_a: f64) -> Option<f64> {
    let share = current_a.abs() / view.full_current_a.max(1e-12);
    (share >= 0.01).then(|| LEAST_BAND + (FULL_BAND - LEAST_BAND) * share.min(1.0))
}

/// The paths along both rails, through the source and the capacitor.
fn rail_paths(scene: &mut Scene, view: &BridgeView<'_>, theme: &Theme) {
    let (flows, travel, colour) = (&view.flows, &view.travel, theme.ink_soft);
    let loop_x = if view.capacitor {
        CAPACITOR_X
    } else {
        SOURCE_X
    };
    let source = [
        at(loop_x, -RAIL),
        at(SOURCE_X, -RAIL),
        at(SOURCE_X, RAIL),
        at(loop_x, RAIL),
    ];
    band(
        scene,
        view,
        &source,
        flows.source_a,
        travel.source,
        colour,
        theme,
    );
    if view.capacitor {
        let points = [at(CAPACITOR_X, -RAIL), at(CAPACITOR_X, RAIL)];
        band(
            scene,
            view,
            &points,
            flows.capacitor_a,
            travel.capacitor,
            colour,
            theme,
        );
    }
    for leg in 0..3 {
        let from = if leg == 0 { loop_x } else { LEG_X[leg - 1] };
        let upper = [at(from, RAIL), at(LEG_X[leg], RAIL)];
        band(
            scene,
            view,
            &upper,
            flows.plus_a[leg],
            travel.plus[leg],
            colour,
            theme,
        );
        let lower = [at(from, -RAIL), at(LEG_X[leg], -RAIL)];
        band(
            scene,
            view,
            &lower,
            flows.minus_a[leg],
            travel.minus[leg],
            colour,
            theme,
        );
    }
}

/// From the rail through switch or diode to the lead.
fn leg_points(view: &BridgeView<'_>, leg: usize) -> Vec<Point> {
    let x = LEG_X[leg];
    let way = way(view.legs[leg], view.flows.lead_a[leg]);
    let sign = if way.is_upper() { 1.0 } else { -1.0 };
    let end = at(x, LEAD_Y[leg]);
    if !way.is_diode() {
        return vec![at(x, sign * RAIL), end];
    }
    let (near, far) = (sign * (SWITCH_Y + DIODE_DY), sign * (SWITCH_Y - DIODE_DY));
    let side = x + DIODE_DX;
    vec![
        at(x, sign * RAIL),
        at(x, near),
        at(side, near),
        at(side, far),
        at(x, far),
        end,
    ]
}

fn leg_length(view: &BridgeView<'_>, leg: usize) -> f64 {
    leg_points(view, leg)
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).length())
        .sum()
}

/// The path from a rail through switch or diode to the lead.
fn leg_path(scene: &mut Scene, view: &BridgeView<'_>, leg: usize, theme: &Theme) {
    let current_a = view.flows.lead_a[leg];
    let Some(width) = band_width(view, current_a) else {
        return;
    };
    let (colour, travel) = (theme.phases[leg], view.travel.lead[leg]);
    let points = leg_points(view, leg);
    if way(view.legs[leg], current_a).is_diode() {
        // With its round ends a dash is a little longer than the gap to the next.
        let on = (0.62 * MARK_PERIOD - width).max(0.0);
        let dash = Dash {
            on,
            period: MARK_PERIOD,
            offset: travel,
        };
        scene
            .shapes
            .extend(path(&points, Width::Bench(width), colour, Some(dash)));
    } else {
        band(scene, view, &points, current_a, travel, colour, theme);
    }
}

/// Switches, diodes, terminal and state of one leg.
fn leg_symbols(scene: &mut Scene, view: &BridgeView<'_>, leg: usize, theme: &Theme) {
    let x = LEG_X[leg];
    let state = view.legs[leg];
    let current_a = view.flows.lead_a[leg];
    let flowing = band_width(view, current_a).is_some();
    let way = way(state, current_a);
    for upper in [true, false] {
        let middle = at(x, if upper { SWITCH_Y } else { -SWITCH_Y });
        let on = state == if upper { LegState::High } else { LegState::Low };
        switch(scene, middle, on, theme);
        let lit = flowing && way.is_diode() && way.is_upper() == upper;
        diode(scene, middle + at(DIODE_DX, 0.0), lit, theme);
    }
    let node = at(x, LEAD_Y[leg]);
    scene.push(Shape::disc(node, 0.035, theme.ink_soft, None));
    for rail in [RAIL, -RAIL] {
        scene.push(Shape::disc(at(x, rail), 0.03, theme.ink_soft, None));
    }
    let terminal = at(LEAD_X, LEAD_Y[leg]);
    let edge = super::Edge {
        width: Width::Points(LINE_THIN),
        colour: theme.ink_soft,
    };
    scene.push(Shape::disc(terminal, 0.05, theme.panel, Some(edge)));
    let letter = Phase::ALL[leg].letter();
    let words = view.words;
    let hue = theme.phases[leg];
    scene.push(Shape::text(
        at(LEAD_X + 0.14, LEAD_NAME_Y[leg]),
        format!("{letter}1"),
        words,
        Align::Left,
        hue,
    ));
    // The lane behind the state shows what is up and what is down.
    let (low, high) = (at(x - 0.32, -1.60), at(x + 0.12, -1.24));
    let lane = super::Edge {
        width: Width::Points(LINE_THIN),
        colour: theme.line,
    };
    scene.push(Shape::rect(low, high, 0.0, Colour::CLEAR, Some(lane)));
    steps::leg_state(scene, low, high, state, true, theme);
    let anchor = at(x + 0.3, -1.42);
    let text = state.character().to_string();
    scene.push(Shape::text(anchor, text, words, Align::Centre, theme.ink));
    scene.push(Shape::text(
        at(x - 0.54, -1.42),
        letter,
        words,
        Align::Centre,
        hue,
    ));
}
