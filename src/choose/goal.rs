//! The goal file: what the load has to do, and what is given already.

use std::f64::consts::TAU;

use crate::analysis::Unit;
use crate::predict::sheet::{self, KEYS, TABLES, own_and_build_keys};
use crate::predict::{Controller, Gear, Loads, MotorLabel, Pack};
use crate::setup::{
    Absent, Assembler, KeySpec, Kind, Problem, Quantity as Q, SetupErrors, Sheet, above, from, key,
    parse_sheet, quantity,
};

/// What the load has to do. SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Target {
    /// Thrust of the propeller in N.
    Thrust(f64),
    /// Road speed of the vehicle in m/s.
    RoadSpeed(f64),
    /// Flow of the pump in m³/s.
    Flow(f64),
    /// Speed of the winch's line in m/s.
    LiftSpeed(f64),
    /// Speed of the load's shaft in rad/s.
    ShaftSpeed(f64),
}

impl Target {
    /// The wanted value, in SI units.
    #[must_use]
    pub const fn wanted(self) -> f64 {
        match self {
            Self::Thrust(value)
            | Self::RoadSpeed(value)
            | Self::Flow(value)
            | Self::LiftSpeed(value)
            | Self::ShaftSpeed(value) => value,
        }
    }

    /// How a value of it is shown; a shaft speed in rpm.
    #[must_use]
    pub const fn unit(self) -> Unit {
        match self {
            Self::Thrust(_) => Unit::NEWTON,
            Self::RoadSpeed(_) | Self::LiftSpeed(_) => Unit::METRE_PER_SECOND,
            Self::Flow(_) => Unit::LITRE_PER_MINUTE,
            Self::ShaftSpeed(_) => Unit {
                symbol: "rpm",
                per_si: 60.0 / TAU,
                prefixed: false,
            },
        }
    }

    /// Speed of the load's shaft in rad/s at which it does so; not finite where it never does.
    #[must_use]
    pub fn shaft_rad_s(self, loads: &Loads) -> f64 {
        let never = f64::INFINITY;
        match self {
            Self::Thrust(thrust_n) => loads.propeller.map_or(never, |p| {
                let d2 = p.diameter_m * p.diameter_m;
                TAU * (thrust_n / (p.thrust_coefficient * p.density_kg_m3 * d2 * d2)).sqrt()
            }),
            Self::RoadSpeed(speed_m_s) => loads
                .vehicle
                .map_or(never, |v| speed_m_s / v.wheel_radius_m),
            Self::LiftSpeed(speed_m_s) => {
                loads.winch.map_or(never, |w| speed_m_s / w.drum_radius_m)
            }
            Self::Flow(flow_m3_s) => loads
                .pump
                .map_or(never, |p| p.speed_rad_s * flow_m3_s / p.flow_m3_s),
            Self::ShaftSpeed(speed_rad_s) => speed_rad_s,
        }
    }

    /// What the load does at a speed of its shaft in rad/s, in SI units.
    #[must_use]
    pub fn reached(self, loads: &Loads, shaft_rad_s: f64) -> f64 {
        match self {
            Self::Thrust(_) => loads.propeller.map_or(0.0, |p| p.thrust_n(shaft_rad_s)),
            Self::RoadSpeed(_) => loads
                .vehicle
                .map_or(0.0, |v| v.wheel_radius_m * shaft_rad_s),
            Self::LiftSpeed(_) => loads.winch.map_or(0.0, |w| w.drum_radius_m * shaft_rad_s),
            Self::Flow(_) => loads
                .pump
                .map_or(0.0, |p| p.flow_m3_s * shaft_rad_s / p.speed_rad_s),
            Self::ShaftSpeed(_) => shaft_rad_s,
        }
    }
}

/// A goal with what is given already. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Goal {
    /// What a person calls it.
    pub title: String,
    /// What the load has to do.
    pub target: Target,
    /// Least run time in s.
    pub run_time_s: Option<f64>,
    /// Part of every limit that stays free, 0 to below 1.
    pub margin: f64,
    /// Part of the duty that stays free, 0 to below 1.
    pub headroom: f64,
    /// Most MOSFETs in parallel where a controller does not say how many it has.
    pub most_parallel: u32,
    /// The motor, where it is given.
    pub motor: Option<MotorLabel>,
    /// The pack, where it is given.
    pub pack: Option<Pack>,
    /// The controller, where it is given.
    pub controller: Option<Controller>,
    /// Whether that says how many MOSFETs are in parallel.
    pub parallel_given: bool,
    /// What stands for a controller where none is given and none is among the parts: ideal
    /// switches.
    pub ideal: Controller,
    /// The gear, where it is given.
    pub gear: Option<Gear>,
    /// What is moved; without a propeller where that is chosen too.
    pub loads: Loads,
    /// Keys with a tolerance, as a build has them.
    pub tolerances: Vec<(&'static str, f64)>,
}

use Absent::{Default, None as Nothing};

/// A part of something, 0 to below 1.
const FREE: Kind = Kind::Number {
    min: from("0"),
    max: crate::setup::Bound {
        text: "1",
        included: false,
    },
};

/// Keys of the goal itself. Ranges are wide; common practice, no source.
#[rustfmt::skip]
const OWN: [KeySpec; 10] = [
    key("goal.thrust", quantity(Q::Force, above("0 N"), "100 kN"), Nothing, "\"6 N\"", "thrust of the propeller, standing still"),
    key("goal.road_speed", quantity(Q::LinearSpeed, above("0 m/s"), "100 m/s"), Nothing, "\"5 km/h\"", "steady speed of the vehicle on its grade"),
    key("goal.flow", quantity(Q::Flow, above("0 l/min"), "1 m3/s"), Nothing, "\"12 l/min\"", "flow of the pump"),
    key("goal.lift_speed", quantity(Q::LinearSpeed, above("0 m/s"), "100 m/s"), Nothing, "\"0.2 m/s\"", "steady speed of the winch's line"),
    key("goal.shaft_speed", quantity(Q::Speed, above("0 rpm"), "1e6 rpm"), Nothing, "\"300 rpm\"", "speed of the load's shaft"),
    key("goal.shaft_torque", quantity(Q::Torque, above("0 Nm"), "100 kNm"), Nothing, "\"0.5 Nm\"", "torque at the load's shaft at that speed, besides the tables of loads"),
    key("goal.run_time", quantity(Q::RunningTime, above("0 s"), "1e7 s"), Nothing, "\"10 min\"", "least run time on one charge"),
    key("goal.margin", FREE, Default("0.0"), "0.2", "part of every limit that stays free"),
    key("goal.headroom", FREE, Default("0.0"), "0.05", "part of the duty that stays free"),
    key("goal.parallel_at_most", Kind::Whole { min: 1, max: 100 }, Default("6"), "6", "MOSFETs in parallel, where the controller does not say how many it has"),
];

const N_KEYS: usize = OWN.len() + KEYS.len();
const N_TABLES: usize = 1 + TABLES.len();

/// The goal's own keys and those of a build file.
static ALL: [KeySpec; N_KEYS] = own_and_build_keys(OWN);

static ALL_TABLES: [(&str, &str); N_TABLES] = {
    let mut all = [("goal", "What the build has to do."); N_TABLES];
    let mut at = 1;
    while at < N_TABLES {
        all[at] = TABLES[at - 1];
        at += 1;
    }
    all
};

/// What a goal file may hold.
pub static GOAL_SHEET: Sheet = Sheet {
    keys: &ALL,
    tables: &ALL_TABLES,
    lists: &[],
    has_changes: false,
    has_tolerances: true,
};

/// The goal file that the program shows as an example.
#[must_use]
pub fn example_goal() -> &'static str {
    include_str!("goal.toml")
}

impl Goal {
    /// Reads a goal file. `source_name` is what messages call it.
    ///
    /// # Errors
    /// All problems of the text in the order of the file, each with its place and remedy.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SetupErrors> {
        parse_sheet(text, source_name, &GOAL_SHEET, make)
    }
}

fn make(a: &mut Assembler<'_>) -> Goal {
    a.whole("format");
    let title = a.text("title").unwrap_or_default();
    let target = target(a);
    let mut loads = sheet::loads(a);
    if let Some(torque_nm) = a.maybe_number("goal.shaft_torque") {
        loads.constant_nm += torque_nm;
        if !a.given("goal.shaft_speed") {
            a.contradiction(
                "`goal.shaft_torque` says at which torque, and nothing says at which speed"
                    .to_owned(),
                "add `shaft_speed = \"300 rpm\"` under [goal]",
                &[("goal.shaft_torque", "a torque alone")],
            );
        }
    }
    if a.given("goal.shaft_speed") && loads == Loads::default() {
        a.contradiction(
            "nothing says what the shaft has to move".to_owned(),
            "add `shaft_torque = \"0.5 Nm\"` under [goal], or a table of a load",
            &[("goal.shaft_speed", "a speed alone")],
        );
    }
    duty_is_sought(a);
    let tolerances = a.tolerances();
    for (key, _) in &tolerances {
        if key.starts_with("goal.") {
            a.contradiction(
                format!("`{key}` is a goal, which has no tolerance"),
                "leave it out; `margin` and `headroom` keep something free",
                &[(key, "this tolerance")],
            );
        }
    }
    Goal {
        title,
        target,
        run_time_s: a.maybe_number("goal.run_time"),
        margin: a.number("goal.margin"),
        headroom: a.number("goal.headroom"),
        most_parallel: a.whole("goal.parallel_at_most"),
        motor: a.has_table("motor").then(|| sheet::motor(a)),
        pack: a.has_table("pack").then(|| sheet::pack(a)),
        controller: a.has_table("controller").then(|| sheet::controller(a)),
        parallel_given: a.given("controller.parallel"),
        ideal: sheet::controller(a),
        gear: a.has_table("gear").then(|| sheet::gear(a)),
        loads,
        tolerances,
    }
}

/// The duty is the answer, so that neither a goal nor a part says it.
pub(super) fn duty_is_sought(a: &mut Assembler<'_>) {
    if a.given("controller.duty") {
        a.contradiction(
            "`controller.duty` is what is looked for".to_owned(),
            "leave it out; `headroom` of the goal keeps a part of it free",
            &[("controller.duty", "given here")],
        );
    }
}

fn target(a: &mut Assembler<'_>) -> Target {
    type Make = fn(f64) -> Target;
    const ALL: [(&str, Make, &str); 5] = [
        ("goal.thrust", Target::Thrust, ""),
        ("goal.road_speed", Target::RoadSpeed, "vehicle"),
        ("goal.flow", Target::Flow, "pump"),
        ("goal.lift_speed", Target::LiftSpeed, "winch"),
        ("goal.shaft_speed", Target::ShaftSpeed, ""),
    ];
    let given: Vec<&(&str, Make, &str)> = ALL.iter().filter(|(key, ..)| a.given(key)).collect();
    match given[..] {
        [(key, make, table)] => {
            let value = a.maybe_number(key).unwrap_or(1.0);
            if !table.is_empty() && !a.has_table(table) {
                a.contradiction(
                    format!("`{key}` is about a {table}, and there is no [{table}]"),
                    "add the table, as it stands in a build file",
                    &[(key, "of what?")],
                );
            }
            make(value)
        }
        [] => {
            let place = a.home("goal.thrust");
            a.problems.push(Problem::Contradiction {
                reason: "nothing says what is to be reached".to_owned(),
                remedy: "give one of thrust, road_speed, flow, lift_speed or shaft_speed under [goal], as in \
                         `thrust = \"6 N\"`"
                    .to_owned(),
                places: place
                    .map(|place| (place, "this goal".to_owned()))
                    .into_iter()
                    .collect(),
            });
            Target::ShaftSpeed(1.0)
        }
        [(first, ..), (second, ..), ..] => {
            a.contradiction(
                format!(
                    "`{first}` and `{second}` are both given, and one duty cannot meet two goals"
                ),
                "keep one of the two",
                &[(first, "this"), (second, "and this")],
            );
            Target::ShaftSpeed(1.0)
        }
    }
}
