//! How long does it take to compute a machine from its dimensions? A change of one of them in
//! the window should not be felt: 20 ms on one core is the goal, 5 ms would be excellent.
//!
//! `cargo bench --bench computed`

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use wyebench::machine::{Inside, Machine};
use wyebench::setup::Setup;

/// The outrunner of the workshop, of which only dimensions are known.
fn aerator(slots: u32, poles: u32) -> Setup {
    let text = format!(
        r#"
format = 1
title = "Pond aerator, computed"
[machine]
construction = "outrunner"
slots = {slots}
poles = {poles}
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
slot_opening = "{opening} mm"
tooth_tip = "1 mm"
slot_depth = "7.5 mm"
tooth_width = "{tooth} mm"
wire_diameter = "0.6 mm"
[machine.rotor]
inertia = "1.2e-5 kg m2"
[supply]
voltage = "11.1 V"
"#,
        opening = 23.4 / f64::from(slots),
        tooth = 30.0 / f64::from(slots),
    );
    Setup::parse(&text, "aerator").expect("the aerator is a good setup")
}

fn benches(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("computed");
    group.sample_size(20);
    for (slots, poles) in [(12, 14), (12, 10), (36, 42)] {
        let setup = aerator(slots, poles);
        group.bench_function(format!("machine {slots}/{poles}"), |bencher| {
            bencher.iter(|| Machine::new(black_box(&setup.machine)));
        });
    }
    let setup = aerator(12, 14);
    let inside = Inside::of(&setup.machine).expect("there is a geometry");
    group.bench_function("gap field 12/14, 360 samples", |bencher| {
        bencher.iter(|| black_box(&inside).gap_field(360));
    });
    group.finish();
}

criterion_group!(computed, benches);
criterion_main!(computed);
