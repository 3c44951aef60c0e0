//! The machine in cross-section, seen from the drive end.
//!
//! Slots, teeth and coil sides stand still; magnets, back iron and shaft turn. The picture is
//! true to the conventions: a rotor drawn at electrical angle zero stands where the EMF of U
//! crosses zero upwards, and the currents shown push it the way the torque says. One bench unit
//! is the machine's outer radius.

mod fields;
mod parts;
mod proportions;
mod rotor;
mod stator;
mod terminals;

use super::{Edge, LINE_THIN, Point, Scene, Shape, Theme, Width, at, dial};
use crate::setup::{Connection, Construction, GeometrySetup};
use crate::winding::CoilSide;
pub use fields::{FieldAngles, field_angles};
pub use parts::{Part, magnet_rad, mark, part_at};
pub use proportions::Proportions;
pub use rotor::magnet_offset_rad;

/// What the picture of a machine shows.
#[derive(Clone, Copy, Debug)]
pub struct MachineView<'a> {
    /// Rotor inside or outside.
    pub construction: Construction,
    /// Magnetic poles, even, at least 2.
    pub poles: u32,
    /// Coil sides: `[slot][layer]`, slot 0 at three o'clock, slots counter-clockwise. A tooth coil
    /// (span of one slot) has layer 0 at the clockwise side of its slot and layer 1 at the other.
    pub sides: &'a [[Option<CoilSide>; 2]],
    /// Slots that a coil spans; from 2 on, layers lie one over the other.
    pub coil_span: u32,
    /// Star or delta.
    pub connection: Connection,
    /// Drawn to scale where given.
    pub geometry: Option<&'a GeometrySetup>,
    /// Mechanical rotor angle in rad.
    pub theta_mech_rad: f64,
    /// Currents of the phase windings in A, U V W.
    pub phase_current_a: [f64; 3],
    /// The current that is shown at full size, in A; above 0.
    pub full_current_a: f64,
}

impl MachineView<'_> {
    /// Electrical rotor angle in rad.
    #[must_use]
    pub fn theta_elec_rad(&self) -> f64 {
        f64::from(self.poles / 2) * self.theta_mech_rad
    }

    /// Current of a coil side as a share of the full current; positive towards the viewer.
    fn share(&self, side: CoilSide) -> f64 {
        let share = self.phase_current_a[side.phase.idx()] / self.full_current_a.max(1e-12);
        if side.towards_viewer { share } else { -share }
    }
}

/// Half the width and height of the picture in outer radii: the machine, the dial round it and
/// room for the terminals in a corner.
pub const REACH: f64 = 1.21;

/// The same across: the words of the dial lie outside it there, and their size does not shrink
/// with the picture.
pub const REACH_ACROSS: f64 = 1.30;

/// Size of the words that say what the arrows are, in outer radii.
pub const KEY_TYPE: f64 = 0.05;

/// Draws the machine.
#[must_use]
pub fn machine(view: &MachineView<'_>, theme: &Theme) -> Scene {
    machine_with(view, true, theme)
}

/// The same for a small picture, in which the angle between the fields and the key of the arrows
/// could not be read.
#[must_use]
pub fn small_machine(view: &MachineView<'_>, theme: &Theme) -> Scene {
    machine_with(view, false, theme)
}

fn machine_with(view: &MachineView<'_>, words: bool, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(-REACH_ACROSS, -REACH), at(REACH_ACROSS, REACH));
    let sizes = Proportions::new(
        view.construction,
        view.sides.len(),
        view.poles,
        view.geometry,
    );
    scene.push(Shape::Glow {
        centre: at(0.0, 0.0),
        radius: 1.75,
        colour: theme.lamp,
    });
    match view.construction {
        Construction::Outrunner => {
            rotor::bell(&mut scene, view, &sizes, theme);
            stator::stator(&mut scene, view, &sizes, theme);
        }
        Construction::Inrunner => {
            stator::stator(&mut scene, view, &sizes, theme);
            rotor::core(&mut scene, view, &sizes, theme);
        }
    }
    dial::mechanical(&mut scene, 1.06, view.theta_mech_rad, theme);
    dial::electrical(&mut scene, sizes.hub, view.theta_elec_rad(), theme);
    fields::arrows(&mut scene, view, &sizes, words, theme);
    if words {
        fields::key(&mut scene, theme);
    }
    terminals::terminals(&mut scene, view, theme);
    scene
}

/// Draws the winding in its slots for a person who winds it: every side as positive current shows
/// it, slots numbered, the magnets at θ = 0, and none of what only a turning motor has.
#[must_use]
pub fn layout(view: &MachineView<'_>, theme: &Theme) -> Scene {
    let view = &MachineView {
        theta_mech_rad: 0.0,
        phase_current_a: [view.full_current_a; 3],
        ..*view
    };
    let mut scene = Scene::new(
        at(-LAYOUT_REACH, -LAYOUT_REACH),
        at(LAYOUT_REACH, LAYOUT_REACH),
    );
    let sizes = Proportions::new(
        view.construction,
        view.sides.len(),
        view.poles,
        view.geometry,
    );
    match view.construction {
        Construction::Outrunner => {
            rotor::bell(&mut scene, view, &sizes, theme);
            stator::stator(&mut scene, view, &sizes, theme);
        }
        Construction::Inrunner => {
            stator::stator(&mut scene, view, &sizes, theme);
            rotor::core(&mut scene, view, &sizes, theme);
        }
    }
    stator::slot_numbers(&mut scene, view, &sizes, theme);
    scene
}

/// Half the width and height of the picture of a layout, in outer radii.
const LAYOUT_REACH: f64 = 1.12;

/// A thin line round something.
const fn thin(colour: super::Colour) -> Option<Edge> {
    Some(Edge {
        width: Width::Points(LINE_THIN),
        colour,
    })
}

/// Middle of the machine.
const MIDDLE: Point = at(0.0, 0.0);

/// Machines for the tests of this room.
#[cfg(test)]
pub(crate) mod tests_support {
    use super::*;
    use crate::winding::Winding;

    /// Two layers of tooth coils as the winding room lays them out.
    pub(crate) fn tooth_coils(slots: u32, poles: u32) -> Vec<[Option<CoilSide>; 2]> {
        let winding = Winding::lay_out(slots, poles, 2, 1).unwrap();
        (0..slots)
            .map(|slot| {
                let sides = winding.sides_in_slot(slot);
                [sides.first().copied(), sides.get(1).copied()]
            })
            .collect()
    }

    /// A machine with these currents, 1 A being full.
    pub(crate) fn view(
        construction: Construction,
        poles: u32,
        sides: &[[Option<CoilSide>; 2]],
        theta_mech_rad: f64,
        phase_current_a: [f64; 3],
    ) -> MachineView<'_> {
        MachineView {
            construction,
            poles,
            sides,
            coil_span: 1,
            connection: Connection::Star,
            geometry: None,
            theta_mech_rad,
            phase_current_a,
            full_current_a: 1.0,
        }
    }
}
