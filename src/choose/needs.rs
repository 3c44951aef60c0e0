//! What the goal itself asks, before any part is looked at: closed forms.

use std::f64::consts::TAU;

use super::goal::Target;
use super::parts::Axis;
use super::search::Choice;
use crate::analysis::{Figure, Group, Input, Source, Unit};
use crate::predict::Loads;
use crate::predict::figures::{AFFINITY, PROPELLERS};

/// What the goal asks with one propeller, or with the only load there is.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// The propeller of the table it is said for; empty where none is chosen.
    pub propeller: String,
    /// Speed, torque and power at the load's shaft, and what they ask of motor and pack.
    pub figures: Vec<Figure>,
}

const GEOMETRY: Source = Source {
    author: "",
    title: "rolling without slip",
    place: "v = r · ω",
};
const GIVEN: Source = Source {
    author: "",
    title: "the goal",
    place: "as it is written",
};
const POWER: Source = Source {
    author: "",
    title: "power balance",
    place: "P = M · ω",
};
const LEAST: Source = Source {
    author: "",
    title: "the EMF of a motor stays below its voltage",
    place: "definition of Kv; resistance and duty ask for more",
};

/// What the goal asks, for each propeller that is tried; speeds that no load can have are left out.
#[must_use]
pub fn needs(choice: &Choice) -> Vec<Need> {
    let goal = choice.goal();
    (0..choice.n_parts(Axis::Propeller))
        .filter_map(|at| {
            let mut loads = goal.loads;
            let mut name = String::new();
            if let Some(part) = choice.parts().propellers.get(at)
                && loads.propeller.is_none()
            {
                loads.propeller = Some(part.value);
                name.clone_from(&part.name);
            }
            let speed_rad_s = goal.target.shaft_rad_s(&loads);
            speed_rad_s.is_finite().then(|| Need {
                propeller: name,
                figures: figures(choice, &loads, speed_rad_s),
            })
        })
        .collect()
}

fn figures(choice: &Choice, loads: &Loads, speed_rad_s: f64) -> Vec<Figure> {
    let torque_nm = loads.torque_nm(speed_rad_s);
    let power_w = torque_nm * speed_rad_s;
    let omega = Input::new(
        "ω",
        "speed of the load",
        speed_rad_s,
        Unit::RADIAN_PER_SECOND,
    );
    let mut list = vec![speed(choice.goal().target, loads, speed_rad_s)];
    list.push(Figure::new(
        ("load_torque_nm", "torque of the load then", "M_load"),
        Group::Torque,
        (torque_nm, Unit::NEWTON_METRE),
        "sum of the loads at that speed",
        vec![omega.clone()],
        POWER,
    ));
    list.push(Figure::new(
        ("load_power_w", "power of the load then", "P_load"),
        Group::Power,
        (power_w, Unit::WATT),
        "M_load · ω",
        vec![
            Input::new(
                "M_load",
                "torque of the load",
                torque_nm,
                Unit::NEWTON_METRE,
            ),
            omega,
        ],
        POWER,
    ));
    // the highest voltage that is there asks for the least
    let highest = choice
        .parts()
        .packs
        .iter()
        .map(|pack| pack.value.voltage_v)
        .fold(0.0, f64::max);
    if highest > 0.0 {
        let volts = Input::new("U", "highest pack at rest", highest, Unit::VOLT);
        let rpm = speed_rad_s * 60.0 / TAU;
        let mut kv = Figure::new(
            ("least_kv_rpm_per_v", "least Kv without a gear", "Kv_min"),
            Group::Speed,
            (rpm / highest, Unit::RPM_PER_VOLT),
            "n_load / U",
            vec![
                Input::new("n_load", "speed of the load", rpm, Unit::RPM),
                volts.clone(),
            ],
            LEAST,
        );
        kv.note = "Times the ratio with a gear. Resistance, head-room of the duty and the time of commutation ask for \
                   more: common practice, no source, is a quarter more.";
        list.push(kv);
        let mut current = Figure::new(
            ("least_pack_current_a", "least current of the pack", "I_min"),
            Group::Current,
            (power_w / highest, Unit::AMPERE),
            "P_load / U",
            vec![
                Input::new("P_load", "power of the load", power_w, Unit::WATT),
                volts,
            ],
            POWER,
        );
        current.note = "Without any loss.";
        list.push(current);
    }
    list
}

/// The speed of the load's shaft, by what is wanted.
fn speed(target: Target, loads: &Loads, speed_rad_s: f64) -> Figure {
    let unit = target.unit();
    let wanted = |symbol, name| Input::new(symbol, name, target.wanted(), unit);
    let (formula, inputs, source) = match (target, loads) {
        (
            Target::Thrust(_),
            Loads {
                propeller: Some(propeller),
                ..
            },
        ) => (
            "60 · √( F / ( C_T · ρ · D · D · D · D ) )",
            vec![
                wanted("F", "thrust"),
                Input::new(
                    "C_T",
                    "thrust coefficient",
                    propeller.thrust_coefficient,
                    Unit::NUMBER,
                ),
                Input::new(
                    "ρ",
                    "density",
                    propeller.density_kg_m3,
                    Unit::KILOGRAM_PER_CUBIC_METRE,
                ),
                Input::new("D", "diameter", propeller.diameter_m, Unit::METRE),
            ],
            PROPELLERS,
        ),
        (
            Target::RoadSpeed(_),
            Loads {
                vehicle: Some(vehicle),
                ..
            },
        ) => (
            "60 · v / ( 2π · r )",
            vec![
                wanted("v", "road speed"),
                Input::new(
                    "r",
                    "radius of the wheel",
                    vehicle.wheel_radius_m,
                    Unit::METRE,
                ),
            ],
            GEOMETRY,
        ),
        (
            Target::LiftSpeed(_),
            Loads {
                winch: Some(winch), ..
            },
        ) => (
            "60 · v / ( 2π · r )",
            vec![
                wanted("v", "speed of the line"),
                Input::new("r", "radius of the drum", winch.drum_radius_m, Unit::METRE),
            ],
            GEOMETRY,
        ),
        (
            Target::Flow(_),
            Loads {
                pump: Some(pump), ..
            },
        ) => (
            "n_d · Q / Q_d",
            vec![
                Input::new(
                    "n_d",
                    "design speed",
                    pump.speed_rad_s * 60.0 / TAU,
                    Unit::RPM,
                ),
                wanted("Q", "flow"),
                Input::new("Q_d", "flow at the design speed", pump.flow_m3_s, unit),
            ],
            AFFINITY,
        ),
        _ => ("as wanted", Vec::new(), GIVEN),
    };
    Figure::new(
        ("load_speed_rpm", "speed of the load", "n_load"),
        Group::Speed,
        (speed_rad_s * 60.0 / TAU, Unit::RPM),
        formula,
        inputs,
        source,
    )
}
