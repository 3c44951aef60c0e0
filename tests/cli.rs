//! The command line as a person or a script meets it.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};

use assert_cmd::cargo::CommandCargoExt as _;
use tempfile::TempDir;
use wyebench::predict::example_build;

/// A short run, so that the tests are quick: two milliseconds of driven shaft.
const SHORT: &str = r#"
format = 1
title = "Sluice drive, driven"
[machine]
slots = 12
poles = 14
connection = "star"
[machine.phase]
resistance = "45 mohm"
inductance = "18 uH"
[machine.emf]
shape = "trapezoid"
kv = "920 rpm/V"
[machine.rotor]
inertia = "1.2e-5 kg m2"
[drive.pwm]
frequency = "20 kHz"
duty = 0.6
[supply]
voltage = "11.1 V"
[run]
duration = "20 ms"
start_speed = "6000 rpm"
hold_speed = true
measure = "10 ms"
"#;

/// What came of a command.
struct Got {
    status: i32,
    out: String,
    err: String,
}

fn wyebench(folder: &Path, arguments: &[&str]) -> Got {
    wyebench_reading(folder, arguments, Stdio::null())
}

fn wyebench_with(folder: &Path, arguments: &[&str], environment: &[(&str, &str)]) -> Got {
    wyebench_in(folder, arguments, environment, Stdio::null())
}

fn wyebench_reading(folder: &Path, arguments: &[&str], stdin: Stdio) -> Got {
    wyebench_in(folder, arguments, &[], stdin)
}

fn wyebench_in(
    folder: &Path,
    arguments: &[&str],
    environment: &[(&str, &str)],
    stdin: Stdio,
) -> Got {
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        // A window must not open in a test.
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .envs(environment.iter().copied())
        .stdin(stdin)
        .output()
        .unwrap();
    Got {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A folder with a setup `short.toml`.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("short.toml"), SHORT).unwrap();
    folder
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn help_is_as_it_is() {
    let folder = folder();
    let mut all = String::new();
    for command in [
        vec![],
        vec!["open"],
        vec!["run"],
        vec!["picture"],
        vec!["check"],
        vec!["new"],
        vec!["inspect"],
        vec!["predict"],
        vec!["readings"],
        vec!["capture"],
        vec!["choose"],
        vec!["wind"],
        vec!["lesson"],
        vec!["lesson", "list"],
        vec!["lesson", "read"],
        vec!["lesson", "run"],
        vec!["lesson", "check"],
        vec!["lesson", "open"],
        vec!["lesson", "handout"],
        vec!["lesson", "new"],
        vec!["compare"],
    ] {
        let mut arguments = command.clone();
        arguments.push("--help");
        let got = wyebench(folder.path(), &arguments);
        assert_eq!((got.status, got.err.as_str()), (0, ""));
        all += &format!("$ wyebench {}\n{}\n", arguments.join(" "), got.out);
    }
    insta::assert_snapshot!(all);
}

/// JSON and nothing else on standard output, with the keys of the contract.
#[test]
fn run_prints_one_json_object() {
    let folder = folder();
    let got = wyebench(folder.path(), &["run", "short.toml", "--json"]);
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    assert_eq!(json["window_kind"], "mechanical-turns");
    // Two mechanical turns of 10 ms at 6000 rpm; only one fits into 10 ms.
    assert!((json["window_s"].as_f64().unwrap() - 0.01).abs() < 1e-9);
    assert!((json["mean_speed_rpm"].as_f64().unwrap() - 6000.0).abs() < 1e-6);
    assert!(json["energy_residual"].as_f64().unwrap().abs() < 1e-6);
    assert_eq!(json["in_step"], true);
}

#[test]
fn run_prints_a_table_without_colour_into_a_pipe() {
    let folder = folder();
    let got = wyebench(folder.path(), &["run", "short.toml"]);
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    assert!(!got.out.contains('\u{1b}'), "{}", got.out);
    for words in [
        "Sluice drive, driven",
        "mean speed",
        "6000      rpm",
        "Local rules",
    ] {
        assert!(got.out.contains(words), "{words} in {}", got.out);
    }
}

#[test]
fn run_writes_its_files_whole() {
    let folder = folder();
    let arguments = [
        "run",
        "short.toml",
        "--json",
        "--waveforms",
        "w.csv",
        "--vcd",
        "l.vcd",
        "--plot",
        "s.svg",
    ];
    let got = wyebench(folder.path(), &arguments);
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    assert_eq!(
        names(folder.path()),
        ["l.vcd", "s.svg", "short.toml", "w.csv"]
    );
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let waveforms = read("w.csv");
    assert_eq!(
        waveforms.lines().count(),
        2002,
        "a line of names, 20 ms in steps of 10 us"
    );
    let times: Vec<&str> = waveforms
        .lines()
        .skip(1)
        .map(|line| line.split(',').next().unwrap())
        .collect();
    // a hundred thousand samples a second: the third is the decimal 3e-5, to its last bit
    assert_eq!((times[0], times[2000]), ("0", "0.02"));
    assert_eq!(times[3].parse::<f64>().unwrap(), 3e-5);
    assert!(read("l.vcd").contains("$timescale 1 ps $end"));
    assert!(read("s.svg").contains("<title>Sluice drive, driven</title>"));
    // The same run gives the same bytes.
    let again = folder.path().join("again");
    fs::create_dir(&again).unwrap();
    fs::write(again.join("short.toml"), SHORT).unwrap();
    assert_eq!(wyebench(&again, &arguments).out, got.out);
    for name in ["w.csv", "l.vcd", "s.svg"] {
        assert_eq!(
            read(name),
            fs::read_to_string(again.join(name)).unwrap(),
            "{name}"
        );
    }
}

/// Cheap things are checked first, and a refusal leaves nothing behind.
#[test]
fn a_bad_output_path_is_refused_before_the_run() {
    let folder = folder();
    for (arguments, words) in [
        (["--plot", "s.jpeg"], "must end in .svg or .png"),
        (["--plot", "s"], "must end in .svg or .png"),
        (["--waveforms", "no/w.csv"], "there is no folder `no`"),
        (["--waveforms", "short.toml"], "must end in .csv"),
        (["--vcd", "."], "is a folder"),
        (["--vcd", ""], ""),
    ] {
        let got = wyebench(
            folder.path(),
            &["run", "short.toml", arguments[0], arguments[1]],
        );
        assert_eq!(
            (got.status, got.out.as_str()),
            (2, ""),
            "{arguments:?}: {}",
            got.err
        );
        assert!(got.err.contains(words), "{arguments:?}: {}", got.err);
    }
    assert_eq!(names(folder.path()), ["short.toml"]);
}

#[test]
fn a_figure_explains_itself() {
    let folder = folder();
    let got = wyebench(
        folder.path(),
        &["run", "short.toml", "--why", "mean_speed_rpm"],
    );
    assert_eq!(got.status, 0, "{}", got.err);
    for words in [
        "n = 60 · Δθ / (2π · T)",
        "put in",
        "definition, see DEVELOPERS.md, steady figures",
    ] {
        assert!(got.out.contains(words), "{words} in {}", got.out);
    }
    let got = wyebench(
        folder.path(),
        &["run", "short.toml", "--why", "mean_sped_rpm"],
    );
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(
        got.err.contains("the nearest is `mean_speed_rpm`"),
        "{}",
        got.err
    );
}

/// What stands in a setup and does nothing is said, in the table and in the JSON.
#[test]
fn what_has_no_effect_is_told() {
    let folder = folder();
    let table = "[drive.forced]\nfrequency = \"700 Hz\"\n[supply]";
    let unused = SHORT.replace("[supply]", table);
    fs::write(folder.path().join("unused.toml"), &unused).unwrap();
    let got = wyebench(folder.path(), &["run", "unused.toml", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    assert!(
        got.out.contains("[drive.forced] has no effect"),
        "{}",
        got.out
    );
    let forced = "[drive]\ncommutation = \"forced\"\nadvance = \"20 deg\"\n[drive.pwm]";
    fs::write(
        folder.path().join("forced.toml"),
        unused.replace("[drive.pwm]", forced),
    )
    .unwrap();
    let got = wyebench(folder.path(), &["run", "forced.toml"]);
    assert_eq!(got.status, 0, "{}", got.err);
    assert!(
        got.out.contains("drive.advance has no effect"),
        "{}",
        got.out
    );
    assert!(
        !got.out.contains("[drive.forced] has no effect"),
        "{}",
        got.out
    );
    // Without either there is nothing to say.
    let got = wyebench(folder.path(), &["run", "short.toml"]);
    assert!(!got.out.contains("no effect"), "{}", got.out);
}

#[test]
fn a_wrong_setup_says_where_and_ends_with_2() {
    let folder = folder();
    fs::write(
        folder.path().join("bad.toml"),
        SHORT.replace("poles = 14", "poles = 13"),
    )
    .unwrap();
    for command in ["run", "check", "inspect"] {
        let got = wyebench(folder.path(), &[command, "bad.toml"]);
        assert_eq!((got.status, got.out.as_str()), (2, ""), "{command}");
        assert!(
            got.err.contains("bad.toml:") && got.err.contains("poles"),
            "{}",
            got.err
        );
        assert!(!got.err.contains('\u{1b}'), "no colour into a pipe");
    }
    let got = wyebench(folder.path(), &["run", "none.toml"]);
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(got.err.contains("none.toml"), "{}", got.err);
}

#[test]
fn check_goes_through_all_files() {
    let folder = folder();
    fs::write(folder.path().join("bad.toml"), "format = 1\n").unwrap();
    let got = wyebench(folder.path(), &["check", "bad.toml", "short.toml"]);
    assert_eq!((got.status, got.out.as_str()), (2, "short.toml: ok\n"));
    assert!(got.err.contains("1 of 2 setups"), "{}", got.err);
}

#[test]
fn standard_input_is_a_setup_too() {
    let folder = folder();
    let short = fs::File::open(folder.path().join("short.toml")).unwrap();
    let got = wyebench_reading(folder.path(), &["run", "-", "--json"], short.into());
    assert_eq!(got.status, 0, "{}", got.err);
    let got = wyebench(folder.path(), &["check", "-"]);
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(got.err.contains("standard input"), "{}", got.err);
}

#[test]
fn new_never_overwrites() {
    let folder = folder();
    let got = wyebench(folder.path(), &["new", "trolley"]);
    assert_eq!(
        (got.status, got.out.as_str()),
        (0, "trolley.toml\n"),
        "{}",
        got.err
    );
    assert_eq!(
        wyebench(folder.path(), &["check", "trolley.toml"]).status,
        0
    );
    fs::write(folder.path().join("trolley.toml"), "mine").unwrap();
    let got = wyebench(folder.path(), &["new", "trolley"]);
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert_eq!(
        fs::read_to_string(folder.path().join("trolley.toml")).unwrap(),
        "mine"
    );
    for name in ["", "../up", "a/b", ".hidden"] {
        let got = wyebench(folder.path(), &["new", name]);
        assert_eq!((got.status, got.out.as_str()), (2, ""), "{name}");
    }
    assert_eq!(names(folder.path()), ["short.toml", "trolley.toml"]);
}

/// A machine of which only dimensions, turns and wire are known.
const COMPUTED: &str = r#"
format = 1
title = "Kinetic mobile, wound on the kitchen table"
machine = { slots = 12, poles = 10, emf = { shape = "computed" }, winding = { turns = 20 }, rotor = { inertia = "1.2e-5 kg m2" }, geometry = { bore_radius = "14 mm", air_gap = "0.6 mm", magnet_thickness = "2.5 mm", magnet_arc = 0.75, magnet_remanence = "1.2 T", magnetisation = "parallel", stack_length = "30 mm", slot_opening = "2.2 mm", tooth_tip = "1 mm", slot_depth = "9 mm", tooth_width = "4.2 mm", wire_diameter = "0.6 mm" } }
drive.pwm = { frequency = "20 kHz", duty = 0.6 }
supply.voltage = "11.1 V"
load.quadratic = "1.5e-7 Nm s2/rad2"
run.duration = "0.2 s"
"#;

#[test]
fn a_machine_is_computed_from_its_dimensions() {
    let folder = folder();
    fs::write(folder.path().join("mobile.toml"), COMPUTED).unwrap();
    let got = wyebench(folder.path(), &["inspect", "mobile.toml", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    let number = |key: &str| json[key].as_f64().unwrap();
    // One conductor and one metre of the same section by finite elements: 57.01 rpm/V and
    // 73.5 uH line to line (tests/reference/field_fem.toml).
    let (turns, length_m) = (20.0, 0.03);
    let kv = 57.01 / (turns * length_m);
    assert!((number("kv_rpm_per_v") / kv - 1.0).abs() < 3e-3);
    let phase_h = 0.5 * 73.5e-6 * turns * turns * length_m;
    // The ends of the coils come on top, a few percent.
    let ends = number("phase_inductance_h") / phase_h - 1.0;
    assert!((0.002..0.03).contains(&ends), "{ends}");
    // Kt of a sine in star is 60/(2 pi Kv) over sqrt 3 times 3/2 per phase peak; here only that the
    // peak of the phase EMF is near the line's over sqrt 3.
    let line = 30.0 / (std::f64::consts::PI * number("kv_rpm_per_v"));
    assert!((number("phase_constant_v_s_per_rad") / (line / 3.0_f64.sqrt()) - 1.0).abs() < 0.1);
    assert!(number("phase_resistance_ohm") > 0.1 && number("copper_mass_kg") > 0.01);
    assert!((0.2..0.5).contains(&number("slot_fill")));
    let field = json["gap_field"].as_array().unwrap();
    let at = |i: usize, k: usize| field[i][k].as_f64().unwrap();
    assert_eq!((field.len(), at(0, 0)), (360, 0.0));
    assert!((at(180, 0) - 36.0).abs() < 1e-9, "half a pole pair of five");
    assert!(
        at(0, 1) > 0.7 && at(180, 1) < -0.7,
        "out of the north magnet, into the south"
    );
    let flags = json["flags"].to_string();
    for said in [
        "end_turn is not given",
        "computed from turns and wire",
        "through the gap",
        "in the ends",
    ] {
        assert!(flags.contains(said), "{said}: {flags}");
    }
    let got = wyebench(folder.path(), &["run", "mobile.toml", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let run: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    assert!(run["mean_speed_rpm"].as_f64().unwrap() > 100.0);
    assert!(run["energy_residual"].as_f64().unwrap().abs() < 1e-6);
}

/// What is given wins over what could be computed, and that is said.
#[test]
fn given_values_win_over_computed_ones() {
    let folder = folder();
    let given = COMPUTED.replace(
        "emf = { shape = \"computed\" }",
        "emf = { shape = \"computed\", kv = \"100 rpm/V\" }, phase = { resistance = \"0.5 ohm\", \
         inductance = \"300 uH\" }, cogging = { peak = \"1 mNm\" }",
    );
    fs::write(folder.path().join("given.toml"), given).unwrap();
    let got = wyebench(folder.path(), &["inspect", "given.toml", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    let number = |key: &str| json[key].as_f64().unwrap();
    assert!((number("kv_rpm_per_v") - 100.0).abs() < 1e-9);
    assert_eq!(number("phase_resistance_ohm"), 0.5);
    assert_eq!(number("phase_inductance_h"), 300e-6);
    assert_eq!(number("cogging_peak_nm"), 1e-3);
    let flags = json["flags"].to_string();
    assert_eq!(flags.matches("given and used").count(), 4, "{flags}");
}

#[test]
fn rewind_follows_turns_wire_and_connection() {
    let folder = folder();
    let base = [
        "rewind",
        "--kv",
        "920 rpm/V",
        "--resistance",
        "0.12 ohm",
        "--turns",
        "8",
    ];
    let ask = |more: &[&str]| {
        let all: Vec<&str> = base.iter().chain(more).copied().collect();
        wyebench(folder.path(), &all)
    };
    let got = ask(&["--to-turns", "14", "--inductance", "40 uH", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    // The second row of tests/reference/machine_relations.toml.
    for (key, want) in [
        ("kv_rpm_per_v", 525.714285714),
        ("line_resistance_ohm", 0.3675),
        ("line_inductance_h", 0.0001225),
        ("torque_constant_nm_per_a", 0.0181643642),
    ] {
        let got = json[key].as_f64().unwrap();
        assert!((got / want - 1.0).abs() < 1e-5, "{key}: {got} {want}");
    }
    let text = ask(&["--to-connection", "delta", "--current", "20 A"]).out;
    assert!(
        text.contains("1593 rpm/V") && text.contains("34.64 A"),
        "{text}"
    );
    let wrong = ask(&["--to-turns", "9", "--current", "20 V"]);
    assert_eq!(wrong.status, 2);
    assert!(
        wrong.err.contains("--current \"20 V\" is not a current"),
        "{}",
        wrong.err
    );
    assert_eq!(
        ask(&["--wire", "0.6 mm"]).status,
        2,
        "one wire without the other"
    );
    assert_eq!(ask(&["--to-turns", "0"]).status, 2);
}

/// A value with a minus is a value: refused with what would be right, not looked for among the options.
#[test]
fn negative_values_are_told_as_values() {
    let folder = folder();
    for (arguments, wanted) in [
        (
            &[
                "rewind",
                "--kv",
                "-3 rpm/V",
                "--resistance",
                "1 ohm",
                "--turns",
                "9",
            ][..],
            "-3 rpm/V",
        ),
        (&["capture", "a.csv", "--speed", "-3 rpm"][..], "-3 rpm"),
        (&["capture", "a.csv", "--accuracy", "-3"][..], "-3"),
        (&["predict", "a.toml", "--plot", "-3"][..], "-3"),
    ] {
        let got = wyebench(folder.path(), arguments);
        assert_eq!(got.status, 2, "{}", got.err);
        let message = got.err.replace('\n', " ");
        assert!(
            message.contains(wanted) && !message.contains("unexpected argument"),
            "{message}"
        );
        assert!(!message.contains("Usage:"), "{message}");
    }
}

#[test]
fn inspect_has_the_contracts_keys() {
    let folder = folder();
    let got = wyebench(folder.path(), &["inspect", "short.toml", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    let mut keys: Vec<_> = json
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect();
    keys.sort_unstable();
    assert_eq!(
        keys,
        [
            "cogging_peak_nm",
            "cogging_per_turn",
            "copper_mass_kg",
            "emf_harmonics",
            "flags",
            "gap_field",
            "kv_rpm_per_v",
            "layout",
            "phase_constant_v_s_per_rad",
            "phase_inductance_h",
            "phase_resistance_ohm",
            "slot_fill",
            "winding_factor",
        ]
    );
    assert!((json["kv_rpm_per_v"].as_f64().unwrap() - 920.0).abs() < 1e-9);
    // Ideal trapezoid: peak line-to-line = 2 k_e ω (conventions).
    let phase_constant = json["phase_constant_v_s_per_rad"].as_f64().unwrap();
    assert!((phase_constant * 2.0 * 920.0 * std::f64::consts::PI / 30.0 - 1.0).abs() < 1e-12);
    // 12 slots, 14 poles: 0.933 in every table of tooth-coil winding factors (from memory).
    assert!((json["winding_factor"].as_f64().unwrap() - 0.933).abs() < 5e-4);
    assert_eq!(json["cogging_per_turn"], 84);
}

#[test]
fn wind_lays_out_or_says_why_not() {
    let folder = folder();
    let got = wyebench(folder.path(), &["wind", "12", "14", "--json"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let json: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    assert_eq!(json["slots_per_pole_and_phase"], "2/7");
    let got = wyebench(folder.path(), &["wind", "12", "18"]);
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(got.err.contains("12 slots with 16 poles"), "{}", got.err);
}

/// The list, the picture, and what cannot be wound in parallel.
#[test]
fn wind_is_a_list_and_a_picture() {
    let folder = folder();
    let asked = ["wind", "12", "14", "--steps", "--turns", "9", "-o", "a.svg"];
    let got = wyebench(folder.path(), &asked);
    assert_eq!(got.status, 0, "{}", got.err);
    assert!(got.out.contains("join U2, V2, W2"), "{}", got.out);
    assert_eq!(got.out.matches("9 turns: up slot").count(), 12);
    let svg = fs::read_to_string(folder.path().join("a.svg")).unwrap();
    assert!(svg.contains("<title>12 slots, 14 poles, two layers, 9 turns a coil</title>"));
    let of_setup = ["wind", "--setup", "short.toml", "--steps"];
    let got = wyebench(folder.path(), &of_setup);
    assert_eq!(got.status, 0, "{}", got.err);
    let got = wyebench(
        folder.path(),
        &["wind", "9", "8", "--steps", "--paths", "3"],
    );
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(got.err.contains("equal EMFs"), "{}", got.err);
    let got = wyebench(folder.path(), &["wind", "12", "--steps"]);
    assert_eq!(got.status, 2);
}

/// A reader that goes away early is no failure and gets no message.
#[test]
fn a_broken_pipe_is_quiet() {
    let folder = folder();
    let mut child = Command::cargo_bin("wyebench")
        .unwrap()
        .arg("schema")
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut message = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut message)
        .unwrap();
    assert_eq!(
        (child.wait().unwrap().code(), message.as_str()),
        (Some(0), "")
    );
}

/// Without a command: everything there is, in one folder, and what was written is told.
#[test]
fn without_a_command_it_shows_what_it_can() {
    let folder = tempfile::tempdir().unwrap();
    let got = wyebench(folder.path(), &[]);
    assert_eq!(got.status, 0, "{}", got.err);
    assert!(
        got.err
            .contains("running the built-in setup without a window"),
        "{}",
        got.err
    );
    let written = names(&folder.path().join("wyebench-out"));
    assert_eq!(
        written,
        [
            "figures.json",
            "legs.vcd",
            "strips.png",
            "strips.svg",
            "waveforms.csv"
        ]
    );
    for name in written {
        assert!(got.out.contains(&name), "{name}");
    }
}

/// `open` checks the setup before anything else, and without a display it says so and runs it.
#[test]
fn open_without_a_display_runs_the_setup_and_says_so() {
    let folder = folder();
    let got = wyebench(folder.path(), &["open", "shrt.toml"]);
    assert_eq!(got.status, 2);
    assert!(got.err.contains("did you mean short.toml?"), "{}", got.err);
    let got = wyebench(folder.path(), &["open", "short.toml"]);
    assert_eq!(got.status, 0, "{}", got.err);
    let why = if cfg!(feature = "window") {
        "no display was found"
    } else {
        "no window"
    };
    assert!(got.err.contains(why), "{}", got.err);
    assert!(got.out.starts_with("Sluice drive, driven"), "{}", got.out);
    assert!(
        folder
            .path()
            .join("wyebench-out")
            .join("figures.json")
            .exists()
    );
}

/// A setup that may not be read and a folder that may not be written, also where the tests run
/// as root: then the command runs as nobody.
#[cfg(unix)]
#[test]
fn what_may_not_be_read_or_written_is_told() {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
    use std::os::unix::process::CommandExt as _;
    let folder = folder();
    let program = folder.path().join("program");
    fs::copy(
        Command::cargo_bin("wyebench").unwrap().get_program(),
        &program,
    )
    .unwrap();
    let allow = |path: &Path, mode: u32| {
        fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    fs::write(folder.path().join("locked.toml"), "format = 1\n").unwrap();
    allow(&folder.path().join("locked.toml"), 0o000);
    fs::create_dir(folder.path().join("shut")).unwrap();
    allow(&folder.path().join("shut"), 0o555);
    allow(folder.path(), 0o755);
    let is_root = fs::metadata(folder.path()).unwrap().uid() == 0;
    let run = |arguments: &[&str]| {
        let mut command = Command::new(&program);
        command.args(arguments).current_dir(folder.path());
        if is_root {
            command.uid(65_534);
        }
        let output = command.output().unwrap();
        (
            output.status.code().unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    };
    let (status, message) = run(&["check", "locked.toml"]);
    assert_eq!(status, 2);
    assert!(message.contains("may not be read"), "{message}");
    let (status, message) = run(&["run", "short.toml", "--waveforms", "shut/w.csv"]);
    assert_eq!(status, 2, "{message}");
    assert!(message.contains("shut"), "{message}");
    assert!(names(&folder.path().join("shut")).is_empty());
}

/// A picture of more samples than memory holds is refused before the run.
#[test]
fn a_picture_of_too_many_samples_is_refused() {
    let folder = folder();
    let text = SHORT.replace(
        "duration = \"20 ms\"",
        "duration = \"10 s\"\nsample = \"1 ns\"",
    );
    assert_ne!(text, SHORT);
    fs::write(folder.path().join("fine.toml"), text).unwrap();
    let got = wyebench(folder.path(), &["run", "fine.toml", "--plot", "p.svg"]);
    assert_eq!((got.status, got.out.as_str()), (2, ""));
    assert!(
        got.err.contains("set run.sample to \"2 us\""),
        "{}",
        got.err
    );
    assert_eq!(names(folder.path()), ["fine.toml", "short.toml"]);
}

/// A build file from the program itself: predicted, explained, as JSON, and as a setup.
#[test]
fn a_build_is_predicted_from_its_labels() {
    let folder = folder();
    let example = wyebench(folder.path(), &["predict", "--example"]);
    assert_eq!((example.status, example.err.as_str()), (0, ""));
    fs::write(folder.path().join("fan.toml"), &example.out).unwrap();
    let got = wyebench(
        folder.path(),
        &["predict", "fan.toml", "--curves", "--confirm"],
    );
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    insta::assert_snapshot!("predict", got.out);
    let got = wyebench(
        folder.path(),
        &[
            "predict",
            "fan.toml",
            "--json",
            "--confirm",
            "--setup",
            "fan_setup.toml",
        ],
    );
    assert_eq!((got.status, got.err.as_str()), (0, ""));
    let object: serde_json::Value = serde_json::from_str(&got.out).unwrap();
    for key in ["speed_rpm", "pack_current_a", "thrust_n", "efficiency"] {
        assert!(object[key].as_f64().is_some_and(f64::is_finite), "{key}");
    }
    assert!(object["simulated"]["torque_nm"].as_f64().is_some());
    assert_eq!(object["regime"], "continuous");
    let got = wyebench(folder.path(), &["check", "fan_setup.toml"]);
    assert_eq!(got.status, 0, "{}", got.err);
    // never over a file that is there
    let got = wyebench(
        folder.path(),
        &["predict", "fan.toml", "--setup", "fan_setup.toml"],
    );
    assert_eq!(got.status, 2, "{}", got.err);
    let got = wyebench(folder.path(), &["predict", "fan.toml", "--why", "thrust"]);
    assert_eq!(got.status, 2);
    assert!(got.err.contains("the nearest is `thrust_n`"), "{}", got.err);
    let heavy = example
        .out
        .replace("[propeller]", "[load]\nconstant = \"5 Nm\"\n\n[propeller]");
    fs::write(folder.path().join("heavy.toml"), heavy).unwrap();
    let got = wyebench(folder.path(), &["predict", "heavy.toml"]);
    assert_eq!((got.status, got.out.as_str()), (1, ""));
    assert!(got.err.contains("the load holds the motor"), "{}", got.err);
}

/// A picture of the bench at an instant: SVG needs no graphics device, and carries the words for
/// a screen reader.
#[test]
fn picture_draws_the_bench_at_an_instant() {
    let folder = folder();
    for what in ["machine", "bridge", "plots", "all"] {
        let arguments = [
            "picture",
            "short.toml",
            "--at",
            "3ms",
            "--what",
            what,
            "--size",
            "640x400",
            "-o",
            "bench.svg",
        ];
        let got = wyebench(folder.path(), &arguments);
        assert_eq!(
            (got.status, got.err.as_str(), got.out.as_str()),
            (0, "", "")
        );
        let svg = std::fs::read_to_string(folder.path().join("bench.svg")).unwrap();
        assert!(svg.contains("width=\"640\"") && svg.contains("height=\"400\""));
        assert!(
            svg.contains("The bench at 3.000 ms · 6000 rpm · step"),
            "{what}"
        );
    }
}

/// The PNG of the painters has the size that was asked for.
#[cfg(feature = "window")]
#[test]
fn picture_paints_a_png() {
    let folder = folder();
    let arguments = [
        "picture",
        "short.toml",
        "--theme",
        "light",
        "--size",
        "320x500",
        "-o",
        "bench.png",
    ];
    let got = wyebench(folder.path(), &arguments);
    // Graphics drivers may say things on standard error.
    assert_eq!(got.status, 0, "{}", got.err);
    let png = std::fs::read(folder.path().join("bench.png")).unwrap();
    // The header chunk (PNG, third edition, 11.2.1): width and height as 32-bit numbers.
    assert_eq!(png[16..24], [0, 0, 1, 64, 0, 0, 1, 244]);
}

/// Nothing is written where anything is wrong, and the message says what would be right.
#[test]
fn picture_refuses_what_cannot_be() {
    let folder = folder();
    let cases: [(&[&str], &str); 6] = [
        (
            &["--at", "80 ms", "-o", "p.svg"],
            "after the end of the run",
        ),
        (&["--at", "12.5", "-o", "p.svg"], "the unit is missing"),
        (&["--at", "12 mV", "-o", "p.svg"], "this is no time"),
        (
            &["--size", "10x10", "-o", "p.svg"],
            "each side is 64 to 8192",
        ),
        (&["--size", "wide", "-o", "p.svg"], "1600x1000"),
        (&["-o", "p.gif"], "must end in .png or .svg"),
    ];
    for (more, wanted) in cases {
        let arguments = [&["picture", "short.toml"], more].concat();
        let got = wyebench(folder.path(), &arguments);
        assert_eq!(got.status, 2, "{more:?}: {}", got.err);
        assert!(got.err.contains(wanted), "{more:?}: {}", got.err);
        assert!(!folder.path().join("p.svg").exists(), "{more:?}");
    }
}

/// Without any graphics device a PNG is refused before the run, with the way out.
#[cfg(all(feature = "window", target_os = "linux"))]
#[test]
fn picture_says_what_to_do_without_a_graphics_device() {
    let folder = folder();
    // A kind of device that this system does not have.
    let arguments = ["picture", "short.toml", "-o", "bench.png"];
    let got = wyebench_with(folder.path(), &arguments, &[("WGPU_BACKEND", "metal")]);
    assert_eq!(got.status, 1, "{}", got.err);
    for wanted in ["mesa-vulkan-drivers", "FILE.svg"] {
        assert!(got.err.contains(wanted), "{}", got.err);
    }
    assert!(!folder.path().join("bench.png").exists());
}

fn json(got: &Got) -> serde_json::Value {
    assert_eq!(got.status, 0, "{}", got.err);
    serde_json::from_str(&got.out).unwrap()
}

/// The sentences under a key of an object.
fn sentences(object: &serde_json::Value, key: &str) -> String {
    let list = object[key].as_array().unwrap();
    let words: Vec<&str> = list.iter().map(|words| words.as_str().unwrap()).collect();
    words.join("\n")
}

/// A weight that hangs and drives the motor charged the pack, and text and JSON said nothing.
#[test]
fn what_flows_back_into_the_supply_is_cautioned() {
    let folder = folder();
    let text = wyebench::setup::starter("pond")
        .replace("duration = \"1 s\"", "duration = \"300 ms\"")
        .replace("gravity = \"0 Nm\"", "gravity = \"-80 mNm\"")
        .replace("constant = \"10 mNm\"", "constant = \"0 mNm\"");
    fs::write(folder.path().join("back.toml"), text).unwrap();
    let got = json(&wyebench(folder.path(), &["run", "back.toml", "--json"]));
    let mean_a = got["supply_current_mean_a"].as_f64().unwrap();
    assert!(mean_a < -1.0, "{mean_a}");
    let words = format!("{:.1} A (", -mean_a);
    let cautions = sentences(&got, "cautions");
    assert!(
        cautions.contains(&words) && cautions.contains("flow back into the supply"),
        "{cautions}"
    );
    let told = wyebench(folder.path(), &["run", "back.toml"]);
    assert!(
        told.out.contains("flow back into the supply"),
        "{}",
        told.out
    );
}

/// A motor that stood took 380 W, and no word of its text said that it did not turn.
#[test]
fn a_motor_that_stands_is_told() {
    let folder = folder();
    let text = SHORT
        .replace("start_speed = \"6000 rpm\"\nhold_speed = true\n", "")
        .replace("[run]", "[load]\nconstant = \"10 Nm\"\n[run]");
    fs::write(folder.path().join("stands.toml"), text).unwrap();
    let got = json(&wyebench(folder.path(), &["run", "stands.toml", "--json"]));
    assert!(sentences(&got, "warnings").contains("The motor does not turn"));
    assert!(sentences(&got, "cautions").contains("of a motor that stands still"));
    // one that turns is not told so
    let got = json(&wyebench(folder.path(), &["run", "short.toml", "--json"]));
    assert_eq!(sentences(&got, "warnings"), "");
    assert!(sentences(&got, "cautions").contains("rpm at the fastest"));
}

/// 11.1 V over 90 mΩ, two switches of 1.5 mΩ and 30 mΩ of the pack: 90 A, by hand; the motor's label
/// says 18 A.
#[test]
fn every_build_tells_what_flows_while_it_is_locked() {
    let folder = folder();
    fs::write(folder.path().join("fan.toml"), example_build()).unwrap();
    let got = json(&wyebench(folder.path(), &["predict", "fan.toml", "--json"]));
    let locked_a = got["locked_current_a"].as_f64().unwrap();
    assert!((locked_a - 11.1 / 0.123).abs() < 1e-9, "{locked_a}");
    let cautions = sentences(&got, "cautions");
    assert!(
        cautions.contains("90.2 A flow through motor, controller and pack")
            && cautions.contains("more than they bear (the motor 18.0 A,"),
        "{cautions}"
    );
    // no run took place
    assert!(!cautions.contains("of the run"), "{cautions}");
    assert_eq!(sentences(&got, "warnings"), "");
}

/// 137600 rpm of 150 mm are tips at three times the speed of sound; only generic words stood there.
#[test]
fn tips_near_the_speed_of_sound_are_told() {
    let folder = folder();
    let text = "format = 1\n[motor]\nkv = \"3000 rpm/V\"\nline_resistance = \"5 mohm\"\n\
                line_inductance = \"1 uH\"\npoles = 2\nno_load_current = \"1 A\"\nno_load_voltage = \"10 V\"\n\
                [pack]\nvoltage = \"60 V\"\n[propeller]\ndiameter = \"150 mm\"\n\
                thrust_coefficient = 0.10\npower_coefficient = 0.045\n";
    fs::write(folder.path().join("fast.toml"), text).unwrap();
    let got = json(&wyebench(
        folder.path(),
        &["predict", "fast.toml", "--json"],
    ));
    let tip_m_s = got["tip_speed_m_s"].as_f64().unwrap();
    let rpm = got["speed_rpm"].as_f64().unwrap();
    let by_hand = std::f64::consts::PI * 0.150 * rpm / 60.0;
    assert!(
        (tip_m_s / by_hand - 1.0).abs() < 1e-12,
        "{tip_m_s} {by_hand}"
    );
    let cautions = sentences(&got, "cautions");
    assert!(cautions.contains("times the speed of sound"), "{cautions}");
    assert!(cautions.contains("bursts"), "{cautions}");
    // nor did it say that controller and pack were taken as ideal
    let warnings = sentences(&got, "warnings");
    assert!(warnings.contains("Taken as ideal"), "{warnings}");
    assert!(warnings.contains("Taken as unlimited"), "{warnings}");
    // behind a gear the propeller turns at its own speed
    let geared = text.replace("[propeller]", "[gear]\nratio = 3.0\n[propeller]");
    fs::write(folder.path().join("geared.toml"), geared).unwrap();
    let got = json(&wyebench(
        folder.path(),
        &["predict", "geared.toml", "--json"],
    ));
    let own_rpm = got["load_speed_rpm"].as_f64().unwrap();
    let rpm = got["speed_rpm"].as_f64().unwrap();
    assert!((own_rpm / (rpm / 3.0) - 1.0).abs() < 1e-12);
    let words = format!("this one turns at {own_rpm:.0} rpm");
    assert!(sentences(&got, "cautions").contains(&words), "{words}");
}

/// A build given to `run` was told by a dozen problems, a missing one was sent to `wyebench new`.
#[test]
fn a_file_of_another_kind_is_told_as_that() {
    let folder = folder();
    fs::write(folder.path().join("fan.toml"), example_build()).unwrap();
    let cases: [(&[&str], &str); 8] = [
        (
            &["run", "fan.toml"],
            "fan.toml is a build file, and a setup is needed here\n  `wyebench predict fan.toml` takes it",
        ),
        (
            &["predict", "short.toml"],
            "short.toml is a setup, and a build file is needed here\n  `wyebench run short.toml` takes it",
        ),
        (&["predict", "no.toml"], "`wyebench predict --example`"),
        (&["choose", "no.toml"], "`wyebench choose --example`"),
        (&["readings", "no.toml"], "`wyebench readings --example`"),
        (&["run", "no.toml"], "`wyebench new no.toml`"),
        (
            &["capture", "no.csv"],
            "there is no file `no.csv`\n  `wyebench capture --example`",
        ),
        (&["check", "fan.toml"], "fan.toml is a build file"),
    ];
    for (arguments, wanted) in cases {
        let got = wyebench(folder.path(), arguments);
        assert_eq!(got.status, 2, "{arguments:?}");
        assert!(got.err.contains(wanted), "{arguments:?}: {}", got.err);
        assert!(!got.err.contains("os error"), "{}", got.err);
    }
    let goal = wyebench(folder.path(), &["choose", "--example"]).out;
    fs::write(folder.path().join("goal.toml"), goal).unwrap();
    let got = wyebench(folder.path(), &["choose", "goal.toml", "--parts", "no.csv"]);
    assert!(
        got.err.contains("`wyebench choose --example-parts`"),
        "{}",
        got.err
    );
    // a file in the place of the folder that a run without a window writes into
    fs::write(folder.path().join("wyebench-out"), "").unwrap();
    let got = wyebench(folder.path(), &["open", "short.toml"]);
    assert_eq!(got.status, 2);
    assert!(
        got.err
            .contains("`wyebench-out` is a file, and a folder `wyebench-out` is needed"),
        "{}",
        got.err
    );
}

/// Help and what is taken agree.
#[test]
fn what_the_help_names_is_taken() {
    let folder = folder();
    let both = wyebench(
        folder.path(),
        &["compare", "short.toml", "--connection", "both", "--json"],
    );
    assert_eq!(json(&both)["n_candidates"], 2);
    let lists = wyebench(
        folder.path(),
        &[
            "compare",
            "short.toml",
            "--connection",
            "star,delta",
            "--json",
        ],
    );
    assert_eq!(both.out, lists.out);
    let goal = wyebench(folder.path(), &["choose", "--example"]).out;
    let hours = goal.replace(
        "run_time = \"10 min\"",
        "run_time = \"0.16666666666666666 h\"",
    );
    assert_ne!(goal, hours);
    fs::write(folder.path().join("goal.toml"), goal).unwrap();
    fs::write(folder.path().join("hours.toml"), &hours).unwrap();
    let answers = |name: &str| wyebench(folder.path(), &["choose", name, "--top", "2"]).out;
    assert_eq!(answers("goal.toml"), answers("hours.toml"));
    fs::write(
        folder.path().join("wrong.toml"),
        hours.replace(" h\"", " kg\""),
    )
    .unwrap();
    let got = wyebench(folder.path(), &["choose", "wrong.toml"]);
    assert!(got.err.contains("s, min, h"), "{}", got.err);
    // a setup keeps to its contract
    let text = SHORT.replace("\"20 ms\"", "\"1 h\"");
    fs::write(folder.path().join("hour.toml"), text).unwrap();
    assert_eq!(wyebench(folder.path(), &["check", "hour.toml"]).status, 2);
}

/// Dust of rounding stood as figures: `torque −1.286e-18 Nm`.
#[test]
fn dust_is_shown_as_nothing_and_kept_in_json() {
    let folder = folder();
    let text = SHORT
        .replace(
            "start_speed = \"6000 rpm\"\nhold_speed = true\n",
            "start_speed = \"100 rpm\"\n",
        )
        .replace("[supply]", "[drive]\ngates = \"all-low\"\n[supply]")
        .replace("[drive.pwm]\nfrequency = \"20 kHz\"\nduty = 0.6\n", "")
        .replace("\"20 ms\"", "\"2 s\"");
    fs::write(folder.path().join("brake.toml"), text).unwrap();
    let got = json(&wyebench(folder.path(), &["run", "brake.toml", "--json"]));
    let peak_a = got["phase_current_peak_a"].as_f64().unwrap();
    assert!(peak_a < 1e-12, "{peak_a}: the brake has not come to rest");
    let told = wyebench(folder.path(), &["run", "brake.toml"]);
    // the account of the energy alone says how small its error is
    let figures = told.out.split("\nAccount").next().unwrap();
    assert!(!figures.contains("e-"), "{}", told.out);
    // a true small value stays: c ω² of 1e-12 N m s/rad at 6000 rpm, by hand
    let text = SHORT.replace(
        "[drive.pwm]",
        "viscous_friction = \"1e-12 Nm s/rad\"\n[drive.pwm]",
    );
    fs::write(folder.path().join("small.toml"), text).unwrap();
    let told = wyebench(folder.path(), &["run", "small.toml"]);
    let friction = told.out.lines().find(|line| line.contains("friction loss"));
    let words: Vec<&str> = friction.unwrap().split_whitespace().collect();
    assert_eq!(words[2..], ["394.8", "nW"], "{}", told.out);
}
