//! `wyebench rewind`: what other coils make of a measured machine.

use serde::Serialize;

use super::arguments::RewindArguments;
use super::{Failure, Terminal};
use crate::analysis::{Unit, shown};
use crate::machine::rewind::{Coils, LineEmf, Measured, WINDING_CAUTIONS, rewind};
use crate::setup::{Connection, Quantity, parse_quantity};

/// The keys of the JSON form; null where not asked.
#[derive(Debug, Serialize)]
struct Report {
    kv_rpm_per_v: f64,
    torque_constant_nm_per_a: f64,
    line_resistance_ohm: f64,
    line_inductance_h: Option<f64>,
    /// Current of the same copper loss.
    current_a: Option<f64>,
    /// At the same speed.
    no_load_current_a: Option<f64>,
    torque_per_root_watt_ratio: f64,
    copper_ratio: f64,
    flags: Vec<String>,
}

/// Copper over what was in the slots, above which it cannot be wound: a slot wound by hand is filled
/// to a third, one wound with great care to half (common practice, no source).
const MOST_COPPER: f64 = 1.6;

/// A quantity from an option; `None` where it is not given.
fn quantity(
    option: &'static str,
    text: Option<&String>,
    quantity: Quantity,
) -> Result<Option<f64>, Failure> {
    let Some(text) = text else {
        return Ok(None);
    };
    match parse_quantity(text, quantity) {
        Ok(value) if value.is_finite() && value > 0.0 => Ok(Some(value)),
        _ => Err(Failure::Option {
            option,
            text: text.clone(),
            wanted: format!(
                "{} above 0: number and unit in one text; units: {}",
                quantity.name(),
                quantity.unit_list()
            ),
        }),
    }
}

pub(crate) fn command(
    arguments: &RewindArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let needed = |option, text: &String, kind| {
        quantity(option, Some(text), kind).map(Option::unwrap_or_default)
    };
    let kv_rad = needed("--kv", &arguments.kv, Quantity::SpeedPerVoltage)?;
    let measured = Measured {
        kv_rpm_per_v: kv_rad * 30.0 / std::f64::consts::PI,
        line_resistance_ohm: needed("--resistance", &arguments.resistance, Quantity::Resistance)?,
        line_inductance_h: quantity(
            "--inductance",
            arguments.inductance.as_ref(),
            Quantity::Inductance,
        )?,
        current_a: quantity("--current", arguments.current.as_ref(), Quantity::Current)?,
        no_load_current_a: quantity(
            "--no-load-current",
            arguments.no_load_current.as_ref(),
            Quantity::Current,
        )?,
    };
    let area = |diameter: Option<f64>, strands: u32| {
        diameter.map(|d| 0.25 * std::f64::consts::PI * d * d * f64::from(strands))
    };
    let wire = quantity("--wire", arguments.wire.as_ref(), Quantity::Length)?;
    let to_wire = quantity("--to-wire", arguments.to_wire.as_ref(), Quantity::Length)?;
    let connection = |name: super::arguments::ConnectionName| match name {
        super::arguments::ConnectionName::Star => Connection::Star,
        super::arguments::ConnectionName::Delta => Connection::Delta,
    };
    let from = Coils {
        turns: arguments.turns,
        wire_area_m2: area(wire, arguments.strands),
        connection: connection(arguments.connection),
    };
    let to = Coils {
        turns: arguments.to_turns.unwrap_or(arguments.turns),
        wire_area_m2: area(to_wire, arguments.to_strands),
        connection: connection(arguments.to_connection.unwrap_or(arguments.connection)),
    };
    let emf = if arguments.trapezoid {
        LineEmf::Trapezoid
    } else {
        LineEmf::Sine
    };
    let new = rewind(&measured, &from, &to, emf);
    let mut flags = Vec::new();
    if !new.wires_known {
        flags.push(
            "the slots are taken as full as before: give --wire and --to-wire for others"
                .to_owned(),
        );
    }
    if new.copper > 1.0 + 1e-9 {
        flags.push(format!(
            "{} % more copper than before has to go into the slots",
            (100.0 * (new.copper - 1.0)).round()
        ));
    }
    if new.copper > MOST_COPPER {
        flags.push(
            "that much copper does not go into slots that were wound full: it cannot be wound so"
                .to_owned(),
        );
    }
    if from.connection != to.connection && !arguments.trapezoid {
        flags.push(
            "star and delta are told apart for a sine EMF; --trapezoid is for flat tops".to_owned(),
        );
    }
    if from.connection != to.connection && arguments.trapezoid {
        flags.push(
            "Kv of a delta counts the flat tops of one winding: between the open leads of the delta an instrument shows \
             a peak of 4/3 of that, and the speed over it is 3/4 of this Kv"
                .to_owned(),
        );
    }
    let report = Report {
        kv_rpm_per_v: new.kv_rpm_per_v,
        torque_constant_nm_per_a: new.kt_nm_per_a,
        line_resistance_ohm: new.line_resistance_ohm,
        line_inductance_h: new.line_inductance_h,
        current_a: new.current_a,
        no_load_current_a: new.no_load_current_a,
        torque_per_root_watt_ratio: new.torque_per_root_watt,
        copper_ratio: new.copper,
        flags,
    };
    if arguments.json {
        writeln!(terminal.out, "{}", serde_json::to_string_pretty(&report)?)?;
        return Ok(());
    }
    print(&report, terminal)
}

fn print(report: &Report, terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    let unit = |symbol, prefixed| Unit {
        symbol,
        per_si: 1.0,
        prefixed,
    };
    let mut rows = vec![
        ("Kv", report.kv_rpm_per_v, unit("rpm/V", false)),
        (
            "torque constant",
            report.torque_constant_nm_per_a,
            unit("Nm/A", true),
        ),
        (
            "line resistance",
            report.line_resistance_ohm,
            unit("Ω", true),
        ),
    ];
    let optional = [
        ("line inductance", report.line_inductance_h, unit("H", true)),
        ("current, same heat", report.current_a, unit("A", true)),
        ("no-load current", report.no_load_current_a, unit("A", true)),
    ];
    rows.extend(
        optional
            .into_iter()
            .filter_map(|(name, value, unit)| Some((name, value?, unit))),
    );
    rows.push((
        "torque for heat",
        report.torque_per_root_watt_ratio,
        Unit::PERCENT,
    ));
    rows.push(("copper", report.copper_ratio, Unit::PERCENT));
    for (name, value, unit) in rows {
        writeln!(terminal.out, "{name:<20}{}", shown(value, unit, 4))?;
    }
    for flag in &report.flags {
        writeln!(terminal.out, "⚠ {flag}")?;
    }
    for caution in WINDING_CAUTIONS {
        writeln!(terminal.out, "⚠ {caution}")?;
    }
    Ok(())
}
