//! Windings against reference tables and against closed forms.
//!
//! The rows lie in `tests/reference/`, each with its source; the README there says how much a
//! row weighs.

#![expect(
    clippy::unwrap_used,
    reason = "a table that cannot be read fails the check"
)]

use std::f64::consts::PI;

use toml::{Table, Value};
use wyebench::winding::{InfeasibleReason, Phase, Winding, WindingError, feasible};

const TABLES: &str = include_str!("reference/winding_factors.toml");
const EXAMPLES: &str = include_str!("reference/worked_examples.toml");

/// Twelve digits are printed in the derived rows.
const DERIVED: f64 = 1e-11;
/// Three printed decimals, rounded: half a unit of the last, and a little for the edge itself.
const THREE_DECIMALS: f64 = 0.000_501;
/// The recalled tables print some cells rounded and some cut (0.9495 as 0.949).
const RECALLED: f64 = 0.001;

fn rows(text: &str, name: &str) -> Vec<Table> {
    let table: Table = text.parse().unwrap();
    let rows = table[name].as_array().unwrap();
    rows.iter()
        .map(|row| row.as_table().unwrap().clone())
        .collect()
}

fn whole(row: &Table, key: &str) -> u32 {
    row[key].as_integer().unwrap().try_into().unwrap()
}

fn number(value: &Value) -> f64 {
    value
        .as_float()
        .unwrap_or_else(|| f64::from(u16::try_from(value.as_integer().unwrap()).unwrap()))
}

#[track_caller]
fn near(got: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: got {got}, wanted {wanted} ± {tolerance}"
    );
}

/// A layout per tooth as one code a tooth: 0 bare, else ±1, ±2, ±3.
fn codes(text: &str) -> Vec<i8> {
    text.split_whitespace()
        .map(|word| match word {
            ".." => 0,
            word => {
                let phase = 1 + i8::try_from("UVW".find(&word[1..]).unwrap()).unwrap();
                if word.starts_with('+') { phase } else { -phase }
            }
        })
        .collect()
}

/// Whether two layouts are one winding: equal after a rotation, a renaming and a reversal of
/// signs.
fn same_winding(one: &[i8], other: &[i8]) -> bool {
    let renamings = [
        [1, 2, 3],
        [1, 3, 2],
        [2, 1, 3],
        [2, 3, 1],
        [3, 1, 2],
        [3, 2, 1],
    ];
    let n = one.len();
    n == other.len()
        && renamings.iter().any(|names| {
            [1, -1].iter().any(|sign| {
                let mapped: Vec<i8> = other
                    .iter()
                    .map(|code| match code {
                        0 => 0,
                        code => sign * code.signum() * names[usize::from(code.unsigned_abs()) - 1],
                    })
                    .collect();
                (0..n).any(|turn| (0..n).all(|k| one[k] == mapped[(k + turn) % n]))
            })
        })
}

#[test]
fn the_comparison_of_layouts_can_fail() {
    assert!(same_winding(&codes("+U -V +W"), &codes("+V -W +U")));
    assert!(same_winding(&codes("+U -V +W"), &codes("-U +W -V")));
    assert!(!same_winding(&codes("+U -V +W"), &codes("+U +V +W")));
}

/// 92 two-layer tooth-coil windings, derived; 57 with a recalled published factor.
#[test]
fn double_layer_tooth_coils() {
    let rows = rows(TABLES, "double_layer");
    assert_eq!(rows.len(), 92);
    for row in rows {
        let (slots, poles) = (whole(&row, "slots"), whole(&row, "poles"));
        let what = format!("{slots} slots {poles} poles");
        let winding = Winding::lay_out(slots, poles, 2, 1).unwrap();
        let factor = winding.factor(1);
        near(factor.pitch.unwrap(), number(&row["kp"]), DERIVED, &what);
        near(
            factor.distribution.unwrap(),
            number(&row["kd"]),
            DERIVED,
            &what,
        );
        near(factor.total, number(&row["kw"]), DERIVED, &what);
        near(factor.total, number(&row["kw_3dp"]), THREE_DECIMALS, &what);
        if let Some(published) = row.get("published_kw") {
            near(factor.total, number(published), RECALLED, &what);
        }
        assert_eq!(winding.q_text(), row["q"].as_str().unwrap(), "{what}");
        assert_eq!(winding.periodicity(), whole(&row, "periodicity"), "{what}");
        assert_eq!(
            winding.slots() / winding.periodicity(),
            whole(&row, "spokes"),
            "{what}"
        );
        assert_eq!(winding.sections(), whole(&row, "sections"), "{what}");
        assert_eq!(winding.layout_sections(), winding.sections(), "{what}");
        assert_eq!(
            winding.sections_alternate(),
            row["sections_alternate"].as_bool().unwrap(),
            "{what}"
        );
        assert_eq!(
            winding.cogging_per_turn(),
            u64::from(whole(&row, "cogging_per_rev")),
            "{what}"
        );
        near(
            winding.slot_angle_elec_rad(1).to_degrees(),
            number(&row["slot_angle_elec_deg"]) % 360.0,
            1e-9,
            &what,
        );
        assert_eq!(
            winding.layout_sections() == 1,
            row["unbalanced_pull"].as_bool().unwrap(),
            "{what}"
        );
        let (got, wanted) = (winding.tooth_text(), row["layout"].as_str().unwrap());
        assert!(
            same_winding(&codes(&got), &codes(wanted)),
            "{what}: {got} is not {wanted}"
        );
    }
}

/// 51 windings with every second tooth wound, derived; some with a recalled published factor.
#[test]
fn single_layer_tooth_coils() {
    let rows = rows(TABLES, "single_layer");
    assert_eq!(rows.len(), 51);
    for row in rows {
        let (slots, poles) = (whole(&row, "slots"), whole(&row, "poles"));
        let what = format!("{slots} slots {poles} poles");
        let winding = Winding::lay_out(slots, poles, 1, 1).unwrap();
        let factor = winding.factor(1);
        assert_eq!(
            winding.coils().len(),
            whole(&row, "coils") as usize,
            "{what}"
        );
        near(factor.pitch.unwrap(), number(&row["kp"]), DERIVED, &what);
        near(
            factor.distribution.unwrap(),
            number(&row["kd"]),
            DERIVED,
            &what,
        );
        near(factor.total, number(&row["kw"]), DERIVED, &what);
        near(factor.total, number(&row["kw_3dp"]), THREE_DECIMALS, &what);
        if let Some(published) = row.get("published_kw") {
            near(factor.total, number(published), RECALLED, &what);
        }
        let (got, wanted) = (winding.tooth_text(), row["layout"].as_str().unwrap());
        assert!(
            same_winding(&codes(&got), &codes(wanted)),
            "{what}: {got} is not {wanted}"
        );
    }
}

/// 39 pairs without a balanced winding, derived.
#[test]
fn infeasible_pairs() {
    let rows = rows(TABLES, "infeasible");
    assert_eq!(rows.len(), 39);
    for row in rows {
        let (slots, poles) = (whole(&row, "slots"), whole(&row, "poles"));
        let no = feasible(slots, poles).unwrap_err();
        match no.reason {
            InfeasibleReason::SlotsNotByThree => assert_ne!(slots % 3, 0),
            InfeasibleReason::SpokesNotByThree { periodicity, .. } => {
                assert_eq!(periodicity, whole(&row, "periodicity"));
            }
            other => panic!("{slots} slots {poles} poles: {other:?}"),
        }
        assert!(!no.neighbours.is_empty(), "{slots} slots {poles} poles");
        assert_eq!(
            Winding::lay_out(slots, poles, 2, 1),
            Err(WindingError::Infeasible(no))
        );
    }
}

/// 29 lap windings with chorded coils, orders 1, 5 and 7, derived.
#[test]
fn distributed_windings() {
    let rows = rows(TABLES, "distributed");
    assert_eq!(rows.len(), 29);
    for row in rows {
        let (slots, poles) = (whole(&row, "slots"), whole(&row, "poles"));
        let span = whole(&row, "coil_span_slots");
        let winding = Winding::lay_out(slots, poles, 2, span).unwrap();
        assert_eq!(winding.q_text(), row["q"].as_str().unwrap());
        for order in [1, 5, 7] {
            let what = format!("{slots} slots {poles} poles span {span} order {order}");
            let factor = winding.factor(order);
            near(
                factor.total,
                number(&row[&format!("kw{order}")]),
                DERIVED,
                &what,
            );
            near(
                factor.pitch.unwrap(),
                number(&row[&format!("kp{order}")]),
                DERIVED,
                &what,
            );
            if let Some(wanted) = row.get(&format!("kd{order}")) {
                near(factor.distribution.unwrap(), number(wanted), DERIVED, &what);
            }
        }
    }
}

/// Handbook distribution factors for 60° belts: recalled, q = 3 also opened.
#[test]
fn handbook_distribution_factors() {
    for row in rows(TABLES, "handbook_kd") {
        let q = whole(&row, "q");
        let winding = Winding::lay_out(6 * q, 2, 2, 3 * q).unwrap();
        near(
            winding.factor(1).distribution.unwrap(),
            number(&row["kd1_3dp"]),
            THREE_DECIMALS,
            &format!("q = {q}"),
        );
    }
}

/// Handbook pitch factors: 8/9 and 7/9 opened, the others recalled.
#[test]
fn handbook_pitch_factors() {
    for row in rows(TABLES, "handbook_kp") {
        let pitch = row["pitch"].as_str().unwrap();
        let (span, per_pole) = pitch.split_once('/').unwrap();
        // The fraction of a pole pitch, tripled so that three phases fit.
        let (span, per_pole): (u32, u32) = (span.parse().unwrap(), per_pole.parse().unwrap());
        let winding = Winding::lay_out(6 * per_pole, 2, 2, 3 * span).unwrap();
        near(
            winding.factor(1).pitch.unwrap(),
            number(&row["kp1"]),
            THREE_DECIMALS,
            pitch,
        );
    }
}

/// The winding examples of a published exercise sheet (opened) and of Miller 1989 (recalled).
#[test]
fn worked_examples() {
    let mut n_of_windings = 0;
    for row in rows(EXAMPLES, "example") {
        let id = row["id"].as_str().unwrap();
        // copper and dc motors are for other tests
        if id.starts_with("copper") || id.ends_with("_dc") {
            continue;
        }
        n_of_windings += 1;
        let (input, answer) = (
            row["input"].as_table().unwrap(),
            row["answer"].as_table().unwrap(),
        );
        let tolerance = number(&row["tolerance"]);
        match id {
            "kd_9_per_pole" => {
                let winding = Winding::lay_out(2 * whole(input, "slots_per_pole"), 2, 2, 9);
                let kd = winding.unwrap().factor(1).distribution.unwrap();
                near(kd, number(&answer["kd"]), tolerance, id);
            }
            "kp_7_of_9" | "kp_8_of_9" => {
                let per_pole = whole(input, "slots_per_pole");
                let winding = Winding::lay_out(2 * per_pole, 2, 2, whole(input, "span")).unwrap();
                near(
                    winding.factor(1).pitch.unwrap(),
                    number(&answer["kp"]),
                    tolerance,
                    id,
                );
            }
            "kd_36_slot_4_pole" => {
                let winding = Winding::lay_out(whole(input, "slots"), whole(input, "poles"), 2, 9);
                let kd = winding.unwrap().factor(1).distribution.unwrap();
                near(kd, number(&answer["kd"]), tolerance, id);
            }
            "kd_single_phase_all" => {
                // Six neighbouring slots, 30° apart, all of one phase: no balanced winding has
                // that, so the slot angles alone are checked here.
                let winding = Winding::lay_out(12, 2, 2, 6).unwrap();
                let sum = winding
                    .star()
                    .iter()
                    .take(6)
                    .fold((0.0, 0.0), |(re, im), spoke| {
                        (
                            re + libm::cos(spoke.angle_elec_rad),
                            im + libm::sin(spoke.angle_elec_rad),
                        )
                    });
                near(
                    libm::hypot(sum.0, sum.1) / 6.0,
                    number(&answer["kd"]),
                    tolerance,
                    id,
                );
            }
            "miller_phase_emf" => {
                let winding = Winding::lay_out(
                    whole(input, "slots"),
                    whole(input, "poles"),
                    2,
                    whole(input, "span"),
                )
                .unwrap();
                let kw = winding.factor(1).total;
                near(kw, number(&answer["kw"]), tolerance * kw, id);
                let coils = winding
                    .coils()
                    .iter()
                    .filter(|coil| coil.phase == Phase::U)
                    .count();
                let turns =
                    f64::from(u16::try_from(coils).unwrap()) * number(&input["turns_per_coil"]);
                near(turns, number(&answer["turns_per_phase"]), 0.0, id);
                // E = √2 π f N kw Φ, the transformer form of the EMF equation, f = p n / 60.
                let frequency_hz = number(&input["rpm"]) / 60.0 * f64::from(winding.pole_pairs());
                let emf_rms_v =
                    2.0_f64.sqrt() * PI * frequency_hz * turns * kw * number(&input["flux_wb"]);
                let wanted = number(&answer["e_rms"]);
                near(emf_rms_v, wanted, tolerance * wanted, id);
            }
            other => panic!("no check for {other}"),
        }
    }
    assert_eq!(n_of_windings, 6);
}

/// The closed forms of the distribution factor, from [rules] of the tables.
#[test]
fn distribution_factor_closed_forms() {
    for slots in (3..=90).step_by(3) {
        for poles in (2..=60).step_by(2) {
            let Ok(winding) = Winding::lay_out(slots, poles, 2, 1) else {
                continue;
            };
            let t = winding.periodicity();
            let n = f64::from(slots / (3 * t));
            let step = PI * f64::from(t) / f64::from(slots);
            let wanted = if slots / t % 2 == 0 {
                0.5 / (n / 2.0 * libm::sin(step))
            } else {
                0.5 / (n * libm::sin(step / 2.0))
            };
            let got = winding.factor(1).distribution.unwrap();
            near(got, wanted, 1e-12, &format!("{slots} slots {poles} poles"));
        }
    }
}
