//! The motor that was measured, as a setup for the bench.

use std::fmt::Write as _;

use super::estimate::Estimate;
use super::figures::OPEN_LEADS;
use super::reading::winding_over_line_peak;
use super::sheet::{BenchSheet, Shape};
use crate::analysis::Value;
use crate::machine::emf::{peak_of_phase, trapezoid_harmonic};
use crate::predict::{ESTIMATED_TIME_CONSTANT_S, ROTOR_TIME_CONSTANT_S, slots_for};
use crate::setup::{
    Bench, Commutation, Connection, Direction, DriveSetup, EmfConstant, EmfSetup, EmfShape, Gates,
    LoadSetup, MachineSetup, RunSetup, Setup, SupplySetup, SwitchSetup,
};
use crate::winding::Winding;

/// What keeps a motor from being written as a setup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// What is not known yet.
    pub missing: Vec<&'static str>,
}

impl std::fmt::Display for Unfinished {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "no setup is written: {} not known yet from these readings",
            match self.missing.as_slice() {
                [one] => format!("{one} is"),
                many => format!("{} are", many.join(" and ")),
            }
        )
    }
}

impl std::error::Error for Unfinished {}

/// The text of a setup file: what was measured, and in comments what was not and is assumed.
///
/// Spun with open leads, the motor shows the EMF that was read. A delta whose shape nobody looked at
/// gets one of which nothing goes round its loop, and its steps come where a drive that sees only the
/// leads has them.
///
/// # Errors
/// [`Unfinished`] where Kv, resistance or poles are not known: nothing stands in for them.
pub fn setup_text(sheet: &BenchSheet, estimates: &[Estimate]) -> Result<String, Unfinished> {
    let found = |key: &str| {
        let estimate = estimates.iter().find(|e| e.figure.key == key)?;
        estimate.figure.number()
    };
    let pole_pairs = estimates
        .iter()
        .find_map(|estimate| match estimate.figure.value {
            Value::Count(count) if estimate.figure.key == "pole_pairs" => u32::try_from(count).ok(),
            _ => None,
        });
    let (k, ohm) = (
        found("torque_constant_nm_per_a"),
        found("line_resistance_20c_ohm"),
    );
    let (Some(k), Some(ohm), Some(pole_pairs)) = (k, ohm, pole_pairs) else {
        let missing = [
            (k.is_none(), "Kv"),
            (ohm.is_none(), "the resistance"),
            (pole_pairs.is_none(), "the number of poles"),
        ];
        return Err(Unfinished {
            missing: missing
                .into_iter()
                .filter(|(absent, _)| *absent)
                .map(|(_, name)| name)
                .collect(),
        });
    };
    // under the likeliest cause it may be another than the one noted; figures of a delta say so
    let connection = if estimates.iter().any(|e| e.figure.key == OPEN_LEADS) {
        Connection::Delta
    } else {
        Connection::Star
    };
    let poles = 2 * pole_pairs;
    let mut assumed: Vec<String> = Vec::new();
    let mut or = |value: Option<f64>, stand_in: f64, words: &str| {
        value.filter(|value| *value > 0.0).unwrap_or_else(|| {
            assumed.push(words.to_owned());
            stand_in
        })
    };
    let henry = or(
        found("line_inductance_h"),
        ESTIMATED_TIME_CONSTANT_S * ohm,
        "inductance: not measured; 0.2 ms times the resistance (common practice, no source)",
    );
    let inertia = or(
        found("inertia_kg_m2"),
        ROTOR_TIME_CONSTANT_S * k * k / ohm,
        "inertia: not measured; 20 ms times Kt²/R (common practice, no source)",
    );
    let slots = match sheet.motor.slots {
        Some(slots) if Winding::lay_out(slots, poles, 2, 1).is_ok() => slots,
        other => {
            assumed.push(match other {
                Some(slots) => format!(
                    "slots: {slots} with {poles} poles take no balanced tooth coils; those of the largest winding factor"
                ),
                None => "slots: not counted; those of the largest winding factor".to_owned(),
            });
            slots_for(poles)
        }
    };
    if connection != sheet.motor.connection {
        assumed.push("connection: the other one than noted, as the readings say".to_owned());
    }
    let kv = |k: f64| EmfConstant::KvRadPerVs(1.0 / k);
    let (shape, constant) = match (sheet.motor.shape, connection) {
        (Shape::Sine, _) => (EmfShape::Sine, kv(k)),
        (Shape::Trapezoid, Connection::Star) => (EmfShape::Trapezoid, kv(k)),
        // Kv of a delta counts a winding's own EMF
        (Shape::Trapezoid, Connection::Delta) => {
            let of_winding = winding_over_line_peak(connection).0;
            (EmfShape::Trapezoid, kv(k * of_winding))
        }
        (Shape::Unknown, Connection::Star) => {
            assumed.push("shape of the EMF: not looked at; a trapezoid".to_owned());
            (EmfShape::Trapezoid, kv(k))
        }
        (Shape::Unknown, Connection::Delta) => {
            assumed.push(
                "shape of the EMF: not looked at; between sine and trapezoid as the readings at the leads have it, \
                 and nothing that would go round the delta"
                    .to_owned(),
            );
            let part = found(OPEN_LEADS)
                .zip(found("kv_rpm_per_v"))
                .map_or(1.0, |(of_leads, of_winding)| of_leads / of_winding);
            between_the_leads(k, part)
        }
    };
    if connection == Connection::Delta {
        assumed.push(
            "advance: -30 deg, where a drive that sees only the leads of a delta steps".to_owned(),
        );
    }
    // line values become those of one winding
    let of_winding = match connection {
        Connection::Star => 0.5,
        Connection::Delta => 1.5,
    };
    let volts = super::model::no_load_scale(sheet).1;
    let volts = if sheet.rows.no_load > 0 {
        volts
    } else {
        assumed.push("supply: the label's voltage, or 12 V".to_owned());
        sheet.label.no_load_voltage_v.unwrap_or(12.0)
    };
    let setup = Setup {
        title: sheet.title.clone(),
        machine: MachineSetup {
            construction: sheet.motor.construction,
            slots,
            poles,
            connection,
            phase_resistance_ohm: Some(of_winding * ohm),
            phase_inductance_h: Some(of_winding * henry),
            emf: EmfSetup { shape, constant },
            winding: None,
            geometry: None,
            rotor_inertia_kg_m2: inertia,
            viscous_friction_nm_s: found("viscous_friction_nm_s").unwrap_or(0.0).max(0.0),
            dry_friction_nm: found("dry_friction_nm").unwrap_or(0.0).max(0.0),
            // None is for an EMF that is computed
            cogging_peak_nm: Some(0.0),
        },
        bench: bench(volts, connection),
        run: RunSetup {
            duration_s: 1.0,
            start_speed_rad_s: 0.0,
            start_angle_rad: 0.0,
            hold_speed: false,
            sample_s: 10e-6,
            measure_s: 0.2,
        },
        changes: Vec::new(),
    };
    let mut text = String::from("# Measured: the figures of `wyebench readings`, at 20 °C.\n");
    for words in assumed {
        let _ = writeln!(text, "# {words}");
    }
    text.push_str(&setup.to_toml());
    Ok(text)
}

/// The EMF of a delta of which only the leads were looked at: as far from a sine to a trapezoid as the
/// fit says, without the harmonics of order 3, 9 …, of which the leads show nothing. `k`: peak between
/// the leads per speed; `part`: a winding's peak over it, in the fit.
///
/// From the sine (`part` 1) to the trapezoid (3/4) the fit's ratios of RMS and average to the peak go in
/// a straight line. The sum of a sine and of what the leads of a trapezoid show, both of peak 1, follows
/// that line within 0.0002 of RMS over peak.
fn between_the_leads(k: f64, part: f64) -> (EmfShape, EmfConstant) {
    /// Less of the trapezoid than this is a sine.
    const LEAST: f64 = 0.02;
    let (trapezoid, sine) = winding_over_line_peak(Connection::Delta);
    let of_trapezoid = ((sine - part) / (sine - trapezoid)).clamp(0.0, 1.0);
    if of_trapezoid.is_nan() || of_trapezoid <= LEAST {
        return (EmfShape::Sine, EmfConstant::KvRadPerVs(1.0 / k));
    }
    let size = |order| of_trapezoid * trapezoid * trapezoid_harmonic(order);
    let first = 1.0 - of_trapezoid + size(1);
    // four digits are more than a meter tells
    let pairs = [5, 7, 11, 13, 17, 19].map(|n| (n, (1e4 * size(n) / first).round() / 1e4));
    let shape = EmfShape::Harmonics([(1, 1.0)].into_iter().chain(pairs).collect());
    let constant = EmfConstant::PhaseVsPerRad(k / peak_of_phase(&shape));
    (shape, constant)
}

/// A bench without a load.
fn bench(voltage_v: f64, connection: Connection) -> Bench {
    Bench {
        drive: DriveSetup {
            commutation: Commutation::Position,
            // a step lies round the peak of the EMF between its leads, in delta 30° later than in star
            advance_rad: match connection {
                Connection::Star => 0.0,
                Connection::Delta => (-30.0_f64).to_radians(),
            },
            direction: Direction::Forward,
            gates: Gates::Stepping,
            pwm: None,
            forced: None,
            switch: SwitchSetup {
                on_resistance_ohm: 0.0,
                parallel: 1,
                diode_drop_v: 0.7,
                diode_resistance_ohm: 0.0,
            },
        },
        supply: SupplySetup {
            voltage_v,
            source: None,
        },
        load: LoadSetup {
            constant_nm: 0.0,
            gravity_nm: 0.0,
            quadratic_nm_s2: 0.0,
            inertia_kg_m2: 0.0,
        },
    }
}
