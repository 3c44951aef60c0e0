//! A machine whose shaft a hand turns, with its leads on nothing.

use std::f64::consts::{FRAC_PI_6, TAU};

use super::Sample;
use crate::drive::LegState;
use crate::drive::steps::step_number;
use crate::machine::Machine;
use crate::setup::Connection;

/// What a hand does with a shaft at an instant, and what circulates in a delta meanwhile.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Handling {
    /// The instant in s.
    pub time_s: f64,
    /// Angle of the shaft in rad.
    pub theta_mech_rad: f64,
    /// Its speed in rad/s, signed.
    pub speed_rad_s: f64,
    /// Current round the loop of a delta in A, as [`loop_current_a`] gives it; 0 in star.
    pub loop_current_a: f64,
}

/// What is measured on a machine that is turned by hand, its leads unplugged: back-EMF in
/// proportion to the speed, cogging, and no current in a lead. The step is the one that a drive
/// would be in.
///
/// In star the terminal voltages are against the star point; in delta against their own mean, and
/// the windings carry the current that circulates: what of the EMF is common to all three (its
/// harmonics of order 3, 9 …) drives it, drops in the windings again and is not seen at the leads.
#[must_use]
pub fn by_hand(machine: &Machine, hand: &Handling) -> Sample {
    let &Handling {
        time_s,
        theta_mech_rad,
        speed_rad_s,
        loop_current_a,
    } = hand;
    let theta_elec_rad = f64::from(machine.pole_pairs) * theta_mech_rad;
    let back_emf_v = machine.back_emf_v(theta_elec_rad, speed_rad_s);
    let cogging = f64::from(machine.cogging_per_turn) * theta_mech_rad;
    // Step 1 begins at 30°; the sixth before it is step 6.
    #[expect(clippy::cast_possible_truncation, reason = "sixths of a turn, 0 to 5")]
    let sixth = ((theta_elec_rad - FRAC_PI_6).rem_euclid(TAU) / (TAU / 6.0)).floor() as i64;
    let (terminal_v, circulating_a) = match machine.connection {
        Connection::Star => (back_emf_v, 0.0),
        // Winding U lies between leads U and V, V between V and W, W between W and U.
        Connection::Delta => {
            let lead = |k: usize| (back_emf_v[k] - back_emf_v[(k + 2) % 3]) / 3.0;
            ([lead(0), lead(1), lead(2)], loop_current_a)
        }
    };
    // Power over speed; at rest nothing drives the loop, so its torque is that of 1 rad/s.
    let per_speed = machine.back_emf_v(theta_elec_rad, 1.0);
    let em_torque_nm = circulating_a * per_speed.iter().sum::<f64>();
    Sample {
        time_s,
        theta_mech_rad,
        theta_elec_rad,
        speed_rad_s,
        phase_current_a: [circulating_a; 3],
        line_current_a: [0.0; 3],
        back_emf_v,
        terminal_v,
        em_torque_nm,
        torque_nm: em_torque_nm - machine.cogging_peak_nm * libm::sin(cogging),
        supply_current_a: 0.0,
        supply_voltage_v: 0.0,
        step: step_number(sixth),
        legs: [LegState::Floating; 3],
    }
}

/// The current round the loop of a delta in A, `after_s` later than it was `before_a`, while the
/// mean of the three EMFs goes in a straight line from the first to the second of `mean_emf_v`.
///
/// Round the loop L di/dt + R i + e = 0 for each winding (Kirchhoff's voltage law, every winding
/// alike), of which this is the closed form: exact for a straight e, at any R and L above 0.
#[must_use]
pub fn loop_current_a(machine: &Machine, before_a: f64, mean_emf_v: [f64; 2], after_s: f64) -> f64 {
    if machine.connection == Connection::Star || after_s <= 0.0 {
        return before_a;
    }
    let inductance = machine.phase_inductance_h;
    let time_constants = after_s * machine.phase_resistance_ohm / inductance;
    // ∫ exp(-n (1 - u)) du and ∫ u exp(-n (1 - u)) du over 0 to 1, n time constants
    let [whole, rising] = if time_constants > 1e-4 {
        let whole = -libm::expm1(-time_constants) / time_constants;
        [whole, (1.0 - whole) / time_constants]
    } else {
        [1.0 - time_constants / 2.0, 0.5 - time_constants / 6.0]
    };
    let [from_v, to_v] = mean_emf_v;
    libm::exp(-time_constants) * before_a
        - after_s / inductance * (from_v * whole + (to_v - from_v) * rising)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::{Setup, built_in};

    fn machine() -> Machine {
        Machine::new(&Setup::parse(built_in(), "built in").unwrap().machine)
    }

    fn held(theta_mech_rad: f64, speed_rad_s: f64) -> Handling {
        Handling {
            theta_mech_rad,
            speed_rad_s,
            ..Handling::default()
        }
    }

    /// Kv is rpm per volt of peak line-to-line EMF, so 920 rpm/V turned at 92 rpm shows 0.1 V.
    #[test]
    fn the_peak_between_two_leads_is_speed_over_kv() {
        let machine = machine();
        let speed = 92.0 * TAU / 60.0;
        let peak = (0..3600)
            .map(|k| by_hand(&machine, &held(f64::from(k) * TAU / 3600.0, speed)).back_emf_v)
            .map(|e| (e[0] - e[1]).abs())
            .fold(0.0, f64::max);
        assert!((peak - 0.1).abs() < 1e-9, "{peak}");
        // Twice as fast, twice the EMF; backwards, its mirror; at rest, none.
        let at = |speed: f64| by_hand(&machine, &held(0.2, speed)).back_emf_v;
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
            let sample = by_hand(&machine, &held(theta_elec / 7.0, 0.0));
            assert_eq!(sample.step, step);
        }
    }

    fn delta() -> Machine {
        let text = built_in().replace(r#"connection = "star""#, r#"connection = "delta""#);
        let machine = Machine::new(&Setup::parse(&text, "delta").unwrap().machine);
        assert_eq!(machine.connection, Connection::Delta);
        machine
    }

    /// The closed form against many small steps of the equation itself.
    #[test]
    fn the_loop_current_solves_its_equation() {
        let machine = delta();
        let (r, l) = (machine.phase_resistance_ohm, machine.phase_inductance_h);
        for after_s in [1e-9, 1e-5, 1e-3, 0.2] {
            let exact = loop_current_a(&machine, 0.3, [0.02, -0.05], after_s);
            // the middle-point rule
            let (n, mut current) = (400_000, 0.3);
            let h = after_s / f64::from(n);
            for k in 0..n {
                let e = |t: f64| 0.02 - 0.07 * t / after_s;
                let t = h * f64::from(k);
                let middle = current - 0.5 * h * (r * current + e(t)) / l;
                current -= h * (r * middle + e(t + 0.5 * h)) / l;
            }
            assert!(
                (exact - current).abs() < 1e-7,
                "{after_s}: {exact} {current}"
            );
        }
    }

    /// Between two leads of an open delta a third of what drives the loop is missing, and the
    /// three voltages sum to zero; the loop takes its power from the hand.
    #[test]
    fn a_delta_shows_what_is_not_common_to_its_windings() {
        let machine = delta();
        let mut hand = held(0.31, 20.0);
        hand.loop_current_a = -0.4;
        let sample = by_hand(&machine, &hand);
        let mean = sample.back_emf_v.iter().sum::<f64>() / 3.0;
        for k in 0..3 {
            let between = sample.terminal_v[k] - sample.terminal_v[(k + 1) % 3];
            assert!((between - (sample.back_emf_v[k] - mean)).abs() < 1e-12);
            assert_eq!(sample.phase_current_a[k], -0.4);
            assert_eq!(sample.line_current_a[k], 0.0);
        }
        let power = sample.em_torque_nm * hand.speed_rad_s;
        assert!((power - -0.4 * 3.0 * mean).abs() < 1e-12);
    }
}
