//! Runs that cannot go on: they stop with a plain error, and what they recorded until then is kept.

#![expect(
    clippy::disallowed_methods,
    reason = "a test of the command reads the files it wrote"
)]

mod kit;

use assert_cmd::cargo::CommandCargoExt as _;
use std::process::Command;

use kit::plain_motor;
use wyebench::analysis;
use wyebench::record::{Sample, Sampler};
use wyebench::setup::{Change, Chop, Gates, PwmSetup, Setup};
use wyebench::sim::RunError;

/// Runs a setup that cannot end; its samples and why it stopped.
fn stopped(setup: &Setup) -> (Vec<Sample>, RunError) {
    let mut samples = Vec::new();
    let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, |s: &Sample| {
        samples.push(*s);
    });
    let outcome = analysis::run(setup, &mut sampler);
    (samples, outcome.error.expect("this run cannot end"))
}

/// Edges that come faster than time can pass: no setup file may ask for it, the library can be.
#[test]
fn events_without_time_between_them_stop_the_run() {
    let mut setup = plain_motor();
    setup.bench.drive.pwm = Some(PwmSetup {
        frequency_hz: 1e13,
        duty: 0.5,
        chop: Chop::HighSide,
    });
    setup.run.sample_s = 1e-11;
    let (samples, error) = stopped(&setup);
    let RunError::Chatter {
        at_s,
        n_events,
        within_s,
        speed_rad_s,
    } = error
    else {
        panic!("{error}");
    };
    assert_eq!(n_events, 4096);
    // two edges a period
    assert!((within_s - 4096.0 / 2e13).abs() < 1e-12, "{within_s:e}");
    assert!(at_s > 0.0 && speed_rad_s.is_finite());
    // one sample at 0 and each 10 ps until then
    let wanted = (at_s / setup.run.sample_s).floor();
    assert!(
        (samples.len() as f64 - wanted).abs() <= 2.0,
        "{} samples until {at_s:e} s",
        samples.len()
    );
}

/// Hardly any inertia against very much drag: it is told as that, not as events without an end.
#[test]
fn a_run_that_is_too_stiff_is_told_so() {
    let mut setup = plain_motor();
    setup.machine.rotor_inertia_kg_m2 = 1e-12;
    setup.bench.load.quadratic_nm_s2 = 1000.0;
    setup.run.duration_s = 1e-3;
    let (_, error) = stopped(&setup);
    assert!(
        matches!(error, RunError::Stiff { within_s, .. } if within_s < 1e-8),
        "{error}"
    );
    assert!(
        error.to_string().contains("machine.rotor.inertia"),
        "{error}"
    );
}

/// A load beyond all numbers.
#[test]
fn a_speed_past_all_numbers_stops_the_run() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.bench.load.gravity_nm = -1e308;
    let (samples, error) = stopped(&setup);
    assert_eq!(
        error,
        RunError::Overflow {
            at_s: 0.0,
            quantity: "speed"
        }
    );
    assert!(samples.is_empty(), "nothing that is no number is shown");
}

/// The same by a change in the middle of a run: what came before is kept.
#[test]
fn what_came_before_an_overflow_is_kept() {
    let mut setup = plain_motor();
    let mut bench = setup.bench.clone();
    bench.load.gravity_nm = -1e308;
    setup.changes.push(Change {
        at_s: 0.0105,
        key: "load.gravity".into(),
        value: "-1e308 Nm".into(),
        bench,
    });
    setup.run.sample_s = 1e-3;
    let (samples, error) = stopped(&setup);
    assert!(
        matches!(error, RunError::Overflow { at_s, .. } if at_s == 0.0105),
        "{error:?}"
    );
    assert_eq!(samples.len(), 11, "0 to 10 ms");
    assert!(samples.iter().all(|s| s.speed_rad_s.is_finite()));
}

/// A setup file that is allowed and falls without end: status 1, the place, the remedy, and the
/// waveforms until then in a whole file.
#[test]
fn the_command_keeps_what_a_stopped_run_recorded() {
    const RUNAWAY: &str = r#"
format = 1
title = "Sluice weight on a rotor that weighs nothing"
[machine]
slots = 3
poles = 2
[machine.phase]
resistance = "0.1 ohm"
inductance = "100 uH"
[machine.emf]
shape = "trapezoid"
kv = "1e6 rpm/V"
[machine.rotor]
inertia = "1e-12 kg m2"
[drive]
gates = "all-off"
[supply]
voltage = "12 V"
[load]
gravity = "-100 kNm"
[run]
duration = "1 ms"
sample = "1 us"
"#;
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("runaway.toml"), RUNAWAY).unwrap();
    let output = Command::cargo_bin("wyebench")
        .unwrap()
        .args(["run", "runaway.toml", "--waveforms", "w.csv", "--json"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty());
    let message = String::from_utf8(output.stderr).unwrap();
    for part in ["stopped at t = 0.0000", "rpm", "load.gravity", "kept"] {
        assert!(message.contains(part), "{part} in {message}");
    }
    let written = std::fs::read_to_string(folder.path().join("w.csv")).unwrap();
    let lines: Vec<&str> = written.lines().collect();
    assert_eq!(lines.len(), 4, "a heading and 0, 1 and 2 µs: {written}");
    assert!(lines[3].starts_with("2e-6,"), "{written}");
    assert!(!written.contains("NaN") && !written.contains("inf"));
}
