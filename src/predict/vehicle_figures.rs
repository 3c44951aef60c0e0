//! Start on the hill, steepest grade and top speeds as figures.

use super::build::Build;
use super::figures::{POWER_BALANCE, ROAD_LOAD, SIX_STEP};
use super::loads::{FREE_FALL_M_S2, Vehicle};
use super::locked;
use super::point::PredictError;
use super::reach::{HeldBy, Reach};
use crate::analysis::{Figure, Group, Input, Unit, Value};

const START_NOTE: &str = "A motor without sensors starts with less, since the controller does not know where its rotor \
                          is; cogging is left out, and no part may stand under this current for long.";

/// The figures of a vehicle.
pub(super) fn vehicle_figures(build: &Build, vehicle: &Vehicle, reach: &Reach) -> Vec<Figure> {
    let mut list = starting(build, vehicle, reach);
    list.push(steepest(build, vehicle, reach));
    let level = (
        "top_speed_level_m_s",
        "top speed on the level, fully on",
        "v_0",
    );
    list.push(top_speed(level, &reach.level_m_s, build, vehicle, 0.0));
    let grade = (
        "top_speed_on_grade_m_s",
        "top speed on the grade, fully on",
        "v_g",
    );
    list.push(top_speed(
        grade,
        &reach.on_grade_m_s,
        build,
        vehicle,
        vehicle.grade,
    ));
    list
}

/// What the wheel gets at a standstill, what the road asks, and whether it moves.
fn starting(build: &Build, vehicle: &Vehicle, reach: &Reach) -> Vec<Figure> {
    let start = &reach.standstill;
    let motor = &build.motor;
    let resistances = locked::inputs(build);
    let limit = |name, limit_a| vec![Input::new("I_max", name, limit_a, Unit::AMPERE)];
    let (formula, inputs) = match start.held_by {
        HeldBy::Resistance => ("U / ( R + 2 · R_on / n_par + R_pack )", resistances),
        HeldBy::Motor => (
            "I_max",
            limit("largest current of the motor", start.current_a),
        ),
        HeldBy::Controller => (
            "I_max",
            limit("largest current of the controller", start.current_a),
        ),
        HeldBy::Pack => {
            let mut inputs = resistances;
            inputs.push(Input::new(
                "I_pack",
                "largest current of the pack",
                build.pack.current_limit_a.unwrap_or(0.0),
                Unit::AMPERE,
            ));
            (
                "√( I_pack · ( U − R_pack · I_pack ) / ( R + 2 · R_on / n_par ) )",
                inputs,
            )
        }
        HeldBy::MostPower => (
            "U / ( 2 · √( R_pack · ( R + 2 · R_on / n_par ) ) )",
            resistances,
        ),
    };
    let mut current = Figure::new(
        ("start_current_a", "current at a standstill", "I_0"),
        Group::Current,
        (start.current_a, Unit::AMPERE),
        formula,
        inputs,
        POWER_BALANCE,
    );
    current.note = match start.held_by {
        HeldBy::Resistance => {
            "Held by resistance alone, since no limit of motor, controller or pack is given or reached."
        }
        HeldBy::Motor => "Held by the motor's limit, as a controller does that is set to it.",
        HeldBy::Controller => "Held by the controller's limit.",
        HeldBy::Pack => "Held by the pack's limit; the chopper makes more current of less voltage.",
        HeldBy::MostPower => {
            "Held by the pack's own resistance, chopped where half of its voltage is left: fully on there is less current."
        }
    };
    let kt = motor.torque_constant_nm_per_a();
    let mut wheel = Figure::new(
        ("start_torque_nm", "torque at the wheel, standing", "M_0"),
        Group::Torque,
        (start.load_shaft_nm, Unit::NEWTON_METRE),
        "g · η_g · Kt · ( I_0 − I_own )",
        vec![
            Input::new(
                "g",
                "turns of the motor for one of the wheel",
                build.gear.ratio,
                Unit::NUMBER,
            ),
            Input::new("η_g", "of the gear", build.gear.efficiency, Unit::NUMBER),
            Input::new(
                "Kt",
                "torque constant, 1/Kv",
                kt,
                Unit::NEWTON_METRE_PER_AMPERE,
            ),
            Input::new(
                "I_0",
                "current at a standstill",
                start.current_a,
                Unit::AMPERE,
            ),
            Input::new(
                "I_own",
                "no-load current",
                motor.no_load_current_a,
                Unit::AMPERE,
            ),
        ],
        POWER_BALANCE,
    );
    wheel.note = START_NOTE;
    let mut asked = Figure::new(
        ("start_torque_asked_nm", "torque asked to start", "M_road"),
        Group::Torque,
        (start.asked_nm, Unit::NEWTON_METRE),
        "r · m · 9.80665 m/s² · ( s + c ) / √( 1 + s² ) + M_other",
        road_inputs(vehicle, start.asked_nm),
        ROAD_LOAD,
    );
    asked.note = "Grade and rolling drag. Loose or bumpy ground asks more.";
    let starts = Figure {
        value: Value::Words(
            if start.starts() {
                "yes"
            } else {
                "no: it rolls back or stands"
            }
            .to_owned(),
        ),
        ..Figure::new(
            ("starts_on_grade", "starts on the grade", "M_0 > M_road"),
            Group::Torque,
            (0.0, Unit::NUMBER),
            "M_0 > M_road",
            vec![
                Input::new(
                    "M_0",
                    "torque at the wheel, standing",
                    start.load_shaft_nm,
                    Unit::NEWTON_METRE,
                ),
                Input::new(
                    "M_road",
                    "torque asked to start",
                    start.asked_nm,
                    Unit::NEWTON_METRE,
                ),
            ],
            POWER_BALANCE,
        )
    };
    vec![current, wheel, asked, starts]
}

fn road_inputs(vehicle: &Vehicle, asked_nm: f64) -> Vec<Input> {
    let own_nm = vehicle.wheel_radius_m * vehicle.drag_n(0.0);
    vec![
        Input::new(
            "r",
            "radius of the wheel",
            vehicle.wheel_radius_m,
            Unit::METRE,
        ),
        Input::new(
            "m",
            "mass with everything on it",
            vehicle.mass_kg,
            Unit::KILOGRAM,
        ),
        Input::new("s", "grade, rise over run", vehicle.grade, Unit::NUMBER),
        Input::new(
            "c",
            "rolling drag over weight",
            vehicle.rolling_coefficient,
            Unit::NUMBER,
        ),
        Input::new(
            "M_other",
            "other torques at that shaft, at rest",
            asked_nm - own_nm,
            Unit::NEWTON_METRE,
        ),
    ]
}

fn steepest(build: &Build, vehicle: &Vehicle, reach: &Reach) -> Figure {
    let mut others = build.loads;
    others.vehicle = None;
    let force_n = (reach.standstill.load_shaft_nm - others.torque_nm(0.0)) / vehicle.wheel_radius_m;
    let mut steepest = Figure::new(
        (
            "steepest_start_grade",
            "steepest grade it starts on",
            "s_max",
        ),
        Group::Torque,
        (reach.steepest_grade, Unit::PERCENT),
        "tan( asin( F / ( W · √( 1 + c² ) ) ) − atan( c ) )",
        vec![
            Input::new("F", "push at the wheel, standing", force_n, Unit::NEWTON),
            Input::new(
                "W",
                "weight",
                vehicle.mass_kg * FREE_FALL_M_S2,
                Unit::NEWTON,
            ),
            Input::new(
                "c",
                "rolling drag over weight",
                vehicle.rolling_coefficient,
                Unit::NUMBER,
            ),
        ],
        ROAD_LOAD,
    );
    if reach.steepest_grade.is_infinite() {
        steepest.value = Value::Absent("the push is more than the weight: wheels slip first");
    }
    steepest.note = "Rise over run; below zero it starts downhill only. As far as the wheels hold: they slip before \
                     that on wet or loose ground.";
    steepest
}

fn top_speed(
    names: (&'static str, &'static str, &'static str),
    speed_m_s: &Result<f64, PredictError>,
    build: &Build,
    vehicle: &Vehicle,
    grade: f64,
) -> Figure {
    let mut top = Figure::new(
        names,
        Group::Speed,
        (speed_m_s.unwrap_or(f64::NAN), Unit::METRE_PER_SECOND),
        "speed at which the averaged machine, fully on, gives what grade, rolling and air take",
        vec![
            Input::new("U", "pack at rest", build.pack.voltage_v, Unit::VOLT),
            Input::new("s", "grade, rise over run", grade, Unit::NUMBER),
            Input::new(
                "c",
                "rolling drag over weight",
                vehicle.rolling_coefficient,
                Unit::NUMBER,
            ),
            Input::new("A", "drag area", vehicle.drag_area_m2, Unit::SQUARE_METRE),
            Input::new(
                "g",
                "turns of the motor for one of the wheel",
                build.gear.ratio,
                Unit::NUMBER,
            ),
        ],
        SIX_STEP,
    );
    match speed_m_s {
        Ok(_) => {
            top.note = "At the whole voltage, whatever the duty of the build; limits are not looked at here."
        }
        Err(PredictError::Stalls { .. }) => {
            top.value = Value::Absent("it stands: the load holds the motor")
        }
        Err(PredictError::Overrun { .. }) => {
            top.value = Value::Absent("it rolls by itself and must be braked")
        }
    }
    top
}
