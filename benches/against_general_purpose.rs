//! How long one second of the standard case takes with general-purpose ODE crates, at equal
//! error.
//!
//! Each method is first run at falling tolerances until its waveforms are within 1e-6 of full
//! scale of a converged run; that tolerance is then timed, once with the 100,000 samples of the
//! waveforms and once for the solution alone. Printed beside each time: the error, the smooth
//! pieces, the located events and the steps. The general-purpose methods take no integrals for
//! figures: the least work that answers the question. Our run keeps its energy account, as always.
//!
//! `cargo bench --bench against_general_purpose`

#![expect(clippy::print_stdout, reason = "a bench speaks to the terminal")]

#[path = "../tests/plain/mod.rs"]
mod plain;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use plain::{Options, Outcome, cases, waveform_error};
use std::hint::black_box;
use wyebench::record::{Sample, Sampler};
use wyebench::setup::Setup;
use wyebench::sim::Simulator;

/// Wanted waveform error against full scale.
const WANTED_ERROR: f64 = 1e-6;

type Method = fn(&Setup, &Options) -> Outcome;

const METHODS: [(&str, Method); 3] = [
    ("ode_solvers Dopri5", plain::waveforms_dopri5),
    ("ode_solvers Dop853", plain::waveforms_dop853),
    ("diffsol tsit45", plain::waveforms_tsit45),
];

/// The loosest options of a method that reach the wanted error, with that error.
fn loosest(method: Method, setup: &Setup, exact: &Outcome) -> (Options, f64, Outcome) {
    let mut tolerance = 1e-3;
    loop {
        let options = Options::fast(tolerance);
        let outcome = method(setup, &options);
        let error = waveform_error(exact, &outcome);
        if error <= WANTED_ERROR || tolerance < 1e-12 {
            return (options, error, outcome);
        }
        tolerance *= 0.1_f64.sqrt();
    }
}

fn general_purpose(criterion: &mut Criterion) {
    let setup = cases::standard_case();
    let exact = plain::waveforms_dop853(&setup, &Options::tight());
    println!("standard case, 1 s, converged: {:?}", exact.work);
    let mut bare = setup.clone();
    bare.run.sample_s = setup.run.duration_s;
    let mut group = criterion.benchmark_group("standard case, 1 s");
    group.sample_size(10);
    for (name, method) in METHODS {
        let (options, error, outcome) = loosest(method, &setup, &exact);
        println!(
            "{name}: tolerance {:.0e}, error {error:.1e} of full scale, {:?}",
            options.tolerance, outcome.work
        );
        for (what, setup) in [("waveforms", &setup), ("solution", &bare)] {
            group.bench_function(BenchmarkId::new(name, what), |bencher| {
                bencher.iter(|| black_box(method(black_box(setup), &options)));
            });
        }
    }
    event_to_event(&setup, &exact, &mut group);
    group.finish();
}

/// The crate's own simulator on the same case: the same samples, taken as it goes.
fn event_to_event(
    setup: &Setup,
    exact: &Outcome,
    group: &mut criterion::BenchmarkGroup<'_, criterion::measurement::WallTime>,
) {
    let run = || {
        let mut samples = Vec::with_capacity(exact.samples.len());
        let mut sampler = Sampler::new(setup.run.sample_s, setup.run.duration_s, |s: &Sample| {
            samples.push(*s)
        });
        let mut simulator = Simulator::new(setup);
        simulator
            .run_until(setup.run.duration_s, &mut sampler)
            .expect("the standard case runs");
        (samples, *simulator.work())
    };
    let (samples, work) = run();
    let ours = Outcome {
        samples,
        ..exact.clone()
    };
    println!(
        "wyebench: error {:.1e} of full scale, {work:?}",
        waveform_error(exact, &ours)
    );
    group.bench_function(BenchmarkId::new("wyebench", "waveforms"), |bencher| {
        bencher.iter(|| black_box(run()).0.len())
    });
    group.bench_function(BenchmarkId::new("wyebench", "solution"), |bencher| {
        bencher.iter(|| {
            let mut simulator = Simulator::new(black_box(setup));
            simulator
                .run_until(setup.run.duration_s, &mut ())
                .expect("the standard case runs");
            simulator.speed_rad_s()
        });
    });
}

criterion_group!(benches, general_purpose);
criterion_main!(benches);
