//! Heat in the output stage: conduction, diodes, switching, and the junction's temperature.

use super::build::Controller;

/// Rise of a MOSFET's on-resistance per kelvin, relative to that at 25 °C.
///
/// Common practice, no source: silicon MOSFETs have some 1.4 times their 25 °C value at 100 °C.
pub const RESISTANCE_RISE_PER_K: f64 = 0.005;

/// Temperature at which on-resistances are given, in °C.
const REFERENCE_DEG_C: f64 = 25.0;

/// Heat of a controller at an operating point. SI units, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// In the channels that are on, all MOSFETs, in W.
    pub conduction_w: f64,
    /// In the diodes that carry the current in the off time and while a phase leaves, in W.
    pub diode_w: f64,
    /// While switches change over, in W.
    pub switching_w: f64,
    /// Of one MOSFET, mean over all, in W.
    pub per_mosfet_w: f64,
    /// Its junction in °C; `None`: with each kelvin its resistance grows faster than heat leaves.
    pub junction_deg_c: Option<f64>,
}

impl Heat {
    /// All of it in W.
    #[must_use]
    pub fn total_w(&self) -> f64 {
        self.conduction_w + self.diode_w + self.switching_w
    }

    /// The on-resistance's factor over 25 °C.
    #[must_use]
    pub fn resistance_factor(&self) -> f64 {
        self.junction_deg_c.map_or(1.0, |junction| {
            1.0 + RESISTANCE_RISE_PER_K * (junction - REFERENCE_DEG_C)
        })
    }
}

/// Heat of the output stage from what flows.
///
/// Conduction `phase_squares_a2` · R_on/n, with the sum of the three phases' mean squares; R_on
/// grows with the junction's temperature T = T_air + R_th P, which is a straight line in P and
/// solved as such. Switching ½ U I (t_rise + t_fall) f of the one leg that chops (N. Mohan, T. M.
/// Undeland, W. P. Robbins, *Power Electronics*, section on switching losses; from memory). The
/// heat is shared alike by 6 n MOSFETs. When a switch's share is not that of its neighbours, as
/// in a stalled motor, the hottest is hotter than this.
#[must_use]
pub fn output_stage(
    controller: &Controller,
    bridge_v: f64,
    motor_current_a: f64,
    phase_squares_a2: f64,
    diode_w: f64,
) -> Heat {
    let n_mosfets = 6.0 * f64::from(controller.parallel);
    let cold_w = phase_squares_a2 * controller.on_resistance_ohm / f64::from(controller.parallel);
    let switching_w = if controller.duty < 1.0 {
        0.5 * bridge_v * motor_current_a * controller.switching_time_s * controller.pwm_frequency_hz
    } else {
        0.0
    };
    let rise_k_per_w = controller.thermal_resistance_k_per_w;
    // P = (cold (1 + a (T_air − 25 + R_th P)) + rest) of one MOSFET, solved for P
    let (cold, rest) = (cold_w / n_mosfets, (diode_w + switching_w) / n_mosfets);
    let at_ambient = 1.0 + RESISTANCE_RISE_PER_K * (controller.ambient_deg_c - REFERENCE_DEG_C);
    let gain = cold * RESISTANCE_RISE_PER_K * rise_k_per_w;
    let per_mosfet_w = (cold * at_ambient + rest) / (1.0 - gain);
    let runs_away = gain >= 1.0;
    let per_mosfet_w = if runs_away { cold + rest } else { per_mosfet_w };
    Heat {
        conduction_w: n_mosfets * (per_mosfet_w - rest),
        diode_w,
        switching_w,
        per_mosfet_w,
        junction_deg_c: (!runs_away)
            .then_some(controller.ambient_deg_c + rise_k_per_w * per_mosfet_w),
    }
}
