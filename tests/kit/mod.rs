//! What the tests of whole runs share: a plain motor to bend, runs, and a comparison that
//! prints case, got, wanted and tolerance.
#![allow(
    dead_code,
    unreachable_pub,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "each test file uses a part; tests read files and print what they compare"
)]

use std::f64::consts::TAU;

use wyebench::analysis::{self, RunOutcome};
use wyebench::record::{Event, EventKind, Sample, Sampler};
use wyebench::setup::Setup;
use wyebench::sim::{Piece, Sink};

/// rad/s of one rpm.
pub const RPM: f64 = TAU / 60.0;

/// A star machine of 12 slots and 4 poles with ideal switches on a stiff supply, fully on,
/// to be bent by each test.
pub fn plain_motor() -> Setup {
    let text = r#"
        format = 1
        title = "Kinetic mobile, plain motor"
        [machine]
        slots = 12
        poles = 4
        [machine.phase]
        resistance = "0.1 ohm"
        inductance = "100 uH"
        [machine.emf]
        shape = "trapezoid"
        phase_constant = "10 mV s/rad"
        [machine.rotor]
        inertia = "2e-5 kg m2"
        [supply]
        voltage = "12 V"
        [run]
        duration = "50 ms"
        sample = "10 us"
    "#;
    Setup::parse(text, "plain motor").expect("a good setup")
}

/// A run with its samples and events.
#[derive(Debug)]
pub struct Run {
    pub samples: Vec<Sample>,
    pub events: Vec<Event>,
    pub outcome: RunOutcome,
}

struct Events<'a>(&'a mut Vec<Event>);

impl Sink for Events<'_> {
    fn piece(&mut self, _: &Piece<'_>) {}
    fn event(&mut self, event: &Event) {
        self.0.push(*event);
    }
}

pub fn run(setup: &Setup) -> Run {
    let (mut samples, mut events) = (Vec::new(), Vec::new());
    let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, |s: &Sample| {
        samples.push(*s)
    });
    let outcome = analysis::run(setup, &mut (&mut sampler, &mut Events(&mut events)));
    assert_eq!(outcome.error, None, "{}", setup.title);
    let residual = outcome.account.residual();
    assert!(
        residual.abs() < 1e-6,
        "{}: energy residual {residual:e}",
        setup.title
    );
    Run {
        samples,
        events,
        outcome,
    }
}

impl Run {
    pub fn last(&self) -> &Sample {
        self.samples.last().expect("a run has samples")
    }

    pub fn times_of(&self, kind: EventKind) -> Vec<f64> {
        self.events
            .iter()
            .filter(|event| event.kind == kind)
            .map(|event| event.time_s)
            .collect()
    }

    pub fn window(&self) -> &wyebench::analysis::WindowTotals {
        self.outcome.window.as_ref().expect("the run has a window")
    }

    /// Mean of a window integral.
    pub fn mean(&self, integral: f64) -> f64 {
        let window = self.window();
        integral / (window.end_s - window.start_s)
    }

    pub fn mean_speed_rpm(&self) -> f64 {
        self.mean(self.window().angle_mech_rad) / RPM
    }
}

/// Asserts |got − want| ≤ relative · |want| + absolute and says everything where it fails.
#[track_caller]
pub fn close(what: &str, got: f64, want: f64, relative: f64, absolute: f64) {
    let allowed = relative * want.abs() + absolute;
    let off = (got - want).abs();
    println!("{what}: got {got:.10e}, wanted {want:.10e}, off {off:.1e}, allowed {allowed:.1e}");
    assert!(
        off <= allowed,
        "{what}: got {got:e}, wanted {want:e}, off by {off:e}, allowed {allowed:e}"
    );
}

/// A row of a reference table.
pub type Row = toml::Table;

pub fn reference(file: &str) -> Row {
    let path = format!("{}/tests/reference/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path)
        .expect("the reference file is there")
        .parse()
        .expect("it is TOML")
}

pub fn rows<'a>(table: &'a Row, key: &str) -> Vec<&'a Row> {
    table[key]
        .as_array()
        .expect("an array of tables")
        .iter()
        .map(|row| row.as_table().expect("a table"))
        .collect()
}

pub fn number(row: &Row, key: &str) -> f64 {
    match &row[key] {
        toml::Value::Float(value) => *value,
        #[expect(clippy::cast_precision_loss, reason = "reference integers are small")]
        toml::Value::Integer(value) => *value as f64,
        other => panic!("{key} is no number: {other}"),
    }
}
