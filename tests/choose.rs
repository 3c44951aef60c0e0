//! Parts for a goal: against hand-worked loads, against an independent search, and against files
//! that no one should write.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

mod kit;

use std::fs;
use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt as _;
use kit::{RPM, close};
use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme};
use proptest::prelude::*;
use wyebench::choose::{
    Answer, AnswerWords, Axis, Choice, ChooseError, Goal, Miss, Parts, Rank, Row, Summary, Target,
    example_goal, example_parts, needs,
};
use wyebench::predict::{Build, Standstill, predict};

const HEAD: &str = "part,name,kv,line_resistance,line_inductance,poles,no_load_current,no_load_voltage,current_limit,\
                    power_limit,voltage,resistance,capacity,on_resistance,parallel,thermal_resistance,frequency_limit,\
                    ratio,efficiency,diameter,thrust_coefficient,power_coefficient\n";

/// A row under [`HEAD`] from the cells that are not empty.
fn row(part: &str, name: &str, cells: &[(&str, &str)]) -> String {
    let mut line: Vec<String> = HEAD
        .trim()
        .split(',')
        .map(|column| match column {
            "part" => part.to_owned(),
            "name" => name.to_owned(),
            _ => String::new(),
        })
        .collect();
    for (key, value) in cells {
        let at = HEAD.trim().split(',').position(|column| column == *key);
        line[at.unwrap_or_else(|| panic!("no column {key}"))] = (*value).to_owned();
    }
    line.join(",") + "\n"
}

fn motor(name: &str, kv: &str, more: &[(&str, &str)]) -> String {
    let mut cells = vec![
        ("kv", kv),
        ("line_resistance", "90 mohm"),
        ("line_inductance", "36 uH"),
        ("poles", "14"),
        ("no_load_current", "0.6 A"),
        ("no_load_voltage", "10 V"),
    ];
    cells.retain(|(key, _)| !more.iter().any(|(other, _)| other == key));
    cells.extend_from_slice(more);
    row("motor", name, &cells)
}

fn choice(goal: &str, parts: &str) -> Choice {
    let goal = Goal::parse(goal, "goal").unwrap_or_else(|e| panic!("{}", shown(&e)));
    let parts = Parts::parse(parts, "parts").unwrap_or_else(|e| panic!("{}", shown(&e)));
    Choice::new(goal, parts).unwrap()
}

fn all_rows(choice: &Choice) -> Vec<Row> {
    (0..choice.n_combinations())
        .map(|idx| choice.evaluate(idx))
        .collect()
}

const FAN_GOAL: &str = r#"
format = 1
[goal]
thrust = "3 N"
[pack]
voltage = "11.1 V"
resistance = "30 mohm"
[propeller]
diameter = "230 mm"
thrust_coefficient = 0.10
power_coefficient = 0.045
"#;

/// The loads at a goal, worked by hand from the definitions: thrust C_T ρ n² D⁴ and power C_P ρ n³ D⁵
/// with n in turns a second (B. W. McCormick, chapter on propellers, cited from memory); road load
/// m g (sin α + c cos α) + ½ ρ A v² (T. D. Gillespie, chapter 4, cited from memory); m g v of a
/// weight; a pump by its design point.
#[test]
fn what_a_goal_asks_by_hand() {
    let number = |choice: &Choice, key: &str| {
        let need = &needs(choice)[0];
        let figure = need.figures.iter().find(|figure| figure.key == key);
        figure.and_then(|figure| figure.number()).unwrap()
    };
    let with = |goal: &str, load: &str| {
        let text = format!(
            "format = 1\n[goal]\n{goal}\n[pack]\nvoltage = \"10 V\"\n[controller]\nparallel = 1\n{load}"
        );
        choice(&text, &(HEAD.to_owned() + &motor("m", "900 rpm/V", &[])))
    };
    let check = |choice: &Choice, rpm: f64, torque_nm: f64, power_w: f64| {
        close("speed", number(choice, "load_speed_rpm"), rpm, 1e-12, 0.0);
        close(
            "torque",
            number(choice, "load_torque_nm"),
            torque_nm,
            1e-12,
            0.0,
        );
        close("power", number(choice, "load_power_w"), power_w, 1e-12, 0.0);
        close(
            "Kv",
            number(choice, "least_kv_rpm_per_v"),
            rpm / 10.0,
            1e-12,
            0.0,
        );
        close(
            "current",
            number(choice, "least_pack_current_a"),
            power_w / 10.0,
            1e-12,
            0.0,
        );
    };
    // 0.1 · 1.2 · 20² · 0.5⁴ = 3 N and 0.05 · 1.2 · 20³ · 0.5⁵ = 15 W
    let fan =
        "[propeller]\ndiameter = \"0.5 m\"\nthrust_coefficient = 0.1\npower_coefficient = 0.05\n";
    check(
        &with("thrust = \"3 N\"", fan),
        1200.0,
        15.0 / (1200.0 * RPM),
        15.0,
    );
    // 3 in 4 is 36.87°: sine 0.6, cosine 0.8
    let hill = "[vehicle]\nmass = \"10 kg\"\nwheel_diameter = \"0.2 m\"\ngrade = 0.75\nrolling_coefficient = 0.05\n\
                drag_area = \"0.5 m2\"\n";
    let force_n = 10.0 * 9.80665 * (0.6 + 0.05 * 0.8) + 0.5 * 1.2 * 0.5 * 4.0;
    let climb = with("road_speed = \"2 m/s\"", hill);
    check(&climb, 20.0 / RPM, 0.1 * force_n, 2.0 * force_n);
    let winch = "[winch]\nmass = \"5 kg\"\ndrum_diameter = \"40 mm\"\n";
    let weight_n = 5.0 * 9.80665;
    let lift = with("lift_speed = \"30 m/min\"", winch);
    check(&lift, 25.0 / RPM, 0.02 * weight_n, 0.5 * weight_n);
    // twice the flow is twice the speed and, with the head, eight times the power
    let pump =
        "[pump]\nhead = \"2 m\"\nflow = \"60 l/min\"\nspeed = \"1000 rpm\"\nefficiency = 0.5\n";
    let design_w = 1000.0 * 9.80665 * 2.0 * 1e-3 / 0.5;
    let flow = with("flow = \"2 l/s\"", pump);
    check(
        &flow,
        2000.0,
        8.0 * design_w / (2000.0 * RPM),
        8.0 * design_w,
    );
    let shaft = with("shaft_speed = \"300 rpm\"\nshaft_torque = \"0.5 Nm\"", "");
    check(&shaft, 300.0, 0.5, 0.5 * 300.0 * RPM);
}

/// Some motors, packs, controllers and a gear of which a part does.
fn some_parts() -> String {
    let mut text = HEAD.to_owned();
    text += &motor("fast", "2300 rpm/V", &[("current_limit", "20 A")]);
    text += &motor(
        "middle",
        "920 rpm/V",
        &[("current_limit", "18 A"), ("power_limit", "90 W")],
    );
    text += &motor("slow", "420 rpm/V", &[("current_limit", "30 A")]);
    let pack = |name, volts, limit, charge| {
        let cells = [
            ("voltage", volts),
            ("resistance", "30 mohm"),
            ("current_limit", limit),
            ("capacity", charge),
        ];
        row("pack", name, &cells)
    };
    text += &pack("two", "7.4 V", "10 A", "1300 mAh");
    text += &pack("three", "11.1 V", "30 A", "2200 mAh");
    text += &pack("six", "22.2 V", "30 A", "1000 mAh");
    let hot = [
        ("on_resistance", "60 mohm"),
        ("thermal_resistance", "60 K/W"),
        ("frequency_limit", "3 kHz"),
    ];
    text += &row("controller", "hot", &hot);
    let bare = [("on_resistance", "3 mohm"), ("parallel", "2")];
    text += &row("controller", "cool", &bare);
    text += &row("gear", "belt", &[("ratio", "2.0"), ("efficiency", "0.95")]);
    text
}

const SOME_GOAL: &str = r#"
format = 1
title = "Kinetic mobile"
[goal]
thrust = "4.5 N"
run_time = "9 min"
margin = 0.1
headroom = 0.05
parallel_at_most = 4
[propeller]
diameter = "230 mm"
thrust_coefficient = 0.10
power_coefficient = 0.045
"#;

/// What the goal's propeller gives a build of these parts at a duty, by [`predict`] alone.
fn thrust_n(build: &Build, duty: f64) -> Option<f64> {
    let mut build = build.clone();
    build.controller.duty = duty;
    let point = predict(&build).ok()?.loaded;
    let turns = point.speed_rad_s / build.gear.ratio / std::f64::consts::TAU;
    // 0.1 · 1.2 kg/m³ · n² · D⁴
    Some(0.12 * turns * turns * 0.23_f64.powi(4))
}

/// Whether a build does, by halving the range of the duty: nothing of the search is used.
fn does(build: &Build) -> Option<f64> {
    let (mut low, mut high) = (0.02, 0.95);
    if thrust_n(build, high)? < 4.5 {
        return None;
    }
    for _ in 0..34 {
        let middle = 0.5 * (low + high);
        if thrust_n(build, middle).is_some_and(|thrust| thrust >= 4.5) {
            high = middle;
        } else {
            low = middle;
        }
    }
    let mut build = build.clone();
    build.controller.duty = high;
    let prediction = predict(&build).ok()?;
    let free = prediction.limits.iter().all(|limit| limit.part() <= 0.9);
    (free && prediction.run_time_s? >= 9.0 * 60.0).then_some(high)
}

/// An independent loop over all parts finds the same answers with the same duty and no other, and
/// one MOSFET fewer does not do.
#[test]
fn no_combination_is_missed() {
    let choice = choice(SOME_GOAL, &some_parts());
    assert_eq!(choice.n_combinations(), 36);
    let rows = all_rows(&choice);
    let (mut n_answers, mut n_counted) = (0, 0);
    for row in &rows {
        let [motor, pack, controller, gear, _] = row.parts;
        let parts = choice.parts();
        let (controller, is_given) = parts.controllers[controller].value;
        let mut build = Build {
            title: String::new(),
            motor: parts.motors[motor].value,
            pack: parts.packs[pack].value,
            controller,
            gear: parts.gears[gear].value,
            loads: choice.goal().loads,
            tolerances: Vec::new(),
        };
        let counts = if is_given { 2..=2 } else { 1..=4 };
        let mut want = None;
        for parallel in counts {
            build.controller.parallel = parallel;
            if let Some(duty) = does(&build) {
                want = Some((parallel, duty));
                break;
            }
        }
        match (&row.outcome, want) {
            (Ok(answer), Some((parallel, duty))) => {
                assert_eq!(answer.parallel, parallel, "{row:?}");
                close("duty", answer.duty, duty, 1e-7, 0.0);
                n_answers += 1;
                n_counted += u32::from(parallel > 1 && !is_given);
                meets(&choice, row, answer);
            }
            (Err(_), None) => {}
            (got, want) => panic!("{:?}: {got:?}, and by hand {want:?}", row.parts),
        }
    }
    // of both there must be some, and MOSFETs must have been counted up
    assert!((4..32).contains(&n_answers), "{n_answers}");
    assert!(n_counted > 0);
}

/// The build of an answer, as a file and read again, meets the goal to 1e-6.
fn meets(choice: &Choice, row: &Row, answer: &Answer) {
    let build = choice.build(row).unwrap();
    let again = Build::parse(&build.to_toml(), "written").unwrap();
    assert_eq!(again, build);
    let prediction = predict(&again).unwrap();
    let point = prediction.loaded;
    close(
        "thrust",
        thrust_n(&again, answer.duty).unwrap(),
        4.5,
        1e-6,
        0.0,
    );
    close("power", point.input_w, answer.point.input_w, 1e-6, 0.0);
    close(
        "run time",
        prediction.run_time_s.unwrap(),
        answer.run_time_s.unwrap(),
        1e-6,
        0.0,
    );
    close(
        "fullest limit",
        prediction.limits[0].part(),
        answer.tightest.unwrap().part(),
        1e-6,
        0.0,
    );
}

/// Every answer of the invented parts meets their goal, and answers come in the order that is asked.
#[test]
fn the_example_has_answers_in_order() {
    let choice = choice(example_goal(), example_parts());
    assert_eq!(choice.n_combinations(), 14 * 7 * 6 * 8);
    let rows = all_rows(&choice);
    let summary = Summary::new(&choice, rows.clone(), Rank::Power);
    assert!(summary.answers().len() > 20);
    for (at, row) in summary.answers().enumerate() {
        let answer = row.outcome.as_ref().unwrap();
        assert!(answer.duty <= 0.95 && answer.run_time_s.unwrap() >= 600.0);
        assert!(answer.tightest.unwrap().part() <= 0.8);
        if at % 16 == 0 {
            let build = choice.build(row).unwrap();
            let point = predict(&build).unwrap().loaded;
            let shaft = point.speed_rad_s / build.gear.ratio;
            close(
                "thrust",
                Target::Thrust(6.0).reached(&build.loads, shaft),
                6.0,
                1e-6,
                0.0,
            );
        }
    }
    let keys = |rank: Rank, key: fn(&Answer) -> f64| -> Vec<f64> {
        let summary = Summary::new(&choice, rows.clone(), rank);
        let answers = summary.answers();
        answers
            .map(|row| key(row.outcome.as_ref().unwrap()))
            .collect()
    };
    // as far as a person sees: what shows the same three digits is ranked by price
    let seen = |value: f64| format!("{value:.2e}").parse::<f64>().unwrap();
    let rises = |keys: Vec<f64>| {
        let seen: Vec<f64> = keys.iter().copied().map(seen).collect();
        assert!(seen.is_sorted(), "{keys:?}");
    };
    rises(keys(Rank::Power, |a| a.point.input_w));
    rises(keys(Rank::RunTime, |a| -a.run_time_s.unwrap()));
    rises(keys(Rank::Margin, |a| a.tightest.unwrap().part()));
    // all is told of: answers and misses are all combinations
    let n_missed: usize = summary.reasons().iter().map(|tally| tally.n).sum();
    assert_eq!(n_missed + summary.answers().len(), summary.n_rows());
    for part in summary.parts_left_out() {
        assert!(
            summary
                .answers()
                .all(|row| row.parts[part.axis as usize] != part.at),
            "{part:?}"
        );
    }
}

/// The reason of the only combination there is.
fn only_miss(goal: &str, parts: &str) -> Miss {
    let choice = choice(goal, parts);
    assert_eq!(choice.n_combinations(), 1, "one combination");
    choice.evaluate(0).outcome.expect_err("it does not do")
}

/// Parts without limits were ranked with nothing said: the words of a fullest limit just were not there.
#[test]
fn parts_without_limits_are_told() {
    let parts = HEAD.to_owned() + &motor("m", "920 rpm/V", &[]);
    let choice = choice(&one(FAN_GOAL), &parts);
    let row = choice.evaluate(0);
    let answer = row.outcome.as_ref().unwrap();
    assert_eq!(answer.tightest, None);
    assert!(
        answer.words().ends_with("; no limit is given"),
        "{}",
        answer.words()
    );
    let words = AnswerWords::of(&choice, &row).unwrap();
    let told = words.doubts.join("\n");
    assert!(
        told.contains("Taken as ideal") && told.contains("Taken as unlimited"),
        "{told}"
    );
    assert!(
        words
            .cautions
            .iter()
            .any(|words| words.starts_with("Locked"))
    );
}

/// A goal with one gear and ideal switches, so that a motor is the only choice.
fn one(goal: &str) -> String {
    format!("{goal}\n[gear]\nratio = 1.0\n")
}

/// Reasons name what is so: each is set up so that one thing alone is wrong.
#[test]
fn reasons_are_right() {
    let goal = one(FAN_GOAL);
    let with = |more: &[(&str, &str)]| HEAD.to_owned() + &motor("m", "920 rpm/V", more);
    let reach = |miss: Miss| match miss {
        Miss::Short { reached, .. } => reached,
        other => panic!("{other}"),
    };
    // 3 N are well within reach
    assert!(choice(&goal, &with(&[])).evaluate(0).outcome.is_ok());
    // what it reaches is what it is predicted to reach, fully on
    let far = goal.replace("3 N", "30 N");
    let got = reach(only_miss(&far, &with(&[])));
    let mut build = choice(&goal, &with(&[]));
    let row = build.evaluate(0);
    let full = thrust_n(&build.build(&row).unwrap(), 1.0).unwrap();
    close("reached", got, full, 1e-9, 0.0);
    assert!(
        only_miss(&far, &with(&[]))
            .to_string()
            .ends_with(" N of 30.0 N fully on")
    );
    // head-room makes it less
    let less = far.replace("thrust =", "headroom = 0.2\nthrust =");
    assert!(reach(only_miss(&less, &with(&[]))) < got);
    assert!(
        only_miss(&less, &with(&[]))
            .to_string()
            .contains("at duty 0.80")
    );

    // the current follows from the torque of 3 N: 0.045/0.10 · 3 N · 0.23 m/2π, plus that of no load
    let torque_nm = 0.45 * 3.0 * 0.23 / std::f64::consts::TAU;
    let current_a = torque_nm * 920.0 * RPM + 0.6;
    match only_miss(&goal, &with(&[("current_limit", "2 A")])) {
        Miss::Over { limit, margin } => {
            assert_eq!(
                (limit.name, limit.allowed, margin),
                ("motor current", 2.0, 0.0)
            );
            close("current", limit.used, current_a, 1e-9, 0.0);
        }
        other => panic!("{other}"),
    }
    let wide = goal.replace("thrust =", "margin = 0.99\nthrust =");
    let miss = only_miss(&wide, &with(&[("current_limit", "18 A")]));
    assert!(
        miss.to_string().ends_with("and 99 % is to stay free"),
        "{miss}"
    );
    // 7 pole pairs of 3 N: √(3/(0.12 · 0.23⁴)) turns a second
    let controller = |more: &[(&str, &str)]| with(&[]) + &row_of("controller", "c", more);
    match only_miss(&goal, &controller(&[("frequency_limit", "100 Hz")])) {
        Miss::Over { limit, .. } => {
            let turns = (3.0 / (0.12 * 0.23_f64.powi(4))).sqrt();
            assert_eq!(limit.name, "electrical frequency");
            close("frequency", limit.used, 7.0 * turns, 1e-9, 0.0);
        }
        other => panic!("{other}"),
    }
    // junctions: too hot with few of them, cool with more, and past all help
    let hot = |ohm: &str, kelvin: &str| {
        controller(&[("on_resistance", ohm), ("thermal_resistance", kelvin)])
    };
    let limited = goal.replace("thrust =", "parallel_at_most = 1\nthrust =");
    let miss = only_miss(&limited, &hot("90 mohm", "150 K/W"));
    assert!(
        matches!(&miss, Miss::Over { limit, .. } if limit.name == "junction temperature"),
        "{miss}"
    );
    let done = choice(&goal, &hot("90 mohm", "150 K/W"))
        .evaluate(0)
        .outcome
        .unwrap();
    assert!(done.parallel > 1);
    let miss = only_miss(&limited, &hot("90 mohm", "900 K/W"));
    assert!(miss.to_string().starts_with("junction runs away"), "{miss}");

    // run time
    let long = goal.replace("thrust =", "run_time = \"1 min\"\nthrust =");
    assert!(matches!(
        only_miss(&long, &with(&[])),
        Miss::RunTime { got_s: None, .. }
    ));
    let charged = long.replace("[propeller]", "capacity = \"10 mAh\"\n[propeller]");
    match only_miss(&charged, &with(&[])) {
        Miss::RunTime {
            got_s: Some(got_s),
            wanted_s,
        } => {
            close("wanted", wanted_s, 60.0, 1e-12, 0.0);
            // 0.8 · 36 A s at some 4 A
            assert!((4.0..16.0).contains(&got_s), "{got_s}");
        }
        other => panic!("{other}"),
    }
    // a propeller that does nothing
    let flat = goal.replace("thrust_coefficient = 0.10", "thrust_coefficient = 0.0");
    assert_eq!(only_miss(&flat, &with(&[])), Miss::NoThrust);
    build = choice(&goal, &with(&[]));
    assert_eq!(build.name(Axis::Motor, 0), "m");
}

fn row_of(part: &str, name: &str, cells: &[(&str, &str)]) -> String {
    row(part, name, cells)
}

/// A hill: what starts, what does not, and what rolls down by itself.
#[test]
fn a_hill_must_be_started_on() {
    let goal = |grade: &str| {
        one(&format!(
            "format = 1\n[goal]\nroad_speed = \"1 m/s\"\n[pack]\nvoltage = \"24 V\"\n[vehicle]\nmass = \"40 kg\"\n\
             wheel_diameter = \"200 mm\"\ngrade = {grade}\n"
        ))
    };
    let with = |limit: &str| {
        let cells = [("current_limit", limit), ("no_load_voltage", "24 V")];
        HEAD.to_owned() + &motor("hub", "60 rpm/V", &cells)
    };
    // 40 kg on 10 %: F = 40 · 9.80665 · (0.1 + 0.01)/√1.01, through 0.1 m
    let asked_nm = 4.0 * 9.80665 * 0.11 / 1.01_f64.sqrt();
    let kt = 1.0 / (60.0 * RPM);
    let least_a = asked_nm / kt + 0.6;
    let enough = with(&format!("{} A", least_a * 1.01));
    let answer = choice(&goal("0.1"), &enough).evaluate(0).outcome;
    assert!(answer.is_ok(), "{answer:?}");
    // at that speed no air is in the way, so that the running current is the starting one: the
    // limit is told before the start is asked
    let weak = with(&format!("{} A", least_a * 0.99));
    let miss = only_miss(&goal("0.1"), &weak);
    assert!(
        matches!(&miss, Miss::Over { limit, .. } if limit.name == "motor current"),
        "{miss}"
    );
    assert!(matches!(only_miss(&goal("-0.5"), &enough), Miss::Driven(_)));
    // a pack that cannot give the current that moves it: chopped where half of its voltage is left, it
    // gives the most power, 24²/(4 · 3) W, all of it heat in the winding
    let soft = goal("0.1").replace(
        "voltage = \"24 V\"",
        "voltage = \"24 V\"\nresistance = \"3 ohm\"",
    );
    let miss = only_miss(&soft, &enough);
    let Miss::NoStart { gives_nm, asks_nm } = miss else {
        panic!("{miss}")
    };
    close("asked", asks_nm, asked_nm, 1e-12, 0.0);
    close(
        "given",
        gives_nm,
        kt * ((48.0_f64 / 0.09).sqrt() - 0.6),
        1e-12,
        0.0,
    );
    let build = Build::parse(
        &soft.replace("[goal]\nroad_speed = \"1 m/s\"\n", "").replace(
            "[gear]",
            "[motor]\nkv = \"60 rpm/V\"\nline_resistance = \"90 mohm\"\npoles = 14\nno_load_current = \"0.6 A\"\n\
             no_load_voltage = \"24 V\"\n[gear]",
        ),
        "build",
    )
    .unwrap();
    assert!(!Standstill::of(&build).starts());
}

/// The controller is sought with ideal switches where there is none, a propeller where the goal has
/// none, and what is nowhere is asked for.
#[test]
fn what_is_given_is_not_tried() {
    let motors = HEAD.to_owned() + &motor("m", "920 rpm/V", &[]);
    let no_propeller = FAN_GOAL.split("[propeller]").next().unwrap();
    let goal = |text: &str| Goal::parse(text, "goal").unwrap();
    let parts = |text: &str| Parts::parse(text, "parts").unwrap();
    assert_eq!(
        Choice::new(goal(no_propeller), parts(&motors)),
        Err(ChooseError::Without(Axis::Propeller))
    );
    assert_eq!(
        Choice::new(goal(FAN_GOAL), Parts::default()),
        Err(ChooseError::Without(Axis::Motor))
    );
    let small = [
        ("diameter", "200 mm"),
        ("thrust_coefficient", "0.1"),
        ("power_coefficient", "0.05"),
    ];
    let text =
        motors + &row("propeller", "small", &small) + &row("gear", "half", &[("ratio", "2.0")]);
    let free = choice(no_propeller, &text);
    assert_eq!(Axis::ALL.map(|axis| free.n_parts(axis)), [1, 1, 1, 2, 1]);
    assert_eq!(free.name(Axis::Propeller, 0), "small");
    assert_eq!(free.name(Axis::Controller, 0), "ideal switches");
    assert_eq!([0, 1].map(|at| free.name(Axis::Gear, at)), ["none", "half"]);
    let fixed = choice(FAN_GOAL, &text);
    assert_eq!(fixed.name(Axis::Propeller, 0), "as given");
    assert!(fixed.is_fixed(Axis::Pack) && !fixed.is_fixed(Axis::Motor));
    // a tolerance of a part goes with it into the build file
    let known = text.replace("920 rpm/V", "920 rpm/V ± 5 %");
    let choice = choice(FAN_GOAL, &known);
    let build = choice.build(&choice.evaluate(0)).unwrap();
    assert_eq!(build.tolerances.len(), 1);
    let again = Build::parse(&build.to_toml(), "again").unwrap();
    close(
        "tolerance",
        again.tolerances[0].1,
        build.tolerances[0].1,
        1e-12,
        0.0,
    );
}

fn shown(problem: &dyn Diagnostic) -> String {
    let mut out = String::new();
    GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_width(90)
        .with_links(false)
        .render_report(&mut out, problem)
        .expect("a text can be written to");
    out.lines()
        .map(str::trim_end)
        .collect::<Vec<_>>()
        .join("\n")
}

/// One file per mistake: `tests/bad_parts/NAME.csv` and `NAME.toml` are refused, and `NAME.snap`
/// holds what the person sees.
#[test]
fn every_mistake_is_told_with_line_column_and_remedy() {
    let corpus = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bad_parts");
    let mut names: Vec<String> = fs::read_dir(corpus)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.contains(".snap"))
        .collect();
    names.sort();
    assert!(names.len() >= 25, "the corpus has {} files", names.len());
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("bad_parts");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| {
        for file in &names {
            let text = fs::read_to_string(Path::new(corpus).join(file)).unwrap();
            let (name, extension) = file.split_once('.').unwrap();
            let errors = if extension == "csv" {
                Parts::parse(&text, file).err()
            } else {
                Goal::parse(&text, file).err()
            };
            let errors = errors.unwrap_or_else(|| panic!("{file} is taken without a complaint"));
            for problem in errors.problems() {
                let remedy = problem.remedy().unwrap_or_default();
                assert!(!remedy.is_empty(), "{file}: {problem}");
                if extension == "csv" && !["empty", "many", "only_comments"].contains(&name) {
                    assert!(problem.to_string().contains("line "), "{file}: {problem}");
                }
            }
            insta::assert_snapshot!(name, shown(&errors));
        }
    });
}

/// Four packs that are alike in everything that counts: the cheaper comes first, of equals the lighter,
/// and what does not say its price last; sums are shown only where every part says so.
#[test]
fn price_and_mass_break_ties() {
    let table = |priced: bool| {
        let price = if priced { "9.00" } else { "" };
        format!(
            "part,name,price,mass,kv,line_resistance,poles,no_load_current,no_load_voltage,voltage,diameter,\
             thrust_coefficient,power_coefficient\n\
             motor,bell,{price},60 g,920 rpm/V,90 mohm,14,0.6 A,10 V,,,,\n\
             pack,silent,,150 g,,,,,,11.1 V,,,\n\
             pack,dear,30.00,150 g,,,,,,11.1 V,,,\n\
             pack,heavy,20.00,190 g,,,,,,11.1 V,,,\n\
             pack,light,20.00,150 g,,,,,,11.1 V,,,\n\
             propeller,fan,4.00,10 g,,,,,,,254 mm,0.1,0.045\n"
        )
    };
    let goal = "format = 1\n[goal]\nthrust = \"6 N\"\n";
    let ranked = |priced: bool| {
        let choice = choice(goal, &table(priced));
        let rows = (0..choice.n_combinations()).map(|idx| choice.evaluate(idx));
        let summary = Summary::new(&choice, rows.collect(), Rank::Power);
        let answers = summary.answers();
        answers
            .map(|row| (choice.names(row), choice.totals(row).words()))
            .collect::<Vec<_>>()
    };
    let names = |ranked: &[(String, String)]| -> Vec<String> {
        let pack = |(name, _): &(String, String)| name.split(" · ").nth(1).unwrap().to_owned();
        ranked.iter().map(pack).collect()
    };
    let found = ranked(true);
    assert_eq!(names(&found), ["light", "heavy", "dear", "silent"]);
    assert_eq!(found[0].1, "price 33.00, 220 g");
    assert_eq!(found[3].1, "220 g");
    // without a price of the motor no sum has one, and mass decides; equals keep their order
    let found = ranked(false);
    assert_eq!(names(&found), ["silent", "dear", "light", "heavy"]);
    assert_eq!(found[0].1, "220 g");
}

/// Thousands of rows make more combinations than are tried, and that is said at once.
#[test]
fn a_billion_combinations_are_refused() {
    let mut text = HEAD.to_owned();
    for n in 0..1000 {
        text += &motor(&format!("m{n}"), "920 rpm/V", &[]);
        text += &row("pack", &format!("p{n}"), &[("voltage", "11.1 V")]);
        text += &row("controller", &format!("c{n}"), &[("parallel", "1")]);
    }
    let goal = Goal::parse(example_goal(), "goal").unwrap();
    let parts = Parts::parse(&text, "parts").unwrap();
    let error = Choice::new(goal, parts).unwrap_err();
    assert_eq!(
        error.to_string(),
        "1000 motors with 1000 packs with 1000 controllers make more than 200000 combinations: fix a part in the goal, or \
         leave out of the table what surely will not do"
    );
}

#[test]
fn hostile_tables_are_refused_without_a_panic() {
    let refused = |text: &str| Parts::parse(text, "hostile").unwrap_err();
    assert!(
        refused(&"x,".repeat(800_000)).problems()[0]
            .to_string()
            .contains("1600000 bytes")
    );
    let many = HEAD.to_owned() + &"motor,,,,,,,,,\n".repeat(5000);
    let errors = refused(&many);
    assert!(errors.problems().len() < 60, "{}", errors.problems().len());
    let last = errors.problems().last().unwrap().to_string();
    assert!(last.contains("were not looked at"), "{last}");
    let nan = HEAD.to_owned() + &motor("m", "nan rpm/V", &[("poles", "1e99")]);
    assert_eq!(refused(&nan).problems().len(), 2);
    // a name cannot send codes to a terminal
    let escape = HEAD.to_owned() + &motor("a\u{1b}[31mb", "920 rpm/V", &[]);
    assert_eq!(
        Parts::parse(&escape, "escape").unwrap().motors[0].name,
        "a[31mb"
    );
}

proptest! {
    /// Any text at all is read or refused, and every problem has a place within it.
    #[test]
    fn no_text_panics(text in "(part|name|kv|motor|\"|,|;|\t|\n|\r\n|#|[0-9]{1,4}|rpm/V| |[^a]){0,60}") {
        for text in [text.clone(), format!("part,name,kv\n{text}"), format!("{HEAD}motor,{text}")] {
            if let Err(errors) = Parts::parse(&text, "any") {
                for problem in errors.problems() {
                    for (place, _) in problem.marks() {
                        let body = text.trim_start_matches('\u{feff}');
                        let inside = body.get(place.start..place.end).is_some();
                        prop_assert!(inside, "{place:?}");
                    }
                }
                shown(&errors);
            }
        }
    }
}

// ---- the command ----

fn wyebench(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

/// A folder with a goal and parts of which some do.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("goal.toml"), SOME_GOAL).unwrap();
    fs::write(folder.path().join("parts.csv"), some_parts()).unwrap();
    folder
}

const CHOOSE: [&str; 4] = ["choose", "goal.toml", "--parts", "parts.csv"];

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let folder = folder();
    let run = |more: &[&str]| {
        let (status, out, err) = wyebench(folder.path(), &[&CHOOSE, more].concat());
        assert_eq!((status, err.as_str()), (0, ""));
        out
    };
    let one = run(&["--json", "--threads", "1", "--csv", "one.csv"]);
    let two = run(&["--json", "--threads", "2", "--csv", "two.csv"]);
    assert_eq!(one, two);
    let csv = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    assert_eq!(csv("one.csv"), csv("two.csv"));
    assert_eq!(csv("one.csv").lines().count(), 37);
    assert_eq!(run(&[]), run(&["--threads", "2"]));
    let json: serde_json::Value = serde_json::from_str(&one).unwrap();
    let answers = json["answers"].as_array().unwrap();
    let power: Vec<f64> = answers
        .iter()
        .map(|a| a["input_power_w"].as_f64().unwrap())
        .collect();
    assert!(power.is_sorted() && !power.is_empty());
    // every combination is an answer or counted under a reason
    let missed: u64 = json["reasons"]
        .as_array()
        .unwrap()
        .iter()
        .map(|reason| reason["combinations"].as_u64().unwrap())
        .sum();
    assert_eq!(missed + answers.len() as u64, 36);
}

#[test]
fn an_answer_is_written_once_and_predicted() {
    let folder = folder();
    let path = folder.path();
    let (status, out, err) = wyebench(path, &[&CHOOSE[..], &["-o", "build.toml"]].concat());
    assert_eq!((status, err.as_str()), (0, ""));
    for words in [
        "The goal asks",
        "meet it",
        "Why the others do not",
        "In no answer",
        "lithium pack",
        "Data sheets",
    ] {
        assert!(out.contains(words), "{words} in {out}");
    }
    let (status, out, err) = wyebench(path, &["predict", "build.toml", "--json"]);
    assert_eq!((status, err.as_str()), (0, ""));
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    close("thrust", json["thrust_n"].as_f64().unwrap(), 4.5, 1e-6, 0.0);
    let (status, _, err) = wyebench(path, &[&CHOOSE[..], &["-o", "build.toml"]].concat());
    assert!(
        status == 2 && err.contains("stays as it is"),
        "{status} {err}"
    );
    let (status, _, err) = wyebench(
        path,
        &[&CHOOSE[..], &["-o", "other.toml", "--pick", "500"]].concat(),
    );
    assert!(
        status == 1 && err.contains("no answer 500"),
        "{status} {err}"
    );
    assert!(!path.join("other.toml").exists());
    // the printed examples are read, and what is wrong is told as status 2
    let (_, goal, _) = wyebench(path, &["choose", "--example"]);
    let (_, parts, _) = wyebench(path, &["choose", "--example-parts"]);
    assert_eq!(
        (goal.as_str(), parts.as_str()),
        (example_goal(), example_parts())
    );
    fs::write(path.join("bad.csv"), "part,name,kv\nmotor,m,920\n").unwrap();
    let (status, out, err) = wyebench(path, &["choose", "goal.toml", "--parts", "bad.csv"]);
    assert!(
        status == 2 && out.is_empty() && err.contains("line 2, column `kv`"),
        "{err}"
    );
    let (status, out, _) = wyebench(path, &[&CHOOSE[..], &["--why", "load_speed_rpm"]].concat());
    assert!(status == 0 && out.contains("McCormick"), "{out}");
}

#[test]
fn where_nothing_does_the_reasons_are_told() {
    let folder = folder();
    let goal = SOME_GOAL.replace("4.5 N", "45 N");
    fs::write(folder.path().join("goal.toml"), goal).unwrap();
    let (status, out, err) = wyebench(folder.path(), &CHOOSE);
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(out.contains("None of 36 combinations meets it"), "{out}");
    assert!(out.contains("Why the others do not"), "{out}");
    let (status, _, err) = wyebench(folder.path(), &[&CHOOSE[..], &["-o", "b.toml"]].concat());
    assert!(
        status == 1 && err.contains("no build file is written"),
        "{err}"
    );
}
