//! Runs against closed forms that follow in a few lines from the equations (derived here), and
//! against facts of the trade.

#![expect(
    clippy::disallowed_methods,
    reason = "references are computed by the platform, not by the code under test"
)]

mod kit;

use kit::{RPM, close, plain_motor, run};
use wyebench::record::EventKind;
use wyebench::setup::{
    Change, Chop, Commutation, Direction, EmfConstant, EmfShape, ForcedSetup, Gates, PwmSetup,
    SoftSource,
};

/// Locked rotor, two phases in series: i(t) = U/2R (1 − exp(−t R/L)).
#[test]
fn current_rises_as_an_rl_circuit_at_locked_rotor() {
    let mut setup = plain_motor();
    setup.run.hold_speed = true;
    setup.run.start_angle_rad = 30.0_f64.to_radians();
    setup.run.duration_s = 5e-3;
    setup.run.measure_s = 5e-3;
    let run = run(&setup);
    for sample in &run.samples {
        let want = 60.0 * (1.0 - (-sample.time_s * 0.1 / 100e-6).exp());
        close("i", sample.phase_current_a[0], want, 1e-11, 1e-11);
    }
}

/// The same with switch resistance: stall current U / (2R + 2 Ron), torque 2 k_e I.
#[test]
fn stall_current_and_torque() {
    let mut setup = plain_motor();
    setup.bench.drive.switch.on_resistance_ohm = 0.02;
    setup.bench.drive.switch.parallel = 4;
    // dry friction above the stall torque: true stiction, not a held shaft
    setup.machine.dry_friction_nm = 2.0;
    setup.run.start_angle_rad = 30.0_f64.to_radians();
    let run = run(&setup);
    let stall = 12.0 / (0.2 + 2.0 * 0.005);
    let last = run.last();
    close("stall current", last.supply_current_a, stall, 1e-9, 0.0);
    close(
        "stall torque",
        last.torque_nm,
        2.0 * 0.01 * stall,
        1e-9,
        0.0,
    );
    assert!(
        run.samples.iter().all(|s| s.speed_rad_s == 0.0),
        "speed is exactly zero, not small"
    );
}

/// Coasting with viscous friction: ω = ω0 exp(−B t/J), all legs open and no current.
#[test]
fn viscous_run_down_is_exponential() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.machine.viscous_friction_nm_s = 1e-4;
    setup.run.start_speed_rad_s = 300.0;
    setup.run.duration_s = 0.5;
    let run = run(&setup);
    for sample in run.samples.iter().step_by(100) {
        close(
            "speed",
            sample.speed_rad_s,
            300.0 * (-sample.time_s * 1e-4 / 2e-5).exp(),
            1e-10,
            0.0,
        );
        assert_eq!(sample.phase_current_a, [0.0; 3]);
    }
}

/// Coasting with dry friction alone: straight down, and a stop at exactly J ω0 / T.
#[test]
fn dry_run_down_is_straight_and_ends_at_rest() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.machine.dry_friction_nm = 0.05;
    setup.run.start_speed_rad_s = 100.0;
    let run = run(&setup);
    let stop_s = 2e-5 * 100.0 / 0.05;
    let stuck = run.times_of(EventKind::Stuck);
    assert_eq!(stuck.len(), 1);
    close("stop", stuck[0], stop_s, 1e-12, 0.0);
    assert_eq!(run.last().speed_rad_s, 0.0);
    close(
        "friction heat",
        run.outcome.account.friction_j,
        0.5 * 2e-5 * 100.0 * 100.0,
        1e-12,
        0.0,
    );
}

/// A load that comes on while the rotor turns opposes it, whichever way it started and whatever braked
/// before: from then on it falls straight, J dω/dt = −T.
#[test]
fn a_load_that_comes_on_later_brakes() {
    for direction in [Direction::Forward, Direction::Reverse] {
        let mut setup = plain_motor();
        // nothing brakes at first, and it starts from rest
        setup.bench.drive.direction = direction;
        let mut off = setup.bench.clone();
        off.drive.gates = Gates::AllOff;
        let mut braked = off.clone();
        braked.load.constant_nm = 0.02;
        for (at_s, bench) in [(0.02, off), (0.03, braked)] {
            setup.changes.push(Change {
                at_s,
                key: "load.constant".into(),
                value: "as told".into(),
                bench,
            });
        }
        let run = run(&setup);
        let after: Vec<_> = run.samples.iter().filter(|s| s.time_s > 0.0301).collect();
        let (first, sign) = (after[0], after[0].speed_rad_s.signum());
        assert_eq!(
            sign,
            if direction == Direction::Reverse {
                -1.0
            } else {
                1.0
            }
        );
        assert!(first.speed_rad_s.abs() > 100.0, "{}", first.speed_rad_s);
        for sample in after {
            let fall = 0.02 * (sample.time_s - first.time_s) / 2e-5;
            let want = (first.speed_rad_s.abs() - fall).max(0.0);
            close("speed", sign * sample.speed_rad_s, want, 1e-9, 1e-9);
        }
        let account = &run.outcome.account;
        assert!(account.shaft_j > 0.0, "the load takes work: {account:?}");
    }
}

/// Coasting against a load torque c ω²: 1/ω = 1/ω0 + c t/J.
#[test]
fn quadratic_run_down_is_hyperbolic() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.bench.load.quadratic_nm_s2 = 1e-6;
    setup.run.start_speed_rad_s = 500.0;
    let run = run(&setup);
    for sample in run.samples.iter().step_by(50) {
        let want = 1.0 / (1.0 / 500.0 + 1e-6 * sample.time_s / 2e-5);
        close("speed", sample.speed_rad_s, want, 1e-11, 0.0);
    }
}

/// A weight that pulls on a coasting shaft: free fall, J dω/dt = −T.
#[test]
fn a_weight_on_a_coasting_shaft_falls() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.bench.load.gravity_nm = 0.01;
    setup.bench.load.inertia_kg_m2 = 3e-5;
    // slow enough that no EMF reaches the supply: 12 V / (2 · 10 mV s/rad) = 600 rad/s
    let run = run(&setup);
    for sample in run.samples.iter().step_by(50) {
        close(
            "speed",
            sample.speed_rad_s,
            -0.01 * sample.time_s / 5e-5,
            1e-12,
            1e-15,
        );
    }
}

/// A rotor held by cogging swings as a pendulum: small swings have ω² = Tc N / J.
#[test]
fn small_swings_about_a_cogging_rest_have_the_pendulum_period() {
    let mut setup = plain_motor();
    setup.bench.drive.gates = Gates::AllOff;
    setup.machine.cogging_peak_nm = Some(2e-3);
    setup.run.start_angle_rad = 1e-5;
    setup.run.duration_s = 0.2;
    setup.run.sample_s = 1e-4;
    let run = run(&setup);
    let rate = (2e-3 * 12.0 / 2e-5_f64).sqrt();
    for sample in run.samples.iter().step_by(20) {
        close(
            "angle",
            sample.theta_mech_rad,
            1e-5 * (rate * sample.time_s).cos(),
            0.0,
            1e-12,
        );
    }
}

/// Shorted phases on a driven sine machine: balanced short circuit,
/// I = ω k_e / √(R² + (p ω L)²), braking torque (3/2) k_e² ω R / (R² + (pωL)²).
#[test]
fn braking_torque_of_a_shorted_sine_machine() {
    let mut setup = plain_motor();
    setup.machine.emf.shape = EmfShape::Sine;
    setup.bench.drive.gates = Gates::AllLow;
    setup.run.hold_speed = true;
    setup.run.start_speed_rad_s = 400.0;
    setup.run.duration_s = 0.2;
    setup.run.measure_s = 0.1;
    let run = run(&setup);
    let reactance = 2.0 * 400.0 * 100e-6;
    let impedance_squared = 0.1_f64.powi(2) + reactance * reactance;
    let rms = 400.0 * 0.01 / impedance_squared.sqrt() / 2.0_f64.sqrt();
    close(
        "current",
        run.mean(run.window().phase_current_squared_s[1]).sqrt(),
        rms,
        1e-9,
        0.0,
    );
    let torque = -1.5 * 0.01_f64.powi(2) * 400.0 * 0.1 / impedance_squared;
    close(
        "torque",
        run.mean(run.window().torque_nm_s),
        torque,
        1e-9,
        0.0,
    );
}

/// Above the supply a coasting machine rectifies: no current while the peak line-to-line EMF is
/// below V + 2 Vd, and current as soon as it is above.
#[test]
fn overrun_begins_where_line_emf_passes_supply_and_two_diodes() {
    let mut setup = plain_motor();
    setup.machine.emf.shape = EmfShape::Sine;
    setup.bench.drive.gates = Gates::AllOff;
    setup.bench.drive.switch.diode_drop_v = 0.7;
    setup.run.hold_speed = true;
    let limit_rad_s = (12.0 + 1.4) / (3.0_f64.sqrt() * 0.01);
    setup.run.start_speed_rad_s = 0.9999 * limit_rad_s;
    let below = run(&setup);
    assert!(below.samples.iter().all(|s| s.phase_current_a == [0.0; 3]));
    setup.run.start_speed_rad_s = 1.01 * limit_rad_s;
    let above = run(&setup);
    assert!(
        above.mean(above.window().supply_charge_as) < 0.0,
        "current flows back into the supply"
    );
}

/// A capacitor alone behind its source resistance: brake energy goes round, none is lost from
/// the account; at rest the bridge voltage returns to the source's.
#[test]
fn soft_supply_settles_at_the_source_voltage() {
    let mut setup = plain_motor();
    setup.bench.supply.source = Some(SoftSource {
        resistance_ohm: 0.05,
        capacitance_f: 470e-6,
    });
    setup.machine.viscous_friction_nm_s = 2e-5;
    setup.run.duration_s = 1.0;
    let run = run(&setup);
    let last = run.last();
    let mean_current = run.mean(run.window().supply_charge_as);
    // mean over the window: V = Vs − Rs I
    close(
        "bridge voltage",
        last.supply_voltage_v,
        12.0 - 0.05 * mean_current,
        2e-3,
        0.0,
    );
}

/// With vanishing inductance the machine runs on the straight torque-speed line of a dc
/// machine: n0 = U/(2 k_e), ω = (U − 2R T/(2 k_e)) / (2 k_e).
#[test]
fn torque_speed_line_at_vanishing_inductance() {
    for load_nm in [0.0, 0.1, 0.4] {
        let mut setup = plain_motor();
        setup.machine.phase_inductance_h = Some(5e-8);
        setup.bench.load.constant_nm = load_nm;
        let want = (12.0 - 0.2 * load_nm / 0.02) / 0.02;
        setup.run.start_speed_rad_s = 0.98 * want;
        setup.run.duration_s = 0.12;
        setup.run.measure_s = 0.04;
        let run = run(&setup);
        // what is left of the commutation: L/R = 0.5 µs of a sector of 900 µs at least
        close("speed", run.mean_speed_rpm() * RPM, want, 2e-4, 0.0);
        close(
            "supply current",
            run.mean(run.window().supply_charge_as),
            load_nm / 0.02,
            5e-4,
            1e-2,
        );
    }
}

/// A forced drive turns the rotor at 60 f / p whatever the load, up to pull-out.
#[test]
fn forced_drive_is_synchronous() {
    for (direction, load_nm) in [
        (Direction::Forward, 0.0),
        (Direction::Forward, 0.05),
        (Direction::Reverse, 0.02),
    ] {
        let run = run(&forced(4, 65.0, direction, load_nm));
        let sign = if direction == Direction::Reverse {
            -1.0
        } else {
            1.0
        };
        assert!(run.outcome.in_step);
        close("speed", run.mean_speed_rpm(), sign * 1950.0, 1e-3, 0.0);
    }
}

/// A load beyond what the drive can pull: the rotor falls out of step, and the run says so.
#[test]
fn a_forced_drive_that_loses_the_rotor_is_reported() {
    let mut setup = forced(4, 65.0, Direction::Forward, 0.0);
    setup.bench.load.constant_nm = 0.6;
    let lost = run(&setup);
    assert!(!lost.outcome.in_step);
    assert!(lost.outcome.slip_turns.unwrap() > 5.0);
}

/// Advance is nothing to a drive that steps by the clock: changed on the way, not a bit is another.
#[test]
fn advance_does_not_start_a_forced_drive_anew() {
    let mut setup = forced(4, 65.0, Direction::Forward, 0.02);
    let before = run(&setup);
    let mut bench = setup.bench.clone();
    bench.drive.advance_rad = 0.2;
    setup.changes.push(Change {
        at_s: 1.8,
        key: "drive.advance".into(),
        value: "0.2 rad".into(),
        bench,
    });
    let after = run(&setup);
    close("speed", after.mean_speed_rpm(), 1950.0, 1e-3, 0.0);
    close(
        "speed",
        after.mean_speed_rpm(),
        before.mean_speed_rpm(),
        1e-9,
        0.0,
    );
    assert!(after.outcome.in_step);
}

/// A new ramp leads from the frequency of the moment to the wanted one; what a drive starts with is of
/// its start.
#[test]
fn a_forced_drive_is_retuned_on_the_way() {
    let mut setup = forced(4, 65.0, Direction::Forward, 0.02);
    let plain = run(&setup);
    let forced_setup = setup.bench.drive.forced.unwrap();
    let change = |at_s: f64, to: ForcedSetup| {
        let mut bench = setup.bench.clone();
        bench.drive.forced = Some(to);
        Change {
            at_s,
            key: "drive.forced".into(),
            value: "as told".into(),
            bench,
        }
    };
    let start = ForcedSetup {
        start_frequency_hz: 30.0,
        start_step: 4,
        align_s: 1.0,
        ..forced_setup
    };
    let ramp = ForcedSetup {
        frequency_hz: 80.0,
        ramp_s: 0.4,
        ..forced_setup
    };
    let (start, ramp) = (change(1.5, start), change(1.5, ramp));
    setup.changes = vec![start];
    let same = run(&setup);
    close(
        "speed",
        same.mean_speed_rpm(),
        plain.mean_speed_rpm(),
        1e-9,
        0.0,
    );
    assert!(same.outcome.in_step);
    setup.changes = vec![ramp];
    let faster = run(&setup);
    assert!(faster.outcome.in_step);
    close("speed", faster.mean_speed_rpm(), 2400.0, 1e-3, 0.0);
    // halfway along the ramp it commands 72.5 Hz: 2175 rpm
    let half = faster.samples.iter().find(|s| s.time_s >= 1.7).unwrap();
    close(
        "speed on the ramp",
        half.speed_rad_s / RPM,
        2175.0,
        0.03,
        0.0,
    );
}

fn forced(
    poles: u32,
    frequency_hz: f64,
    direction: Direction,
    load_nm: f64,
) -> wyebench::setup::Setup {
    let mut setup = plain_motor();
    setup.machine.poles = poles;
    setup.machine.emf.shape = EmfShape::Sine;
    setup.machine.viscous_friction_nm_s = 2e-5;
    setup.bench.supply.voltage_v = 10.0;
    setup.bench.drive.commutation = Commutation::Forced;
    setup.bench.drive.direction = direction;
    setup.bench.drive.forced = Some(ForcedSetup {
        frequency_hz,
        start_frequency_hz: 2.0,
        ramp_s: 1.0,
        start_step: 1,
        align_s: 0.3,
    });
    setup.bench.load.constant_nm = load_nm;
    setup.run.duration_s = 2.5;
    setup.run.measure_s = 0.5;
    setup
}

// ---- facts of the trade: common practice, no source --------------------------------------

/// Common practice, no source: a rotor of four magnets turns half as fast as one of two at the
/// same drive frequency; 65 Hz into two pole pairs is 1950 rpm in step. A tachometer that shows
/// about 1740 there is 11 % off, and a synchronous machine cannot be: one of the two
/// instruments is wrong.
#[test]
fn four_magnets_turn_half_as_fast_as_two() {
    let two = run(&forced(2, 65.0, Direction::Forward, 0.0));
    let four = run(&forced(4, 65.0, Direction::Forward, 0.0));
    assert!(two.outcome.in_step && four.outcome.in_step);
    close("two magnets", two.mean_speed_rpm(), 3900.0, 1e-3, 0.0);
    close("four magnets", four.mean_speed_rpm(), 1950.0, 1e-3, 0.0);
    let reading_rpm = 1740.0;
    assert!((reading_rpm / four.mean_speed_rpm() - 1.0).abs() > 0.10);
}

/// Common practice, no source: 520 rpm/V gives about 3750 rpm at 7.4 V and 5644 at 11.1 V with
/// no load, 920 rpm/V about 6780 and 10500; Kv times volts is within 3 % of each.
#[test]
fn kv_times_volts_is_within_three_percent_of_no_load_readings() {
    for (kv, volt, reading) in [
        (520.0, 7.4, 3750.0),
        (520.0, 11.1, 5644.0),
        (920.0, 7.4, 6780.0),
        (920.0, 11.1, 10500.0),
    ] {
        let mut setup = plain_motor();
        setup.machine.poles = 14;
        setup.machine.emf.constant = EmfConstant::KvRadPerVs(kv * RPM);
        setup.machine.phase_resistance_ohm = Some(0.05);
        setup.machine.phase_inductance_h = Some(15e-6);
        setup.machine.viscous_friction_nm_s = 1e-6;
        setup.bench.supply.voltage_v = volt;
        setup.run.start_speed_rad_s = 0.9 * kv * volt * RPM;
        setup.run.duration_s = 0.6;
        let run = run(&setup);
        close("no-load reading", run.mean_speed_rpm(), reading, 0.03, 0.0);
        close("Kv V", kv * volt, reading, 0.03, 0.0);
    }
}

// ---- what must not change a run -----------------------------------------------------------

/// The same bits every run, for any `sample`, and the figures do not depend on it.
#[test]
fn sampling_changes_no_bit() {
    let mut setup = plain_motor();
    setup.bench.drive.pwm = Some(PwmSetup {
        frequency_hz: 20e3,
        duty: 0.6,
        chop: Chop::HighSide,
    });
    let first = run(&setup);
    setup.run.sample_s = 3.7e-6;
    let second = run(&setup);
    assert_eq!(first.window(), second.window());
    assert_eq!(first.outcome.account, second.outcome.account);
    assert_eq!(first.outcome.work, second.outcome.work);
    assert_eq!(second.samples[1].time_s, 3.7e-6);
}
