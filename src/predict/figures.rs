//! A prediction as figures that explain themselves.

use std::f64::consts::TAU;

use super::build::Build;
use super::loads::Propeller;
use super::locked::Locked;
use super::point::{Point, Prediction};
use super::vehicle_figures::vehicle_figures;
use crate::analysis::{Figure, Group, Input, Source, Unit, Value};

/// rpm of one rad/s.
const RPM: f64 = 60.0 / TAU;

pub(super) const SIX_STEP: Source = Source {
    author: "",
    title: "averaged six-step machine, three loop equations of the ideal trapezoid",
    place: "src/predict/six_step.rs; R. Carlson and others 1992 (recalled) without resistance",
};
pub(super) const POWER_BALANCE: Source = Source {
    author: "",
    title: "power balance",
    place: "what comes in is what turns, heats or is lost",
};
const SWITCHING: Source = Source {
    author: "N. Mohan, T. M. Undeland, W. P. Robbins",
    title: "Power Electronics",
    place: "section on switching losses (from memory)",
};
pub(crate) const PROPELLERS: Source = Source {
    author: "B. W. McCormick",
    title: "Aerodynamics, Aeronautics, and Flight Mechanics",
    place: "chapter on propellers (from memory)",
};
pub(crate) const AFFINITY: Source = Source {
    author: "",
    title: "affinity laws of centrifugal pumps",
    place: "handbooks (from memory)",
};
pub(super) const ROAD_LOAD: Source = Source {
    author: "T. D. Gillespie",
    title: "Fundamentals of Vehicle Dynamics",
    place: "chapter 4, road loads (from memory)",
};
const GEOMETRY: Source = Source::definition("angles and speed");

/// The figures of a prediction, by heading. Keys end in their unit.
#[must_use]
pub fn figures(build: &Build, prediction: &Prediction) -> Vec<Figure> {
    let mut list = Vec::new();
    speeds(build, prediction, &mut list);
    torques(build, prediction, &mut list);
    currents(build, prediction, &mut list);
    powers(build, &prediction.loaded, &mut list);
    moved(build, &prediction.loaded, &mut list);
    if let (Some(vehicle), Some(reach)) = (&build.loads.vehicle, &prediction.reach) {
        list.extend(vehicle_figures(build, vehicle, reach));
    }
    for figure in &mut list {
        figure.dust = dust(figure.key, build, &prediction.loaded);
    }
    list
}

/// What is dust in a figure: torque and power that are left where the root of the balance ends, at
/// 1e-11 of the speed, beside those of the locked shaft; and a heat that is a difference of powers.
fn dust(key: &str, build: &Build, point: &Point) -> f64 {
    const OF_BALANCE: f64 = 1e-9;
    const OF_DIFFERENCE: f64 = 1e-12;
    let locked_nm = build.motor.torque_constant_nm_per_a() * Locked::of(build).current_a;
    match key {
        "shaft_torque_nm" => OF_BALANCE * locked_nm,
        "shaft_power_w" => OF_BALANCE * locked_nm * point.speed_rad_s,
        "commutation_ripple_pp_nm" => OF_DIFFERENCE * locked_nm,
        "controller_diodes_w" => OF_DIFFERENCE * point.input_w,
        _ => 0.0,
    }
}

fn speeds(build: &Build, prediction: &Prediction, list: &mut Vec<Figure>) {
    let point = &prediction.loaded;
    let kv = Input::new(
        "Kv",
        "speed per volt of peak line EMF",
        build.motor.kv_rad_per_v_s * RPM,
        Unit::RPM_PER_VOLT,
    );
    let balance = |point: &Point| {
        vec![
            kv.clone(),
            Input::new("U", "voltage across the bridge", point.bridge_v, Unit::VOLT),
            Input::new("δ", "duty", build.controller.duty, Unit::NUMBER),
            Input::new(
                "M",
                "torque of the motor there",
                point.torque_nm,
                Unit::NEWTON_METRE,
            ),
            Input::new(
                "L",
                "inductance between two terminals",
                build.motor.inductance_h(),
                Unit::HENRY,
            ),
        ]
    };
    let mut loaded = Figure::new(
        ("speed_rpm", "speed", "n"),
        Group::Speed,
        (point.speed_rad_s * RPM, Unit::RPM),
        "speed at which the torque of the averaged machine is that of load and losses",
        balance(point),
        SIX_STEP,
    );
    loaded.note = if prediction.inductance_estimated {
        "The inductance is an estimate (0.2 ms times the resistance, common practice, no source): measure it for a \
         better figure."
    } else {
        "Ideal trapezoid, no advance; the chopper by its mean voltage."
    };
    list.push(loaded);
    list.push(Figure::new(
        ("no_load_speed_rpm", "speed without load", "n₀"),
        Group::Speed,
        (prediction.no_load.speed_rad_s * RPM, Unit::RPM),
        "the same with the motor's own losses alone",
        balance(&prediction.no_load),
        SIX_STEP,
    ));
    let mut without_l = balance(&prediction.without_inductance);
    without_l.retain(|input| input.symbol != "L");
    let mut plain = Figure::new(
        (
            "speed_without_inductance_rpm",
            "speed by the dc formula",
            "n_dc",
        ),
        Group::Speed,
        (prediction.without_inductance.speed_rad_s * RPM, Unit::RPM),
        "speed at which the torque of a dc motor with these windings in series is that of load and losses",
        without_l,
        SIX_STEP,
    );
    plain.note = "What the usual formula Kv · (U − I · R) says; it leaves out the time that commutation takes.";
    list.push(plain);
    list.push(Figure::new(
        ("electrical_frequency_hz", "electrical frequency", "f"),
        Group::Speed,
        (point.electrical_frequency_hz, Unit::HERTZ),
        "p · n / 60",
        vec![
            Input::new(
                "p",
                "pole pairs",
                f64::from(build.motor.pole_pairs),
                Unit::NUMBER,
            ),
            Input::new("n", "speed", point.speed_rad_s * RPM, Unit::RPM),
        ],
        GEOMETRY,
    ));
    if let Some(time_s) = prediction.time_to_speed_s {
        let mut time = Figure::new(
            ("time_to_speed_s", "time to nine tenths of it", "t"),
            Group::Speed,
            (time_s, Unit::SECOND),
            "∫ ( J / ( g² · η_g ) + J_rotor ) / M_left dω from rest",
            vec![
                Input::new(
                    "J",
                    "moment of inertia of load and moved masses, at their shaft",
                    build.loads.total_inertia_kg_m2(),
                    Unit::KILOGRAM_METRE_SQUARED,
                ),
                Input::new(
                    "g",
                    "turns of the motor for one of the load",
                    build.gear.ratio,
                    Unit::NUMBER,
                ),
                Input::new("η_g", "of the gear", build.gear.efficiency, Unit::NUMBER),
                Input::new(
                    "J_rotor",
                    "of the rotor, taken as 20 ms times Kt²/R",
                    build.motor.assumed_rotor_kg_m2(),
                    Unit::KILOGRAM_METRE_SQUARED,
                ),
            ],
            POWER_BALANCE,
        );
        time.note = "The rotor's inertia is assumed, and the controller lets the full current through from rest: limits of \
                     current are not looked at here.";
        list.push(time);
    }
}

/// What the averaged machine is made of and asked at.
fn machine_inputs(build: &Build, point: &Point) -> Vec<Input> {
    let (motor, controller) = (&build.motor, &build.controller);
    vec![
        Input::new("n", "speed", point.speed_rad_s * RPM, Unit::RPM),
        Input::new("U", "voltage across the bridge", point.bridge_v, Unit::VOLT),
        Input::new("δ", "duty", controller.duty, Unit::NUMBER),
        Input::new(
            "f_pwm",
            "of the chopper",
            controller.pwm_frequency_hz,
            Unit::HERTZ,
        ),
        Input::new(
            "Kv",
            "speed per volt of peak line EMF",
            motor.kv_rad_per_v_s * RPM,
            Unit::RPM_PER_VOLT,
        ),
        Input::new(
            "R",
            "between two terminals, cold",
            motor.line_resistance_ohm,
            Unit::OHM,
        ),
        Input::new(
            "R_on",
            "of one MOSFET, at its temperature",
            controller.on_resistance_ohm * point.heat.resistance_factor(),
            Unit::OHM,
        ),
        Input::new(
            "L",
            "inductance between two terminals",
            motor.inductance_h(),
            Unit::HENRY,
        ),
        Input::new("p", "pole pairs", f64::from(motor.pole_pairs), Unit::NUMBER),
    ]
}

fn torques(build: &Build, prediction: &Prediction, list: &mut Vec<Figure>) {
    let point = &prediction.loaded;
    list.push(Figure::new(
        ("shaft_torque_nm", "torque on the motor's shaft", "M"),
        Group::Torque,
        (point.shaft_nm, Unit::NEWTON_METRE),
        "M_em − Kt · I₀",
        vec![
            Input::new(
                "M_em",
                "mean electromagnetic torque",
                point.torque_nm,
                Unit::NEWTON_METRE,
            ),
            Input::new(
                "Kt",
                "torque constant, 1/Kv",
                build.motor.torque_constant_nm_per_a(),
                Unit::NEWTON_METRE_PER_AMPERE,
            ),
            Input::new(
                "I₀",
                "no-load current",
                build.motor.no_load_current_a,
                Unit::AMPERE,
            ),
        ],
        POWER_BALANCE,
    ));
    let mut ripple = Figure::new(
        (
            "commutation_ripple_pp_nm",
            "torque ripple of commutation",
            "ΔM",
        ),
        Group::Torque,
        (point.ripple_pp_nm, Unit::NEWTON_METRE),
        "highest less lowest torque within a step of the averaged machine",
        machine_inputs(build, point),
        SIX_STEP,
    );
    ripple.note = "Peak to peak; cogging and the chopper's ripple come on top.";
    list.push(ripple);
}

fn currents(build: &Build, prediction: &Prediction, list: &mut Vec<Figure>) {
    let point = &prediction.loaded;
    let kt = Input::new(
        "Kt",
        "torque constant, 1/Kv",
        build.motor.torque_constant_nm_per_a(),
        Unit::NEWTON_METRE_PER_AMPERE,
    );
    list.push(Figure::new(
        ("motor_current_a", "motor current", "I"),
        Group::Current,
        (point.motor_current_a, Unit::AMPERE),
        "M_em / Kt",
        vec![
            Input::new(
                "M_em",
                "mean electromagnetic torque",
                point.torque_nm,
                Unit::NEWTON_METRE,
            ),
            kt.clone(),
        ],
        POWER_BALANCE,
    ));
    list.push(Figure::new(
        (
            "motor_current_without_inductance_a",
            "motor current by the dc formula",
            "I_dc",
        ),
        Group::Current,
        (prediction.without_inductance.motor_current_a, Unit::AMPERE),
        "M / Kt",
        vec![
            Input::new(
                "M",
                "torque of the motor by the dc formula",
                prediction.without_inductance.torque_nm,
                Unit::NEWTON_METRE,
            ),
            kt,
        ],
        POWER_BALANCE,
    ));
    list.push(Figure::new(
        ("phase_current_rms_a", "phase current, RMS", "I_rms"),
        Group::Current,
        (point.phase_rms_a, Unit::AMPERE),
        "root of the mean square of the averaged machine, and of the chopper's ripple",
        machine_inputs(build, point),
        SIX_STEP,
    ));
    list.push(Locked::of(build).figure(build));
    list.push(Figure::new(
        ("pack_current_a", "pack current", "I_pack"),
        Group::Current,
        (point.pack_current_a, Unit::AMPERE),
        "P_in / U",
        vec![
            Input::new(
                "P_in",
                "power into the controller",
                point.input_w,
                Unit::WATT,
            ),
            Input::new("U", "voltage across the bridge", point.bridge_v, Unit::VOLT),
        ],
        POWER_BALANCE,
    ));
    list.push(Figure::new(
        ("bridge_voltage_v", "voltage across the bridge", "U"),
        Group::Current,
        (point.bridge_v, Unit::VOLT),
        "U_pack − R_pack · I_pack",
        vec![
            Input::new("U_pack", "pack at rest", build.pack.voltage_v, Unit::VOLT),
            Input::new(
                "R_pack",
                "of cells and leads",
                build.pack.resistance_ohm,
                Unit::OHM,
            ),
            Input::new("I_pack", "pack current", point.pack_current_a, Unit::AMPERE),
        ],
        POWER_BALANCE,
    ));
    let mut time = match (build.pack.capacity_as, prediction.run_time_s) {
        (Some(charge_as), Some(time_s)) => Figure::new(
            ("run_time_min", "run time", "t_run"),
            Group::Current,
            (time_s / 60.0, Unit::MINUTE),
            "u · Q / ( I_pack · 60 )",
            vec![
                Input::new(
                    "u",
                    "part of the charge that is used",
                    build.pack.usable,
                    Unit::NUMBER,
                ),
                Input::new(
                    "Q",
                    "charge of the full pack",
                    charge_as,
                    Unit::AMPERE_SECOND,
                ),
                Input::new("I_pack", "pack current", point.pack_current_a, Unit::AMPERE),
            ],
            POWER_BALANCE,
        ),
        _ => return,
    };
    time.note = "At this current all the way; a pack's voltage falls as it empties.";
    list.push(time);
}

fn powers(build: &Build, point: &Point, list: &mut Vec<Figure>) {
    let (motor, controller) = (&build.motor, &build.controller);
    let mut add = |key, name, symbol, value, formula, inputs, source| {
        list.push(Figure::new(
            (key, name, symbol),
            Group::Power,
            (value, Unit::WATT),
            formula,
            inputs,
            source,
        ));
    };
    let rms = Input::new(
        "I_rms",
        "phase current, RMS",
        point.phase_rms_a,
        Unit::AMPERE,
    );
    add(
        "input_power_w",
        "power from the pack",
        "P_in",
        point.input_w,
        "P_shaft + P_copper + P_own + P_controller",
        vec![
            Input::new("P_shaft", "on the shaft", point.shaft_w, Unit::WATT),
            Input::new(
                "P_copper",
                "heat in the windings",
                point.copper_w,
                Unit::WATT,
            ),
            Input::new(
                "P_own",
                "iron, bearings, air",
                point.no_load_loss_w,
                Unit::WATT,
            ),
            Input::new(
                "P_controller",
                "heat of the controller",
                point.heat.total_w(),
                Unit::WATT,
            ),
        ],
        POWER_BALANCE,
    );
    add(
        "shaft_power_w",
        "power on the shaft",
        "P_shaft",
        point.shaft_w,
        "M · ω",
        vec![
            Input::new(
                "M",
                "torque on the motor's shaft",
                point.shaft_nm,
                Unit::NEWTON_METRE,
            ),
            Input::new("ω", "speed", point.speed_rad_s, Unit::RADIAN_PER_SECOND),
        ],
        POWER_BALANCE,
    );
    add(
        "copper_loss_w",
        "heat in the windings",
        "P_copper",
        point.copper_w,
        "1.5 · R · I_rms²",
        vec![
            Input::new(
                "R",
                "between two terminals, cold",
                motor.line_resistance_ohm,
                Unit::OHM,
            ),
            rms,
        ],
        POWER_BALANCE,
    );
    add(
        "own_loss_w",
        "iron, bearings and air",
        "P_own",
        point.no_load_loss_w,
        "Kt · I₀ · ω",
        vec![
            Input::new(
                "Kt",
                "torque constant, 1/Kv",
                motor.torque_constant_nm_per_a(),
                Unit::NEWTON_METRE_PER_AMPERE,
            ),
            Input::new(
                "I₀",
                "no-load current",
                motor.no_load_current_a,
                Unit::AMPERE,
            ),
            Input::new("ω", "speed", point.speed_rad_s, Unit::RADIAN_PER_SECOND),
        ],
        POWER_BALANCE,
    );
    add(
        "controller_conduction_w",
        "controller, conduction",
        "P_on",
        point.heat.conduction_w,
        "3 · I_on² · R_on / n_par",
        vec![
            Input::new(
                "I_on",
                "RMS current of a leg's switches, without their diodes",
                point.switches_rms_a,
                Unit::AMPERE,
            ),
            Input::new(
                "R_on",
                "of one MOSFET, at its temperature",
                controller.on_resistance_ohm * point.heat.resistance_factor(),
                Unit::OHM,
            ),
            Input::new(
                "n_par",
                "MOSFETs in parallel",
                f64::from(controller.parallel),
                Unit::NUMBER,
            ),
        ],
        POWER_BALANCE,
    );
    add(
        "controller_diodes_w",
        "controller, diodes",
        "P_diode",
        point.heat.diode_w,
        "P_in − P_shaft − P_own − P_copper − P_on − P_sw",
        vec![
            Input::new("P_in", "from the pack", point.input_w, Unit::WATT),
            Input::new("P_shaft", "on the shaft", point.shaft_w, Unit::WATT),
            Input::new(
                "P_own",
                "iron, bearings, air",
                point.no_load_loss_w,
                Unit::WATT,
            ),
            Input::new(
                "P_copper",
                "heat in the windings",
                point.copper_w,
                Unit::WATT,
            ),
            Input::new(
                "P_on",
                "conduction of the switches",
                point.heat.conduction_w,
                Unit::WATT,
            ),
            Input::new(
                "P_sw",
                "switching of the switches",
                point.heat.switching_w,
                Unit::WATT,
            ),
        ],
        POWER_BALANCE,
    );
    add(
        "controller_switching_w",
        "controller, switching",
        "P_sw",
        point.heat.switching_w,
        "0.5 · U · I · t_sw · f_pwm",
        vec![
            Input::new("U", "voltage across the bridge", point.bridge_v, Unit::VOLT),
            Input::new(
                "I",
                "mean of the currents at turning on and off",
                point.switched_a,
                Unit::AMPERE,
            ),
            Input::new(
                "t_sw",
                "rise time plus fall time",
                controller.switching_time_s,
                Unit::SECOND,
            ),
            Input::new(
                "f_pwm",
                "of the chopper",
                controller.pwm_frequency_hz,
                Unit::HERTZ,
            ),
        ],
        SWITCHING,
    );
    list.push(Figure::new(
        ("efficiency", "efficiency", "η"),
        Group::Power,
        (point.efficiency, Unit::PERCENT),
        "P_shaft / P_in",
        vec![
            Input::new("P_shaft", "on the shaft", point.shaft_w, Unit::WATT),
            Input::new("P_in", "from the pack", point.input_w, Unit::WATT),
        ],
        POWER_BALANCE,
    ));
    if controller.thermal_resistance_k_per_w > 0.0 {
        let mut junction = Figure::new(
            ("junction_deg_c", "junction temperature", "T_j"),
            Group::Power,
            (
                point.heat.junction_deg_c.unwrap_or(f64::INFINITY),
                Unit::DEGREE_CELSIUS,
            ),
            "T_air + R_th · P_one",
            vec![
                Input::new(
                    "T_air",
                    "of the air",
                    controller.ambient_deg_c,
                    Unit::DEGREE_CELSIUS,
                ),
                Input::new(
                    "R_th",
                    "of one MOSFET, junction to air",
                    controller.thermal_resistance_k_per_w,
                    Unit::KELVIN_PER_WATT,
                ),
                Input::new(
                    "P_one",
                    "heat of one MOSFET of the hotter side",
                    point.heat.per_mosfet_w,
                    Unit::WATT,
                ),
            ],
            POWER_BALANCE,
        );
        if point.heat.junction_deg_c.is_none() {
            junction.value =
                Value::Absent("it runs away: resistance grows faster than heat leaves");
        }
        junction.note = if point.heat.upper_is_hotter {
            "Of the upper MOSFETs, which carry more heat here than the lower ones and share it alike, in lasting running; a \
             stalled motor heats two legs alone."
        } else {
            "Of the lower MOSFETs, which carry more heat here than the upper ones and share it alike, in lasting running; a \
             stalled motor heats two legs alone."
        };
        list.push(junction);
    }
}

/// What the load does: thrust, road speed, line speed, flow.
fn moved(build: &Build, point: &Point, list: &mut Vec<Figure>) {
    let load_rad_s = point.speed_rad_s / build.gear.ratio;
    let ratio = Input::new(
        "g",
        "turns of the motor for one of the load",
        build.gear.ratio,
        Unit::NUMBER,
    );
    let omega = Input::new(
        "ω",
        "speed of the motor",
        point.speed_rad_s,
        Unit::RADIAN_PER_SECOND,
    );
    if build.gear.ratio != 1.0 {
        list.push(Figure::new(
            ("load_speed_rpm", "speed of the load's shaft", "n_load"),
            Group::Speed,
            (load_rad_s * RPM, Unit::RPM),
            "n / g",
            vec![
                Input::new("n", "speed", point.speed_rad_s * RPM, Unit::RPM),
                ratio.clone(),
            ],
            GEOMETRY,
        ));
    }
    if let Some(propeller) = &build.loads.propeller {
        list.extend(propelled(propeller, load_rad_s));
    }
    let mut speed = |key, name, radius_m: f64, what: &'static str| {
        list.push(Figure::new(
            (key, name, "v"),
            Group::Speed,
            (radius_m * load_rad_s, Unit::METRE_PER_SECOND),
            "r · ω / g",
            vec![
                Input::new("r", what, radius_m, Unit::METRE),
                omega.clone(),
                ratio.clone(),
            ],
            GEOMETRY,
        ));
    };
    if let Some(vehicle) = &build.loads.vehicle {
        speed(
            "road_speed_m_s",
            "road speed",
            vehicle.wheel_radius_m,
            "radius of the wheel",
        );
    }
    if let Some(winch) = &build.loads.winch {
        speed(
            "line_speed_m_s",
            "line speed",
            winch.drum_radius_m,
            "radius of the drum",
        );
    }
    if let Some(pump) = &build.loads.pump {
        list.push(Figure::new(
            ("flow_m3_s", "flow", "Q"),
            Group::Speed,
            (
                pump.flow_m3_s * load_rad_s / pump.speed_rad_s,
                Unit::CUBIC_METRE_PER_SECOND,
            ),
            "Q_d · ω / ( g · ω_d )",
            vec![
                Input::new(
                    "Q_d",
                    "flow at the design speed",
                    pump.flow_m3_s,
                    Unit::CUBIC_METRE_PER_SECOND,
                ),
                omega.clone(),
                ratio.clone(),
                Input::new(
                    "ω_d",
                    "design speed",
                    pump.speed_rad_s,
                    Unit::RADIAN_PER_SECOND,
                ),
            ],
            AFFINITY,
        ));
    }
}

/// Tip speed and thrust of a propeller at a speed of its own in rad/s.
fn propelled(propeller: &Propeller, speed_rad_s: f64) -> [Figure; 2] {
    let turns = Input::new(
        "n",
        "turns a second of the propeller",
        speed_rad_s / TAU,
        Unit::HERTZ,
    );
    let diameter = Input::new("D", "of the disc", propeller.diameter_m, Unit::METRE);
    let mut tips = Figure::new(
        ("tip_speed_m_s", "speed of the tips", "v_tip"),
        Group::Speed,
        (propeller.tip_m_s(speed_rad_s), Unit::METRE_PER_SECOND),
        "π · D · n",
        vec![diameter.clone(), turns.clone()],
        GEOMETRY,
    );
    tips.note = "Sound in air goes at 343 m/s; above about 0.7 of that coefficients measured at lower speeds no longer hold \
                 (common practice, no source), and few propellers bear it.";
    let mut thrust = Figure::new(
        ("thrust_n", "thrust", "F"),
        Group::Torque,
        (propeller.thrust_n(speed_rad_s), Unit::NEWTON),
        "C_T · ρ · n² · D⁴",
        vec![
            Input::new(
                "C_T",
                "thrust coefficient",
                propeller.thrust_coefficient,
                Unit::NUMBER,
            ),
            Input::new(
                "ρ",
                "density of the medium",
                propeller.density_kg_m3,
                Unit::KILOGRAM_PER_CUBIC_METRE,
            ),
            turns,
            diameter,
        ],
        PROPELLERS,
    );
    thrust.note = "Standing still in its medium.";
    [tips, thrust]
}
