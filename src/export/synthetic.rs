//! A run without a simulator, for the tests of this room alone: an ideal trapezoid at steady
//! speed, square currents with a short ramp after each step and a small chopping ripple.

use std::f64::consts::{PI, TAU};

use crate::drive::LegState::{self, Floating as Z, High as H, Low as L};
use crate::record::{Event, EventKind, Record, Sample};

/// The six-step table of the conventions, from step 1.
const TABLE: [[LegState; 3]; 6] = [
    [H, L, Z],
    [H, Z, L],
    [Z, H, L],
    [L, H, Z],
    [L, Z, H],
    [Z, L, H],
];

/// Electrical turns per second.
pub(crate) const ELECTRICAL_HZ: f64 = 500.0;
const PWM_HZ: f64 = 40_000.0;
const DUTY: f64 = 0.7;
const CURRENT_A: f64 = 8.0;
const EMF_V: f64 = 3.4;
const POLE_PAIRS: f64 = 7.0;

/// Unit trapezoid of the conventions.
fn trapezoid(theta_elec_rad: f64) -> f64 {
    let degrees = theta_elec_rad.rem_euclid(TAU) * 180.0 / PI;
    match degrees {
        d if d < 30.0 => d / 30.0,
        d if d < 150.0 => 1.0,
        d if d < 210.0 => (180.0 - d) / 30.0,
        d if d < 330.0 => -1.0,
        d => (d - 360.0) / 30.0,
    }
}

/// Step from 0 to 5 and the part of it gone through.
fn step_at(theta_elec_rad: f64) -> (usize, f64) {
    let sixths = (theta_elec_rad / TAU * 6.0 - 0.5).rem_euclid(6.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to 5"
    )]
    let step = (sixths as usize).min(5);
    (step, sixths.fract())
}

fn chopped(legs: [LegState; 3], on: bool) -> [LegState; 3] {
    legs.map(|leg| if leg == H && !on { Z } else { leg })
}

/// 16 ms, sampled each 5 µs.
pub(crate) fn run() -> Record {
    let mut record = Record::default();
    let duration_s = 0.016;
    let omega_elec = TAU * ELECTRICAL_HZ;
    for idx in 0..=3200_u32 {
        let time_s = f64::from(idx) * 5e-6;
        let theta = omega_elec * time_s;
        let (step, part) = step_at(theta);
        let pwm_part = (time_s * PWM_HZ).fract();
        let ripple = 0.3
            * if pwm_part < DUTY {
                pwm_part / DUTY - 0.5
            } else {
                0.5 - (pwm_part - DUTY) / (1.0 - DUTY)
            };
        let back_emf_v = [0.0, 1.0, 2.0].map(|k| EMF_V * trapezoid(theta - k * TAU / 3.0));
        let rise = (part / 0.25).min(1.0);
        let before = TABLE[(step + 5) % 6];
        let legs = TABLE[step];
        let wanted = |leg: LegState| match leg {
            H => CURRENT_A + ripple,
            L => -CURRENT_A - ripple,
            Z => 0.0,
        };
        let phase = |k: usize| wanted(before[k]) * (1.0 - rise) + wanted(legs[k]) * rise;
        let mut currents = [phase(0), phase(1), phase(2)];
        // The leg that stays dips while the others change over.
        if let Some(stays) = (0..3).find(|&k| before[k] == legs[k]) {
            currents[stays] *= 1.0 - 0.9 * rise * (1.0 - rise);
            let others: Vec<usize> = (0..3).filter(|&k| k != stays).collect();
            let sum = currents[others[0]] + currents[others[1]];
            let factor = -currents[stays] / sum;
            for k in others {
                currents[k] *= factor;
            }
        }
        let speed = omega_elec / POLE_PAIRS;
        let torque = (0..3).map(|k| currents[k] * back_emf_v[k]).sum::<f64>() / speed;
        let terminal_v = [0, 1, 2].map(|k: usize| match legs[k] {
            H => 11.1,
            L => 0.1,
            Z => 5.5 + back_emf_v[k],
        });
        record.push_sample(&Sample {
            time_s,
            theta_mech_rad: theta / POLE_PAIRS,
            theta_elec_rad: theta,
            speed_rad_s: speed * (1.0 + 0.002 * libm::sin(6.0 * theta)),
            phase_current_a: currents,
            line_current_a: currents,
            back_emf_v,
            terminal_v,
            em_torque_nm: torque,
            torque_nm: torque,
            supply_current_a: if pwm_part < DUTY { CURRENT_A } else { 0.0 },
            supply_voltage_v: 11.1,
            step: u8::try_from(step + 1).unwrap(),
            legs: chopped(legs, pwm_part < DUTY),
        });
    }
    let mut marks: Vec<(f64, EventKind)> = vec![(0.0, EventKind::Start)];
    for n in 0..640_u32 {
        let period_s = f64::from(n) / PWM_HZ;
        marks.push((period_s, EventKind::PwmOn));
        marks.push((period_s + DUTY / PWM_HZ, EventKind::PwmOff));
    }
    for n in 0..48_u32 {
        marks.push((
            (f64::from(n) + 0.5) / 6.0 / ELECTRICAL_HZ,
            EventKind::StepChange,
        ));
    }
    marks.push((duration_s, EventKind::End));
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut on = true;
    for (time_s, kind) in marks {
        match kind {
            EventKind::PwmOn => on = true,
            EventKind::PwmOff => on = false,
            _ => {}
        }
        let (step, _) = step_at(omega_elec * (time_s + 1e-12));
        let legs = chopped(TABLE[step], on);
        record.push_event(Event {
            time_s,
            kind,
            step: u8::try_from(step + 1).unwrap(),
            legs,
        });
    }
    record
}
