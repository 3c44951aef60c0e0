//! Sheets of readings as a bench would give them: a motor with true values, instruments with the
//! errors that their class has, and a slip planted where one is wanted.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "each test file uses a part; a test's own numbers need no libm"
)]

use std::f64::consts::{PI, TAU};
use std::fmt::Write as _;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use wyebench::readings::{Between, EmfKind, Instrument, Measured};
use wyebench::setup::Connection;

pub(crate) const RPM: f64 = TAU / 60.0;

/// What the motor is in truth. SI units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Truth {
    pub pole_pairs: u32,
    /// Peak EMF between two open leads per speed.
    pub k: f64,
    pub ohm_20: f64,
    pub henry: f64,
    pub constant_a: f64,
    pub per_volt: f64,
    pub inertia: f64,
    /// 1 the trapezoid, −1 the sine.
    pub shape: f64,
    pub connection: Connection,
}

/// A slip of the person or a defect of the motor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Fault {
    None,
    MagnetsAsPairs,
    TachometerDouble,
    LostStep,
    StroboscopeHalf,
    ScopeAlias,
    PeakForRms,
    RmsForPeak,
    AverageForRms,
    PeakToPeakForPeak,
    PhaseForLine,
    WarmWinding,
    BadJoint(usize),
    ShortedTurns(usize),
    LabelOfDelta,
    Slip,
}

/// A bench with its instruments, each off by its own calibration.
pub(crate) struct Bench {
    pub(crate) random: ChaCha8Rng,
    gains: Vec<((Instrument, Measured), f64)>,
    drive: f64,
}

impl Bench {
    pub(crate) fn new(seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let drive = wyebench::readings::DRIVE_STANDARD * random.sample::<f64, _>(StandardNormal);
        Self {
            random,
            gains: Vec::new(),
            drive,
        }
    }

    pub(crate) fn normal(&mut self) -> f64 {
        self.random.sample(StandardNormal)
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        self.random.random_range(low..high)
    }

    /// From one value to another, evenly by factors.
    pub(crate) fn log_between(&mut self, low: f64, high: f64) -> f64 {
        (self.between(low.ln(), high.ln())).exp()
    }

    pub(crate) fn motor(&mut self, shape: f64) -> Truth {
        let kv_rpm = self.log_between(300.0, 1500.0);
        let k = 1.0 / (kv_rpm * RPM);
        Truth {
            pole_pairs: self.random.random_range(2..11),
            k,
            ohm_20: self.log_between(0.06, 0.4),
            henry: self.log_between(2e-5, 4e-4),
            constant_a: self.log_between(0.2, 0.8),
            per_volt: self.log_between(0.01, 0.05),
            inertia: self.log_between(5e-6, 1e-4),
            shape,
            connection: Connection::Star,
        }
    }

    /// What an instrument of this class shows of a true value.
    pub(crate) fn read(&mut self, instrument: Instrument, measured: Measured, truth: f64) -> f64 {
        let accuracy = instrument.accuracy(measured);
        let which = (instrument, measured);
        let gain = match self.gains.iter().find(|(known, _)| *known == which) {
            Some((_, gain)) => *gain,
            None => {
                let gain = 0.5 * accuracy.shared * self.normal();
                self.gains.push((which, gain));
                gain
            }
        };
        let own = 0.5 * (accuracy.own * truth).hypot(accuracy.least);
        truth * (1.0 + gain) + own * self.normal()
    }
}

/// What lies between the trapezoid's and the sine's value as the shape does.
pub(crate) fn mixed(shape: f64, (trapezoid, sine): (f64, f64)) -> f64 {
    0.5 * (trapezoid + sine) + 0.5 * shape * (trapezoid - sine)
}

/// EMF over the peak between the leads.
pub(crate) fn emf_part(truth: &Truth, kind: EmfKind, between: Between) -> f64 {
    mixed(truth.shape, kind.over_line_peak(between, truth.connection))
}

fn copper(temperature_c: f64) -> f64 {
    (235.0 + temperature_c) / 255.0
}

/// A whole sheet of a motor, with a fault planted.
pub(crate) fn sheet(truth: &Truth, bench: &mut Bench, fault: Fault, shape_word: &str) -> String {
    sheet_with(truth, bench, &[fault], shape_word)
}

/// A whole sheet of a motor, with several faults planted.
pub(crate) fn sheet_with(
    truth: &Truth,
    bench: &mut Bench,
    fault: &[Fault],
    shape_word: &str,
) -> String {
    let mut text = String::from("format = 1\ntitle = \"trial\"\n");
    let magnets = if fault.contains(&Fault::MagnetsAsPairs) {
        // pairs counted as magnets: half of the poles, made even by an even number of pairs
        truth.pole_pairs
    } else {
        2 * truth.pole_pairs
    };
    let _ = write!(
        text,
        "[motor]\nmagnets = {magnets}\nslots = 12\nemf_shape = \"{shape_word}\"\n"
    );
    if truth.connection == Connection::Delta {
        text += "connection = \"delta\"\n";
    }
    label(truth, bench, fault, &mut text);
    driven(truth, bench, fault, &mut text);
    spun(truth, bench, fault, &mut text);
    resistance(truth, bench, fault, &mut text);
    no_load(truth, bench, fault, &mut text);
    stall(truth, bench, &mut text);
    run_down(truth, bench, fault, &mut text);
    for _ in 0..2 {
        let henry = bench.read(
            Instrument::InductanceMeter,
            Measured::Inductance,
            truth.henry,
        );
        let _ = write!(text, "[[inductance]]\nline = \"{henry:e} H\"\n");
    }
    text
}

fn label(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    let (mut kv, mut ohm) = (1.0 / truth.k, truth.ohm_20);
    kv *= 1.0 + 0.03 * bench.normal();
    ohm *= 1.0 + 0.03 * bench.normal();
    if fault.contains(&Fault::LabelOfDelta) {
        // the label is for the coils in delta
        kv *= 3.0_f64.sqrt();
        ohm /= 3.0;
    }
    let _ = write!(
        text,
        "[label]\nkv = \"{:e} rpm/V\"\nline_resistance = \"{ohm:e} ohm\"\npoles = {}\n",
        kv / RPM,
        2 * truth.pole_pairs
    );
}

fn tachometer(bench: &mut Bench, fault: &[Fault], omega: f64) -> f64 {
    let shown = bench.read(Instrument::Tachometer, Measured::Speed, omega);
    if fault.contains(&Fault::TachometerDouble) {
        2.0 * shown
    } else {
        shown
    }
}

fn driven(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    for (row, hz) in [65.0, 100.0].into_iter().enumerate() {
        let set = bench.read(Instrument::Setting, Measured::Frequency, hz);
        let omega = TAU * hz / f64::from(truth.pole_pairs);
        let turns = if fault.contains(&Fault::LostStep) && row == 0 {
            omega * bench.between(0.05, 0.9)
        } else {
            omega
        };
        let stroboscope = fault.contains(&Fault::StroboscopeHalf);
        let (shown, by) = if stroboscope {
            let shown = bench.read(Instrument::Stroboscope, Measured::Speed, turns);
            (0.5 * shown, "stroboscope")
        } else {
            (tachometer(bench, fault, turns), "tachometer")
        };
        let _ = write!(
            text,
            "[[driven]]\nfrequency = \"{set:e} Hz\"\nspeed = \"{:e} rpm\"\nspeed_by = \"{by}\"\n",
            shown / RPM
        );
    }
}

fn spun(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    let rows = [
        (1200.0, EmfKind::Peak, "scope"),
        (2400.0, EmfKind::Rms, "multimeter"),
        (3000.0, EmfKind::Peak, "scope"),
        (3600.0, EmfKind::Rms, "multimeter"),
    ];
    for (row, (rpm, noted, by)) in rows.into_iter().enumerate() {
        let omega = rpm * RPM * bench.between(0.95, 1.05);
        let kinds = [
            (Fault::PeakForRms, EmfKind::Rms, EmfKind::Peak),
            (Fault::AverageForRms, EmfKind::Rms, EmfKind::Average),
            (Fault::RmsForPeak, EmfKind::Peak, EmfKind::Rms),
            (Fault::PeakToPeakForPeak, EmfKind::Peak, EmfKind::PeakToPeak),
        ];
        let slip = kinds
            .iter()
            .find(|(slip, of, _)| *of == noted && fault.contains(slip));
        let kind = slip.map_or(noted, |(.., kind)| *kind);
        let between = if fault.contains(&Fault::PhaseForLine) {
            Between::Phase
        } else {
            Between::Lines
        };
        let instrument = Instrument::of_word(by).unwrap();
        let volts = truth.k * omega * emf_part(truth, kind, between);
        let mut volts = bench.read(instrument, Measured::Emf, volts);
        if fault.contains(&Fault::Slip) && row == 1 {
            volts *= 1.3;
        }
        let speed = tachometer(bench, fault, omega);
        let word = if noted == EmfKind::Peak {
            "peak"
        } else {
            "rms"
        };
        let _ = write!(
            text,
            "[[spun]]\nspeed = \"{:e} rpm\"\nemf = \"{volts:e} V\"\nemf_kind = \"{word}\"\nemf_by = \"{by}\"\n",
            speed / RPM
        );
        if row < 2 {
            let hz = f64::from(truth.pole_pairs) * omega / TAU;
            let alias = fault.contains(&Fault::ScopeAlias) && row == 0;
            let (instrument, word) = if alias || row == 1 {
                (Instrument::Scope, "scope")
            } else {
                (Instrument::FrequencyCounter, "frequency-counter")
            };
            let mut shown = bench.read(instrument, Measured::Frequency, hz);
            if alias {
                shown *= bench.between(0.05, 0.6);
            }
            let _ = write!(
                text,
                "frequency = \"{shown:e} Hz\"\nfrequency_by = \"{word}\"\n"
            );
        }
    }
}

fn resistance(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    let noted_c = 22.0;
    let thermometer = Instrument::Thermometer.accuracy(Measured::Temperature);
    let mut winding_c = noted_c - 0.5 * thermometer.least * bench.normal();
    if fault.contains(&Fault::WarmWinding) {
        winding_c += bench.between(30.0, 80.0);
    }
    let mut phases = [1.0; 3];
    for fault in fault {
        match *fault {
            Fault::BadJoint(phase) => phases[phase] += bench.between(0.15, 1.5),
            Fault::ShortedTurns(phase) => phases[phase] -= bench.between(0.1, 0.5),
            _ => {}
        }
    }
    let _ = write!(
        text,
        "[[resistance]]\ntemperature = \"{noted_c} degC\"\nby = \"four-wire\"\n"
    );
    for (name, a, b) in [("u_v", 0, 1), ("v_w", 1, 2), ("w_u", 2, 0)] {
        let pair = 0.5 * (phases[a] + phases[b]);
        let uneven = 1.0 + wyebench::readings::WINDING_STANDARD * bench.normal();
        let ohm = truth.ohm_20 * copper(winding_c) * pair * uneven;
        let ohm = bench.read(Instrument::FourWire, Measured::Resistance, ohm);
        let _ = writeln!(text, "{name} = \"{ohm:e} ohm\"");
    }
}

fn no_load(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    // of a delta's trapezoid the leads show a roof between 3/4 and 1 over the step
    let trapezoid = match truth.connection {
        Connection::Star => 1.0,
        Connection::Delta => 0.5 * (0.75 + 1.0),
    };
    let mean = mixed(truth.shape, (trapezoid, 3.0 / PI)) * (1.0 + bench.drive);
    for volts in [5.0, 8.0, 12.0] {
        // U = E d + R (I_c + G E)
        let ohm = truth.ohm_20;
        let back = (volts - ohm * truth.constant_a) / (mean + ohm * truth.per_volt);
        let amperes = truth.constant_a + truth.per_volt * back;
        let volts = bench.read(Instrument::Multimeter, Measured::Voltage, volts);
        let amperes = bench.read(Instrument::Multimeter, Measured::Current, amperes);
        let speed = tachometer(bench, fault, back / truth.k);
        let _ = write!(
            text,
            "[[no_load]]\nvoltage = \"{volts:e} V\"\ncurrent = \"{amperes:e} A\"\nspeed = \"{:e} rpm\"\n",
            speed / RPM
        );
    }
}

fn stall(truth: &Truth, bench: &mut Bench, text: &mut String) {
    for amperes in [4.0, 7.0] {
        let torque = bench.read(Instrument::TorqueCell, Measured::Torque, truth.k * amperes);
        let warm_c = 25.0 - 4.0 * bench.normal();
        let volts = truth.ohm_20 * copper(warm_c) * amperes;
        let volts = bench.read(Instrument::Multimeter, Measured::Voltage, volts);
        let shown = bench.read(Instrument::Multimeter, Measured::Current, amperes);
        let _ = write!(
            text,
            "[[stall]]\ncurrent = \"{shown:e} A\"\ntorque = \"{torque:e} Nm\"\nvoltage = \"{volts:e} V\"\n"
        );
    }
}

fn run_down(truth: &Truth, bench: &mut Bench, fault: &[Fault], text: &mut String) {
    for (from, to) in [(0.9, 0.3), (0.7, 0.2)] {
        let (first, last) = (from * 10.0 / truth.k, to * 10.0 / truth.k);
        let dry = truth.k * truth.constant_a;
        let viscous = truth.k * truth.k * truth.per_volt;
        let seconds =
            truth.inertia / viscous * ((dry + viscous * first) / (dry + viscous * last)).ln();
        let shown = bench.read(Instrument::Scope, Measured::Time, seconds);
        let first = tachometer(bench, fault, first);
        let last = tachometer(bench, fault, last);
        let _ = write!(
            text,
            "[[run_down]]\nfrom = \"{:e} rpm\"\nto = \"{:e} rpm\"\ntime = \"{shown:e} s\"\ntime_by = \"scope\"\n",
            first / RPM,
            last / RPM
        );
    }
}
