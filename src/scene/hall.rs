//! The three Hall sensors over one electrical turn, and where the rotor stands.

use super::{
    Align, Edge, LINE_BOLD, LINE_THIN, Point, Scene, Shape, TYPE_POINTS, Theme, Width, at,
};
use crate::drive::hall::{hall_code, hall_states};

/// Left and right end of the curves, and the height of a row.
const LEFT: f64 = -2.2;
const RIGHT: f64 = 2.2;
const ROW: f64 = 0.62;
/// Height of a square wave.
const HIGH: f64 = 0.36;

/// Draws the sensors at an electrical angle.
#[must_use]
pub fn hall(theta_elec_rad: f64, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(-3.0, -1.72), at(3.0, 1.2));
    let x = |degrees: f64| LEFT + (RIGHT - LEFT) * degrees / 360.0;
    let top = 0.62;
    let words = |anchor: Point, words: String, align: Align, size: usize, colour| {
        Shape::text(
            anchor,
            words,
            Width::Points(TYPE_POINTS[size]),
            align,
            colour,
        )
    };
    let foot = top - 2.0 * ROW - 0.12;
    for sixth in 0..=12 {
        let degrees = 30.0 * f64::from(sixth);
        let long = sixth % 2 == 1;
        // Edges lie at 30°, 90°, 150° … as the step changes do.
        if long {
            let line = Shape::line(
                at(x(degrees), foot),
                at(x(degrees), top + HIGH + 0.08),
                Width::Points(LINE_THIN),
                theme.line,
            );
            scene.push(line);
            let text = format!("{degrees:.0}°");
            scene.push(words(
                at(x(degrees), foot - 0.14),
                text,
                Align::Centre,
                0,
                theme.ink_soft,
            ));
        }
    }
    let states = hall_states(theta_elec_rad);
    for (sensor_idx, on) in states.into_iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "three sensors")]
        let low = top - ROW * sensor_idx as f64;
        let name = format!("H{}", sensor_idx + 1);
        scene.push(words(
            at(LEFT - 0.2, low + 0.5 * HIGH),
            name,
            Align::Right,
            1,
            theme.ink,
        ));
        wave(&mut scene, sensor_idx, low, x, theme);
        // What it says now: a full square for on, an empty one for off.
        let middle = at(RIGHT + 0.3, low + 0.5 * HIGH);
        let half = at(0.1, 0.1);
        let edge = Edge {
            width: Width::Points(LINE_BOLD),
            colour: theme.ink,
        };
        let fill = if on { theme.ink } else { super::Colour::CLEAR };
        scene.push(Shape::rect(
            middle - half,
            middle + half,
            0.02,
            fill,
            Some(edge),
        ));
        let digit = if on { "1" } else { "0" };
        let place = at(RIGHT + 0.52, middle.y);
        scene.push(words(place, digit.to_owned(), Align::Left, 1, theme.ink));
    }
    let degrees = theta_elec_rad.to_degrees().rem_euclid(360.0);
    scene.push(Shape::line(
        at(x(degrees), foot),
        at(x(degrees), top + HIGH + 0.12),
        Width::Points(LINE_BOLD),
        theme.ink,
    ));
    let code = hall_code(states);
    let text = format!("Hall sensors {code} at {degrees:.0}° electrical");
    scene.push(words(
        at(0.0, foot - 0.5),
        text,
        Align::Centre,
        2,
        theme.ink,
    ));
    scene
}

/// A sensor over one electrical turn.
fn wave(scene: &mut Scene, sensor_idx: usize, low: f64, x: impl Fn(f64) -> f64, theme: &Theme) {
    let level = |degrees: f64| {
        let on = hall_states(degrees.to_radians())[sensor_idx];
        low + if on { HIGH } else { 0.0 }
    };
    let mut points = vec![at(x(0.0), level(15.0))];
    for edge in [30.0, 90.0, 150.0, 210.0, 270.0, 330.0] {
        let (before, after) = (level(edge - 15.0), level(edge + 15.0));
        if (before - after).abs() > 1e-9 {
            points.push(at(x(edge), before));
            points.push(at(x(edge), after));
        }
    }
    points.push(at(x(360.0), level(345.0)));
    let width = Width::Points(LINE_BOLD);
    scene
        .shapes
        .extend(super::path(&points, width, theme.ink_soft, None));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two edges a turn and sensor, and the code in words.
    #[test]
    fn it_says_the_code_of_the_angle() {
        let scene = hall(60.0_f64.to_radians(), &Theme::DARK);
        let said = scene
            .shapes
            .iter()
            .any(|shape| matches!(shape, Shape::Text(text) if text.words.contains("100 at 60°")));
        assert!(said);
    }
}
