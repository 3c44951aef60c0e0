//! Whether three phases are alike: counts, signs, and the phasors of the fundamental.

use std::f64::consts::TAU;

use super::phasor::{Phasor, wrapped};
use super::{CoilSide, Phase, Winding, WindingError};

/// Phasors are taken as equal within this share: the sums have at most a few thousand unit
/// terms, each right to 2e-16, while the smallest true asymmetry of a layout (one side moved to
/// a neighbouring slot of 1200, among 800 of its phase) is above 6e-6.
const EQUAL: f64 = 1e-9;

/// Checks that a winding has three equal phases 120° apart, in either order.
pub(super) fn check(winding: &Winding) -> Result<(), WindingError> {
    let sides = winding.sides();
    let count = |phase: Phase, towards: bool| {
        let wanted = CoilSide {
            phase,
            towards_viewer: towards,
        };
        sides.iter().filter(|side| **side == wanted).count()
    };
    let counts = Phase::ALL.map(|phase| count(phase, true) + count(phase, false));
    if counts[0] != counts[1] || counts[0] != counts[2] {
        return Err(WindingError::UnequalPhases { counts });
    }
    for phase in Phase::ALL {
        let (towards, away) = (count(phase, true), count(phase, false));
        if towards != away {
            return Err(WindingError::SignsDoNotCancel {
                phase,
                towards,
                away,
            });
        }
    }
    let phasors = Phase::ALL.map(|phase| winding.phasor(phase, 1));
    let Some(problem) = off_balance(phasors, counts[0]) else {
        return Ok(());
    };
    let shifted = Phase::ALL.map(|phase| shifted_phasor(winding, phase));
    let balanced_when_shifted = winding.layers() == 2 && off_balance(shifted, counts[0]).is_none();
    Err(match problem {
        Problem::NoFlux { phase } => WindingError::NoFlux {
            phase,
            balanced_when_shifted,
        },
        Problem::Off {
            phase,
            magnitude_ratio,
            angle_off_deg,
        } => WindingError::Unbalanced {
            phase,
            magnitude_ratio,
            angle_off_deg,
            balanced_when_shifted,
        },
    })
}

/// True where V lies 120 electrical degrees before U, not after.
pub(super) fn order_reversed(phasors: [Phasor; 3]) -> bool {
    wrapped(phasors[1].angle_rad() - phasors[0].angle_rad()) < 0.0
}

/// What is off.
enum Problem {
    NoFlux {
        phase: Phase,
    },
    Off {
        phase: Phase,
        magnitude_ratio: f64,
        angle_off_deg: f64,
    },
}

/// The worst phase of three phasors summed from `n_sides` unit vectors each, or `None`.
fn off_balance(phasors: [Phasor; 3], n_sides: usize) -> Option<Problem> {
    #[expect(clippy::cast_precision_loss, reason = "a few thousand sides")]
    let zero = EQUAL * n_sides as f64;
    for (phase, phasor) in Phase::ALL.into_iter().zip(phasors) {
        if phasor.magnitude() <= zero {
            return Some(Problem::NoFlux { phase });
        }
    }
    let [u, v, w] = phasors;
    let third = if order_reversed(phasors) {
        -TAU / 3.0
    } else {
        TAU / 3.0
    };
    let off = |phase, phasor: Phasor, place: f64| {
        let magnitude_ratio = phasor.magnitude() / u.magnitude();
        let angle_off_rad = wrapped(phasor.angle_rad() - u.angle_rad() - place);
        let size = (magnitude_ratio - 1.0).abs() + angle_off_rad.abs();
        let angle_off_deg = angle_off_rad.to_degrees();
        (
            size,
            Problem::Off {
                phase,
                magnitude_ratio,
                angle_off_deg,
            },
        )
    };
    let (of_v, of_w) = (off(Phase::V, v, third), off(Phase::W, w, -third));
    let (size, problem) = if of_v.0 >= of_w.0 { of_v } else { of_w };
    (size > EQUAL).then_some(problem)
}

/// The phasor a phase would have if the second entry of the layout were its first.
fn shifted_phasor(winding: &Winding, phase: Phase) -> Phasor {
    let sides = winding.sides();
    let layers = winding.layers() as usize;
    let mut sum = Phasor::ZERO;
    for slot in 0..winding.slots() {
        for layer in 0..layers {
            let side = sides[(slot as usize * layers + layer + 1) % sides.len()];
            if side.phase == phase {
                sum = sum.plus(winding.slot_phasor(slot, 1).signed(side.towards_viewer));
            }
        }
    }
    sum
}
