//! How many combinations of parts are tried in a second? The invented parts against their goal, on
//! one core; a search may have 200,000.
//!
//! `cargo bench --bench choose`

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use wyebench::choose::{Choice, Goal, Parts, example_goal, example_parts};

fn choosing(criterion: &mut Criterion) {
    let goal = Goal::parse(example_goal(), "goal").expect("a goal");
    let parts = Parts::parse(example_parts(), "parts").expect("parts");
    let choice = Choice::new(goal, parts).expect("a choice");
    let n = choice.n_combinations();
    let mut group = criterion.benchmark_group("choose");
    group.sample_size(10);
    group.throughput(Throughput::Elements(n));
    group.bench_function("the invented parts", |bencher| {
        bencher.iter(|| {
            for idx in 0..n {
                black_box(choice.evaluate(idx));
            }
        });
    });
    group.finish();
}

criterion_group!(benches, choosing);
criterion_main!(benches);
