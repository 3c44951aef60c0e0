//! `wyebench inspect`: what the machine is before anything runs.

use serde::Serialize;

use super::arguments::InspectArguments;
use super::{Failure, Terminal, input};
use crate::analysis::{Unit, shown};
use crate::machine::{Inside, Machine};
use crate::setup::{Connection, EmfShape, Setup};
use crate::winding::{Winding, format_layout};

/// The keys of the setup format; null where not known.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Inspection {
    /// Mechanical rpm per volt of peak line-to-line back-EMF.
    kv_rpm_per_v: Option<f64>,
    /// Peak of the phase back-EMF per mechanical speed.
    phase_constant_v_s_per_rad: Option<f64>,
    /// Order, amplitude in V s/rad, sine part in V s/rad.
    emf_harmonics: Option<Vec<(u32, f64, f64)>>,
    phase_resistance_ohm: Option<f64>,
    phase_inductance_h: Option<f64>,
    winding_factor: Option<f64>,
    cogging_per_turn: Option<u32>,
    cogging_peak_nm: Option<f64>,
    layout: Option<String>,
    flags: Vec<String>,
    /// Mechanical angle in degrees, flux density in T; only with geometry.
    gap_field: Option<Vec<(f64, f64)>>,
    copper_mass_kg: Option<f64>,
    slot_fill: Option<f64>,
}

/// Samples of the gap field over a pole pair.
const N_FIELD_SAMPLES: u32 = 360;

/// Highest order that is listed.
const HIGHEST_ORDER: u32 = 19;

/// What is known of the machine of a setup.
pub(crate) fn inspect(setup: &Setup) -> Result<Inspection, Failure> {
    let inside = Inside::of(&setup.machine);
    let machine = Machine::with(&setup.machine, inside.as_ref());
    let winding = winding(setup)?;
    let scale = machine.phase_constant_v_s_per_rad;
    let parts = parts(&machine.shape);
    let harmonics = parts.iter().map(|&(order, sine, cosine)| {
        let amplitude = (sine * scale).hypot(cosine * scale);
        (order, amplitude, sine * scale)
    });
    let mut flags = Vec::new();
    if winding.as_ref().is_some_and(Winding::phase_order_reversed) {
        flags.push("the layout turns the other way: its phases follow U, W, V".to_owned());
    }
    if setup.machine.connection == Connection::Delta && has_third_harmonics(&parts) {
        flags.push(
            "delta with third harmonics in its back-EMF: a current circulates in the delta"
                .to_owned(),
        );
    }
    if let Some(inside) = &inside {
        flags.extend(inside.notes(&setup.machine));
        if machine.cogging_peak_nm < 0.0 {
            flags.push(
                "the rotor does not rest at θe = 0: cogging pushes it away from there".to_owned(),
            );
        }
    }
    let copper = inside.as_ref().and_then(|inside| inside.copper);
    Ok(Inspection {
        kv_rpm_per_v: Some(machine.kv_rad_per_v_s * 30.0 / std::f64::consts::PI),
        phase_constant_v_s_per_rad: Some(
            scale * crate::machine::emf::peak_of_phase(&machine.shape),
        ),
        emf_harmonics: Some(harmonics.collect()),
        phase_resistance_ohm: Some(machine.phase_resistance_ohm),
        phase_inductance_h: Some(machine.phase_inductance_h),
        winding_factor: winding.as_ref().map(|winding| winding.factor(1).total),
        cogging_per_turn: Some(machine.cogging_per_turn),
        cogging_peak_nm: Some(machine.cogging_peak_nm.abs()),
        layout: winding
            .as_ref()
            .map(|winding| format_layout(winding.sides())),
        flags,
        gap_field: inside.as_ref().map(|inside| {
            let field = inside.gap_field(N_FIELD_SAMPLES);
            field
                .into_iter()
                .map(|(angle_rad, flux_t)| (angle_rad.to_degrees(), flux_t))
                .collect()
        }),
        copper_mass_kg: copper.and_then(|copper| copper.mass_kg),
        slot_fill: copper.and_then(|copper| copper.slot_fill),
    })
}

/// The winding of the setup: its own layout, or the one laid out for it.
fn winding(setup: &Setup) -> Result<Option<Winding>, Failure> {
    let machine = &setup.machine;
    let Some(written) = &machine.winding else {
        // Where slots and poles are no tooth-coil machine, nothing is known of its winding.
        return Ok(Winding::lay_out(machine.slots, machine.poles, 2, 1).ok());
    };
    let winding = match &written.layout {
        Some(sides) => Winding::from_layout(machine.slots, machine.poles, written.layers, sides)?,
        None => Winding::lay_out(
            machine.slots,
            machine.poles,
            written.layers,
            written.coil_span,
        )?,
    };
    Ok(Some(winding))
}

/// Order, sine and cosine coefficients of the unit shape, order 1 up.
fn parts(shape: &EmfShape) -> Vec<(u32, f64, f64)> {
    match shape {
        EmfShape::Sine => vec![(1, 1.0, 0.0)],
        EmfShape::Harmonics(list) => list.iter().map(|&(order, a)| (order, a, 0.0)).collect(),
        EmfShape::Computed(list) => list.clone(),
        EmfShape::Trapezoid => (1..=HIGHEST_ORDER)
            .step_by(2)
            .map(|order| (order, crate::machine::emf::trapezoid_harmonic(order), 0.0))
            .collect(),
    }
}

fn has_third_harmonics(parts: &[(u32, f64, f64)]) -> bool {
    parts
        .iter()
        .any(|&(order, sine, cosine)| order % 3 == 0 && (sine != 0.0 || cosine != 0.0))
}

pub(crate) fn command(
    arguments: &InspectArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let setup = input::read_setup(&arguments.setup)?;
    let found = inspect(&setup)?;
    if arguments.json {
        writeln!(terminal.out, "{}", serde_json::to_string_pretty(&found)?)?;
        return Ok(());
    }
    let known = |value: Option<f64>, unit: Unit| {
        value.map_or_else(
            || "not known".to_owned(),
            |value| shown(value, unit, 4).to_string(),
        )
    };
    let ohm = Unit {
        symbol: "Ω",
        per_si: 1.0,
        prefixed: true,
    };
    let henry = Unit { symbol: "H", ..ohm };
    let volt_seconds = Unit {
        symbol: "V s/rad",
        ..ohm
    };
    let rpm_per_v = Unit {
        symbol: "rpm/V",
        prefixed: false,
        ..ohm
    };
    let kilogram = Unit {
        symbol: "kg",
        prefixed: false,
        ..ohm
    };
    let mut rows = vec![
        ("Kv", known(found.kv_rpm_per_v, rpm_per_v)),
        (
            "phase constant",
            known(found.phase_constant_v_s_per_rad, volt_seconds),
        ),
        ("phase resistance", known(found.phase_resistance_ohm, ohm)),
        ("phase inductance", known(found.phase_inductance_h, henry)),
        ("winding factor", known(found.winding_factor, Unit::NUMBER)),
        (
            "layout",
            found
                .layout
                .clone()
                .unwrap_or_else(|| "not known".to_owned()),
        ),
        (
            "cogging periods",
            found
                .cogging_per_turn
                .map_or_else(|| "not known".to_owned(), |n| format!("{n} per turn")),
        ),
        (
            "cogging peak",
            known(found.cogging_peak_nm, Unit::NEWTON_METRE),
        ),
        ("copper mass", known(found.copper_mass_kg, kilogram)),
        ("slot fill", known(found.slot_fill, Unit::PERCENT)),
    ];
    for (order, _, sine) in found.emf_harmonics.iter().flatten() {
        if *order <= HIGHEST_ORDER {
            rows.push((
                "",
                format!("order {order:>2}  {}", shown(*sine, volt_seconds, 4)),
            ));
        }
    }
    for (name, value) in rows {
        let heading = if name.is_empty() && value.starts_with("order  1 ") {
            "phase back-EMF"
        } else {
            name
        };
        writeln!(terminal.out, "{heading:<18}{value}")?;
    }
    for flag in &found.flags {
        writeln!(terminal.out, "⚠ {flag}")?;
    }
    Ok(())
}
