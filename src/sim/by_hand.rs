//! A machine whose shaft a hand turns, with its leads on nothing.

use std::f64::consts::{FRAC_PI_6, TAU};

use super::Sample;
use crate::drive::LegState;
use crate::drive::steps::step_number;
use crate::machine::Machine;

/// What is measured on a machine that is turned by hand, its leads unplugged: back-EMF in
/// proportion to the speed, cogging, and no current. `theta_mech_rad` and `speed_rad_s` are what
/// the hand does; the step is the one that a drive would be in.
///
/// Terminal voltages are against the star point. In delta the loop is taken as open: what
/// circulates in it from a third harmonic is not asked here.
#[must_use]
pub fn by_hand(machine: &Machine, time_s: f64, theta_mech_rad: f64, speed_rad_s: f64) -> Sample {
    let theta_elec_rad = f64::from(machine.pole_pairs) * theta_mech_rad;
    let back_emf_v = machine.back_emf_v(theta_elec_rad, speed_rad_s);
    let cogging = f64::from(machine.cogging_per_turn) * theta_mech_rad;
    // Step 1 begins at 30°; the sixth before it is step 6.
    #[expect(clippy::cast_possible_truncation, reason = "sixths of a turn, 0 to 5")]
    let sixth = ((theta_elec_rad - FRAC_PI_6).rem_euclid(TAU) / (TAU / 6.0)).floor() as i64;
    Sample {
        time_s,
        theta_mech_rad,
        theta_elec_rad,
        speed_rad_s,
        phase_current_a: [0.0; 3],
        line_current_a: [0.0; 3],
        back_emf_v,
        terminal_v: back_emf_v,
        em_torque_nm: 0.0,
        torque_nm: -machine.cogging_peak_nm * libm::sin(cogging),
        supply_current_a: 0.0,
        supply_voltage_v: 0.0,
        step: step_number(sixth),
        legs: [LegState::Floating; 3],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Setup, built_in};

    fn machine() -> Machine {
        Machine::new(&Setup::parse(built_in(), "built in").unwrap().machine)
    }

    /// Kv is rpm per volt of peak line-to-line EMF, so 920 rpm/V turned at 92 rpm shows 0.1 V.
    #[test]
    fn the_peak_between_two_leads_is_speed_over_kv() {
        let machine = machine();
        let speed = 92.0 * TAU / 60.0;
        let peak = (0..3600)
            .map(|k| by_hand(&machine, 0.0, f64::from(k) * TAU / 3600.0, speed).back_emf_v)
            .map(|e| (e[0] - e[1]).abs())
            .fold(0.0, f64::max);
        assert!((peak - 0.1).abs() < 1e-9, "{peak}");
        // Twice as fast, twice the EMF; backwards, its mirror; at rest, none.
        let at = |speed: f64| by_hand(&machine, 0.0, 0.2, speed).back_emf_v;
        for k in 0..3 {
            assert!((at(2.0)[k] - 2.0 * at(1.0)[k]).abs() < 1e-15);
            assert_eq!(at(-1.0)[k], -at(1.0)[k]);
            assert_eq!(at(0.0)[k], 0.0);
        }
    }

    /// Conventions: step 1 from 30° to 90° electrical, and so on.
    #[test]
    fn the_step_is_that_of_the_angle() {
        let machine = machine();
        for step in 1..=6_u8 {
            let theta_elec = f64::from(60 * i32::from(step)).to_radians();
            let sample = by_hand(&machine, 0.0, theta_elec / 7.0, 0.0);
            assert_eq!(sample.step, step);
        }
    }
}
