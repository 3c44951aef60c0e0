//! The field of the winding, the field of the rotor, and the angle between them.

use super::{MIDDLE, MachineView, Proportions};
use crate::scene::{Align, Edge, LINE_BOLD, Point, Scene, Shape, TURN, Theme, Width};

/// Directions of the two fields in the electrical plane, and their strengths.
///
/// The plane is turned so that the rotor's field points at the electrical angle θe itself. As
/// e = dλ/dt and e_u follows sin θe, the rotor's flux through U follows −cos θe: U's axis lies
/// at 180°, V's at 300°, W's at 60°.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldAngles {
    /// Direction of the rotor's field in rad: θe, wrapped to 0 … 2π.
    pub rotor_rad: f64,
    /// Direction of the winding's field in rad, 0 … 2π; 0 without current.
    pub stator_rad: f64,
    /// Strength of the winding's field over that of the full current through two phases.
    pub stator_share: f64,
    /// From the rotor's field to the winding's in rad, −π … π; positive pulls forward.
    pub lead_rad: f64,
}

/// The two fields of a machine at an instant.
#[must_use]
pub fn field_angles(view: &MachineView<'_>) -> FieldAngles {
    let mut sum = Point::default();
    for (current, axis_deg) in view.phase_current_a.iter().zip([180.0_f64, 300.0, 60.0]) {
        sum = sum + Point::polar(*current, axis_deg.to_radians());
    }
    let wrap = |angle: f64| angle.rem_euclid(TURN);
    let rotor_rad = wrap(view.theta_elec_rad());
    let stator_share = sum.length() / (libm::sqrt(3.0) * view.full_current_a.max(1e-12));
    let stator_rad = if stator_share > 0.01 {
        wrap(libm::atan2(sum.y, sum.x))
    } else {
        0.0
    };
    let lead_rad = wrap(stator_rad - rotor_rad + TURN / 2.0) - TURN / 2.0;
    FieldAngles {
        rotor_rad,
        stator_rad,
        stator_share,
        lead_rad,
    }
}

/// Length of the winding's arrow at next to no current, as a part of that at the full current: its
/// direction is to be seen past the shaft; how much flows, the coil sides tell.
const LEAST_LENGTH: f64 = 0.45;

/// Angle between an arrow and the middle of the plate with the lead, so that neither covers the
/// other, in rad.
const PLATE_CLEAR_RAD: f64 = 25.0 * TURN / 360.0;

/// Draws both arrows in the machine's hub and the angle between them.
pub(super) fn arrows(
    scene: &mut Scene,
    view: &MachineView<'_>,
    sizes: &Proportions,
    words: bool,
    theme: &Theme,
) {
    let fields = field_angles(view);
    let reach = 0.80 * sizes.hub;
    let edge = |colour| {
        Some(Edge {
            width: Width::Points(LINE_BOLD),
            colour,
        })
    };
    let (shaft, head) = (0.085 * sizes.hub, 0.24 * sizes.hub);
    if fields.stator_share > 0.01 {
        let radius = 0.40 * sizes.hub;
        scene.push(Shape::Arc {
            centre: MIDDLE,
            radius,
            start_rad: fields.rotor_rad,
            sweep_rad: fields.lead_rad,
            width: Width::Points(LINE_BOLD),
            colour: theme.ink_soft,
            dash: None,
        });
        if words {
            let half_rad = fields.lead_rad / 2.0;
            // between the arrows, and beside the rotor's where they lie too close together
            let beside_rad = if half_rad.abs() < PLATE_CLEAR_RAD {
                -PLATE_CLEAR_RAD.copysign(half_rad)
            } else {
                half_rad
            };
            let place_rad = fields.rotor_rad + beside_rad;
            let anchor = Point::polar(radius + 0.20 * sizes.hub, place_rad);
            let words = format!("{:.0}°", fields.lead_rad.abs().to_degrees());
            plate(scene, anchor, &words, 0.13 * sizes.hub, theme);
        }
    }
    // The rotor's arrow is hollow, the winding's solid: both are fields, neither is a phase.
    scene.push(Shape::Arrow {
        from: MIDDLE,
        to: Point::polar(reach, fields.rotor_rad),
        width: shaft,
        head,
        fill: theme.panel,
        edge: edge(theme.ink),
    });
    if fields.stator_share > 0.01 {
        let share = fields.stator_share.min(1.0);
        let length = reach * (LEAST_LENGTH + (1.0 - LEAST_LENGTH) * share);
        scene.push(Shape::Arrow {
            from: MIDDLE,
            to: Point::polar(length, fields.stator_rad),
            width: shaft,
            head: head.min(length),
            fill: theme.ink,
            edge: edge(theme.panel),
        });
    }
    scene.push(Shape::disc(
        MIDDLE,
        sizes.shaft,
        theme.iron,
        edge(theme.steel_edge),
    ));
}

/// Says in a corner what the two arrows are.
pub(super) fn key(scene: &mut Scene, theme: &Theme) {
    let left = -super::REACH + 0.05;
    let edge = Some(Edge {
        width: Width::Points(crate::scene::LINE_THIN),
        colour: theme.ink,
    });
    for (y, fill, words) in [
        (
            -super::REACH + 0.13,
            theme.panel,
            "field of the magnets, as an electrical angle",
        ),
        (
            -super::REACH + 0.05,
            theme.ink,
            "field of the winding, likewise",
        ),
    ] {
        scene.push(Shape::Arrow {
            from: crate::scene::at(left, y),
            to: crate::scene::at(left + 0.11, y),
            width: 0.016,
            head: 0.044,
            fill,
            edge,
        });
        let type_size = Width::Bench(super::KEY_TYPE);
        let anchor = crate::scene::at(left + 0.15, y);
        scene.push(Shape::text(
            anchor,
            words,
            type_size,
            Align::Left,
            theme.ink_soft,
        ));
    }
}

/// Words on a plate of their own.
pub(super) fn plate(scene: &mut Scene, anchor: Point, words: &str, size: f64, theme: &Theme) {
    #[expect(clippy::cast_precision_loss, reason = "a few characters")]
    let half_width = 0.32 * size * words.chars().count() as f64 + 0.25 * size;
    let half = crate::scene::at(half_width, 0.72 * size);
    scene.push(Shape::rect(
        anchor - half,
        anchor + half,
        0.35 * size,
        theme.plate,
        None,
    ));
    scene.push(Shape::text(
        anchor,
        words,
        Width::Bench(size),
        Align::Centre,
        theme.ink,
    ));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::machine::tests_support::{tooth_coils, view};
    use crate::setup::Construction;

    /// Conventions: step 1 is U high, V low, from 30° to 90°. The winding's field then leads the
    /// rotor's by 120° at the step's start and 60° at its end, 90° in the middle.
    #[test]
    fn a_step_begins_120_and_ends_60_degrees_ahead() {
        let sides = tooth_coils(12, 14);
        for (theta_deg, lead_deg) in [(30.0_f64, 120.0), (60.0, 90.0), (90.0, 60.0)] {
            let theta = theta_deg.to_radians() / 7.0;
            let view = view(Construction::Outrunner, 14, &sides, theta, [1.0, -1.0, 0.0]);
            let fields = field_angles(&view);
            assert!(
                (fields.lead_rad.to_degrees() - lead_deg).abs() < 1e-9,
                "{fields:?}"
            );
            assert!((fields.stator_share - 1.0).abs() < 1e-12);
        }
    }
}
