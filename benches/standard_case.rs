//! How fast is a run? Seconds simulated per second, nanoseconds per piece, and how the cost
//! grows with the number of events.
//!
//! `cargo bench --bench standard_case`

#![expect(clippy::print_stdout, reason = "a bench speaks to the terminal")]

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use wyebench::analysis;
use wyebench::setup::Setup;
use wyebench::sim::Simulator;

/// The standard case: 14 poles, 900 rpm/V, 11.1 V stiff, 20 kHz high-side chop at 60 %,
/// quadratic load, from rest, 1 s.
const STANDARD: &str = r#"
format = 1
title = "Standard case"
[machine]
construction = "outrunner"
slots = 12
poles = 14
[machine.phase]
resistance = "45 mohm"
inductance = "18 uH"
[machine.emf]
shape = "trapezoid"
kv = "900 rpm/V"
[machine.rotor]
inertia = "1.2e-5 kg m2"
viscous_friction = "1e-6 Nm s/rad"
[drive.pwm]
frequency = "20 kHz"
duty = 0.6
chop = "high-side"
[drive.switch]
on_resistance = "5 mohm"
parallel = 2
diode_drop = "0.7 V"
[supply]
voltage = "11.1 V"
[load]
quadratic = "1.5e-8 Nm s2/rad2"
[run]
duration = "1 s"
"#;

fn standard() -> Setup {
    Setup::parse(STANDARD, "standard case").expect("the standard case is a good setup")
}

fn benches(criterion: &mut Criterion) {
    let setup = standard();
    let mut simulator = Simulator::new(&setup);
    simulator
        .run_until(setup.run.duration_s, &mut ())
        .expect("runs");
    let work = *simulator.work();
    println!(
        "standard case: {work:?}, mean order {:.2}",
        work.n_orders as f64 / work.n_pieces as f64
    );

    let mut group = criterion.benchmark_group("standard case, 1 s");
    group.throughput(Throughput::Elements(work.n_pieces));
    group.bench_function("solution only", |bencher| {
        bencher.iter(|| {
            let mut simulator = Simulator::new(&setup);
            simulator
                .run_until(black_box(setup.run.duration_s), &mut ())
                .expect("runs");
            simulator.speed_rad_s()
        });
    });
    group.bench_function("with figures", |bencher| {
        bencher.iter(|| analysis::run(black_box(&setup), &mut ()).final_speed_rad_s);
    });
    group.finish();

    // a capacitor behind a source resistance, and cogging: what the window shows at first
    let built_in = Setup::parse(wyebench::setup::built_in(), "built-in").expect("a good setup");
    let mut simulator = Simulator::new(&built_in);
    simulator
        .run_until(built_in.run.duration_s, &mut ())
        .expect("runs");
    let mut group = criterion.benchmark_group("soft supply and cogging, 1 s");
    group.throughput(Throughput::Elements(simulator.work().n_pieces));
    group.bench_function("solution only", |bencher| {
        bencher.iter(|| {
            let mut simulator = Simulator::new(&built_in);
            simulator
                .run_until(black_box(built_in.run.duration_s), &mut ())
                .expect("runs");
            simulator.speed_rad_s()
        });
    });
    group.finish();

    let mut group = criterion.benchmark_group("cost grows with events");
    for periods in [1_u32, 2, 4, 8] {
        let mut setup = standard();
        setup.run.duration_s = 0.1 * f64::from(periods);
        group.throughput(Throughput::Elements(u64::from(periods)));
        group.bench_with_input(
            BenchmarkId::from_parameter(periods),
            &setup,
            |bencher, setup| {
                bencher.iter(|| {
                    let mut simulator = Simulator::new(setup);
                    simulator
                        .run_until(setup.run.duration_s, &mut ())
                        .expect("runs");
                    simulator.speed_rad_s()
                });
            },
        );
    }
    group.finish();
}

criterion_group! {
    name = all;
    config = Criterion::default().sample_size(20);
    targets = benches
}
criterion_main!(all);
