//! Magnets, back iron and shaft.

use super::{MIDDLE, MachineView, Proportions, stator, thin};
use crate::scene::{Align, Point, Scene, Shape, TURN, Theme, Width};
use crate::setup::Construction;
use crate::winding::Phase;

/// Angle of the first north pole's middle when the mechanical angle is zero, in rad.
///
/// With the sides of U at slot angles φ (sign s: + towards the viewer) and a gap field that is
/// strongest outwards at α, the flux law for a + side in positive rotation gives the EMF that
/// opposes positive current, e_u ∝ −Σ s · cos p(φ − α). Setting that to sin pθ fixes α − θ:
/// with ψ the direction of Σ s · e^{jpφ}, p·(α − θ) = ψ + 90°. A north pole that faces inwards
/// (outrunner) is where the outward field is most negative, half an electrical turn on.
///
/// Derived here from F = i l × B (current towards the viewer in an outward field pushes the wire
/// counter-clockwise, so the rotor clockwise); a test below checks the pull on every side.
#[must_use]
pub fn magnet_offset_rad(view: &MachineView<'_>) -> f64 {
    let pole_pairs = f64::from((view.poles / 2).max(1));
    let mut sum = Point::default();
    for (slot_idx, layers) in view.sides.iter().enumerate() {
        for side in layers
            .iter()
            .flatten()
            .filter(|side| side.phase == Phase::U)
        {
            let spoke = Point::polar(1.0, pole_pairs * stator::slot_rad(view, slot_idx));
            sum = if side.towards_viewer {
                sum + spoke
            } else {
                sum - spoke
            };
        }
    }
    let psi_rad = libm::atan2(sum.y, sum.x);
    let quarter = TURN / 4.0;
    let quarter = if view.construction == Construction::Inrunner {
        quarter
    } else {
        -quarter
    };
    (psi_rad + quarter) / pole_pairs
}

/// The bell of an outrunner with its magnets.
pub(super) fn bell(scene: &mut Scene, view: &MachineView<'_>, sizes: &Proportions, theme: &Theme) {
    let low = sizes.magnet_back - 0.004;
    scene.push(Shape::ring(
        MIDDLE,
        low,
        sizes.rotor_iron,
        theme.iron,
        thin(theme.steel_edge),
    ));
    magnets(scene, view, sizes, theme);
    shaft(scene, view, sizes, theme);
}

/// The rotor of an inrunner.
pub(super) fn core(scene: &mut Scene, view: &MachineView<'_>, sizes: &Proportions, theme: &Theme) {
    scene.push(Shape::disc(
        MIDDLE,
        sizes.magnet_back + 0.004,
        theme.iron,
        thin(theme.steel_edge),
    ));
    magnets(scene, view, sizes, theme);
    shaft(scene, view, sizes, theme);
}

fn magnets(scene: &mut Scene, view: &MachineView<'_>, sizes: &Proportions, theme: &Theme) {
    let first_rad = view.theta_mech_rad + magnet_offset_rad(view);
    let pitch_rad = TURN / f64::from(view.poles.max(2));
    let inner = sizes.magnet_face.min(sizes.magnet_back);
    let outer = sizes.magnet_face.max(sizes.magnet_back);
    for pole in 0..view.poles {
        let north = pole % 2 == 0;
        let middle_rad = first_rad + f64::from(pole) * pitch_rad;
        let (fill, on_pole) = if north {
            (theme.north, theme.on_north)
        } else {
            (theme.south, theme.on_south)
        };
        scene.push(Shape::RingSector {
            centre: MIDDLE,
            inner,
            outer,
            middle_rad,
            sweep_rad: sizes.magnet_arc * pitch_rad,
            corner: 0.12 * (outer - inner),
            fill,
            edge: thin(theme.steel_edge),
        });
        let letter = if north { "N" } else { "S" };
        let size = (0.62 * (outer - inner)).min(0.5 * pitch_rad * inner);
        let anchor = Point::polar(inner.midpoint(outer), middle_rad);
        scene.push(Shape::text(
            anchor,
            letter,
            Width::Bench(size),
            Align::Centre,
            on_pole,
        ));
    }
}

fn shaft(scene: &mut Scene, view: &MachineView<'_>, sizes: &Proportions, theme: &Theme) {
    // A flat on the shaft would hide under the arrows of the fields; the dial's hand outside
    // shows the angle instead, and a groove in the iron shows that it is the iron that turns.
    let (low, high) = match view.construction {
        Construction::Outrunner => (sizes.magnet_back, sizes.rotor_iron),
        Construction::Inrunner => (sizes.hub - 0.05, sizes.hub - 0.01),
    };
    let groove = |share: f64| Point::polar(low + share * (high - low), view.theta_mech_rad);
    let width = Width::Bench(0.016);
    scene.push(Shape::line(groove(0.3), groove(0.7), width, theme.ink_soft));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::machine::tests_support::{tooth_coils, view};

    /// F = i l × B on every coil side, with the currents of a step in the middle of its range,
    /// turns the rotor forward; conventions table of the six steps.
    #[test]
    fn the_currents_drawn_pull_the_rotor_forward() {
        let steps: [(f64, [f64; 3]); 6] = [
            (60.0, [1.0, -1.0, 0.0]),
            (120.0, [1.0, 0.0, -1.0]),
            (180.0, [0.0, 1.0, -1.0]),
            (240.0, [-1.0, 1.0, 0.0]),
            (300.0, [-1.0, 0.0, 1.0]),
            (0.0, [0.0, -1.0, 1.0]),
        ];
        for construction in [Construction::Inrunner, Construction::Outrunner] {
            for (slots, poles) in [(3, 2), (9, 6), (9, 8), (12, 10), (12, 14), (72, 80)] {
                let sides = tooth_coils(slots, poles);
                let mut torques = Vec::new();
                for (theta_elec_deg, currents) in steps {
                    let theta = f64::to_radians(theta_elec_deg) / f64::from(poles / 2);
                    let view = view(construction, poles, &sides, theta, currents);
                    torques.push(rotor_torque(&view));
                }
                for torque in &torques {
                    assert!(*torque > 0.0, "{construction:?} {poles}: {torques:?}");
                    assert!((torque / torques[0] - 1.0).abs() < 1e-9, "{torques:?}");
                }
            }
        }
    }

    /// Torque on the rotor: the reaction to the force on every wire, fundamental gap field.
    fn rotor_torque(view: &MachineView<'_>) -> f64 {
        let p = f64::from(view.poles / 2);
        let north_rad = view.theta_mech_rad + magnet_offset_rad(view);
        let north_is_outward = view.construction == Construction::Inrunner;
        let mut torque = 0.0;
        for (slot_idx, layers) in view.sides.iter().enumerate() {
            for side in layers.iter().flatten() {
                let field = libm::cos(p * (stator::slot_rad(view, slot_idx) - north_rad));
                let outward = if north_is_outward { field } else { -field };
                torque -= view.share(*side) * outward;
            }
        }
        torque
    }
}
