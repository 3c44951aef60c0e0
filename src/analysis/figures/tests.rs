//! Every figure against a window that can be told without a computer.

use super::*;
use crate::analysis::{WindowKind, check_key, why};

/// One mechanical turn in 10 ms with a torque that is 3 Nm for half the time and 1 Nm for
/// the other half, so that every figure can be told without a computer.
fn totals() -> WindowTotals {
    let t = 0.01;
    WindowTotals {
        start_s: 0.5,
        end_s: 0.5 + t,
        kind: WindowKind::MechanicalTurns,
        turns: 1,
        angle_mech_rad: TAU,
        torque_nm_s: 2.0 * t,
        torque_squared_s: 5.0 * t,
        torque_min_nm: 1.0,
        torque_max_nm: 3.0,
        load_torque_nm_s: 1.9 * t,
        supply_charge_as: 4.0 * t,
        supply_current_squared_s: 25.0 * t,
        phase_current_squared_s: [4.0 * t, 9.0 * t, 16.0 * t],
        phase_current_peak_a: 6.0,
        supply_energy_j: 48.0 * t,
        shaft_work_j: 36.0 * t,
        copper_j: 9.0 * t,
        bridge_j: 2.0 * t,
        friction_j: 1.0 * t,
        commutations: 42,
    }
}

fn account() -> EnergyAccount {
    EnergyAccount {
        supply_j: 48.0,
        shaft_j: 30.0,
        friction_j: 1.0,
        copper_j: 9.0,
        bridge_j: 2.0,
        magnetic_change_j: 1.0,
        capacitor_change_j: 0.5,
        kinetic_change_j: 5.0,
        cogging_change_j: -0.5,
        by_hand_j: 0.0,
        turnover_j: 0.0,
    }
}

fn end() -> RunEnd {
    RunEnd {
        pole_pairs: 7,
        final_speed_rad_s: 100.0 * TAU,
        commutations: 4242,
        in_step: true,
        warnings: Vec::new(),
        scales: Scales::default(),
    }
}

fn near(got: Option<f64>, wanted: f64) {
    let got = got.unwrap();
    // Six operations of rounding at most.
    assert!(
        (got - wanted).abs() <= 1e-12 * wanted.abs().max(1.0),
        "{got} for {wanted}"
    );
}

#[test]
fn every_figure_follows_its_definition() {
    let (run, _) = RunFigures::from_totals(&totals(), &account(), &end());
    near(run.mean_speed_rpm, 6000.0);
    near(run.final_speed_rpm, 6000.0);
    near(run.electrical_frequency_hz, 700.0);
    near(run.torque_mean_nm, 2.0);
    near(run.torque_ripple_pp_nm, 2.0);
    near(run.torque_ripple_rms_nm, 1.0);
    near(run.load_torque_mean_nm, 1.9);
    near(run.supply_current_mean_a, 4.0);
    near(run.supply_current_rms_a, 5.0);
    near(run.phase_current_rms_a, 3.0);
    near(run.phase_current_peak_a, 6.0);
    near(run.supply_power_w, 48.0);
    near(run.shaft_power_w, 36.0);
    near(run.copper_loss_w, 9.0);
    near(run.bridge_loss_w, 2.0);
    near(run.friction_loss_w, 1.0);
    near(run.efficiency, 0.75);
    near(run.energy_residual, 0.0);
    near(run.window_s, 0.01);
    assert_eq!(run.commutations, 4242);
}

/// The JSON object has the contract's keys and no other, and so have the figures.
#[test]
fn the_keys_are_the_contracts() {
    let (run, figures) = RunFigures::from_totals(&totals(), &account(), &end());
    let json = serde_json::to_value(&run).unwrap();
    let mut keys: Vec<_> = json
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect();
    let mut wanted = RunFigures::KEYS.to_vec();
    assert_eq!(
        figures.iter().map(|figure| figure.key).collect::<Vec<_>>(),
        wanted
    );
    keys.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(keys, wanted);
    assert_eq!(json["window_kind"], "mechanical-turns");
}

#[test]
fn efficiency_is_null_for_a_brake() {
    let braking = WindowTotals {
        shaft_work_j: -0.1,
        ..totals()
    };
    let (run, figures) = RunFigures::from_totals(&braking, &account(), &end());
    assert_eq!(run.efficiency, None);
    let text = why(&figures, "efficiency").unwrap();
    assert!(text.contains("both positive"), "{text}");
}

#[test]
fn a_coasting_run_is_measured_by_its_largest_term() {
    let coasting = EnergyAccount {
        supply_j: 0.0,
        shaft_j: 0.0,
        friction_j: 2.0,
        copper_j: 0.0,
        bridge_j: 0.0,
        magnetic_change_j: 0.0,
        capacitor_change_j: 0.0,
        kinetic_change_j: -2.000_002,
        cogging_change_j: 0.0,
        by_hand_j: 0.0,
        turnover_j: 0.0,
    };
    let (run, _) = RunFigures::from_totals(&totals(), &coasting, &end());
    let got = run.energy_residual.unwrap();
    assert!((got - 0.000_002 / 2.000_002).abs() < 1e-15, "{got}");
    let nothing = EnergyAccount {
        friction_j: 0.0,
        kinetic_change_j: 0.0,
        ..coasting
    };
    let (run, _) = RunFigures::from_totals(&totals(), &nothing, &end());
    assert_eq!(run.energy_residual, Some(0.0));
}

#[test]
fn nothing_ever_is_nan() {
    let empty = WindowTotals {
        end_s: 0.5,
        supply_energy_j: f64::NAN,
        ..totals()
    };
    let (run, figures) = RunFigures::from_totals(&empty, &account(), &end());
    assert_eq!(run.mean_speed_rpm, None);
    let json = serde_json::to_string(&run).unwrap();
    assert!(!json.contains("NaN") && !json.contains("inf"));
    assert!(!why(&figures, "all").unwrap().contains("NaN"));
}

#[test]
fn a_figure_puts_its_numbers_in() {
    let (_, figures) = RunFigures::from_totals(&totals(), &account(), &end());
    let text = why(&figures, "torque_ripple_rms_nm").unwrap();
    assert!(text.contains("M_ac = √( ∫m²·dt / T − M² )"), "{text}");
    assert!(
        text.contains("M_ac = √( 0.050000 N²m² s / 10.000 ms − (2.0000 Nm)² )"),
        "{text}"
    );
    assert!(text.contains("definition, see DEVELOPERS.md"), "{text}");
    // Every symbol of every formula is explained or is a plain word.
    for figure in figures.iter().filter(|figure| !figure.inputs.is_empty()) {
        for input in &figure.inputs {
            assert!(
                figure.formula.contains(input.symbol),
                "{}: {}",
                figure.key,
                input.symbol
            );
            assert!(
                !figure.put_in().contains(&format!(" {} ", input.symbol)),
                "{}",
                figure.put_in()
            );
        }
    }
}

#[test]
fn an_unknown_figure_is_told_the_nearest() {
    let (_, figures) = RunFigures::from_totals(&totals(), &account(), &end());
    let nearest = |asked: &str| why(&figures, asked).unwrap_err().nearest;
    assert_eq!(nearest("effciency"), Some("efficiency"));
    assert_eq!(nearest("torque_mean"), Some("torque_mean_nm"));
    assert_eq!(nearest("zzz"), None);
    assert!(check_key(&RunFigures::KEYS, "all").is_ok());
}
