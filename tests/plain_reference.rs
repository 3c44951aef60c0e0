//! The plain reference solver against outside values, closed forms and its own energy account.

#![expect(
    clippy::print_stdout,
    reason = "figures of a failed test, seen only then"
)]

mod plain;

use plain::{Options, Outcome, cases, solve};
use wyebench::analysis::{EnergyAccount, WindowKind};
use wyebench::drive::LegState;
use wyebench::record::EventKind;
use wyebench::setup::{EmfConstant, Setup};

/// Energy the account leaves over, against its largest term.
fn residual(energy: &EnergyAccount) -> f64 {
    let spent = [
        energy.shaft_j,
        energy.friction_j,
        energy.copper_j,
        energy.bridge_j,
        energy.magnetic_change_j,
        energy.capacitor_change_j,
        energy.kinetic_change_j,
        energy.cogging_change_j,
    ];
    let left = energy.supply_j + energy.by_hand_j - spent.iter().sum::<f64>();
    let largest = spent
        .iter()
        .fold(energy.supply_j.abs(), |top, v| top.max(v.abs()));
    left / largest
}

fn ideal_switches(setup: &mut Setup) {
    setup.bench.drive.pwm = None;
    let switch = &mut setup.bench.drive.switch;
    switch.on_resistance_ohm = 0.0;
    switch.parallel = 1;
    switch.diode_drop_v = 0.0;
    switch.diode_resistance_ohm = 0.0;
}

fn number(row: &toml::Value, key: &str) -> f64 {
    row[key]
        .as_float()
        .unwrap_or_else(|| panic!("{key} is a number"))
}

/// tests/reference/six_step_runs.toml: five periodic steady states of an ideal six-step drive
/// at fixed speed, each found by two integrators; 0.5 % is the tolerance stated there.
#[test]
fn six_step_steady_states() {
    let file: toml::Value =
        toml::from_str(include_str!("reference/six_step_runs.toml")).expect("reference parses");
    let motor = &file["servo_310v"];
    let rows = file["six_step_run"].as_array().expect("rows");
    assert_eq!(rows.len(), 5);
    for row in rows {
        let omega = number(row, "rpm") * cases::RPM;
        let mut setup = cases::standard_case();
        ideal_switches(&mut setup);
        setup.machine.slots = 12;
        setup.machine.poles = 4;
        setup.machine.phase_resistance_ohm = Some(number(motor, "r_ll_ohm") / 2.0);
        setup.machine.phase_inductance_h = Some(number(motor, "l_ll_h") / 2.0);
        setup.machine.emf.constant =
            EmfConstant::PhaseVsPerRad(number(row, "phase_flat_top_v") / omega);
        setup.machine.viscous_friction_nm_s = 0.0;
        setup.bench.load.quadratic_nm_s2 = 0.0;
        setup.bench.supply.voltage_v = number(row, "u_v");
        setup.run.hold_speed = true;
        setup.run.start_speed_rad_s = omega;
        let turn = std::f64::consts::TAU / omega;
        setup.run.duration_s = 3.0 * turn;
        setup.run.measure_s = 1.2 * turn;
        setup.run.sample_s = turn / 1000.0;
        let outcome = solve(&setup);
        let w = outcome.window.expect("integrals were asked for");
        assert_eq!((w.kind, w.turns), (WindowKind::MechanicalTurns, 1));
        let length = w.end_s - w.start_s;
        let rms: f64 = w
            .phase_current_squared_s
            .iter()
            .map(|s| (s / length).sqrt())
            .sum::<f64>()
            / 3.0;
        let copper = w.copper_j / length;
        let tolerance = number(row, "tolerance_percent") / 100.0;
        for (key, got) in [
            ("torque_mean_nm", w.torque_nm_s / length),
            ("torque_min_nm", w.torque_min_nm),
            ("torque_max_nm", w.torque_max_nm),
            ("i_dc_mean_a", w.supply_charge_as / length),
            ("i_phase_rms_a", rms),
            ("copper_w", copper),
            ("p_mech_w", w.shaft_work_j / length),
            ("p_in_w", w.supply_energy_j / length),
        ] {
            let wanted = number(row, key);
            println!(
                "{key}: got {got}, wanted {wanted}, {:.1e}",
                got / wanted - 1.0
            );
            assert!(
                (got / wanted - 1.0).abs() < tolerance,
                "{key}: got {got}, wanted {wanted}"
            );
        }
    }
}

/// tests/reference/commutation.toml: slopes and times of 14 current commutations, R = 0, EMF
/// constant. Here the EMF of the leaving phase falls by 2e-6 during the commutation.
#[test]
fn commutation_slopes_and_times() {
    let file: toml::Value =
        toml::from_str(include_str!("reference/commutation.toml")).expect("reference parses");
    let rows = file["row"].as_array().expect("rows");
    assert_eq!(rows.len(), 14);
    for row in rows {
        let (e, l, i0) = (number(row, "e_v"), number(row, "l_h"), number(row, "i0_a"));
        let (t_off, t_on) = (number(row, "t_off_s"), number(row, "t_on_s"));
        let omega = 1e-3;
        let mut setup = cases::standard_case();
        ideal_switches(&mut setup);
        setup.machine.slots = 6;
        setup.machine.poles = 2;
        setup.machine.phase_resistance_ohm = Some(0.0);
        setup.machine.phase_inductance_h = Some(l);
        setup.machine.emf.constant = EmfConstant::PhaseVsPerRad(e.max(1e-9) / omega);
        setup.machine.viscous_friction_nm_s = 0.0;
        setup.bench.supply.voltage_v = number(row, "u_v");
        setup.run.hold_speed = true;
        setup.run.start_speed_rad_s = omega;
        setup.run.start_angle_rad = 150.0 * cases::DEG + 1e-9;
        setup.run.duration_s = 2.0 * t_off.max(t_on);
        setup.run.measure_s = setup.run.duration_s;
        setup.run.sample_s = 0.5 * t_off.min(t_on);
        // Step 3 begins: U leaves, V enters at the upper switch, W stays at the lower.
        let options = Options {
            start_current_a: [i0, 0.0, -i0],
            ..Options::tight()
        };
        let outcome = plain::solve_with(&setup, &options);
        let off = outcome
            .events
            .iter()
            .find(|event| event.kind == EventKind::DiodeOff { leg: 0 })
            .expect("the leaving phase comes to zero");
        let early = &outcome.samples[1];
        assert_eq!(early.step, 3);
        let slope = |k: usize, from: f64| (early.phase_current_a[k] - from) / early.time_s;
        let scale = number(row, "u_v") / l;
        for (name, got, wanted, scale) in [
            ("t_off", off.time_s, t_off, t_off),
            ("t_on", i0 / slope(1, 0.0), t_on, t_on),
            ("out", slope(0, i0), number(row, "di_out_dt"), scale),
            ("in", slope(1, 0.0), number(row, "di_in_dt"), scale),
            ("stay", slope(2, -i0), number(row, "di_non_dt"), scale),
        ] {
            assert!(
                (got - wanted).abs() < 1e-5 * scale,
                "{name}: got {got}, wanted {wanted} at U = {} V, E = {e} V",
                number(row, "u_v")
            );
        }
    }
}

/// Closed form: with the rotor held still, two phases and two switches in series are an RL
/// circuit, i = U/R (1 - exp(-t R/L)).
#[test]
fn current_rise_at_locked_rotor() {
    let mut setup = cases::standard_case();
    setup.bench.drive.pwm = None;
    setup.run.hold_speed = true;
    setup.run.start_angle_rad = 60.0 * cases::DEG / 7.0;
    setup.run.duration_s = 2e-3;
    setup.run.measure_s = 1e-3;
    let outcome = solve(&setup);
    let (r, l): (f64, f64) = (2.0 * (0.045 + 0.0025), 2.0 * 18e-6);
    for sample in &outcome.samples {
        let wanted = -11.1 / r * libm::expm1(-sample.time_s * r / l);
        assert!((sample.phase_current_a[0] - wanted).abs() < 1e-9 * 11.1 / r);
        assert_eq!(sample.phase_current_a[2], 0.0);
    }
    let last = outcome.samples.last().expect("samples");
    let torque = 2.0 * last.phase_current_a[0] / (2.0 * 900.0 * cases::RPM);
    assert!((last.em_torque_nm - torque).abs() < 1e-12);
}

/// Closed form: a rotor that coasts, its EMF below the supply, slows by viscous and dry
/// friction alone: ω = (ω0 + T/b) exp(-t b/J) - T/b until it stands.
#[test]
fn run_down_to_rest() {
    let mut setup = cases::coast_then_brake();
    setup.changes.clear();
    setup.bench.drive.gates = wyebench::setup::Gates::AllOff;
    setup.bench.load.quadratic_nm_s2 = 0.0;
    setup.machine.cogging_peak_nm = Some(0.0);
    setup.machine.viscous_friction_nm_s = 1e-4;
    setup.machine.dry_friction_nm = 2e-3;
    setup.run.duration_s = 0.5;
    setup.run.sample_s = 1e-4;
    let outcome = solve(&setup);
    let (dry, viscous, inertia) = (2e-3, 1e-4, 1.2e-5);
    let start = 5000.0 * cases::RPM;
    let stop = inertia / viscous * libm::log1p(start * viscous / dry);
    for sample in &outcome.samples {
        assert_eq!(sample.phase_current_a, [0.0; 3]);
        let moving =
            (start + dry / viscous) * libm::exp(-sample.time_s * viscous / inertia) - dry / viscous;
        let wanted = if sample.time_s < stop { moving } else { 0.0 };
        assert!((sample.speed_rad_s - wanted).abs() < 1e-9 * start);
        if sample.time_s > stop {
            assert_eq!(sample.speed_rad_s, 0.0);
        }
    }
    let stuck = outcome
        .events
        .iter()
        .find(|event| event.kind == EventKind::Stuck)
        .expect("it comes to rest");
    assert!((stuck.time_s - stop).abs() < 1e-9);
}

/// Identity: every case closes its energy account, currents sum as they must, open legs carry
/// none and stay within the diodes' limits.
#[test]
fn cases_close_their_account() {
    for (name, setup) in cases::all() {
        let outcome = solve(&setup);
        let energy = outcome.energy.expect("integrals were asked for");
        let left = residual(&energy);
        println!("{name}: residual {left:.1e} {:?}", outcome.work);
        assert!(left.abs() < 1e-9, "{name}: residual {left:e}, {energy:?}");
        check_samples(name, &setup, &outcome);
    }
}

fn check_samples(name: &str, setup: &Setup, outcome: &Outcome) {
    let wanted = (setup.run.duration_s / setup.run.sample_s).round() + 1.0;
    assert_eq!(outcome.samples.len() as f64, wanted, "{name}");
    let peak = outcome
        .samples
        .iter()
        .flat_map(|s| s.line_current_a)
        .fold(0.0_f64, |top, i| top.max(i.abs()));
    for sample in &outcome.samples {
        let sum: f64 = sample.line_current_a.iter().sum();
        assert!(sum.abs() < 1e-10 * peak, "{name}: leads sum to {sum}");
        assert!(sample.terminal_v.iter().all(|v| v.is_finite()));
        let drop = setup.bench.drive.switch.diode_drop_v;
        let slope = setup.bench.drive.switch.diode_resistance_ohm;
        for k in 0..3 {
            let (v, i) = (sample.terminal_v[k], sample.line_current_a[k]);
            let bound = match (sample.legs[k], i) {
                (LegState::High, _) => sample.supply_voltage_v - 0.0025 * i,
                (LegState::Low, _) => -0.0025 * i,
                (LegState::Floating, i) if i > 0.0 => -drop - slope * i,
                (LegState::Floating, i) if i < 0.0 => sample.supply_voltage_v + drop - slope * i,
                _ => v,
            };
            assert!(
                (v - bound).abs() < 1e-9,
                "{name}: leg {k} at {v} V, not {bound} V"
            );
            if sample.legs[k] == LegState::Floating && i == 0.0 {
                let top = sample.supply_voltage_v + drop;
                assert!(
                    v > -drop - 1e-9 && v < top + 1e-9,
                    "{name}: open leg {k} at {v} V, t = {}",
                    sample.time_s
                );
            }
        }
    }
}

/// Identity: reverse drive of the mirrored rotor is the mirror image, with V and W exchanged.
#[test]
fn reverse_mirrors_forward() {
    let backward = cases::reverse_with_cogging();
    let mut forward = backward.clone();
    forward.bench.drive.direction = wyebench::setup::Direction::Forward;
    forward.run.start_angle_rad = -backward.run.start_angle_rad;
    let (a, b) = (solve(&backward), solve(&forward));
    for (x, y) in a.samples.iter().zip(&b.samples) {
        assert!((x.theta_mech_rad + y.theta_mech_rad).abs() < 1e-8);
        assert!((x.speed_rad_s + y.speed_rad_s).abs() < 1e-6);
        assert!((x.phase_current_a[0] - y.phase_current_a[0]).abs() < 1e-6);
        assert!((x.phase_current_a[1] - y.phase_current_a[2]).abs() < 1e-6);
    }
}

/// Identity: a delta of sine windings is a star of R/3, L/3 and k_e/√3 whose angle lags by 30°.
#[test]
fn delta_equals_star() {
    let mut delta = cases::delta_sine();
    delta.bench.drive.advance_rad = -20.0 * cases::DEG;
    delta.run.start_angle_rad = 2.0 * cases::DEG;
    let mut star = delta.clone();
    star.machine.connection = wyebench::setup::Connection::Star;
    star.machine.phase_resistance_ohm = star.machine.phase_resistance_ohm.map(|x| x / 3.0);
    star.machine.phase_inductance_h = star.machine.phase_inductance_h.map(|x| x / 3.0);
    star.run.start_angle_rad -= 30.0 * cases::DEG / 7.0;
    star.bench.drive.advance_rad += 30.0 * cases::DEG;
    let (a, b) = (solve(&delta), solve(&star));
    let peak = 11.1 / 0.08;
    for (x, y) in a.samples.iter().zip(&b.samples) {
        for k in 0..3 {
            assert!((x.line_current_a[k] - y.line_current_a[k]).abs() < 1e-8 * peak);
            assert!(
                (x.terminal_v[k] - y.terminal_v[k]).abs() < 1e-6,
                "{x:?} {y:?}"
            );
        }
        assert!((x.speed_rad_s - y.speed_rad_s).abs() < 1e-6);
    }
    assert_eq!(a.events.len(), b.events.len());
}

/// Identity: a machine turned on by a third of an electrical turn does the same with its phases
/// passed on by one.
#[test]
fn permuted_phases() {
    for mut first in [cases::both_sides_with_gaps(), cases::delta_trapezoid()] {
        first.run.start_angle_rad = 11.0 * cases::DEG;
        let mut second = first.clone();
        second.run.start_angle_rad += 120.0 * cases::DEG / 7.0;
        let (a, b) = (solve(&first), solve(&second));
        for (x, y) in a.samples.iter().zip(&b.samples) {
            for k in 0..3 {
                let (now, then) = (x.phase_current_a[k], y.phase_current_a[(k + 1) % 3]);
                assert!((now - then).abs() < 1e-7);
            }
        }
        assert_eq!(a.events.len(), b.events.len());
    }
}

/// Each case shows what it is there for.
#[test]
fn cases_show_what_they_promise() {
    let count = |outcome: &Outcome, wanted: fn(&EventKind) -> bool| {
        outcome.events.iter().filter(|e| wanted(&e.kind)).count()
    };
    let lowest = |outcome: &Outcome| {
        outcome
            .samples
            .iter()
            .fold(f64::INFINITY, |low, s| low.min(s.supply_current_a))
    };
    let stall = solve(&cases::stall_by_dry_friction());
    assert!(count(&stall, |k| *k == EventKind::Stuck) >= 1);
    assert!(count(&stall, |k| *k == EventKind::BrokeAway) >= 1);
    assert!(stall.samples.iter().any(|s| s.speed_rad_s == 0.0));
    let weight = solve(&cases::weight_pulls_back());
    assert_eq!(count(&weight, |k| *k == EventKind::Reversal), 1);
    assert!(weight.samples.last().is_some_and(|s| s.speed_rad_s < -10.0));
    let coast = solve(&cases::coast_then_brake());
    assert!(count(&coast, |k| *k == EventKind::Stuck) >= 1);
    assert!(lowest(&solve(&cases::overrun())) < -1.0);
    assert!(lowest(&solve(&cases::synchronous_braking())) < -1.0);
    assert!(lowest(&solve(&cases::delta_overrun_coast())) < -1.0);
    let gaps = solve(&cases::both_sides_with_gaps());
    let open = |s: &&wyebench::record::Sample| s.line_current_a == [0.0; 3];
    assert!(gaps.samples.iter().filter(open).count() > 100);
    let round = solve(&cases::delta_trapezoid());
    let sum = |s: &wyebench::record::Sample| s.phase_current_a.iter().sum::<f64>().abs();
    assert!(round.samples.iter().any(|s| sum(s) > 1.0));
    let forced = solve(&cases::forced_start());
    println!("forced: {:?}", forced.samples.last());
    assert!(forced.samples.last().is_some_and(|s| s.speed_rad_s > 100.0));
}

/// Looking five times as closely finds the same events.
#[test]
fn no_event_is_missed() {
    for (name, setup) in cases::all() {
        let usual = solve(&setup);
        let closer = Options {
            look_inside: 20,
            step_per_turn: 0.002,
            ..Options::tight()
        };
        let closer = plain::solve_with(&setup, &closer);
        println!("{name}: {} events", usual.events.len());
        for (a, b) in usual.events.iter().zip(&closer.events) {
            assert_eq!(a.kind, b.kind, "{name} at {} and {}", a.time_s, b.time_s);
            assert!((a.time_s - b.time_s).abs() < 1e-9, "{name} at {}", a.time_s);
        }
        assert_eq!(usual.events.len(), closer.events.len(), "{name}");
    }
}

/// Two methods, two crates and two ways to take samples give the same waveforms.
#[test]
fn methods_agree() {
    for (name, setup) in cases::all() {
        let exact = solve(&setup);
        for (method, other, limit) in [
            (
                "dopri5",
                plain::waveforms_dopri5(&setup, &Options::fast(1e-9)),
                2e-5,
            ),
            (
                "tsit45",
                plain::waveforms_tsit45(&setup, &Options::fast(1e-9)),
                2e-5,
            ),
        ] {
            let error = plain::waveform_error(&exact, &other);
            println!("{name}, {method}: {error:.1e}");
            assert!(error < limit, "{name}, {method}: {error:e}");
        }
    }
}

/// Halving every tolerance changes nothing that matters: the converged answer is converged.
#[test]
fn converged() {
    for (name, setup) in cases::all() {
        let exact = solve(&setup);
        let looser = Options {
            tolerance: 1e-11,
            event_margin: 4e-11,
            look_inside: 2,
            step_per_turn: 0.05,
            ..Options::tight()
        };
        let other = plain::solve_with(&setup, &looser);
        let error = plain::waveform_error(&exact, &other);
        println!("{name}: {error:.1e}");
        assert!(error < 1e-7, "{name}: {error:e}");
        assert_eq!(exact.commutations, other.commutations, "{name}");
    }
}
