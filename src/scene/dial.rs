//! Both angles on one dial: the mechanical one round the machine, the electrical one in its hub.

use super::{Align, Edge, LINE_BOLD, LINE_THIN, Point, Scene, Shape, TURN, Theme, Width};

/// Marks round a circle of that radius, degrees every quarter, and a hand at the rotor's angle.
pub fn mechanical(scene: &mut Scene, radius: f64, theta_mech_rad: f64, theme: &Theme) {
    let centre = Point::default();
    for tenth in 0..36 {
        let angle_rad = TURN * f64::from(tenth) / 36.0;
        let long = tenth % 9 == 0;
        let middling = tenth % 3 == 0;
        let length = if long {
            0.05
        } else if middling {
            0.035
        } else {
            0.018
        };
        let colour = if middling { theme.ink_soft } else { theme.line };
        scene.push(Shape::line(
            Point::polar(radius, angle_rad),
            Point::polar(radius + length, angle_rad),
            Width::Points(LINE_THIN),
            colour,
        ));
        if long {
            scene.push(Shape::text(
                Point::polar(radius + 0.115, angle_rad),
                format!("{}°", tenth * 10),
                Width::Points(super::TYPE_POINTS[0]),
                Align::Centre,
                theme.ink_soft,
            ));
        }
    }
    // How far round the turn is, as an arc from zero to the hand.
    let theta_rad = theta_mech_rad.rem_euclid(TURN);
    scene.push(Shape::Arc {
        centre,
        radius: radius - 0.018,
        start_rad: 0.0,
        sweep_rad: theta_rad,
        width: Width::Points(LINE_BOLD),
        colour: theme.ink_soft,
        dash: None,
    });
    let hand = Point::polar(1.0, theta_rad);
    let (tip, back) = (hand * (radius - 0.030), hand * (radius + 0.030));
    let side = hand.left() * 0.022;
    let edge = Some(Edge {
        width: Width::Points(LINE_THIN),
        colour: theme.ground,
    });
    scene.push(Shape::triangle(
        tip,
        back - side,
        back + side,
        theme.ink,
        edge,
    ));
}

/// A plate of that radius with the electrical angle's scale: a mark at each of the six step
/// changes without advance (30° + 60°·n), the present sixth raised, and a hand at θe.
pub fn electrical(scene: &mut Scene, radius: f64, theta_elec_rad: f64, theme: &Theme) {
    let centre = Point::default();
    let theta_rad = theta_elec_rad.rem_euclid(TURN);
    let edge = Some(Edge {
        width: Width::Points(LINE_THIN),
        colour: theme.line,
    });
    scene.push(Shape::disc(centre, radius, theme.panel, edge));
    let sixth = ((theta_rad - TURN / 12.0).rem_euclid(TURN) / (TURN / 6.0)).floor();
    scene.push(Shape::RingSector {
        centre,
        inner: 0.90 * radius,
        outer: 0.985 * radius,
        middle_rad: TURN / 6.0 * (sixth + 1.0),
        sweep_rad: TURN / 6.0 - 0.04,
        corner: 0.02 * radius,
        fill: theme.plate,
        edge: None,
    });
    for step in 0..6 {
        let angle_rad = TURN / 12.0 + TURN / 6.0 * f64::from(step);
        scene.push(Shape::line(
            Point::polar(0.90 * radius, angle_rad),
            Point::polar(0.985 * radius, angle_rad),
            Width::Points(LINE_THIN),
            theme.ink_soft,
        ));
        // Steps 1 to 6 begin at 30° and follow each other; the number stands in its sixth.
        scene.push(Shape::text(
            Point::polar(0.94 * radius, TURN / 6.0 * f64::from(step + 1)),
            format!("{}", step + 1),
            Width::Bench(0.085 * radius),
            Align::Centre,
            theme.ink_soft,
        ));
    }
}
