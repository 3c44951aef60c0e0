//! Heat in the output stage: conduction, diodes, switching, and the junction's temperature.

use super::build::Controller;

/// Rise of a MOSFET's on-resistance per kelvin, relative to that at 25 °C.
///
/// Common practice, no source: silicon MOSFETs have some 1.4 times their 25 °C value at 100 °C.
pub const RESISTANCE_RISE_PER_K: f64 = 0.005;

/// Temperature at which on-resistances are given, in °C.
const REFERENCE_DEG_C: f64 = 25.0;

/// What flows through one side of the bridge: its three upper or its three lower switches.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Side {
    /// Sum of the three switches' mean squares of current, diodes not included, in A².
    pub squares_a2: f64,
    /// Heat in the drop of the three diodes in W.
    pub diode_w: f64,
}

/// Heat of a controller at an operating point. SI units, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// In the channels that are on, all MOSFETs, in W.
    pub conduction_w: f64,
    /// In the diodes that carry the current in the off time and while a phase leaves, in W.
    pub diode_w: f64,
    /// While switches change over, in W.
    pub switching_w: f64,
    /// Of one MOSFET of the hotter side, in W.
    pub per_mosfet_w: f64,
    /// Whether the hotter side is the upper one.
    pub upper_is_hotter: bool,
    /// On-resistance over that at 25 °C, mean over both sides by what flows through them.
    pub on_resistance_factor: f64,
    /// Junction on the hotter side in °C; `None`: with each kelvin its resistance grows faster than
    /// heat leaves.
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
    pub const fn resistance_factor(&self) -> f64 {
        self.on_resistance_factor
    }
}

/// Heat of one side, cold conduction and the rest of one MOSFET given.
#[derive(Clone, Copy, Debug)]
struct OneMosfet {
    conduction_w: f64,
    whole_w: f64,
    runs_away: bool,
}

impl OneMosfet {
    /// P = cold (1 + a (T_air − 25 + R_th P)) + rest, solved for P.
    fn of(controller: &Controller, cold_w: f64, rest_w: f64) -> Self {
        let at_ambient = 1.0 + RESISTANCE_RISE_PER_K * (controller.ambient_deg_c - REFERENCE_DEG_C);
        let gain = cold_w * RESISTANCE_RISE_PER_K * controller.thermal_resistance_k_per_w;
        let runs_away = gain >= 1.0;
        let whole_w = if runs_away {
            cold_w + rest_w
        } else {
            (cold_w * at_ambient + rest_w) / (1.0 - gain)
        };
        Self {
            conduction_w: whole_w - rest_w,
            whole_w,
            runs_away,
        }
    }
}

/// Heat of the output stage from what flows through its upper and its lower side, and from the mean
/// of the currents at which the chopping switch turns on and off.
///
/// Conduction I²·R_on/n, with the sum of the switches' mean squares; R_on grows with the junction's
/// temperature T = T_air + R_th P, which is a straight line in P and solved as such.
/// Switching ½ U I (t_rise + t_fall) f of the upper switch that chops (N. Mohan, T. M. Undeland,
/// W. P. Robbins, *Power Electronics*, section on switching losses; from memory). The upper
/// switches chop and the lower ones take the off time, so that both sides have their own heat; the
/// 3 n MOSFETs of a side share theirs alike, as they do in lasting running. In a stalled motor the
/// hottest is hotter than this.
#[must_use]
pub fn output_stage(
    controller: &Controller,
    bridge_v: f64,
    switched_a: f64,
    [upper, lower]: [Side; 2],
) -> Heat {
    let parallel = f64::from(controller.parallel);
    let per_side = 3.0 * parallel;
    let switching_w = if controller.duty < 1.0 {
        0.5 * bridge_v * switched_a * controller.switching_time_s * controller.pwm_frequency_hz
    } else {
        0.0
    };
    let cold_w = |side: Side| side.squares_a2 * controller.on_resistance_ohm / parallel;
    let one = |side: Side, more_w: f64| {
        OneMosfet::of(
            controller,
            cold_w(side) / per_side,
            (side.diode_w + more_w) / per_side,
        )
    };
    let (of_upper, of_lower) = (one(upper, switching_w), one(lower, 0.0));
    let conduction_w = per_side * (of_upper.conduction_w + of_lower.conduction_w);
    let all_cold_w = cold_w(upper) + cold_w(lower);
    let upper_is_hotter = of_upper.whole_w > of_lower.whole_w;
    let hotter = if upper_is_hotter { of_upper } else { of_lower };
    let runs_away = of_upper.runs_away || of_lower.runs_away;
    let rise_k = controller.thermal_resistance_k_per_w * hotter.whole_w;
    let at_ambient = 1.0 + RESISTANCE_RISE_PER_K * (controller.ambient_deg_c - REFERENCE_DEG_C);
    Heat {
        conduction_w,
        diode_w: upper.diode_w + lower.diode_w,
        switching_w,
        per_mosfet_w: hotter.whole_w,
        upper_is_hotter,
        on_resistance_factor: if all_cold_w > 0.0 {
            conduction_w / all_cold_w
        } else {
            at_ambient
        },
        junction_deg_c: (!runs_away).then_some(controller.ambient_deg_c + rise_k),
    }
}
