//! Which part of the machine lies at a place of its picture, and a line round it.

use super::{MIDDLE, MachineView, Proportions, magnet_offset_rad, stator};
use crate::scene::{Colour, Edge, LINE_BOLD, Point, Scene, Shape, TURN, Theme, Width};

/// A part of the machine that can be pointed at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A coil side: slot and layer as in [`MachineView::sides`].
    CoilSide {
        /// Counted from 0.
        slot: usize,
        /// 0 or 1.
        layer: usize,
    },
    /// A magnet, counted from 0, the first one north.
    Magnet {
        /// Counted from 0.
        pole: u32,
    },
}

/// The part at a place of the picture.
#[must_use]
pub fn part_at(view: &MachineView<'_>, place: Point) -> Option<Part> {
    let sizes = sizes(view);
    let radius = place.length();
    let (inner, outer) = magnet_radii(&sizes);
    if (inner..=outer).contains(&radius) {
        let pitch_rad = TURN / f64::from(view.poles.max(2));
        let angle_rad = libm::atan2(place.y, place.x) - magnet_rad(view, 0);
        let pole = (angle_rad / pitch_rad).round();
        let from_middle = (angle_rad - pole * pitch_rad).abs();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "wrapped into 0 to poles"
        )]
        let pole = pole.rem_euclid(f64::from(view.poles)) as u32;
        return (from_middle <= 0.5 * sizes.magnet_arc * pitch_rad)
            .then_some(Part::Magnet { pole });
    }
    (0..view.sides.len())
        .flat_map(|slot| {
            [
                Part::CoilSide { slot, layer: 0 },
                Part::CoilSide { slot, layer: 1 },
            ]
        })
        .find(|part| match part {
            Part::CoilSide { slot, layer } => stator::side_corners(view, &sizes, *slot, *layer)
                .is_some_and(|corners| is_inside(&corners, place)),
            Part::Magnet { .. } => false,
        })
}

/// Draws a line round a part.
pub fn mark(scene: &mut Scene, view: &MachineView<'_>, part: Part, theme: &Theme) {
    let sizes = sizes(view);
    let edge = Some(Edge {
        width: Width::Points(1.5 * LINE_BOLD),
        colour: theme.ink,
    });
    match part {
        Part::CoilSide { slot, layer } => {
            if let Some(corners) = stator::side_corners(view, &sizes, slot, layer) {
                scene.push(Shape::Quad {
                    corners,
                    corner: 0.0,
                    fill: Colour::CLEAR,
                    edge,
                });
            }
        }
        Part::Magnet { pole } => {
            let (inner, outer) = magnet_radii(&sizes);
            scene.push(Shape::RingSector {
                centre: MIDDLE,
                inner,
                outer,
                middle_rad: magnet_rad(view, pole),
                sweep_rad: sizes.magnet_arc * TURN / f64::from(view.poles.max(2)),
                corner: 0.12 * (outer - inner),
                fill: Colour::CLEAR,
                edge,
            });
        }
    }
}

/// Mechanical angle of the middle of a magnet, in rad.
#[must_use]
pub fn magnet_rad(view: &MachineView<'_>, pole: u32) -> f64 {
    let pitch_rad = TURN / f64::from(view.poles.max(2));
    view.theta_mech_rad + magnet_offset_rad(view) + f64::from(pole) * pitch_rad
}

fn sizes(view: &MachineView<'_>) -> Proportions {
    Proportions::new(
        view.construction,
        view.sides.len(),
        view.poles,
        view.geometry,
    )
}

fn magnet_radii(sizes: &Proportions) -> (f64, f64) {
    (
        sizes.magnet_face.min(sizes.magnet_back),
        sizes.magnet_face.max(sizes.magnet_back),
    )
}

/// True where a place lies inside corners that follow each other round in one sense.
fn is_inside(corners: &[Point; 4], place: Point) -> bool {
    let side = |k: usize| {
        let (from, to) = (corners[k], corners[(k + 1) % 4]);
        (to - from).cross(place - from)
    };
    let sides = [side(0), side(1), side(2), side(3)];
    sides.iter().all(|side| *side >= 0.0) || sides.iter().all(|side| *side <= 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::machine::tests_support::{tooth_coils, view};
    use crate::setup::Construction;

    /// Every part is found at its own middle, at any angle of the rotor.
    #[test]
    fn each_part_is_found_where_it_is_drawn() {
        for construction in [Construction::Inrunner, Construction::Outrunner] {
            for theta in [0.0, 0.3, -2.0, 100.0] {
                let sides = tooth_coils(12, 14);
                let view = view(construction, 14, &sides, theta, [0.0; 3]);
                let sizes = sizes(&view);
                for pole in 0..14 {
                    let (inner, outer) = magnet_radii(&sizes);
                    let middle = Point::polar(0.5 * (inner + outer), magnet_rad(&view, pole));
                    assert_eq!(part_at(&view, middle), Some(Part::Magnet { pole }));
                }
                for slot in 0..12 {
                    for layer in 0..2 {
                        let c = stator::side_corners(&view, &sizes, slot, layer).unwrap();
                        let middle = (c[0] + c[1] + c[2] + c[3]) * 0.25;
                        let part = Part::CoilSide { slot, layer };
                        assert_eq!(part_at(&view, middle), Some(part));
                    }
                }
                assert_eq!(part_at(&view, MIDDLE), None, "the shaft is none of them");
            }
        }
    }
}
