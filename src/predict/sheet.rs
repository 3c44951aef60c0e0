//! The build file: its keys, and how a build is read from it and written to it.

use std::fmt::Write as _;

use super::build::{Build, Controller, MotorLabel, Pack};
use super::loads::{Gear, Loads, Propeller, Pump, Vehicle, Winch};
use crate::analysis::{Unit, shown};
use crate::setup::{
    Absent, Assembler, KeySpec, Kind, Quantity as Q, SetupErrors, Sheet, above, format_quantity,
    from, key, parse_sheet, quantity,
};

/// Tables of a build file.
pub(crate) const TABLES: &[(&str, &str)] = &[
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
pub(crate) const KEYS: &[KeySpec] = &[
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

/// The keys that a file has for itself, and after them those of a build file; N is the number of
/// both.
pub(crate) const fn own_and_build_keys<const OWN: usize, const N: usize>(
    own: [KeySpec; OWN],
) -> [KeySpec; N] {
    let mut all = [own[0]; N];
    let mut at = 0;
    while at < N {
        all[at] = if at < OWN { own[at] } else { KEYS[at - OWN] };
        at += 1;
    }
    all
}

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
    /// The build as a file, with what differs from a default; reading it gives back this build.
    /// Tolerances come back as quantities, where they may have been percent.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut out = String::new();
        let mut table = "";
        for spec in KEYS {
            let Some(value) = self.written(spec) else {
                continue;
            };
            if spec.table() != table {
                table = spec.table();
                let _ = write!(out, "\n[{table}]\n");
            }
            let _ = writeln!(out, "{} = {value}", spec.name());
        }
        out
    }

    /// The value of a key as it stands in a file; `None` where it is the default or not there.
    fn written(&self, spec: &KeySpec) -> Option<String> {
        let quoted = |text: String| toml::Value::String(text).to_string();
        let is_default = |text: &str| matches!(spec.absent, Default(default) if default == text);
        let value = match (spec.path, spec.kind) {
            ("format", _) => return Some("1".to_owned()),
            ("title", _) => {
                let title = self.title.replace(['\n', '\r'], " ");
                return (!title.is_empty()).then(|| quoted(title));
            }
            ("motor.poles", _) => (2 * self.motor.pole_pairs).to_string(),
            ("controller.parallel", _) => self.controller.parallel.to_string(),
            ("controller.synchronous", _) => self.controller.synchronous.to_string(),
            (path, kind) => {
                let given = self.number(path)? / Self::held_per_given(path);
                let half = self.tolerances.iter().find(|(key, _)| *key == path);
                match (kind, half) {
                    (Kind::Quantity { quantity, .. }, half) => {
                        let nominal = format_quantity(given, quantity);
                        let text = half.map_or_else(
                            || nominal.clone(),
                            |(_, half)| {
                                format!("{nominal} \u{b1} {}", format_quantity(*half, quantity))
                            },
                        );
                        if half.is_none() && is_default(&nominal) {
                            return None;
                        }
                        quoted(text)
                    }
                    (_, Some((_, half))) => quoted(format!("{given:?} \u{b1} {half:?}")),
                    (_, None) => format!("{given:?}"),
                }
            }
        };
        (!is_default(&value)).then_some(value)
    }
}

/// The build file the program shows as an example.
#[must_use]
pub fn example_build() -> &'static str {
    include_str!("example.toml")
}

fn make(a: &mut Assembler<'_>) -> Build {
    a.whole("format");
    let motor = motor(a);
    Build {
        title: a.text("title").unwrap_or_default(),
        motor,
        pack: pack(a),
        controller: controller(a),
        gear: gear(a),
        loads: loads(a),
        tolerances: a.tolerances(),
    }
}

/// The motor of a file or of a row of parts.
pub(crate) fn motor(a: &mut Assembler<'_>) -> MotorLabel {
    // one that did not fit is told already
    let poles = a.maybe_whole("motor.poles").unwrap_or(2);
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
    if let Some(limit_a) = motor.current_limit_a
        && motor.no_load_current_a > limit_a
        && a.problems.is_empty()
    {
        a.contradiction(
            format!(
                "the motor takes {} with nothing on the shaft, and bears {limit_a} A",
                shown(motor.no_load_current_a, Unit::AMPERE, 3)
            ),
            "check both: a motor without load takes a small part of the current that it bears; is a unit wrong, mA for A?",
            &[
                ("motor.no_load_current", "this current"),
                ("motor.current_limit", "over this limit"),
            ],
        );
    }
    motor
}

/// The pack of a file or of a row of parts.
pub(crate) fn pack(a: &mut Assembler<'_>) -> Pack {
    Pack {
        voltage_v: a.number("pack.voltage"),
        resistance_ohm: a.number("pack.resistance"),
        capacity_as: a.maybe_number("pack.capacity"),
        usable: a.number("pack.usable"),
        current_limit_a: a.maybe_number("pack.current_limit"),
    }
}

/// The controller of a file or of a row of parts.
pub(crate) fn controller(a: &mut Assembler<'_>) -> Controller {
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
    let switching_part = controller.switching_time_s * controller.pwm_frequency_hz;
    if switching_part >= 1.0 && a.problems.is_empty() {
        a.contradiction(
            format!(
                "switching takes {} of a chopping period of {}",
                shown(controller.switching_time_s, Unit::SECOND, 3),
                shown(1.0 / controller.pwm_frequency_hz, Unit::SECOND, 3)
            ),
            "rise time plus fall time of a switch is some 10 ns to 1 us; is a unit wrong, us for ns?",
            &[
                ("controller.pwm_frequency", "this often"),
                ("controller.switching_time", "longer than a period"),
            ],
        );
    }
    if controller.ambient_deg_c >= controller.junction_limit_deg_c && a.problems.is_empty() {
        a.contradiction(
            format!(
                "the air has {} degC, and the junctions may have {} degC",
                controller.ambient_deg_c, controller.junction_limit_deg_c
            ),
            "no switch gets colder than the air around it: check both",
            &[
                ("controller.ambient", "this air"),
                ("controller.junction_limit", "cooler than the air"),
            ],
        );
    }
    controller
}

/// The gear of a file or of a row of parts.
pub(crate) fn gear(a: &mut Assembler<'_>) -> Gear {
    Gear {
        ratio: a.number("gear.ratio"),
        efficiency: a.number("gear.efficiency"),
    }
}

/// The propeller of a file or of a row of parts.
pub(crate) fn propeller(a: &mut Assembler<'_>) -> Propeller {
    Propeller {
        diameter_m: a.number("propeller.diameter"),
        thrust_coefficient: a.number("propeller.thrust_coefficient"),
        power_coefficient: a.number("propeller.power_coefficient"),
        density_kg_m3: a.number("propeller.density"),
    }
}

/// What is moved.
pub(crate) fn loads(a: &mut Assembler<'_>) -> Loads {
    Loads {
        constant_nm: a.number("load.constant"),
        quadratic_nm_s2: a.number("load.quadratic"),
        inertia_kg_m2: a.number("load.inertia"),
        propeller: a.has_table("propeller").then(|| propeller(a)),
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
    }
}
