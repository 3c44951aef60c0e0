//! A build: what a label, a shop page and a kitchen scale tell about a motor, a pack, a
//! controller and what they are to move.

use super::loads::{Gear, Loads};
use crate::analysis::{TABLE_DIGITS, Unit, shown};

/// A build: everything a prediction needs. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Build {
    /// What a person calls it.
    pub title: String,
    /// The motor.
    pub motor: MotorLabel,
    /// The battery pack.
    pub pack: Pack,
    /// The controller.
    pub controller: Controller,
    /// Between motor and load.
    pub gear: Gear,
    /// What is moved.
    pub loads: Loads,
    /// Keys that were given with a tolerance, and its half width in SI units: 95 of 100 values lie
    /// within it, by the normal distribution.
    pub tolerances: Vec<(&'static str, f64)>,
}

/// A motor as its label and a meter tell it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorLabel {
    /// Kv in rad/s per volt of peak line EMF.
    pub kv_rad_per_v_s: f64,
    /// Between two terminals in ohm.
    pub line_resistance_ohm: f64,
    /// Between two terminals in H; `None`: estimated from the resistance.
    pub line_inductance_h: Option<f64>,
    /// Pole pairs.
    pub pole_pairs: u32,
    /// No-load current in A.
    pub no_load_current_a: f64,
    /// At this voltage in V.
    pub no_load_voltage_v: f64,
    /// In kg.
    pub mass_kg: Option<f64>,
    /// Largest lasting current in A.
    pub current_limit_a: Option<f64>,
    /// Largest lasting input power in W.
    pub power_limit_w: Option<f64>,
}

/// Mechanical time constant that stands in for a rotor whose inertia nobody gave, in s.
pub const ROTOR_TIME_CONSTANT_S: f64 = 20e-3;

/// Time constant L/R of a winding whose inductance nobody has measured, in s.
///
/// Common practice, no source: near the low end of what motors have. The motors of the built-in
/// example and parts lie between 0.1 ms and 3.3 ms, the large slow ones at the upper end. The
/// prediction says that it was estimated and which way it errs: more inductance makes a motor
/// slower, both by commutation and, with a chopper and a diode, by a current that ceases later.
pub const ESTIMATED_TIME_CONSTANT_S: f64 = 0.2e-3;

impl MotorLabel {
    /// Line inductance in H, estimated where it is not given.
    #[must_use]
    pub fn inductance_h(&self) -> f64 {
        self.line_inductance_h
            .unwrap_or(ESTIMATED_TIME_CONSTANT_S * self.line_resistance_ohm)
    }

    /// Moment of inertia that stands in for a rotor's, in kg m²: [`ROTOR_TIME_CONSTANT_S`] times K_t²/R.
    #[must_use]
    pub fn assumed_rotor_kg_m2(&self) -> f64 {
        let kt = self.torque_constant_nm_per_a();
        ROTOR_TIME_CONSTANT_S * kt * kt / self.line_resistance_ohm
    }

    /// What an estimated inductance means for the figures; `None` where it is given.
    #[must_use]
    pub fn inductance_words(&self) -> Option<String> {
        self.line_inductance_h.is_none().then(|| {
            format!(
                "No inductance is given: {} between terminals is an estimate, {} ms times the resistance. Motors have up to \
                 some twenty times that: one above the estimate makes it slower still, one below it faster.",
                shown(self.inductance_h(), Unit::HENRY, TABLE_DIGITS),
                1e3 * ESTIMATED_TIME_CONSTANT_S
            )
        })
    }

    /// Torque constant K_t = 1/Kv in N m/A: torque per current of two phases in series on the
    /// flat tops. From the power balance E i = T ω.
    #[must_use]
    pub fn torque_constant_nm_per_a(&self) -> f64 {
        1.0 / self.kv_rad_per_v_s
    }

    /// Torque that turns the motor alone, in N m: K_t I₀, taken as the same at every speed.
    #[must_use]
    pub fn no_load_torque_nm(&self) -> f64 {
        self.torque_constant_nm_per_a() * self.no_load_current_a
    }
}

/// A battery pack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pack {
    /// At rest in V.
    pub voltage_v: f64,
    /// With its leads, in ohm.
    pub resistance_ohm: f64,
    /// In A s.
    pub capacity_as: Option<f64>,
    /// Part of the capacity that is used.
    pub usable: f64,
    /// Largest lasting current in A.
    pub current_limit_a: Option<f64>,
}

/// A controller of three legs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controller {
    /// Of one MOSFET, at 25 °C, in ohm.
    pub on_resistance_ohm: f64,
    /// MOSFETs in parallel in each switch.
    pub parallel: u32,
    /// Forward drop of a body diode in V.
    pub diode_drop_v: f64,
    /// In Hz.
    pub pwm_frequency_hz: f64,
    /// Of the high leg, above 0 to 1.
    pub duty: f64,
    /// Whether the lower switch conducts in the off time.
    pub synchronous: bool,
    /// Rise time plus fall time of a switch in s.
    pub switching_time_s: f64,
    /// From one MOSFET's junction to the air in K/W.
    pub thermal_resistance_k_per_w: f64,
    /// Of the air in °C.
    pub ambient_deg_c: f64,
    /// Highest junction temperature in °C.
    pub junction_limit_deg_c: f64,
    /// Largest lasting current in A.
    pub current_limit_a: Option<f64>,
    /// Highest electrical frequency it can commutate in Hz.
    pub frequency_limit_hz: Option<f64>,
}

impl Build {
    /// Torque of the load on the motor's shaft in N m, at a speed of the motor in rad/s, through
    /// the gear, which takes its part whichever way power flows.
    #[must_use]
    pub fn load_nm(&self, speed_rad_s: f64) -> f64 {
        let gear = &self.gear;
        let torque_nm = self.loads.torque_nm(speed_rad_s / gear.ratio) / gear.ratio;
        if torque_nm >= 0.0 {
            torque_nm / gear.efficiency
        } else {
            torque_nm * gear.efficiency
        }
    }

    /// The number behind a key, where the build has it.
    pub(super) fn number(&self, key: &str) -> Option<f64> {
        self.clone().number_mut(key).copied()
    }

    /// The same, to be set.
    pub(super) fn number_mut(&mut self, key: &str) -> Option<&mut f64> {
        let (motor, pack, controller) = (&mut self.motor, &mut self.pack, &mut self.controller);
        let loads = &mut self.loads;
        let (table, name) = key.split_once('.')?;
        match table {
            "motor" => match name {
                "kv" => Some(&mut motor.kv_rad_per_v_s),
                "line_resistance" => Some(&mut motor.line_resistance_ohm),
                "line_inductance" => motor.line_inductance_h.as_mut(),
                "no_load_current" => Some(&mut motor.no_load_current_a),
                "no_load_voltage" => Some(&mut motor.no_load_voltage_v),
                "mass" => motor.mass_kg.as_mut(),
                "current_limit" => motor.current_limit_a.as_mut(),
                "power_limit" => motor.power_limit_w.as_mut(),
                _ => None,
            },
            "pack" => match name {
                "voltage" => Some(&mut pack.voltage_v),
                "resistance" => Some(&mut pack.resistance_ohm),
                "capacity" => pack.capacity_as.as_mut(),
                "usable" => Some(&mut pack.usable),
                "current_limit" => pack.current_limit_a.as_mut(),
                _ => None,
            },
            "controller" => match name {
                "on_resistance" => Some(&mut controller.on_resistance_ohm),
                "diode_drop" => Some(&mut controller.diode_drop_v),
                "pwm_frequency" => Some(&mut controller.pwm_frequency_hz),
                "duty" => Some(&mut controller.duty),
                "switching_time" => Some(&mut controller.switching_time_s),
                "thermal_resistance" => Some(&mut controller.thermal_resistance_k_per_w),
                "ambient" => Some(&mut controller.ambient_deg_c),
                "junction_limit" => Some(&mut controller.junction_limit_deg_c),
                "current_limit" => controller.current_limit_a.as_mut(),
                "frequency_limit" => controller.frequency_limit_hz.as_mut(),
                _ => None,
            },
            "gear" => match name {
                "ratio" => Some(&mut self.gear.ratio),
                "efficiency" => Some(&mut self.gear.efficiency),
                _ => None,
            },
            "load" => match name {
                "constant" => Some(&mut loads.constant_nm),
                "quadratic" => Some(&mut loads.quadratic_nm_s2),
                "inertia" => Some(&mut loads.inertia_kg_m2),
                _ => None,
            },
            "propeller" => {
                let propeller = loads.propeller.as_mut()?;
                match name {
                    "diameter" => Some(&mut propeller.diameter_m),
                    "thrust_coefficient" => Some(&mut propeller.thrust_coefficient),
                    "power_coefficient" => Some(&mut propeller.power_coefficient),
                    "density" => Some(&mut propeller.density_kg_m3),
                    _ => None,
                }
            }
            "vehicle" => {
                let vehicle = loads.vehicle.as_mut()?;
                match name {
                    "mass" => Some(&mut vehicle.mass_kg),
                    // held as a radius
                    "wheel_diameter" => Some(&mut vehicle.wheel_radius_m),
                    "grade" => Some(&mut vehicle.grade),
                    "rolling_coefficient" => Some(&mut vehicle.rolling_coefficient),
                    "drag_area" => Some(&mut vehicle.drag_area_m2),
                    "density" => Some(&mut vehicle.density_kg_m3),
                    _ => None,
                }
            }
            "pump" => {
                let pump = loads.pump.as_mut()?;
                match name {
                    "head" => Some(&mut pump.head_m),
                    "flow" => Some(&mut pump.flow_m3_s),
                    "speed" => Some(&mut pump.speed_rad_s),
                    "efficiency" => Some(&mut pump.efficiency),
                    "density" => Some(&mut pump.density_kg_m3),
                    _ => None,
                }
            }
            "winch" => {
                let winch = loads.winch.as_mut()?;
                match name {
                    "mass" => Some(&mut winch.mass_kg),
                    "drum_diameter" => Some(&mut winch.drum_radius_m),
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// How a value of the file becomes the number held: diameters are held as radii.
    pub(super) fn held_per_given(key: &str) -> f64 {
        if matches!(key, "vehicle.wheel_diameter" | "winch.drum_diameter") {
            0.5
        } else {
            1.0
        }
    }
}
