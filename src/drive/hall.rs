//! Three Hall sensors on the stator, as a drive with sensors reads them.
//!
//! Each tells the sign of one line-to-line EMF, so their edges are the step changes without
//! advance: sensor 1 is on while e_u > e_v, sensor 2 while e_v > e_w, sensor 3 while e_w > e_u
//! (the placement of 120°; which code belongs to which step is a habit of each motor, not a
//! standard).

use std::f64::consts::{PI, TAU};

/// The states of the three sensors at an electrical angle in rad (any range).
///
/// Sensor 1 is on from 330° to 150°, sensor 2 from 90° to 270°, sensor 3 from 210° to 30°.
#[must_use]
pub fn hall_states(theta_elec_rad: f64) -> [bool; 3] {
    std::array::from_fn(|sensor_idx| {
        let on_from_rad = [330.0_f64, 90.0, 210.0][sensor_idx].to_radians();
        // A hair's breadth, so that an edge belongs to the step that begins there.
        (theta_elec_rad - on_from_rad + 1e-12).rem_euclid(TAU) < PI
    })
}

/// The code of the three states, sensor 1 first: `101`.
#[must_use]
pub fn hall_code(states: [bool; 3]) -> String {
    states.map(|on| if on { '1' } else { '0' }).iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::emf::unit_shape;
    use crate::setup::EmfShape;

    /// The three are the signs of the line-to-line EMFs, for both plain shapes.
    #[test]
    fn they_are_the_signs_of_the_line_emfs() {
        for shape in [EmfShape::Sine, EmfShape::Trapezoid] {
            for tenth_deg in 0..3600 {
                let theta = f64::from(tenth_deg).to_radians() / 10.0;
                let emf: [f64; 3] = std::array::from_fn(|k| {
                    unit_shape(&shape, theta - [0.0, 1.0, 2.0][k] * TAU / 3.0)
                });
                for (k, on) in hall_states(theta).into_iter().enumerate() {
                    let line = emf[k] - emf[(k + 1) % 3];
                    assert!(line.abs() < 1e-9 || (line > 0.0) == on, "{tenth_deg} {k}");
                }
            }
        }
    }
}
