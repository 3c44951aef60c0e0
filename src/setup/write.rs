//! A setup back in the form of a file, exactly.

use std::fmt::Write;

use super::check::Value;
use super::keys::{KEYS, Kind};
use super::model::*;
use super::units::{Quantity, format_quantity};
use crate::winding::format_layout;

type Values = Vec<(&'static str, Value)>;

/// The values of a bench by key; what is absent has no entry.
pub(super) fn bench_values(bench: &Bench) -> Values {
    let Bench {
        drive,
        supply,
        load,
    } = bench;
    let mut out = vec![
        (
            "drive.commutation",
            Value::Word(match drive.commutation {
                Commutation::Position => "position",
                Commutation::Forced => "forced",
            }),
        ),
        ("drive.advance", Value::Number(drive.advance_rad)),
        (
            "drive.direction",
            Value::Word(match drive.direction {
                Direction::Forward => "forward",
                Direction::Reverse => "reverse",
            }),
        ),
        (
            "drive.gates",
            Value::Word(match drive.gates {
                Gates::Stepping => "stepping",
                Gates::AllOff => "all-off",
                Gates::AllLow => "all-low",
            }),
        ),
        (
            "drive.switch.on_resistance",
            Value::Number(drive.switch.on_resistance_ohm),
        ),
        ("drive.switch.parallel", Value::Whole(drive.switch.parallel)),
        (
            "drive.switch.diode_drop",
            Value::Number(drive.switch.diode_drop_v),
        ),
        (
            "drive.switch.diode_resistance",
            Value::Number(drive.switch.diode_resistance_ohm),
        ),
        ("supply.voltage", Value::Number(supply.voltage_v)),
        ("load.constant", Value::Number(load.constant_nm)),
        ("load.gravity", Value::Number(load.gravity_nm)),
        ("load.quadratic", Value::Number(load.quadratic_nm_s2)),
        ("load.inertia", Value::Number(load.inertia_kg_m2)),
    ];
    if let Some(pwm) = drive.pwm {
        let chop = match pwm.chop {
            Chop::HighSide => "high-side",
            Chop::HighSideSynchronous => "high-side-synchronous",
            Chop::BothSides => "both-sides",
        };
        out.push(("drive.pwm.frequency", Value::Number(pwm.frequency_hz)));
        out.push(("drive.pwm.duty", Value::Number(pwm.duty)));
        out.push(("drive.pwm.chop", Value::Word(chop)));
    }
    if let Some(forced) = drive.forced {
        out.push(("drive.forced.frequency", Value::Number(forced.frequency_hz)));
        if forced.ramp_s > 0.0 {
            out.push((
                "drive.forced.start_frequency",
                Value::Number(forced.start_frequency_hz),
            ));
            out.push(("drive.forced.ramp", Value::Number(forced.ramp_s)));
        }
        out.push((
            "drive.forced.start_step",
            Value::Whole(forced.start_step.into()),
        ));
        out.push(("drive.forced.align", Value::Number(forced.align_s)));
    }
    if let Some(source) = supply.source {
        out.push(("supply.resistance", Value::Number(source.resistance_ohm)));
        out.push(("supply.capacitance", Value::Number(source.capacitance_f)));
    }
    out
}

fn machine_values(machine: &MachineSetup) -> Values {
    let mut out = vec![
        (
            "machine.construction",
            Value::Word(match machine.construction {
                Construction::Inrunner => "inrunner",
                Construction::Outrunner => "outrunner",
            }),
        ),
        ("machine.slots", Value::Whole(machine.slots)),
        ("machine.poles", Value::Whole(machine.poles)),
        (
            "machine.connection",
            Value::Word(match machine.connection {
                Connection::Star => "star",
                Connection::Delta => "delta",
            }),
        ),
        (
            "machine.emf.shape",
            Value::Word(match machine.emf.shape {
                EmfShape::Trapezoid => "trapezoid",
                EmfShape::Sine => "sine",
                EmfShape::Harmonics(_) => "harmonics",
                EmfShape::Computed(_) => "computed",
            }),
        ),
        (
            "machine.rotor.inertia",
            Value::Number(machine.rotor_inertia_kg_m2),
        ),
        (
            "machine.rotor.viscous_friction",
            Value::Number(machine.viscous_friction_nm_s),
        ),
        (
            "machine.rotor.dry_friction",
            Value::Number(machine.dry_friction_nm),
        ),
    ];
    let given = [
        ("machine.phase.resistance", machine.phase_resistance_ohm),
        ("machine.phase.inductance", machine.phase_inductance_h),
        ("machine.cogging.peak", machine.cogging_peak_nm),
        match machine.emf.constant {
            EmfConstant::KvRadPerVs(kv) => ("machine.emf.kv", Some(kv)),
            EmfConstant::PhaseVsPerRad(k) => ("machine.emf.phase_constant", Some(k)),
            EmfConstant::Computed => ("machine.emf.kv", None),
        },
    ];
    out.extend(
        given
            .into_iter()
            .filter_map(|(key, value)| Some((key, Value::Number(value?)))),
    );
    if let EmfShape::Harmonics(pairs) = &machine.emf.shape {
        out.push(("machine.emf.harmonics", Value::Harmonics(pairs.clone())));
    }
    if let Some(winding) = &machine.winding {
        out.push(("machine.winding.layers", Value::Whole(winding.layers)));
        out.push(("machine.winding.coil_span", Value::Whole(winding.coil_span)));
        if let Some(turns) = winding.turns {
            out.push(("machine.winding.turns", Value::Whole(turns)));
        }
        out.push((
            "machine.winding.parallel_paths",
            Value::Whole(winding.parallel_paths),
        ));
        if let Some(layout) = &winding.layout {
            out.push(("machine.winding.layout", Value::Text(format_layout(layout))));
        }
    }
    if let Some(geometry) = &machine.geometry {
        geometry_values(geometry, &mut out);
    }
    out
}

fn geometry_values(g: &GeometrySetup, out: &mut Values) {
    let magnetisation = match g.magnetisation {
        Magnetisation::Radial => "radial",
        Magnetisation::Parallel => "parallel",
    };
    out.extend([
        (
            "machine.geometry.bore_radius",
            Value::Number(g.bore_radius_m),
        ),
        ("machine.geometry.air_gap", Value::Number(g.air_gap_m)),
        (
            "machine.geometry.magnet_thickness",
            Value::Number(g.magnet_thickness_m),
        ),
        ("machine.geometry.magnet_arc", Value::Number(g.magnet_arc)),
        (
            "machine.geometry.magnet_remanence",
            Value::Number(g.magnet_remanence_t),
        ),
        (
            "machine.geometry.magnet_permeability",
            Value::Number(g.magnet_permeability),
        ),
        ("machine.geometry.magnetisation", Value::Word(magnetisation)),
        (
            "machine.geometry.stack_length",
            Value::Number(g.stack_length_m),
        ),
        ("machine.geometry.slotting", Value::Flag(g.slotting)),
        ("machine.geometry.strands", Value::Whole(g.strands)),
        (
            "machine.geometry.winding_temperature",
            Value::Number(g.winding_temperature_c),
        ),
    ]);
    let lengths = [
        ("machine.geometry.slot_opening", g.slot_opening_m),
        ("machine.geometry.tooth_tip", g.tooth_tip_m),
        ("machine.geometry.slot_depth", g.slot_depth_m),
        ("machine.geometry.tooth_width", g.tooth_width_m),
        ("machine.geometry.yoke_thickness", g.yoke_thickness_m),
        (
            "machine.geometry.rotor_yoke_thickness",
            g.rotor_yoke_thickness_m,
        ),
        ("machine.geometry.wire_diameter", g.wire_diameter_m),
        ("machine.geometry.end_turn", g.end_turn_m),
    ];
    out.extend(
        lengths
            .into_iter()
            .filter_map(|(k, v)| Some((k, Value::Number(v?)))),
    );
}

/// A text in the quotes of the file.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn written(kind: &Kind, value: &Value) -> String {
    match (kind, value) {
        (Kind::Quantity { quantity, .. }, Value::Number(n)) => {
            quoted(&format_quantity(*n, *quantity))
        }
        (_, Value::Number(n)) => format!("{n:?}"),
        (_, Value::Whole(n)) => n.to_string(),
        (_, Value::Word(word)) => quoted(word),
        (_, Value::Flag(flag)) => flag.to_string(),
        (_, Value::Text(text)) => quoted(text),
        (_, Value::Harmonics(pairs)) => {
            let pairs: Vec<String> = pairs.iter().map(|(n, a)| format!("[{n}, {a:?}]")).collect();
            format!("[{}]", pairs.join(", "))
        }
    }
}

impl Setup {
    /// The setup as a file, with every default written out; reading it gives back exactly this
    /// setup.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let run = &self.run;
        let mut values: Values = vec![
            ("format", Value::Whole(1)),
            ("title", Value::Text(self.title.clone())),
        ];
        values.extend(machine_values(&self.machine));
        values.extend(bench_values(&self.bench));
        values.extend([
            ("run.duration", Value::Number(run.duration_s)),
            ("run.start_speed", Value::Number(run.start_speed_rad_s)),
            ("run.start_angle", Value::Number(run.start_angle_rad)),
            ("run.hold_speed", Value::Flag(run.hold_speed)),
            ("run.sample", Value::Number(run.sample_s)),
            ("run.measure", Value::Number(run.measure_s)),
        ]);
        let mut out = String::new();
        let mut table = "";
        for spec in KEYS {
            let Some((_, value)) = values.iter().find(|(path, _)| *path == spec.path) else {
                continue;
            };
            if spec.table() != table {
                table = spec.table();
                let _ = write!(out, "\n[{table}]\n");
            }
            let _ = writeln!(out, "{} = {}", spec.name(), written(&spec.kind, value));
        }
        for change in &self.changes {
            let spec = super::keys::key_spec(&change.key);
            let plain = spec.is_some_and(|s| {
                !matches!(
                    s.kind,
                    Kind::Quantity { .. } | Kind::Word { .. } | Kind::Text
                )
            });
            let to = if plain {
                change.value.clone()
            } else {
                quoted(&change.value)
            };
            let at = quoted(&format_quantity(change.at_s, Quantity::Time));
            let set = quoted(&change.key);
            let _ = write!(out, "\n[[change]]\nat = {at}\nset = {set}\nto = {to}\n");
        }
        out
    }
}
