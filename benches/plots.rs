//! How long does a frame with ten curves take while a person pans, when a thousand, a hundred
//! thousand or a million samples are on record?
//!
//! `cargo bench --bench plots`. What is timed is all that the processor does for the picture:
//! rows, axis, legs and the instances for the painters. It should not grow with the samples.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use wyebench::drive::LegState;
use wyebench::record::{Event, EventKind, Sample, Tape};
use wyebench::scene::Theme;
use wyebench::scene::plots::{Axis, PlotView, Row, plots};
use wyebench::setup::Connection;
use wyebench::view::{Batches, Camera};

/// Three currents, three back-EMFs, three terminal voltages and the torque.
const ROWS: [Row; 5] = [
    Row::LeadCurrents,
    Row::PhaseBackEmf,
    Row::TerminalVoltages,
    Row::Torque,
    Row::Legs,
];

/// A million samples are 2.5 s of a drive that chops at 20 kHz, twenty samples a period.
fn tape(n_samples: u32) -> Tape {
    let mut tape = Tape::new(2_000_000, Connection::Star);
    for k in 0..n_samples {
        let time_s = f64::from(k) * 2.5e-6;
        let theta = std::f64::consts::TAU * 700.0 * time_s;
        let ripple = f64::from(k % 20) / 20.0;
        let wave = [0, 1, 2].map(|phase| libm::sin(theta - 2.0944 * f64::from(phase)));
        let legs = if k % 20 < 12 {
            [LegState::High, LegState::Low, LegState::Floating]
        } else {
            [LegState::Floating, LegState::Low, LegState::Floating]
        };
        tape.push(&Sample {
            time_s,
            theta_mech_rad: theta / 7.0,
            theta_elec_rad: theta,
            speed_rad_s: 628.0,
            phase_current_a: wave.map(|wave| 4.0 * wave + ripple),
            line_current_a: wave.map(|wave| 4.0 * wave + ripple),
            back_emf_v: wave.map(|wave| 3.3 * wave),
            terminal_v: wave.map(|wave| 5.5 + 5.5 * wave * ripple),
            em_torque_nm: 0.02 + 0.01 * ripple,
            torque_nm: 0.02 + 0.01 * ripple,
            supply_current_a: 1.1,
            supply_voltage_v: 11.1,
            step: 1,
            legs,
        });
        if k % 20 == 0 || k % 20 == 12 {
            tape.push_event(Event {
                time_s,
                kind: if k % 20 == 0 {
                    EventKind::PwmOn
                } else {
                    EventKind::PwmOff
                },
                step: 1,
                legs,
            });
        }
    }
    tape
}

fn benches(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("ten curves, 1200 columns, panned");
    group.sample_size(20);
    for n_samples in [1_000, 100_000, 1_000_000] {
        let tape = tape(n_samples);
        let length_s = f64::from(n_samples) * 2.5e-6;
        for (name, part) in [("all in sight", 0.95), ("a thousandth in sight", 0.001)] {
            let mut frame = 0_u32;
            group.bench_function(BenchmarkId::new(name, n_samples), |bencher| {
                bencher.iter(|| {
                    frame = (frame + 1) % 100;
                    let from = length_s * (1.0 - part) * f64::from(frame) / 100.0;
                    let view = PlotView {
                        tape: &tape,
                        now_s: from + 0.7 * part * length_s,
                        rows: &ROWS,
                        axis: Axis::Time {
                            from,
                            to: from + part * length_s,
                        },
                        cursors: [None; 2],
                        kept: None,
                        lit: None,
                    };
                    let size = [1260.0, 800.0];
                    let scene = plots(&view, size, &Theme::DARK);
                    let camera = Camera::fit(&scene, size, 1.0);
                    black_box(Batches::new(&scene, &camera))
                });
            });
        }
    }
    group.finish();
}

criterion_group!(all, benches);
criterion_main!(all);
