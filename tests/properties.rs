//! Identities that hold for every setup, over thousands of random ones.

mod kit;

use std::f64::consts::TAU;

use kit::plain_motor;
use proptest::prelude::*;
use wyebench::analysis::{self, RunOutcome};
use wyebench::record::{Sample, Sampler};
use wyebench::setup::*;
use wyebench::sim::{DEFAULT_TOLERANCE, Simulator};

/// How many random setups of each kind; `PROPTEST_CASES` overrides it.
fn config(cases: u32) -> ProptestConfig {
    let mut config = ProptestConfig {
        failure_persistence: None,
        max_global_rejects: 1_000_000,
        ..ProptestConfig::default()
    };
    // the same cases every time; PROPTEST_RNG_SEED looks elsewhere
    if std::env::var_os("PROPTEST_RNG_SEED").is_none() {
        config.rng_seed = proptest::test_runner::RngSeed::Fixed(14_122_026);
    }
    if std::env::var_os("PROPTEST_CASES").is_none() {
        config.cases = cases;
    }
    config
}

fn shapes() -> impl Strategy<Value = EmfShape> {
    prop_oneof![
        3 => Just(EmfShape::Trapezoid),
        2 => Just(EmfShape::Sine),
        1 => (-0.2..0.2, -0.1..0.1).prop_map(|(third, fifth)| EmfShape::Harmonics(vec![(1, 1.0), (3, third), (5, fifth)])),
    ]
}

fn pwm() -> impl Strategy<Value = Option<PwmSetup>> {
    let chop = prop_oneof![
        Just(Chop::HighSide),
        Just(Chop::HighSideSynchronous),
        Just(Chop::BothSides)
    ];
    prop::option::weighted(
        0.7,
        (4e3..40e3, 0.0..=1.0, chop).prop_map(|(frequency_hz, duty, chop)| PwmSetup {
            frequency_hz,
            duty,
            chop,
        }),
    )
}

fn machine() -> impl Strategy<Value = MachineSetup> {
    (
        shapes(),
        prop_oneof![
            Just((12, 14)),
            Just((9, 6)),
            Just((12, 10)),
            Just((3, 2)),
            Just((36, 42))
        ],
        prop::bool::ANY,
        (0.0..0.5, 5e-6..2e-3, 1e-3..5e-2),
        (
            1e-6..1e-4,
            0.0..1e-5,
            prop_oneof![Just(0.0), 0.0..5e-3],
            prop_oneof![Just(0.0), 0.0..5e-3],
        ),
    )
        .prop_map(
            |(
                shape,
                (slots, poles),
                delta,
                (ohm, henry, constant),
                (inertia, viscous, dry, cogging),
            )| {
                let mut machine = plain_motor().machine;
                machine.slots = slots;
                machine.poles = poles;
                machine.connection = if delta {
                    Connection::Delta
                } else {
                    Connection::Star
                };
                machine.emf = EmfSetup {
                    shape,
                    constant: EmfConstant::PhaseVsPerRad(constant),
                };
                machine.phase_resistance_ohm = Some(ohm);
                machine.phase_inductance_h = Some(henry);
                machine.rotor_inertia_kg_m2 = inertia;
                machine.viscous_friction_nm_s = viscous;
                machine.dry_friction_nm = dry;
                machine.cogging_peak_nm = Some(cogging);
                machine
            },
        )
}

fn bench() -> impl Strategy<Value = Bench> {
    (
        pwm(),
        (prop_oneof![2 => Just(0.0), 1 => -1.0..1.0], prop::bool::ANY),
        prop_oneof![8 => Just(Gates::Stepping), 1 => Just(Gates::AllOff), 1 => Just(Gates::AllLow)],
        prop::option::weighted(0.25, (1.0..400.0, 0.0..2.0, 1..=6_u8)),
        (
            0.0..0.02,
            1..4_u32,
            0.0..1.2,
            prop_oneof![Just(0.0), 0.0..0.02],
        ),
        (
            0.0..30.0,
            prop::option::weighted(0.3, (1e-3..0.2, 1e-5..1e-3)),
        ),
        (
            prop_oneof![Just(0.0), 0.0..0.1],
            prop_oneof![3 => Just(0.0), 1 => -0.05..0.05],
            prop_oneof![Just(0.0), 0.0..1e-6],
            0.0..1e-5,
        ),
    )
        .prop_map(
            |(pwm, (advance_rad, reverse), gates, forced, switch, supply, load)| Bench {
                drive: DriveSetup {
                    commutation: if forced.is_some() {
                        Commutation::Forced
                    } else {
                        Commutation::Position
                    },
                    advance_rad,
                    direction: if reverse {
                        Direction::Reverse
                    } else {
                        Direction::Forward
                    },
                    gates,
                    pwm,
                    forced: forced.map(|(frequency_hz, ratio, start_step)| ForcedSetup {
                        frequency_hz,
                        start_frequency_hz: frequency_hz * ratio,
                        ramp_s: 0.01,
                        start_step,
                        align_s: 0.002,
                    }),
                    switch: SwitchSetup {
                        on_resistance_ohm: switch.0,
                        parallel: switch.1,
                        diode_drop_v: switch.2,
                        diode_resistance_ohm: switch.3,
                    },
                },
                supply: SupplySetup {
                    voltage_v: supply.0,
                    source: supply.1.map(|(resistance_ohm, capacitance_f)| SoftSource {
                        resistance_ohm,
                        capacitance_f,
                    }),
                },
                load: LoadSetup {
                    constant_nm: load.0,
                    gravity_nm: load.1,
                    quadratic_nm_s2: load.2,
                    inertia_kg_m2: load.3,
                },
            },
        )
}

prop_compose! {
    fn setups()(
        machine in machine(),
        bench in bench(),
        start_speed_rad_s in prop_oneof![2 => Just(0.0), 1 => -800.0..800.0],
        start_angle_rad in 0.0..TAU,
        hold_speed in prop::bool::weighted(0.2),
        duration_s in 1e-3..15e-3,
    ) -> Setup {
        Setup {
            title: "random".into(),
            machine,
            bench,
            run: RunSetup {
                duration_s,
                start_speed_rad_s,
                start_angle_rad,
                hold_speed,
                sample_s: 50e-6,
                measure_s: duration_s * 0.7,
            },
            changes: Vec::new(),
        }
    }
}

prop_compose! {
    /// The same with up to two changes of all of the bench on the way.
    fn changed_setups()(
        setup in setups(),
        benches in prop::collection::vec((bench(), 0.05..0.95), 1..=2),
    ) -> Setup {
        let mut setup = setup;
        for (bench, part) in benches {
            let before = setup.changes.last().map_or(0.0, |change: &Change| change.at_s);
            setup.changes.push(Change {
                at_s: before + part * (setup.run.duration_s - before),
                key: "drive".into(),
                value: "random".into(),
                bench,
            });
        }
        setup
    }
}

fn samples(setup: &Setup) -> (Vec<Sample>, RunOutcome) {
    let mut samples = Vec::new();
    let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, |s: &Sample| {
        samples.push(*s)
    });
    let outcome = analysis::run(setup, &mut sampler);
    (samples, outcome)
}

/// Sizes to compare against.
fn full_scale(samples: &[Sample]) -> (f64, f64) {
    samples.iter().fold((1e-3, 1e-1), |(current, speed), s| {
        (
            s.phase_current_a
                .iter()
                .fold(current, |m, i| m.max(i.abs())),
            speed.max(s.speed_rad_s.abs()),
        )
    })
}

proptest! {
    #![proptest_config(config(1500))]

    /// Lead currents sum to zero, nothing is NaN, terminals stay within the rails and their
    /// diodes, and the energy account closes to 1e-6.
    #[test]
    fn every_run_is_sound(setup in setups()) {
        let (samples, outcome) = samples(&setup);
        prop_assert_eq!(&outcome.error, &None);
        prop_assert!(outcome.account.residual().abs() < 1e-6, "residual {:e}, {:?}", outcome.account.residual(), outcome.account);
        let (current, _) = full_scale(&samples);
        let lead = samples.iter().flat_map(|s| s.line_current_a).fold(0.0, |m: f64, i| m.max(i.abs()));
        for s in &samples {
            let sum: f64 = s.line_current_a.iter().sum();
            prop_assert!(sum.abs() <= 1e-12 * current, "sum {sum:e}");
            let all = [s.time_s, s.theta_mech_rad, s.theta_elec_rad, s.speed_rad_s, s.torque_nm, s.em_torque_nm, s.supply_current_a, s.supply_voltage_v];
            for value in all.iter().chain(&s.phase_current_a).chain(&s.back_emf_v).chain(&s.terminal_v) {
                prop_assert!(value.is_finite());
            }
            let switch = setup.bench.drive.switch;
            let slack = switch.diode_drop_v + lead * (switch.on_resistance_ohm + switch.diode_resistance_ohm) + 1e-6;
            // a capacitor drawn below zero would be held by the legs' diodes in series, which the
            // bridge does not have (the run warns)
            if s.supply_voltage_v < 0.0 {
                continue;
            }
            for volt in s.terminal_v {
                prop_assert!(volt >= -slack && volt <= s.supply_voltage_v + slack, "terminal at {volt} of {}", s.supply_voltage_v);
            }
        }
        if let Some(window) = &outcome.window {
            prop_assert!(window.torque_max_nm >= window.torque_min_nm);
            prop_assert!(window.copper_j >= 0.0 && window.bridge_j >= 0.0 && window.friction_j >= -1e-15);
        }
    }
}

proptest! {
    #![proptest_config(config(600))]

    /// Changes on the way: nothing is NaN, the account closes, and what can only brake only brakes:
    /// without a weight the load never gives work, nor does friction.
    #[test]
    fn every_changed_run_is_sound(setup in changed_setups()) {
        let mut setup = setup;
        setup.run.hold_speed = false;
        setup.bench.load.gravity_nm = 0.0;
        for change in &mut setup.changes {
            change.bench.load.gravity_nm = 0.0;
        }
        let (samples, outcome) = samples(&setup);
        prop_assert_eq!(&outcome.error, &None);
        let account = &outcome.account;
        prop_assert!(account.residual().abs() < 1e-6, "residual {:e}, {account:?}", account.residual());
        let dust_j = 1e-9 * (account.turnover_j + account.kinetic_change_j.abs()) + 1e-15;
        prop_assert!(account.shaft_j >= -dust_j && account.friction_j >= -dust_j, "{account:?}");
        for s in &samples {
            let all = [s.time_s, s.theta_mech_rad, s.speed_rad_s, s.torque_nm, s.supply_voltage_v];
            prop_assert!(all.iter().chain(&s.phase_current_a).all(|value| value.is_finite()));
        }
    }
}

/// Mirrored in a plane through the axis of phase U: θ → −θ, V and W exchanged, all else turned.
fn mirrored(setup: &Setup) -> Setup {
    let mut mirror = setup.clone();
    mirror.run.start_angle_rad = -setup.run.start_angle_rad;
    mirror.run.start_speed_rad_s = -setup.run.start_speed_rad_s;
    mirror.bench.load.gravity_nm = -setup.bench.load.gravity_nm;
    mirror.bench.drive.direction = match setup.bench.drive.direction {
        Direction::Forward => Direction::Reverse,
        Direction::Reverse => Direction::Forward,
    };
    mirror
}

proptest! {
    #![proptest_config(config(400))]

    /// Forward mirrors backward: the same speeds with the sign turned.
    ///
    /// e_U(−θ) = −e_U(θ) and e_V(−θ) = −e_W(θ); with ω turned as well every EMF is that of the
    /// mirrored phase, and so is every current. A forced drive mirrors from another first step.
    #[test]
    fn forward_mirrors_backward(setup in setups()) {
        prop_assume!(setup.machine.connection == Connection::Star);
        prop_assume!(setup.bench.drive.commutation == Commutation::Position);
        let (a, _) = samples(&setup);
        let (b, _) = samples(&mirrored(&setup));
        let (current, speed) = full_scale(&a);
        for (x, y) in a.iter().zip(&b) {
            prop_assert!((x.speed_rad_s + y.speed_rad_s).abs() <= 1e-6 * speed, "{} {}", x.speed_rad_s, y.speed_rad_s);
            for (k, m) in [(0, 0), (1, 2), (2, 1)] {
                prop_assert!((x.phase_current_a[k] - y.phase_current_a[m]).abs() <= 1e-6 * current);
            }
        }
    }

    /// A rotor started 120 electrical degrees on gives the same run with the phases moved on.
    #[test]
    fn cyclic_exchange_of_phases_permutes(setup in setups()) {
        prop_assume!(setup.bench.drive.commutation == Commutation::Position);
        // cogging repeats after 120 electrical degrees only where its order is a multiple of 3
        prop_assume!(setup.machine.cogging_peak_nm == Some(0.0));
        let (a, _) = samples(&setup);
        let mut moved = setup.clone();
        moved.run.start_angle_rad += TAU / 3.0 / f64::from(setup.machine.poles / 2);
        let (b, _) = samples(&moved);
        let (current, speed) = full_scale(&a);
        for (x, y) in a.iter().zip(&b) {
            prop_assert!((x.speed_rad_s - y.speed_rad_s).abs() <= 1e-6 * speed);
            for k in 0..3 {
                prop_assert!((x.phase_current_a[k] - y.phase_current_a[(k + 1) % 3]).abs() <= 1e-6 * current);
            }
        }
    }

    /// A tighter inner tolerance moves no figure by more than 1e-8 of full scale.
    #[test]
    fn a_tighter_tolerance_moves_no_figure(setup in setups()) {
        let run = |tolerance: f64| analysis::run_simulator(Simulator::new(&setup).with_tolerance(tolerance), &setup, &mut ());
        let (a, b) = (run(DEFAULT_TOLERANCE), run(DEFAULT_TOLERANCE * 1e-2));
        let (Some(x), Some(y)) = (a.window, b.window) else { return Ok(()); };
        let span = setup.run.measure_s;
        let speed = x.angle_mech_rad.abs().max(span);
        prop_assert!((x.angle_mech_rad - y.angle_mech_rad).abs() <= 1e-8 * speed, "angle {:e}", x.angle_mech_rad - y.angle_mech_rad);
        if x.kind == y.kind && x.turns == y.turns {
            let torque = x.torque_max_nm.abs().max(x.torque_min_nm.abs()).max(1e-6) * span;
            prop_assert!((x.torque_nm_s - y.torque_nm_s).abs() <= 1e-8 * torque, "torque {:e} of {torque:e}", x.torque_nm_s - y.torque_nm_s);
            let charge = x.phase_current_peak_a.max(1e-3) * span;
            prop_assert!((x.supply_charge_as - y.supply_charge_as).abs() <= 1e-8 * charge);
            let heat = 3.0 * setup.machine.phase_resistance_ohm.unwrap() * x.phase_current_peak_a.powi(2) * span + 1e-12;
            prop_assert!((x.copper_j - y.copper_j).abs() <= 1e-8 * heat, "copper {:e} of {heat:e}", x.copper_j - y.copper_j);
        }
    }

    /// A delta of sine windings and the star that is its equal between the terminals
    /// (R/3, L/3, k_e/√3, turned by 30 electrical degrees) give the same lead currents.
    #[test]
    fn delta_and_equivalent_star_agree_at_the_terminals(setup in setups()) {
        let mut delta = setup;
        delta.machine.connection = Connection::Delta;
        delta.machine.emf.shape = EmfShape::Sine;
        delta.machine.cogging_peak_nm = Some(0.0);
        delta.bench.drive.advance_rad = 0.0;
        delta.bench.drive.commutation = Commutation::Position;
        let mut star = delta.clone();
        star.machine.connection = Connection::Star;
        star.machine.phase_resistance_ohm = star.machine.phase_resistance_ohm.map(|x| x / 3.0);
        star.machine.phase_inductance_h = star.machine.phase_inductance_h.map(|x| x / 3.0);
        let EmfConstant::PhaseVsPerRad(constant) = delta.machine.emf.constant else { unreachable!() };
        star.machine.emf.constant = EmfConstant::PhaseVsPerRad(constant / 3.0_f64.sqrt());
        // e*_U = (e_U − e_W)/3 lags e_U by 30°: the same rotor reads 30° less, and the drive,
        // which steps by θe of the winding, steps 30° early in the direction it drives
        let thirty = std::f64::consts::FRAC_PI_6;
        star.run.start_angle_rad -= thirty / f64::from(star.machine.poles / 2);
        star.bench.drive.advance_rad = if star.bench.drive.direction == Direction::Forward { thirty } else { -thirty };
        let (a, _) = samples(&delta);
        let (b, _) = samples(&star);
        let (_, speed) = full_scale(&a);
        let current = a.iter().flat_map(|s| s.line_current_a).fold(1e-3, |m: f64, i| m.max(i.abs()));
        for (x, y) in a.iter().zip(&b) {
            prop_assert!((x.speed_rad_s - y.speed_rad_s).abs() <= 1e-6 * speed, "at {}: {} {}", x.time_s, x.speed_rad_s, y.speed_rad_s);
            for k in 0..3 {
                prop_assert!((x.line_current_a[k] - y.line_current_a[k]).abs() <= 1e-6 * current);
            }
        }
    }

    /// Exchanging two leads of a forced drive reverses the motor: V and W exchanged is the
    /// mirror image, so a table that runs 1, 6, 5, … mirrored from step 4 gives the opposite turn.
    #[test]
    fn exchanging_two_leads_reverses(setup in setups()) {
        let mut forward = setup;
        forward.machine.connection = Connection::Star;
        forward.bench.drive.commutation = Commutation::Forced;
        forward.bench.drive.direction = Direction::Forward;
        forward.bench.drive.gates = Gates::Stepping;
        forward.bench.drive.forced = Some(ForcedSetup { frequency_hz: 100.0, start_frequency_hz: 10.0, ramp_s: 0.01, start_step: 1, align_s: 0.001 });
        // mirrored step 1 (U+ V−) is U+ W−, which reverse calls step 5; then 4, 3, …
        let mut other = mirrored(&forward);
        other.bench.drive.forced.as_mut().unwrap().start_step = 5;
        let (a, _) = samples(&forward);
        let (b, _) = samples(&other);
        let (current, speed) = full_scale(&a);
        for (x, y) in a.iter().zip(&b) {
            prop_assert!((x.speed_rad_s + y.speed_rad_s).abs() <= 1e-6 * speed);
            for (k, m) in [(0, 0), (1, 2), (2, 1)] {
                prop_assert!((x.phase_current_a[k] - y.phase_current_a[m]).abs() <= 1e-6 * current);
            }
        }
    }
}
