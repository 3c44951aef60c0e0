//! Steel, slots and the coil sides in them.

use super::{MIDDLE, MachineView, Proportions, thin};
use crate::scene::{
    Align, Edge, LINE_THIN, Point, Scene, Shape, TURN, Theme, Width, at, inset_corners,
};
use crate::winding::CoilSide;

/// Draws the stator: steel first, then what lies in the slots.
pub(super) fn stator(
    scene: &mut Scene,
    view: &MachineView<'_>,
    sizes: &Proportions,
    theme: &Theme,
) {
    // One outline round yoke, teeth and tips together: all of them once with a wide edge in the
    // colour of the outline, then all of them without.
    let outline = Edge {
        width: Width::Points(2.0 * LINE_THIN),
        colour: theme.steel_edge,
    };
    for edge in [Some(outline), None] {
        let fill = if edge.is_some() {
            theme.steel_edge
        } else {
            theme.steel
        };
        let (low, high) = (
            sizes.yoke.min(sizes.slot_bottom),
            sizes.yoke.max(sizes.slot_bottom),
        );
        scene.push(Shape::ring(MIDDLE, low, high, fill, edge));
        for slot_idx in 0..view.sides.len() {
            let tooth_rad = slot_rad(view, slot_idx) + slot_pitch(view) / 2.0;
            scene.push(tooth(sizes, tooth_rad, fill, edge));
            scene.push(tip(view, sizes, tooth_rad, fill, edge));
        }
    }
    for (slot_idx, layers) in view.sides.iter().enumerate() {
        let frame = SlotFrame::new(view, sizes, slot_rad(view, slot_idx));
        for (layer, side) in layers.iter().enumerate() {
            let Some(side) = *side else { continue };
            let alone = layers[1 - layer].is_none();
            let corners = frame.coil_side(layer, alone, view.coil_span > 1);
            coil_side(scene, view, side, &corners, theme);
        }
    }
    if view.sides.len() > CROWDED {
        group_letters(scene, view, sizes, theme);
    }
}

/// Corners of a coil side as it is drawn; `None` where none lies there.
pub(super) fn side_corners(
    view: &MachineView<'_>,
    sizes: &Proportions,
    slot_idx: usize,
    layer: usize,
) -> Option<[Point; 4]> {
    let layers = view.sides.get(slot_idx)?;
    (*layers.get(layer)?)?;
    let frame = SlotFrame::new(view, sizes, slot_rad(view, slot_idx));
    Some(frame.coil_side(layer, layers[1 - layer].is_none(), view.coil_span > 1))
}

/// From more slots than this on, coil sides are too narrow for a letter each, and a letter on
/// the yoke names the phase of a whole group.
const CROWDED: usize = 36;

/// A letter on the yoke behind each run of coil sides of one phase.
fn group_letters(scene: &mut Scene, view: &MachineView<'_>, sizes: &Proportions, theme: &Theme) {
    // The side that starts a coil stands for its slot: each tooth coil has one.
    let phase = |slot_idx: usize| {
        view.sides[slot_idx][1]
            .or(view.sides[slot_idx][0])
            .map(|side| side.phase)
    };
    let n_slots = view.sides.len();
    let is_start = |slot_idx: usize| phase(slot_idx) != phase((slot_idx + n_slots - 1) % n_slots);
    let yoke = (sizes.yoke - sizes.slot_bottom).abs();
    let size = Width::Bench((0.8 * yoke).min(0.05));
    for start in (0..n_slots).filter(|slot_idx| is_start(*slot_idx)) {
        let Some(here) = phase(start) else { continue };
        let length = (1..n_slots)
            .find(|step| is_start((start + step) % n_slots))
            .unwrap_or(n_slots);
        #[expect(clippy::cast_precision_loss, reason = "a number of slots")]
        let middle = slot_rad(view, start) + 0.5 * slot_pitch(view) * length as f64;
        let anchor = Point::polar(sizes.yoke.midpoint(sizes.slot_bottom), middle);
        scene.push(Shape::text(
            anchor,
            here.letter(),
            size,
            Align::Centre,
            theme.ink,
        ));
    }
}

/// A number beside each slot, on the side of the yoke that faces away from it; where there are
/// very many, beside every fifth.
pub(super) fn slot_numbers(
    scene: &mut Scene,
    view: &MachineView<'_>,
    sizes: &Proportions,
    theme: &Theme,
) {
    let n_slots = view.sides.len();
    let aside = if sizes.yoke < sizes.slot_bottom {
        -0.055
    } else {
        0.06
    };
    for slot_idx in 0..n_slots {
        let number = slot_idx + 1;
        if n_slots > CROWDED && number != 1 && !number.is_multiple_of(5) {
            continue;
        }
        scene.push(Shape::text(
            Point::polar(sizes.yoke + aside, slot_rad(view, slot_idx)),
            number.to_string(),
            Width::Points(crate::scene::TYPE_POINTS[0]),
            Align::Centre,
            theme.ink_soft,
        ));
    }
}

/// Angle of a slot's middle.
pub(super) fn slot_rad(view: &MachineView<'_>, slot_idx: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a number of slots")]
    let slot = slot_idx as f64;
    slot * slot_pitch(view)
}

fn slot_pitch(view: &MachineView<'_>) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a number of slots")]
    let slots = view.sides.len().max(1) as f64;
    TURN / slots
}

fn tooth(
    sizes: &Proportions,
    tooth_rad: f64,
    fill: crate::scene::Colour,
    edge: Option<Edge>,
) -> Shape {
    let along = Point::polar(1.0, tooth_rad);
    let across = along.left() * (sizes.tooth / 2.0);
    // Into yoke and tip, so that no seam shows.
    let out = if sizes.bore > sizes.slot_bottom {
        1.0
    } else {
        -1.0
    };
    let from = along * (sizes.slot_bottom - out * 0.02);
    let to = along * (sizes.tip + out * 0.5 * (sizes.bore - sizes.tip).abs());
    let (low, high) = if out > 0.0 { (from, to) } else { (to, from) };
    let corners = [low - across, high - across, high + across, low + across];
    Shape::Quad {
        corners,
        corner: 0.0,
        fill,
        edge,
    }
}

fn tip(
    view: &MachineView<'_>,
    sizes: &Proportions,
    middle_rad: f64,
    fill: crate::scene::Colour,
    edge: Option<Edge>,
) -> Shape {
    let (inner, outer) = (sizes.tip.min(sizes.bore), sizes.tip.max(sizes.bore));
    Shape::RingSector {
        centre: MIDDLE,
        inner,
        outer,
        middle_rad,
        sweep_rad: slot_pitch(view) - sizes.opening / sizes.bore,
        corner: 0.25 * (outer - inner),
        fill,
        edge,
    }
}

/// A slot in its own axes: x out along its middle, y counter-clockwise.
struct SlotFrame {
    along: Point,
    half_pitch_rad: f64,
    half_tooth: f64,
    /// Radii between which coils lie.
    low: f64,
    high: f64,
    clearance: f64,
}

impl SlotFrame {
    fn new(view: &MachineView<'_>, sizes: &Proportions, middle_rad: f64) -> Self {
        let clearance = (0.035 * slot_pitch(view) * sizes.bore).min(0.010);
        let (low, high) = (
            sizes.slot_bottom.min(sizes.tip),
            sizes.slot_bottom.max(sizes.tip),
        );
        Self {
            along: Point::polar(1.0, middle_rad),
            half_pitch_rad: slot_pitch(view) / 2.0,
            half_tooth: sizes.tooth / 2.0,
            low,
            high,
            clearance,
        }
    }

    fn place(&self, x: f64, y: f64) -> Point {
        self.along * x + self.along.left() * y
    }

    /// Half the slot's width at distance `x` along its middle.
    fn half_width(&self, x: f64) -> f64 {
        // The tooth's side is the line through its axis direction, half a tooth nearer.
        let (sin, cos) = (
            libm::sin(self.half_pitch_rad),
            libm::cos(self.half_pitch_rad),
        );
        ((x * sin - self.half_tooth) / cos).max(0.15 * x * sin)
    }

    /// Corners of a coil side, clear of steel and of its neighbour.
    fn coil_side(&self, layer: usize, alone: bool, stacked: bool) -> [Point; 4] {
        // The far end is straight and its corners must stay inside the circle.
        let reach = self.half_width(self.high);
        let (low, high) = (
            self.low,
            libm::sqrt((self.high * self.high - reach * reach).max(0.0)),
        );
        let split = low.midpoint(high);
        let (low, high, lower_share, upper_share) = match (alone, stacked, layer) {
            (true, _, _) => (low, high, -1.0, 1.0),
            (false, true, 0) => (low, split, -1.0, 1.0),
            (false, true, _) => (split, high, -1.0, 1.0),
            (false, false, 0) => (low, high, -1.0, 0.0),
            (false, false, _) => (low, high, 0.0, 1.0),
        };
        let corner = |x: f64, share: f64| self.place(x, share * self.half_width(x));
        let corners = [
            corner(low, lower_share),
            corner(high, lower_share),
            corner(high, upper_share),
            corner(low, upper_share),
        ];
        let (inner, _) = inset_corners(&corners, self.clearance);
        match inner[..] {
            [a, b, c, d] => [a, b, c, d],
            _ => corners,
        }
    }
}

/// One coil side: its body in its phase, its letter, and its current as a dot or a cross.
fn coil_side(
    scene: &mut Scene,
    view: &MachineView<'_>,
    side: CoilSide,
    corners: &[Point; 4],
    theme: &Theme,
) {
    let [low_right, high_right, high_left, low_left] = *corners;
    let (low, high) = (
        low_right.towards(low_left, 0.5),
        high_right.towards(high_left, 0.5),
    );
    let (low_width, high_width) = (
        (low_left - low_right).length(),
        (high_left - high_right).length(),
    );
    let length = (high - low).length();
    let smallest = low_width.max(high_width).min(length);
    scene.push(Shape::Quad {
        corners: *corners,
        corner: 0.28 * low_width.min(high_width).min(length),
        fill: theme.coil(side.phase),
        edge: thin(theme.phase(side.phase)),
    });
    // The symbol sits where the side is widest, the letter beside it along the slot, or behind
    // it where the side lies across the slot.
    let lengthwise = length > 1.5 * smallest;
    let largest = low_width.max(high_width).max(length);
    let radius = 0.34 * smallest.min(0.55 * largest);
    let (symbol_at, letter_at) = if lengthwise {
        let wide_end = high_width > low_width;
        let near = (1.7 * radius / length).min(0.4);
        let (symbol, letter) = if wide_end {
            (1.0 - near, 0.30)
        } else {
            (near, 0.70)
        };
        (low.towards(high, symbol), low.towards(high, letter))
    } else {
        let (right, left) = (
            low_right.towards(high_right, 0.5),
            low_left.towards(high_left, 0.5),
        );
        (right.towards(left, 0.32), right.towards(left, 0.72))
    };
    current_symbol(scene, symbol_at, radius, view.share(side), theme);
    let type_size = Width::Bench((1.5 * radius).min(0.085));
    let letter = side.phase.letter();
    scene.push(Shape::text(
        letter_at,
        letter,
        type_size,
        Align::Centre,
        theme.ink,
    ));
}

/// A current as seen end on: a dot comes towards the viewer, a cross goes away, and the size of
/// both follows the current.
fn current_symbol(scene: &mut Scene, middle: Point, radius: f64, share: f64, theme: &Theme) {
    scene.push(Shape::disc(
        middle,
        radius,
        crate::scene::Colour::CLEAR,
        Some(Edge {
            width: Width::Bench(0.10 * radius),
            colour: theme.ink.with_alpha(150),
        }),
    ));
    // Area, not radius, grows with the current; below a hundredth nothing is shown.
    let size = if share.abs() < 0.01 {
        0.0
    } else {
        libm::sqrt(share.abs().min(1.0))
    };
    if size > 0.0 && share > 0.0 {
        scene.push(Shape::disc(middle, 0.62 * radius * size, theme.ink, None));
    } else if size > 0.0 {
        let arm = at(0.60 * radius * size, 0.60 * radius * size);
        let width = Width::Bench(0.30 * radius * size);
        scene.push(Shape::line(middle - arm, middle + arm, width, theme.ink));
        let arm = arm.left();
        scene.push(Shape::line(middle - arm, middle + arm, width, theme.ink));
    }
}
