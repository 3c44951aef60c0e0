//! The build file: what a label, a shop page and a kitchen scale tell about a motor, a pack, a
//! controller and what they are to move.

use crate::setup::{
    Absent, Assembler, KeySpec, Kind, Quantity as Q, SetupErrors, Sheet, above, from, key,
    parse_sheet, quantity,
};

use super::loads::{Gear, Loads, Propeller, Pump, Vehicle, Winch};

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

/// Time constant L/R of a winding whose inductance nobody has measured, in s.
///
/// Common practice, no source: small motors lie between 0.1 ms and 0.5 ms. The prediction says
/// that it was estimated, and shows the dc formula without inductance beside it as the other end.
pub const ESTIMATED_TIME_CONSTANT_S: f64 = 0.2e-3;

impl MotorLabel {
    /// Line inductance in H, estimated where it is not given.
    #[must_use]
    pub fn inductance_h(&self) -> f64 {
        self.line_inductance_h
            .unwrap_or(ESTIMATED_TIME_CONSTANT_S * self.line_resistance_ohm)
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

/// Tables of a build file.
const TABLES: &[(&str, &str)] = &[
    ("motor", "From the label, the shop page, or a meter."),
    ("pack", "The battery pack."),
    (
        "controller",
        "The speed controller; absent: ideal switches, fully on.",
    ),
    ("gear", "Gear or belt between motor and load; absent: none."),
    ("propeller", "A propeller or fan."),
    ("vehicle", "Something on wheels."),
    ("pump", "A centrifugal pump."),
    ("winch", "A weight on a drum."),
    ("load", "Plain torques at the load's shaft."),
];

const fn number(min: &'static str, max: &'static str) -> Kind {
    Kind::Number {
        min: from(min),
        max: from(max),
    }
}

const fn part() -> Kind {
    Kind::Number {
        min: above("0"),
        max: from("1"),
    }
}

use Absent::{Default, None as Nothing, Required};

/// Keys of a build file. Ranges are wide; common practice, no source.
#[rustfmt::skip]
const KEYS: &[KeySpec] = &[
    key("format", Kind::Whole { min: 1, max: 1 }, Required, "1", "version of this file format"),
    key("title", Kind::Text, Default(""), "\"Pond aerator\"", "what a person calls the build"),
    key("motor.kv", quantity(Q::SpeedPerVoltage, from("0.1 rpm/V"), "1e6 rpm/V"), Required, "\"920 rpm/V\"", "speed per volt of peak line EMF, as labels give it"),
    key("motor.line_resistance", quantity(Q::Resistance, above("0 ohm"), "10 kohm"), Required, "\"90 mohm\"", "between two terminals"),
    key("motor.line_inductance", quantity(Q::Inductance, from("1 nH"), "10 H"), Nothing, "\"36 uH\"", "between two terminals; absent: estimated, and said so"),
    key("motor.poles", Kind::Whole { min: 2, max: 200 }, Required, "14", "magnets round the rotor, an even number"),
    key("motor.no_load_current", quantity(Q::Current, from("0 A"), "1000 A"), Required, "\"0.6 A\"", "current with nothing on the shaft"),
    key("motor.no_load_voltage", quantity(Q::Voltage, above("0 V"), "2000 V"), Required, "\"10 V\"", "voltage at which that was measured"),
    key("motor.mass", quantity(Q::Mass, above("0 g"), "1000 kg"), Nothing, "\"58 g\"", "of the motor"),
    key("motor.current_limit", quantity(Q::Current, above("0 A"), "10000 A"), Nothing, "\"18 A\"", "largest lasting current"),
    key("motor.power_limit", quantity(Q::Power, above("0 W"), "1e6 W"), Nothing, "\"200 W\"", "largest lasting input power"),
    key("pack.voltage", quantity(Q::Voltage, above("0 V"), "2000 V"), Required, "\"11.1 V\"", "at rest"),
    key("pack.resistance", quantity(Q::Resistance, from("0 ohm"), "1 kohm"), Default("0 ohm"), "\"30 mohm\"", "of cells and leads"),
    key("pack.capacity", quantity(Q::Charge, above("0 Ah"), "10000 Ah"), Nothing, "\"2200 mAh\"", "charge of the full pack"),
    key("pack.usable", part(), Default("0.8"), "0.8", "part of the capacity that is used"),
    key("pack.current_limit", quantity(Q::Current, above("0 A"), "10000 A"), Nothing, "\"40 A\"", "largest lasting current"),
    key("controller.on_resistance", quantity(Q::Resistance, from("0 ohm"), "100 ohm"), Default("0 ohm"), "\"3 mohm\"", "of one MOSFET at 25 degC"),
    key("controller.parallel", Kind::Whole { min: 1, max: 100 }, Default("1"), "2", "MOSFETs in parallel in each switch"),
    key("controller.diode_drop", quantity(Q::Voltage, from("0 V"), "10 V"), Default("0 V"), "\"0.7 V\"", "forward drop of a body diode"),
    key("controller.pwm_frequency", quantity(Q::Frequency, above("0 Hz"), "10 MHz"), Default("20 kHz"), "\"20 kHz\"", "of the chopper"),
    key("controller.duty", part(), Default("1.0"), "0.8", "part of the period the high leg is on"),
    key("controller.synchronous", Kind::Flag, Default("false"), "false", "true: the lower switch conducts in the off time"),
    key("controller.switching_time", quantity(Q::Time, from("0 s"), "1 ms"), Default("0 s"), "\"100 ns\"", "rise time plus fall time of a switch"),
    key("controller.thermal_resistance", quantity(Q::ThermalResistance, from("0 K/W"), "1000 K/W"), Default("0 K/W"), "\"40 K/W\"", "from one MOSFET's junction to the air"),
    key("controller.ambient", quantity(Q::Temperature, from("-60 degC"), "150 degC"), Default("25 degC"), "\"25 degC\"", "of the air"),
    key("controller.junction_limit", quantity(Q::Temperature, from("50 degC"), "300 degC"), Default("150 degC"), "\"150 degC\"", "highest junction temperature"),
    key("controller.current_limit", quantity(Q::Current, above("0 A"), "10000 A"), Nothing, "\"30 A\"", "largest lasting current"),
    key("controller.frequency_limit", quantity(Q::Frequency, above("0 Hz"), "1 MHz"), Nothing, "\"3 kHz\"", "highest electrical frequency it can commutate"),
    key("gear.ratio", Kind::Number { min: above("0"), max: from("1000") }, Default("1.0"), "4.0", "turns of the motor for one of the load"),
    key("gear.efficiency", part(), Default("1.0"), "0.95", "part of the power that comes through"),
    key("propeller.diameter", quantity(Q::Length, from("1 mm"), "20 m"), Required, "\"254 mm\"", "of the disc"),
    key("propeller.thrust_coefficient", number("0", "1"), Required, "0.10", "thrust = coefficient times density, n squared, diameter to the fourth"),
    key("propeller.power_coefficient", Kind::Number { min: above("0"), max: from("1") }, Required, "0.04", "power = coefficient times density, n cubed, diameter to the fifth"),
    key("propeller.density", quantity(Q::Density, above("0 kg/m3"), "2000 kg/m3"), Default("1.2 kg/m3"), "\"1.2 kg/m3\"", "of air or water"),
    key("vehicle.mass", quantity(Q::Mass, above("0 kg"), "10000 kg"), Required, "\"40 kg\"", "with everything on it"),
    key("vehicle.wheel_diameter", quantity(Q::Length, from("1 mm"), "5 m"), Required, "\"200 mm\"", "of the driven wheel"),
    key("vehicle.grade", number("-1", "1"), Default("0.0"), "0.05", "rise over run of the road"),
    key("vehicle.rolling_coefficient", number("0", "1"), Default("0.01"), "0.015", "rolling drag over weight"),
    key("vehicle.drag_area", quantity(Q::Area, from("0 m2"), "100 m2"), Default("0 m2"), "\"0.4 m2\"", "drag coefficient times frontal area"),
    key("vehicle.density", quantity(Q::Density, above("0 kg/m3"), "2000 kg/m3"), Default("1.2 kg/m3"), "\"1.2 kg/m3\"", "of the air"),
    key("pump.head", quantity(Q::Length, above("0 m"), "1000 m"), Required, "\"1.5 m\"", "lift at the design speed"),
    key("pump.flow", quantity(Q::Flow, above("0 l/min"), "1 m3/s"), Required, "\"12 l/min\"", "at the design speed"),
    key("pump.speed", quantity(Q::Speed, above("0 rpm"), "100000 rpm"), Required, "\"3000 rpm\"", "the design speed"),
    key("pump.efficiency", part(), Required, "0.5", "water power over shaft power"),
    key("pump.density", quantity(Q::Density, above("0 kg/m3"), "2000 kg/m3"), Default("1000 kg/m3"), "\"1000 kg/m3\"", "of the liquid"),
    key("winch.mass", quantity(Q::Mass, above("0 kg"), "100000 kg"), Required, "\"5 kg\"", "that hangs on the line"),
    key("winch.drum_diameter", quantity(Q::Length, from("1 mm"), "10 m"), Required, "\"40 mm\"", "of the drum, with the line on it"),
    key("load.constant", quantity(Q::Torque, from("0 Nm"), "100 kNm"), Default("0 Nm"), "\"20 mNm\"", "torque that does not depend on speed"),
    key("load.quadratic", quantity(Q::TorquePerSpeedSquared, from("0 Nm s2/rad2"), "1000 Nm s2/rad2"), Default("0 Nm s2/rad2"), "\"1.5e-8 Nm s2/rad2\"", "torque over speed squared"),
    key("load.inertia", quantity(Q::Inertia, from("0 kg m2"), "1e6 kg m2"), Default("0 kg m2"), "\"2e-5 kg m2\"", "moment of inertia of the load"),
];

/// What a build file may hold.
pub const BUILD_SHEET: Sheet = Sheet {
    keys: KEYS,
    tables: TABLES,
    lists: &[],
    has_changes: false,
    has_tolerances: true,
};

impl Build {
    /// Reads a build file. `source_name` is what messages call it.
    ///
    /// # Errors
    /// All problems of the text in the order of the file, each with its place and remedy.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SetupErrors> {
        parse_sheet(text, source_name, &BUILD_SHEET, make)
    }
}

impl Build {
    /// The number behind a key, where the build has it.
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

/// The build file the program shows as an example.
#[must_use]
pub fn example_build() -> &'static str {
    include_str!("example.toml")
}

fn make(a: &mut Assembler<'_>) -> Build {
    a.whole("format");
    let poles = a.whole("motor.poles");
    if !poles.is_multiple_of(2) {
        a.contradiction(
            format!(
                "`motor.poles` is {poles}: magnets stand round a rotor in pairs of north and south"
            ),
            "count the magnets again; where each pole is two magnets, count the pair as one",
            &[("motor.poles", "an odd number")],
        );
    }
    let motor = MotorLabel {
        kv_rad_per_v_s: a.number("motor.kv"),
        line_resistance_ohm: a.number("motor.line_resistance"),
        line_inductance_h: a.maybe_number("motor.line_inductance"),
        pole_pairs: poles / 2,
        no_load_current_a: a.number("motor.no_load_current"),
        no_load_voltage_v: a.number("motor.no_load_voltage"),
        mass_kg: a.maybe_number("motor.mass"),
        current_limit_a: a.maybe_number("motor.current_limit"),
        power_limit_w: a.maybe_number("motor.power_limit"),
    };
    let drop_v = motor.no_load_current_a * motor.line_resistance_ohm;
    if drop_v >= motor.no_load_voltage_v && a.problems.is_empty() {
        a.contradiction(
            format!(
                "the no-load current times the resistance is {drop_v:.3} V, which leaves nothing of the no-load voltage"
            ),
            "check the three readings: a motor without load needs a small part of the voltage for its resistance",
            &[
                ("motor.no_load_current", "this current"),
                ("motor.line_resistance", "in this resistance"),
                ("motor.no_load_voltage", "at this voltage"),
            ],
        );
    }
    let pack = Pack {
        voltage_v: a.number("pack.voltage"),
        resistance_ohm: a.number("pack.resistance"),
        capacity_as: a.maybe_number("pack.capacity"),
        usable: a.number("pack.usable"),
        current_limit_a: a.maybe_number("pack.current_limit"),
    };
    let controller = Controller {
        on_resistance_ohm: a.number("controller.on_resistance"),
        parallel: a.whole("controller.parallel"),
        diode_drop_v: a.number("controller.diode_drop"),
        pwm_frequency_hz: a.number("controller.pwm_frequency"),
        duty: a.number("controller.duty"),
        synchronous: a.flag("controller.synchronous"),
        switching_time_s: a.number("controller.switching_time"),
        thermal_resistance_k_per_w: a.number("controller.thermal_resistance"),
        ambient_deg_c: a.number("controller.ambient"),
        junction_limit_deg_c: a.number("controller.junction_limit"),
        current_limit_a: a.maybe_number("controller.current_limit"),
        frequency_limit_hz: a.maybe_number("controller.frequency_limit"),
    };
    let gear = Gear {
        ratio: a.number("gear.ratio"),
        efficiency: a.number("gear.efficiency"),
    };
    let loads = Loads {
        constant_nm: a.number("load.constant"),
        quadratic_nm_s2: a.number("load.quadratic"),
        inertia_kg_m2: a.number("load.inertia"),
        propeller: a.has_table("propeller").then(|| Propeller {
            diameter_m: a.number("propeller.diameter"),
            thrust_coefficient: a.number("propeller.thrust_coefficient"),
            power_coefficient: a.number("propeller.power_coefficient"),
            density_kg_m3: a.number("propeller.density"),
        }),
        vehicle: a.has_table("vehicle").then(|| Vehicle {
            mass_kg: a.number("vehicle.mass"),
            wheel_radius_m: 0.5 * a.number("vehicle.wheel_diameter"),
            grade: a.number("vehicle.grade"),
            rolling_coefficient: a.number("vehicle.rolling_coefficient"),
            drag_area_m2: a.number("vehicle.drag_area"),
            density_kg_m3: a.number("vehicle.density"),
        }),
        pump: a.has_table("pump").then(|| Pump {
            head_m: a.number("pump.head"),
            flow_m3_s: a.number("pump.flow"),
            speed_rad_s: a.number("pump.speed"),
            efficiency: a.number("pump.efficiency"),
            density_kg_m3: a.number("pump.density"),
        }),
        winch: a.has_table("winch").then(|| Winch {
            mass_kg: a.number("winch.mass"),
            drum_radius_m: 0.5 * a.number("winch.drum_diameter"),
        }),
    };
    Build {
        title: a.text("title").unwrap_or_default(),
        motor,
        pack,
        controller,
        gear,
        loads,
        tolerances: a.tolerances(),
    }
}
