//! How long does a comparison of many machines take? 10,000 candidates without runs in 10 s on two
//! cores is the goal; here they run on one. With runs: how many of 50 ms a second, on one core and
//! on two threads.
//!
//! `cargo bench --bench compare`

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rayon::prelude::*;
use wyebench::compare::{Axes, Comparison};
use wyebench::setup::{Connection, Setup};

/// An outrunner of which only dimensions are known, a run of 50 ms.
fn aerator() -> Setup {
    let text = r#"
format = 1
title = "Pond aerator, computed"
[machine]
construction = "outrunner"
slots = 12
poles = 14
[machine.emf]
shape = "computed"
[machine.winding]
turns = 9
[machine.geometry]
bore_radius = "14 mm"
air_gap = "0.7 mm"
magnet_thickness = "2.5 mm"
magnet_arc = 0.80
magnet_remanence = "1.22 T"
stack_length = "30 mm"
slot_opening = "1.95 mm"
tooth_tip = "1 mm"
slot_depth = "7.5 mm"
tooth_width = "2.2 mm"
wire_diameter = "0.6 mm"
[machine.rotor]
inertia = "1.2e-5 kg m2"
[supply]
voltage = "11.1 V"
[load]
constant = "10 mNm"
[run]
duration = "50 ms"
start_speed = "2000 rpm"
measure = "20 ms"
"#;
    Setup::parse(text, "bench").expect("a setup")
}

fn axes(turns: std::ops::RangeInclusive<u32>, arcs: &[f64]) -> Axes {
    Axes {
        slots: vec![9, 12, 15, 18, 21, 24],
        poles: (6..=26).step_by(2).collect(),
        magnet_arcs: arcs.iter().copied().map(Some).collect(),
        layers: vec![2],
        spans: vec![1],
        connections: vec![Connection::Star, Connection::Delta],
        turns: turns.map(Some).collect(),
        wires_m: vec![Some(0.4e-3), Some(0.5e-3), Some(0.6e-3)],
    }
}

fn all(comparison: &Comparison) -> usize {
    (0..comparison.axes().n_groups())
        .map(|group| comparison.group(group, &|| false).len())
        .sum()
}

/// The same, group by group on the threads of the pool that this runs in.
fn all_at_once(comparison: &Comparison) -> usize {
    let groups: Vec<u64> = (0..comparison.axes().n_groups()).collect();
    groups
        .par_iter()
        .map(|&group| comparison.group(group, &|| false).len())
        .sum()
}

fn bench(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("compare");
    group.sample_size(10);
    let many = Comparison::new(aerator(), axes(5..=17, &[0.75, 0.8]), Some(0.1), false);
    let many = many.expect("a comparison");
    group.throughput(Throughput::Elements(many.axes().n_candidates()));
    group.bench_function(
        format!(
            "{} candidates, no run, one core",
            many.axes().n_candidates()
        ),
        |bencher| bencher.iter(|| black_box(all(&many))),
    );
    let mut few = axes(9..=9, &[0.8]);
    few.slots = vec![12];
    few.poles = vec![8, 10, 14, 16];
    few.connections.truncate(1);
    let few = Comparison::new(aerator(), few, Some(0.1), true).expect("a comparison");
    group.throughput(Throughput::Elements(few.axes().n_candidates()));
    group.bench_function("runs of 50 ms, one core", |bencher| {
        bencher.iter(|| black_box(all(&few)));
    });
    let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build();
    let pool = pool.expect("two threads");
    group.bench_function("runs of 50 ms, two threads", |bencher| {
        bencher.iter(|| pool.install(|| black_box(all_at_once(&few))));
    });
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
