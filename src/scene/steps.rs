//! The six-step table and the logic of the three legs.

use super::{Align, Edge, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at};
use crate::drive::LegState;
use crate::winding::Phase;

/// The six-step table of positive rotation: steps 1 to 6, legs U V W.
pub const TABLE: [[LegState; 3]; 6] = {
    use LegState::{Floating as Z, High as H, Low as L};
    [
        [H, L, Z],
        [H, Z, L],
        [Z, H, L],
        [L, H, Z],
        [L, Z, H],
        [Z, L, H],
    ]
};

/// Draws a leg's state as a shape: a bar up, a bar down, or an open hatched bar in the middle.
pub fn leg_state(
    scene: &mut Scene,
    low: Point,
    high: Point,
    state: LegState,
    strong: bool,
    theme: &Theme,
) {
    let third = (high.y - low.y) / 3.0;
    let fill = if strong { theme.ink } else { theme.ink_soft };
    match state {
        LegState::High => {
            scene.push(Shape::rect(
                at(low.x, high.y - third),
                high,
                0.0,
                fill,
                None,
            ));
        }
        LegState::Low => {
            scene.push(Shape::rect(low, at(high.x, low.y + third), 0.0, fill, None));
        }
        LegState::Floating => {
            let (low, high) = (at(low.x, low.y + third), at(high.x, high.y - third));
            let edge = Edge {
                width: Width::Points(LINE_THIN),
                colour: fill,
            };
            scene.push(Shape::rect(
                low,
                high,
                0.0,
                super::Colour::CLEAR,
                Some(edge),
            ));
            let height = high.y - low.y;
            let mut x = low.x + 0.5 * height;
            while x + 0.5 * height < high.x {
                let (from, to) = (
                    at(x - 0.35 * height, low.y + 0.15 * height),
                    at(x + 0.35 * height, high.y - 0.15 * height),
                );
                scene.push(Shape::line(from, to, Width::Points(LINE_THIN), fill));
                x += height;
            }
        }
    }
}

/// The table: a row for each step with its electrical range and the three legs, the present one
/// on a plate. One bench unit is the height of a row. `present` is 1 to 6.
#[must_use]
pub fn table(present: u8, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(0.0, -7.0), at(12.0, 0.2));
    let word = Width::Points(TYPE_POINTS[0]);
    let columns = [0.8, 3.3, 6.0, 8.2, 10.4];
    for (x, head) in columns.into_iter().zip(["step", "θe", "U", "V", "W"]) {
        scene.push(Shape::text(
            at(x, -0.5),
            head,
            word,
            Align::Centre,
            theme.ink_soft,
        ));
    }
    for (row, legs) in TABLE.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "0 to 5")]
        let y = -1.5 - row as f64;
        let here = row + 1 == usize::from(present);
        if here {
            let (low, high) = (at(0.05, y - 0.46), at(11.95, y + 0.46));
            scene.push(Shape::rect(low, high, 0.14, theme.plate, None));
            let pointer = [at(0.12, y + 0.2), at(0.12, y - 0.2), at(0.32, y)];
            let [a, b, c] = pointer;
            scene.push(Shape::triangle(a, b, c, theme.ink, None));
        }
        let ink = if here { theme.ink } else { theme.ink_soft };
        let from = 30 + 60 * row;
        let to = (from + 60) % 360;
        scene.push(Shape::text(
            at(0.9, y),
            format!("{}", row + 1),
            word,
            Align::Centre,
            ink,
        ));
        scene.push(Shape::text(
            at(3.3, y),
            format!("{from}°–{to}°"),
            word,
            Align::Centre,
            ink,
        ));
        for (leg, state) in legs.iter().enumerate() {
            let x = columns[leg + 2];
            leg_state(
                &mut scene,
                at(x - 0.6, y - 0.3),
                at(x + 0.3, y + 0.3),
                *state,
                here,
                theme,
            );
            let text = state.character().to_string();
            scene.push(Shape::text(at(x + 0.8, y), text, word, Align::Centre, ink));
        }
    }
    scene
}

/// What the gates of the three legs said over a stretch of time, as [`leg_state`] shapes, with
/// the line of now. `spans` holds, in rising order, from when on (0 to 1 across the strip) which
/// states hold. The strip is `width` bench units wide; a leg's lane is one high.
#[must_use]
pub fn logic_strip(spans: &[(f64, [LegState; 3])], now: f64, width: f64, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(-0.6, -3.3), at(width, 0.1));
    for (leg, phase) in Phase::ALL.into_iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "0 to 2")]
        let top = -0.15 - 1.1 * leg as f64;
        let (low, high) = (top - 0.8, top);
        scene.push(Shape::text(
            at(-0.3, low.midpoint(high)),
            phase.letter(),
            Width::Points(TYPE_POINTS[0]),
            Align::Centre,
            theme.phase(phase),
        ));
        let mut idx = 0;
        while idx < spans.len() {
            let state = spans[idx].1[leg];
            let mut end = idx + 1;
            while end < spans.len() && spans[end].1[leg] == state {
                end += 1;
            }
            let until = spans.get(end).map_or(1.0, |span| span.0);
            let (from, to) = (spans[idx].0 * width, until * width);
            leg_state(&mut scene, at(from, low), at(to, high), state, true, theme);
            idx = end;
        }
    }
    let x = now.clamp(0.0, 1.0) * width;
    scene.push(Shape::line(
        at(x, -3.3),
        at(x, 0.1),
        Width::Points(LINE_THIN),
        theme.ink,
    ));
    scene
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each leg is high for two steps, low for two, floating for one between: the shape of the
    /// table in the conventions page.
    #[test]
    fn neighbouring_steps_change_one_rail_at_a_time() {
        for (row, legs) in TABLE.iter().enumerate() {
            let next = TABLE[(row + 1) % 6];
            let changed = (0..3).filter(|&leg| legs[leg] != next[leg]).count();
            assert_eq!(changed, 2, "one leg hands over to another");
            for state in [LegState::High, LegState::Low, LegState::Floating] {
                assert_eq!(legs.iter().filter(|&&leg| leg == state).count(), 1);
            }
        }
    }

    #[test]
    fn equal_neighbours_are_one_bar() {
        use LegState::{Floating as Z, High as H, Low as L};
        let spans = [(0.0, [H, L, Z]), (0.5, [H, Z, L])];
        let scene = logic_strip(&spans, 0.25, 10.0, &Theme::DARK);
        let wide = scene.shapes.iter().any(|shape| {
            matches!(shape, Shape::Quad { corners, .. } if (corners[1].x - corners[0].x - 10.0).abs() < 1e-9)
        });
        assert!(wide, "U is high all along, drawn as one bar");
    }
}
