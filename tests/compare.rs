//! Comparisons from the command line: the same rows on any number of threads and in parts, rows that
//! agree with `inspect`, and reasons for what cannot be built.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

use std::fs;
use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt as _;
use serde_json::Value;
use tempfile::TempDir;

/// An outrunner of the workshop of which only dimensions are known.
const FAN: &str = r#"
format = 1
title = "Pond aerator, computed"
[machine]
construction = "outrunner"
slots = 12
poles = 14
[machine.emf]
shape = "computed"
[machine.winding]
turns = 9
[machine.geometry]
bore_radius = "14 mm"
air_gap = "0.7 mm"
magnet_thickness = "2.5 mm"
magnet_arc = 0.80
magnet_remanence = "1.22 T"
stack_length = "30 mm"
slot_opening = "1.95 mm"
tooth_tip = "1 mm"
slot_depth = "7.5 mm"
tooth_width = "2.2 mm"
wire_diameter = "0.6 mm"
[machine.rotor]
inertia = "1.2e-5 kg m2"
[supply]
voltage = "11.1 V"
[load]
constant = "10 mNm"
[run]
duration = "20 ms"
start_speed = "2000 rpm"
measure = "5 ms"
"#;

fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("fan.toml"), FAN).unwrap();
    let (bare, _) = FAN.split_once("[machine.emf]").unwrap();
    let bare = format!(
        "{bare}[machine.phase]\nresistance = \"45 mohm\"\ninductance = \"18 uH\"\n[machine.emf]\n\
         shape = \"sine\"\nkv = \"920 rpm/V\"\n[machine.rotor]\ninertia = \"1.2e-5 kg m2\"\n\
         [supply]\nvoltage = \"11.1 V\"\n[run]\nduration = \"20 ms\"\nmeasure = \"5 ms\"\n"
    );
    fs::write(folder.path().join("bare.toml"), bare).unwrap();
    folder
}

/// Status, standard output, standard error.
fn wyebench(folder: &Path, line: &str) -> (i32, String, String) {
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .args(line.split(' ').map(|word| word.replace('_', " ")))
        .current_dir(folder)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

fn rows(folder: &Path, line: &str) -> Vec<Value> {
    let (status, out, err) = wyebench(folder, line);
    assert_eq!(status, 0, "{err}");
    let json: Value = serde_json::from_str(&out).unwrap();
    json["rows"].as_array().unwrap().clone()
}

#[test]
fn any_number_of_threads_and_parts_gives_the_same_bytes() {
    let folder = folder();
    let path = folder.path();
    let lists = "compare fan.toml --slots 9,12 --poles 8..14 --turns 8,9 --run --json";
    let (status, one, err) = wyebench(path, &format!("{lists} --threads 1"));
    assert_eq!(status, 0, "{err}");
    let (_, two, _) = wyebench(path, &format!("{lists} --threads 2"));
    assert_eq!(one, two);
    for part in 1..=3 {
        let (status, out, err) = wyebench(path, &format!("{lists} --shard {part}/3"));
        assert_eq!(status, 0, "{err}");
        fs::write(path.join(format!("{part}.json")), out).unwrap();
    }
    let (_, joined, err) = wyebench(path, "compare --json --join 2.json 3.json 1.json");
    assert_eq!(joined, one);
    assert_eq!(err, "");
    // A part is missing, and one of another comparison lies among them.
    let (status, _, err) = wyebench(path, "compare --json --join 1.json 2.json");
    assert!(status == 0 && err.contains("partial"), "{err}");
    let (_, other, _) = wyebench(path, "compare fan.toml --slots 9 --json");
    fs::write(path.join("other.json"), other).unwrap();
    let (status, _, err) = wyebench(path, "compare --join 1.json other.json");
    assert!(status == 2 && err.contains("another comparison"), "{err}");
    // star and delta are all the connections there are, in the lists and rows of a part as well
    let part = fs::read_to_string(path.join("1.json")).unwrap();
    let row = r#""connection": "star""#;
    for wrong in [
        part.replacen(r#""star""#, r#""wye""#, 1),
        part.replace(row, &row.replace("star", "wye")),
    ] {
        assert_ne!(wrong, part);
        fs::write(path.join("wye.json"), wrong).unwrap();
        let (status, _, err) = wyebench(path, "compare --join wye.json");
        assert!(status == 2 && err.contains("wye"), "{err}");
    }
    let (status, _, err) = wyebench(path, "compare --join fan.toml");
    assert!(status == 2 && err.contains("fan.toml"), "{err}");
}

/// The row of the setup itself says what `inspect` says; twice the turns of the same wire halve Kv
/// and double the resistance.
#[test]
fn a_row_is_the_machine_that_inspect_sees() {
    let folder = folder();
    let (_, out, _) = wyebench(folder.path(), "inspect fan.toml --json");
    let inspected: Value = serde_json::from_str(&out).unwrap();
    let rows = rows(
        folder.path(),
        "compare fan.toml --turns 9,18 --wire 0.4_mm,0.6_mm --json",
    );
    let number = |value: &Value| value.as_f64().unwrap();
    let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-8, "{a} {b}");
    let row = &rows[1];
    near(
        number(&row["kv_rpm_per_v"]),
        number(&inspected["kv_rpm_per_v"]),
    );
    near(
        number(&row["line_resistance_ohm"]),
        2.0 * number(&inspected["phase_resistance_ohm"]),
    );
    near(
        number(&row["line_inductance_h"]),
        2.0 * number(&inspected["phase_inductance_h"]),
    );
    for key in [
        "cogging_peak_nm",
        "copper_mass_kg",
        "slot_fill",
        "winding_factor",
    ] {
        near(number(&row[key]), number(&inspected[key]));
    }
    // The same wire, twice the turns.
    near(
        number(&rows[2]["kv_rpm_per_v"]) * 2.0,
        number(&rows[0]["kv_rpm_per_v"]),
    );
    near(
        number(&rows[2]["line_resistance_ohm"]),
        2.0 * number(&rows[0]["line_resistance_ohm"]),
    );
}

/// Factors of tooth-coil windings as every table has them (from memory, three digits).
#[test]
fn windings_alone_are_compared_without_dimensions() {
    let folder = folder();
    let rows = rows(
        folder.path(),
        "compare bare.toml --slots 9,12 --poles 6..14 --json",
    );
    for (slots, poles, factor) in [
        (9, 6, 0.866),
        (9, 8, 0.945),
        (9, 10, 0.945),
        (12, 8, 0.866),
        (12, 10, 0.933),
        (12, 14, 0.933),
    ] {
        let row = rows
            .iter()
            .find(|row| row["slots"] == slots && row["poles"] == poles)
            .unwrap();
        assert!((row["winding_factor"].as_f64().unwrap() - factor).abs() < 6e-4);
        assert_eq!(row["unbalanced_pull"], slots == 9 && poles != 6);
        assert_eq!(row["kv_rpm_per_v"], Value::Null);
    }
    let (status, out, _) = wyebench(folder.path(), "compare bare.toml");
    assert!(
        status == 0 && out.contains("no [machine.geometry]"),
        "{out}"
    );
    let (status, _, err) = wyebench(folder.path(), "compare bare.toml --turns 5..9");
    assert!(status == 2 && err.contains("[machine.geometry]"), "{err}");
}

#[test]
fn what_cannot_be_built_says_why() {
    let folder = folder();
    let why = |line: &str| {
        let rows = rows(folder.path(), line);
        rows[0]["infeasible"].as_str().unwrap().to_owned()
    };
    let winding = why("compare fan.toml --poles 12 --json");
    assert!(winding.contains("no balanced"), "{winding}");
    let odd = why("compare fan.toml --poles 13 --json");
    assert!(odd.contains("13"), "{odd}");
    let full = why("compare fan.toml --turns 60 --json");
    assert!(full.contains("will not go in"), "{full}");
    let layer = why("compare fan.toml --slots 9 --poles 8 --layers 1 --json");
    assert!(layer.contains("two layers"), "{layer}");
    let wide = FAN.replace("tooth_width = \"2.2 mm\"", "tooth_width = \"3.3 mm\"");
    fs::write(folder.path().join("wide.toml"), wide).unwrap();
    let touch = why("compare wide.toml --slots 3 --poles 2 --json");
    assert!(touch.contains("teeth"), "{touch}");
}

#[test]
fn bad_lists_and_too_many_are_refused() {
    let folder = folder();
    for (line, wanted) in [
        ("compare fan.toml --slots 9x", "whole numbers"),
        ("compare fan.toml --poles 14..6", "whole numbers"),
        ("compare fan.toml --wire 0.5", "lengths"),
        ("compare fan.toml --magnet-arc 0.7..0.9", "0.05"),
        ("compare fan.toml --connection wye", "star"),
        ("compare fan.toml --torque 3_V", "torque"),
        ("compare fan.toml --shard 3/2", "2/8"),
        ("compare fan.toml --sort kv", "kv_rpm_per_v"),
        (
            "compare fan.toml --slots 9..1200 --poles 2..1200 --turns 1..99",
            "at most 200000",
        ),
        ("compare fan.toml --csv no/a.csv", "no folder"),
        ("compare", "SETUP"),
    ] {
        let (status, out, err) = wyebench(folder.path(), line);
        assert_eq!((status, out.as_str()), (2, ""), "{line}: {err}");
        assert!(err.contains(wanted), "{line}: {err}");
    }
}

/// Ctrl-C ends a comparison of many runs with what is done, and says so.
#[cfg(unix)]
#[test]
fn ctrl_c_keeps_what_is_done() {
    let folder = folder();
    let fan = FAN.replace("\"20 ms\"", "\"200 ms\"");
    fs::write(folder.path().join("long.toml"), fan).unwrap();
    let child = Command::cargo_bin("wyebench")
        .unwrap()
        .args(["compare", "long.toml", "--turns", "1..1000", "--wire"])
        .args(["0.05 mm,0.1 mm", "--run", "--json", "--threads", "1"])
        .current_dir(folder.path())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(700));
    let id = child.id().to_string();
    let sent = Command::new("kill").args(["-INT", &id]).status().unwrap();
    assert!(sent.success());
    let output = child.wait_with_output().unwrap();
    let err = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{err}");
    assert!(err.contains("stopped by hand"), "{err}");
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    let n_rows = json["rows"].as_array().unwrap().len();
    assert!(
        json["partial"] == true && n_rows > 0 && n_rows < 2000,
        "{n_rows}"
    );
}

#[test]
fn csv_and_pictures_hold_every_row() {
    let folder = folder();
    let path = folder.path();
    let line = "compare fan.toml --slots 9,12 --poles 8..14 --csv a.csv --plot a.svg --sort turns";
    let (status, out, err) = wyebench(path, line);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("share of the slot pitch"), "{out}");
    let mut reader = csv::Reader::from_path(path.join("a.csv")).unwrap();
    let n_columns = reader.headers().unwrap().len();
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), 8);
    assert!(records.iter().all(|record| record.len() == n_columns));
    let svg = fs::read_to_string(path.join("a.svg")).unwrap();
    assert!(svg.contains("<title>Pond aerator, computed</title>"));
}
