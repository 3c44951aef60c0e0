//! The event-to-event simulation against the plain reference solver: the same equations written
//! as the conventions page has them, on a general-purpose ODE crate, with its own handling of
//! events. Both were written without sight of the other.

#![expect(clippy::print_stdout, reason = "what was compared is worth reading")]

mod plain;

use plain::cases;
use wyebench::analysis;
use wyebench::record::{Sample, Sampler};
use wyebench::setup::Setup;

struct Ours {
    samples: Vec<Sample>,
    outcome: analysis::RunOutcome,
}

fn ours(setup: &Setup) -> Ours {
    let mut samples = Vec::new();
    let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, |s: &Sample| {
        samples.push(*s)
    });
    let outcome = analysis::run(setup, &mut sampler);
    assert_eq!(outcome.error, None);
    Ours { samples, outcome }
}

/// Largest difference against the largest magnitude, and where.
fn worst(
    got: &[Sample],
    want: &[Sample],
    read: impl Fn(&Sample) -> f64,
    full_scale: f64,
) -> (f64, f64) {
    let mut top = full_scale;
    for sample in want {
        top = top.max(read(sample).abs());
    }
    let mut worst = (0.0, 0.0);
    for (a, b) in got.iter().zip(want) {
        let difference = (read(a) - read(b)).abs() / top;
        if difference > worst.0 || !difference.is_finite() {
            worst = (difference, a.time_s);
        }
    }
    worst
}

#[test]
fn waveforms_and_figures_agree_with_the_plain_solver() {
    let mut failures = Vec::new();
    for (name, setup) in cases::all() {
        let plain = plain::solve(&setup);
        let ours = ours(&setup);
        assert_eq!(ours.samples.len(), plain.samples.len(), "{name}");
        let mut report = |what: &str, (difference, at_s): (f64, f64), allowed: f64| {
            let line =
                format!("{name}: {what} differs by {difference:.2e} of full scale at {at_s} s");
            println!("{line}");
            if difference > allowed || difference.is_nan() {
                failures.push(line);
            }
        };
        let (got, want) = (&ours.samples, &plain.samples);
        let current = want
            .iter()
            .flat_map(|s| s.phase_current_a)
            .fold(1e-9, |m: f64, i| m.max(i.abs()));
        for k in 0..3 {
            report(
                "phase current",
                worst(got, want, |s| s.phase_current_a[k], current),
                1e-5,
            );
            report(
                "line current",
                worst(got, want, |s| s.line_current_a[k], current),
                1e-5,
            );
            report("back-EMF", worst(got, want, |s| s.back_emf_v[k], 1.0), 1e-5);
        }
        report("speed", worst(got, want, |s| s.speed_rad_s, 1e-3), 1e-5);
        report("angle", worst(got, want, |s| s.theta_elec_rad, 1.0), 1e-5);
        report("torque", worst(got, want, |s| s.torque_nm, 1e-9), 1e-5);
        report(
            "bridge voltage",
            worst(got, want, |s| s.supply_voltage_v, 1.0),
            1e-5,
        );
        let account = ours.outcome.account;
        println!(
            "{name}: residual {:.1e}, work {:?}",
            account.residual(),
            ours.outcome.work
        );
        let (a, b) = (ours.outcome.window.unwrap(), plain.window.unwrap());
        let figures = [
            ("window start", a.start_s, b.start_s, setup.run.duration_s),
            ("angle", a.angle_mech_rad, b.angle_mech_rad, 0.0),
            ("torque", a.torque_nm_s, b.torque_nm_s, 1e-9),
            (
                "torque squared",
                a.torque_squared_s,
                b.torque_squared_s,
                0.0,
            ),
            ("torque max", a.torque_max_nm, b.torque_max_nm, 0.0),
            (
                "torque min",
                a.torque_min_nm,
                b.torque_min_nm,
                a.torque_max_nm.abs(),
            ),
            (
                "load torque",
                a.load_torque_nm_s,
                b.load_torque_nm_s,
                a.torque_nm_s.abs(),
            ),
            ("charge", a.supply_charge_as, b.supply_charge_as, 1e-6),
            (
                "current squared",
                a.supply_current_squared_s,
                b.supply_current_squared_s,
                1e-9,
            ),
            (
                "phase squared",
                a.phase_current_squared_s[0],
                b.phase_current_squared_s[0],
                1e-9,
            ),
            ("peak", a.phase_current_peak_a, b.phase_current_peak_a, 1e-9),
            ("supply energy", a.supply_energy_j, b.supply_energy_j, 1e-6),
            ("shaft work", a.shaft_work_j, b.shaft_work_j, 1e-6),
            ("copper", a.copper_j, b.copper_j, 1e-9),
            ("bridge", a.bridge_j, b.bridge_j, 1e-9),
            ("friction", a.friction_j, b.friction_j, 1e-9),
        ];
        for (what, got, want, scale) in figures {
            let difference = (got - want).abs() / want.abs().max(scale).max(1e-300);
            if got != want {
                report(what, (difference, 0.0), 1e-5);
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// How much work each case is: pieces, located events, step changes, orders, comparisons of
/// circuits. A change here is no mistake by itself, but it should be seen.
#[test]
fn work_of_the_cases() {
    let mut text = String::new();
    let standard = ("standard case, 1 s", plain::cases::standard_case());
    for (name, setup) in plain::cases::all().into_iter().chain([standard]) {
        let mut simulator = wyebench::sim::Simulator::new(&setup);
        simulator
            .run_until(setup.run.duration_s, &mut ())
            .expect("every case runs");
        let work = simulator.work();
        text += &format!(
            "{name}: {} {} {} {} {}\n",
            work.n_pieces, work.n_located, work.n_commutations, work.n_orders, work.n_decisions
        );
    }
    insta::assert_snapshot!(text);
}
