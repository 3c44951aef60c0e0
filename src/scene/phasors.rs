//! The coil sides of each phase added up: why three phases balance, or by how much they do not.
//!
//! Each side is a short vector at the electrical angle of its slot, turned round where its sign is
//! `-`. Laid head to tail the sides of a phase reach as far as its winding factor says: the thin
//! chain, and the arrow from its start to its end. The ring is a winding factor of 1; the faint
//! rays show where V and W belong, a third of a turn to either side of U.

use super::{
    Align, Dash, Edge, LINE_THIN, Point, Scene, Shape, TURN, TYPE_POINTS, Theme, Width, at, path,
    phase_dash,
};
use crate::winding::{Draft, Phase, Phasor};

/// Half the width of the picture, in winding factors.
const REACH: f64 = 1.32;
/// Width of an arrow's stem, in winding factors.
const STEM: f64 = 0.026;
/// Chains of more sides than this are drawn as their arrow alone.
const MOST_SIDES: usize = 400;

/// Draws the phasors of a draft.
#[must_use]
pub fn phasors(draft: &Draft, theme: &Theme) -> Scene {
    let mut scene = Scene::new(at(-REACH, -REACH), at(REACH, REACH));
    let centre = Point::default();
    let quiet = |colour| Edge {
        width: Width::Points(LINE_THIN),
        colour,
    };
    scene.push(Shape::disc(
        centre,
        1.0,
        theme.panel,
        Some(quiet(theme.line)),
    ));
    let balance = draft.balance();
    let start_rad = balance[0].phasor.angle_rad();
    for third in 0..3 {
        let ray = Point::polar(1.0, start_rad + TURN * f64::from(third) / 3.0);
        scene.push(Shape::Line {
            from: centre,
            to: ray,
            width: Width::Points(LINE_THIN),
            colour: theme.line,
            dash: Some(Dash {
                on: 0.03,
                period: 0.06,
                offset: 0.0,
            }),
        });
    }
    #[expect(clippy::cast_precision_loss, reason = "a few thousand sides")]
    let share = draft.sides().len() as f64 / 3.0;
    for phase in Phase::ALL {
        chain(&mut scene, draft, phase, share, theme);
    }
    for of in balance {
        arrow(&mut scene, of.phase, of.phasor, theme);
    }
    scene.push(Shape::text(
        at(REACH - 0.04, -REACH + 0.12),
        "ring: winding factor 1",
        Width::Points(TYPE_POINTS[0]),
        Align::Right,
        theme.ink_soft,
    ));
    scene
}

/// The sides of a phase, head to tail, in the order in which that is shortest to follow: by angle.
fn chain(scene: &mut Scene, draft: &Draft, phase: Phase, share: f64, theme: &Theme) {
    let mut spokes = draft.spokes(phase);
    if spokes.len() > MOST_SIDES || spokes.is_empty() {
        return;
    }
    let from_rad = draft.phasor(phase, 1).angle_rad() - TURN / 2.0;
    spokes.sort_by(|one, other| {
        let after = |spoke: &Phasor| (spoke.angle_rad() - from_rad).rem_euclid(TURN);
        after(one).total_cmp(&after(other))
    });
    let mut here = Point::default();
    let mut corners = vec![here];
    for spoke in spokes {
        here = here + at(spoke.re, spoke.im) * (1.0 / share);
        corners.push(here);
    }
    let colour = theme.phase(phase);
    for shape in path(&corners, Width::Points(LINE_THIN), colour, None) {
        scene.push(shape);
    }
    for corner in &corners[1..] {
        scene.push(Shape::disc(*corner, 0.012, colour, None));
    }
}

fn arrow(scene: &mut Scene, phase: Phase, phasor: Phasor, theme: &Theme) {
    let to = at(phasor.re, phasor.im);
    let length = to.length();
    let colour = theme.phase(phase);
    if length > 1e-6 {
        scene.push(Shape::Line {
            from: Point::default(),
            to: to * (1.0 - (0.09 / length).min(1.0)),
            width: Width::Bench(STEM),
            colour,
            dash: phase_dash(phase, STEM),
        });
        let along = to.unit();
        let (tip, back) = (to, to - along * 0.11f64.min(length));
        let side = along.left() * 0.042;
        let edge = Some(Edge {
            width: Width::Points(LINE_THIN),
            colour: theme.panel,
        });
        scene.push(Shape::triangle(tip, back - side, back + side, colour, edge));
    }
    let anchor = if length > 1e-6 {
        to.unit() * (length.max(0.25) + 0.13)
    } else {
        let apart = TURN * f64::from(u8::try_from(phase.idx()).unwrap_or(0)) / 3.0;
        Point::polar(0.13, apart)
    };
    scene.push(Shape::text(
        anchor,
        phase.letter(),
        Width::Points(TYPE_POINTS[1]),
        Align::Centre,
        theme.ink,
    ));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::winding::{CoilSide, Winding};

    /// The arrow of each phase ends where its chain does.
    #[test]
    fn a_chain_ends_at_the_tip() {
        let winding = Winding::lay_out(12, 10, 2, 1).unwrap();
        let mut draft = Draft::of(&winding);
        let other = CoilSide {
            phase: Phase::W,
            towards_viewer: true,
        };
        draft.put(3, other, true);
        let scene = phasors(&draft, &Theme::DARK);
        for of in draft.balance() {
            let colour = Theme::DARK.phase(of.phase);
            let tip = at(of.phasor.re, of.phasor.im);
            let last = scene.shapes.iter().rev().find_map(|shape| match shape {
                Shape::RingSector { centre, fill, .. } if *fill == colour => Some(*centre),
                _ => None,
            });
            assert!((last.unwrap() - tip).length() < 1e-9, "{}", of.phase);
        }
    }

    /// A phase without any side, and one whose sides cancel, leave no arrow and no bad number.
    #[test]
    fn nothing_to_add_up_is_drawn_too() {
        let winding = Winding::lay_out(12, 14, 2, 1).unwrap();
        let mut draft = Draft::of(&winding);
        let u = CoilSide {
            phase: Phase::U,
            towards_viewer: true,
        };
        for place in 0..24 {
            draft.put(place, u, false);
        }
        for shape in phasors(&draft, &Theme::LIGHT).shapes {
            if let Shape::Line { from, to, .. } = shape {
                assert!(from.length().is_finite() && to.length().is_finite());
            }
        }
    }
}
