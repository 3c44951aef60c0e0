//! The winding unrolled: slots from left to right as they are counted, the drive end on top.
//!
//! ```text
//!      /\      /\        ends of the coils at the drive end
//!     |  |    |  |       sides in their slots, an arrow along the wire from lead 1 to lead 2
//!      \/      \/
//!      |  \____/  |      cross-overs
//!      U1         U2     leads
//! ```
//!
//! Phase is hue, letter and line style. What goes on beyond the last slot comes in at the first.

use super::{
    Align, Colour, Dash, Edge, LINE_BOLD, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme,
    Width, at, phase_dash, phase_letter,
};
use crate::machine::winding_steps::lead_name;
use crate::setup::Connection;
use crate::winding::{Coil, CoilOrder, Phase, Winding};

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct DevelopedView<'a> {
    /// The winding.
    pub winding: &'a Winding,
    /// Its coils in order.
    pub order: &'a CoilOrder,
    /// Turns of a coil, where known.
    pub turns: Option<u32>,
    /// Star or delta.
    pub connection: Connection,
}

/// Points between two slots with two sides in each; the picture has one unit a point.
const PITCH: f64 = 64.0;
/// The least, where there are many slots.
const LEAST_PITCH: f64 = 40.0;
/// Slots that have the full pitch.
const FULL_PITCH_SLOTS: f64 = 14.0;
/// Length of a coil side.
const SIDE: f64 = 150.0;
/// From cross-over to cross-over.
const LANE: f64 = 15.0;
/// Margin on every side.
const MARGIN: f64 = 28.0;
/// Width of a wire.
const WIRE: f64 = LINE_BOLD;

struct Sheet<'a> {
    view: &'a DevelopedView<'a>,
    theme: &'a Theme,
    scene: Scene,
    pitch: f64,
    /// From slot 1's middle to the last one's, and one pitch more: where the unrolled stator
    /// begins again.
    turn: f64,
}

/// Draws a winding; the scene's size is its size in points.
#[must_use]
pub fn developed(view: &DevelopedView<'_>, theme: &Theme) -> Scene {
    let slots = f64::from(view.winding.slots());
    let pitch = (PITCH * FULL_PITCH_SLOTS / slots).clamp(LEAST_PITCH, PITCH);
    let mut sheet = Sheet {
        view,
        theme,
        scene: Scene::default(),
        pitch,
        turn: pitch * slots,
    };
    sheet.stator();
    let mut roof = 0.0_f64;
    for path in &view.order.paths {
        for coil in &path.coils {
            roof = roof.max(sheet.coil(*coil));
        }
    }
    sheet.numbers();
    let foot = sheet.connections(-roof - 6.0);
    let top = SIDE + roof + 22.0;
    let left = -0.5 * pitch;
    sheet.heading(left, top);
    sheet.footnote(left, foot - 24.0);
    let right = (left + sheet.turn).max(left + 620.0);
    sheet.scene.low = at(left - MARGIN, foot - 74.0 - MARGIN);
    sheet.scene.high = at(right + MARGIN, top + 48.0 + MARGIN);
    sheet.scene
}

impl Sheet<'_> {
    fn words(&mut self, place: Point, words: &str, size: f64, align: Align, colour: Colour) {
        let size = Width::Points(size);
        self.scene
            .push(Shape::text(place, words, size, align, colour));
    }

    fn slot_x(&self, slot: u32) -> f64 {
        self.pitch * f64::from(slot)
    }

    /// Teeth as plain grey blocks between the slots, with their numbers, and those of the slots.
    fn stator(&mut self) {
        let theme = self.theme;
        let half = 0.5 * (self.pitch - self.gap());
        for slot in 0..self.view.winding.slots() {
            let middle = self.slot_x(slot) + 0.5 * self.pitch;
            // The last tooth lies half on the right edge, and half on the left one.
            let places = if slot + 1 == self.view.winding.slots() {
                vec![
                    (middle - half, middle),
                    (middle - self.turn, middle - self.turn + half),
                ]
            } else {
                vec![(middle - half, middle + half)]
            };
            for (low, high) in places {
                let edge = Edge {
                    width: Width::Points(LINE_THIN),
                    colour: theme.line,
                };
                self.scene.push(Shape::rect(
                    at(low, 10.0),
                    at(high, SIDE - 10.0),
                    0.0,
                    theme.plate,
                    Some(edge),
                ));
            }
        }
    }

    /// The numbers of slots and teeth, over everything else.
    fn numbers(&mut self) {
        let theme = self.theme;
        let slots = self.view.winding.slots();
        for slot in 0..slots {
            let number = format!("{}", slot + 1);
            let x = self.slot_x(slot);
            if self.view.winding.layers() == 1 {
                // It would stand on the one side of the slot.
                let (low, high) = (at(x - 8.0, 12.0), at(x + 8.0, 28.0));
                self.scene
                    .push(Shape::rect(low, high, 2.0, theme.panel, None));
            }
            let size = TYPE_POINTS[0];
            self.words(at(x, 20.0), &number, size, Align::Centre, theme.ink);
            if self.pitch >= PITCH - 10.0 {
                let middle = x + 0.5 * self.pitch;
                // The last tooth is cut through: its number stands beside it.
                let (x, align) = if slot + 1 == slots {
                    (middle + 4.0, Align::Left)
                } else {
                    (middle, Align::Centre)
                };
                self.words(at(x, 20.0), &number, size, align, theme.ink_soft);
            }
        }
    }

    /// Width of a slot with its sides.
    fn gap(&self) -> f64 {
        match self.view.winding.layers() {
            1 => 0.5 * self.pitch,
            _ => 0.72 * self.pitch,
        }
    }

    /// Where a coil's first or second side lies.
    fn side_x(&self, coil: Coil, first: bool) -> f64 {
        let aside = match self.view.winding.layers() {
            1 => 0.0,
            _ => 0.22 * self.pitch,
        };
        if first {
            self.slot_x(coil.from_slot) + aside
        } else {
            // Beyond the right edge where the coil goes round it.
            let slots = self.view.winding.slots();
            let span = (coil.to_slot + slots - coil.from_slot) % slots;
            self.slot_x(coil.from_slot) + self.pitch * f64::from(span) - aside
        }
    }

    /// Back into the unrolled turn.
    fn wrapped(&self, x: f64) -> f64 {
        let left = -0.5 * self.pitch;
        (x - left).rem_euclid(self.turn) + left
    }

    /// A line of a phase; what leaves on one edge comes in on the other.
    fn wire(&mut self, points: &[Point], phase: Phase) {
        let (left, right) = (-0.5 * self.pitch, self.turn - 0.5 * self.pitch);
        let colour = self.theme.phase(phase);
        let mut gone = 0.0;
        for pair in points.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let length = (to - from).length();
            let dash = phase_dash(phase, WIRE).map(|dash| Dash {
                offset: dash.offset - gone,
                ..dash
            });
            for shift in [0.0, -self.turn, self.turn] {
                let by = at(shift, 0.0);
                if let Some((from, to, skipped)) = clipped(from + by, to + by, left, right) {
                    let dash = dash.map(|dash| Dash {
                        offset: dash.offset - skipped,
                        ..dash
                    });
                    self.scene.push(Shape::Line {
                        from,
                        to,
                        width: Width::Points(WIRE),
                        colour,
                        dash,
                    });
                }
            }
            gone += length;
        }
    }

    /// Draws a coil; how high its ends stand out.
    fn coil(&mut self, coil: Coil) -> f64 {
        let (a, b) = (self.side_x(coil, true), self.side_x(coil, false));
        let roof = 14.0 + 0.24 * (b - a);
        let middle = 0.5 * (a + b);
        let around = [
            at(a, 0.0),
            at(a, SIDE),
            at(middle, SIDE + roof),
            at(b, SIDE),
            at(b, 0.0),
            at(middle, -roof),
            at(a, 0.0),
        ];
        self.wire(&around, coil.phase);
        for (x, up) in [(a, coil.positive), (b, !coil.positive)] {
            self.side_marks(self.wrapped(x), up, coil.phase);
        }
        roof
    }

    /// Arrow and letter on a coil side.
    fn side_marks(&mut self, x: f64, up: bool, phase: Phase) {
        let theme = self.theme;
        let (half, middle) = (5.5, 0.5 * SIDE + 6.0);
        let edge = Edge {
            width: Width::Points(LINE_THIN),
            colour: theme.panel,
        };
        let fill = theme.phase(phase);
        let shape = if up {
            let (a, b) = (at(x - half, middle - half), at(x + half, middle - half));
            Shape::triangle(a, b, at(x, middle + 1.4 * half), fill, Some(edge))
        } else {
            let (a, b) = (at(x + half, middle + half), at(x - half, middle + half));
            Shape::triangle(a, b, at(x, middle - 1.4 * half), fill, Some(edge))
        };
        self.scene.push(shape);
        let plate = SIDE - 34.0;
        self.scene.push(Shape::rect(
            at(x - 6.0, plate - 8.0),
            at(x + 6.0, plate + 8.0),
            2.0,
            theme.panel,
            None,
        ));
        self.words(
            at(x, plate),
            phase_letter(phase),
            TYPE_POINTS[0],
            Align::Centre,
            theme.ink,
        );
    }

    /// Cross-overs, leads and the joint of the phases, from `top` down; how far down.
    fn connections(&mut self, top: f64) -> f64 {
        let view = self.view;
        let mut lanes: Vec<Vec<[f64; 2]>> = Vec::new();
        let mut leads: Vec<(f64, String, Phase, bool)> = Vec::new();
        for path in &view.order.paths {
            for pair in path.coils.windows(2) {
                let from = self.wrapped(self.side_x(pair[0], !pair[0].positive));
                let to = self.wrapped(self.side_x(pair[1], pair[1].positive));
                // The short way round.
                let half = 0.5 * self.turn;
                let to = from + (to - from + half).rem_euclid(self.turn) - half;
                let lane = free_lane(&mut lanes, from, to, self.turn);
                let y = top - LANE * lane;
                let points = [at(from, 0.0), at(from, y), at(to, y), at(to, 0.0)];
                self.wire(&points, path.phase);
            }
            let ends = [(path.coils.first(), 1), (path.coils.last(), 2)];
            for (coil, end) in ends {
                let Some(coil) = coil else { continue };
                let first_side = coil.positive == (end == 1);
                let x = self.wrapped(self.side_x(*coil, first_side));
                let name = lead_name(path, end, view.order.n_parallel);
                leads.push((x, name, path.phase, end == 1));
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "a few hundred lanes")]
        let below = top - LANE * lanes.len() as f64;
        self.leads(&leads, below)
    }

    /// Leads down to the joint, or out to the terminals.
    fn leads(&mut self, leads: &[(f64, String, Phase, bool)], below: f64) -> f64 {
        let theme = self.theme;
        let star = self.view.connection == Connection::Star;
        let joint = below - 8.0;
        let foot = joint - 34.0;
        if star {
            let ends = leads.iter().filter(|lead| !lead.3).map(|lead| lead.0);
            let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
                (low.min(x), high.max(x))
            });
            let width = Width::Points(LINE_BOLD);
            let line = Shape::line(at(low, joint), at(high, joint), width, theme.ink);
            self.scene.push(line);
        }
        for (x, name, phase, is_start) in leads {
            let to_joint = star && !is_start;
            let end = if to_joint { joint } else { foot };
            self.wire(&[at(*x, 0.0), at(*x, end)], *phase);
            if to_joint {
                self.scene
                    .push(Shape::disc(at(*x, joint), 4.0, theme.ink, None));
            } else {
                let edge = Edge {
                    width: Width::Points(LINE_BOLD),
                    colour: theme.ink,
                };
                let place = at(*x, foot);
                self.scene
                    .push(Shape::disc(place, 4.0, theme.panel, Some(edge)));
            }
            let place = at(*x, end - 14.0);
            self.words(place, name, TYPE_POINTS[1], Align::Centre, theme.ink);
        }
        foot - 22.0
    }

    /// Title and the key of the lines.
    fn heading(&mut self, left: f64, top: f64) {
        let (theme, view) = (self.theme, self.view);
        let title = title(view);
        self.words(
            at(left, top + 36.0),
            &title,
            TYPE_POINTS[2],
            Align::Left,
            theme.ink,
        );
        let mut x = left;
        for phase in Phase::ALL {
            let (from, to) = (at(x + 2.0, top + 10.0), at(x + 52.0, top + 10.0));
            self.scene.push(Shape::Line {
                from,
                to,
                width: Width::Points(WIRE),
                colour: theme.phase(phase),
                dash: phase_dash(phase, WIRE),
            });
            let place = at(x + 60.0, top + 10.0);
            self.words(
                place,
                phase_letter(phase),
                TYPE_POINTS[1],
                Align::Left,
                theme.ink,
            );
            x += 92.0;
        }
        let place = at(x, top + 10.0);
        let words = "drive end on top; numbers: slots, and teeth (on the blocks)";
        let words = if self.pitch >= PITCH - 10.0 {
            words
        } else {
            "drive end on top; numbers: slots"
        };
        self.words(place, words, TYPE_POINTS[1], Align::Left, theme.ink_soft);
    }

    fn footnote(&mut self, left: f64, y: f64) {
        let theme = self.theme;
        let joint = match self.view.connection {
            Connection::Star => "Star: all ends 2 are joined (line with dots).",
            Connection::Delta => "Delta: join U2 with V1, V2 with W1, W2 with U1.",
        };
        let arrows = "Arrows follow the wire from U1 to U2, V1 to V2, W1 to W2.";
        let count = "Slots count counter-clockwise, seen from the drive end.";
        for (line, words) in [joint, arrows, count].into_iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "three lines")]
            let place = at(left, y - 20.0 * line as f64);
            self.words(place, words, TYPE_POINTS[1], Align::Left, theme.ink_soft);
        }
    }
}

/// What the picture shows, in a line.
#[must_use]
pub fn title(view: &DevelopedView<'_>) -> String {
    let winding = view.winding;
    let turns = match view.turns {
        Some(1) => ", 1 turn a coil".to_owned(),
        Some(turns) => format!(", {turns} turns a coil"),
        None => String::new(),
    };
    let layers = match winding.layers() {
        1 => "one layer",
        _ => "two layers",
    };
    let paths = match view.order.n_parallel {
        1 => String::new(),
        n => format!(", {n} parallel paths"),
    };
    format!(
        "{} slots, {} poles, {layers}{turns}{paths}",
        winding.slots(),
        winding.poles()
    )
}

/// The first lane with room for a cross-over, counted from 0, which takes it.
fn free_lane(lanes: &mut Vec<Vec<[f64; 2]>>, from: f64, to: f64, turn: f64) -> f64 {
    let (low, high) = (from.min(to) - 6.0, from.max(to) + 6.0);
    let free = |taken: &Vec<[f64; 2]>| {
        taken.iter().all(|[other_low, other_high]| {
            [-turn, 0.0, turn]
                .iter()
                .all(|shift| high + shift < *other_low || low + shift > *other_high)
        })
    };
    let lane = lanes.iter().position(free).unwrap_or(lanes.len());
    if lane == lanes.len() {
        lanes.push(Vec::new());
    }
    lanes[lane].push([low, high]);
    #[expect(clippy::cast_precision_loss, reason = "a few hundred lanes")]
    let lane = lane as f64;
    lane
}

/// The part of a line between two uprights, and how much of it was left out at its start.
fn clipped(from: Point, to: Point, left: f64, right: f64) -> Option<(Point, Point, f64)> {
    let (mut start, mut end) = (0.0_f64, 1.0_f64);
    let run = to.x - from.x;
    if run.abs() < 1e-9 {
        // Half open, so that an upright on the edge is drawn once.
        return (from.x >= left - 1e-9 && from.x < right - 1e-9).then_some((from, to, 0.0));
    }
    let (one, other) = ((left - from.x) / run, (right - from.x) / run);
    start = start.max(one.min(other));
    end = end.min(one.max(other));
    let length = (to - from).length();
    (end - start > 1e-9).then(|| {
        let (a, b) = (from.towards(to, start), from.towards(to, end));
        (a, b, start * length)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every shape within the picture, a letter and an arrow for every side, all leads named.
    #[test]
    fn nothing_is_cut_and_nothing_is_missing() {
        for (slots, poles, layers, span) in [
            (12, 14, 2, 1),
            (9, 6, 2, 1),
            (36, 4, 2, 8),
            (24, 4, 1, 6),
            (12, 10, 1, 1),
        ] {
            let winding = Winding::lay_out(slots, poles, layers, span).unwrap();
            let order = CoilOrder::of(&winding, 1).unwrap();
            let view = DevelopedView {
                winding: &winding,
                order: &order,
                turns: Some(9),
                connection: Connection::Star,
            };
            let scene = developed(&view, &Theme::LIGHT);
            let inside = |point: &Point| {
                point.x > scene.low.x
                    && point.x < scene.high.x
                    && point.y > scene.low.y
                    && point.y < scene.high.y
            };
            let mut texts = Vec::new();
            let mut n_arrows = 0;
            for shape in &scene.shapes {
                match shape {
                    Shape::Line { from, to, .. } => assert!(inside(from) && inside(to)),
                    Shape::Quad { corners, .. } => {
                        assert!(corners.iter().all(inside));
                        n_arrows += usize::from(corners[2] == corners[3]);
                    }
                    Shape::Text(text) => {
                        assert!(inside(&text.anchor), "{text:?}");
                        texts.push(text.words.as_str());
                    }
                    _ => {}
                }
            }
            assert_eq!(n_arrows, winding.sides().len());
            for phase in ["U", "V", "W"] {
                let n = texts.iter().filter(|text| **text == phase).count();
                assert_eq!(n, winding.sides().len() / 3 + 1, "with the key");
                for end in ["1", "2"] {
                    let lead = format!("{phase}{end}");
                    assert_eq!(texts.iter().filter(|text| **text == lead).count(), 1);
                }
            }
        }
    }
}
