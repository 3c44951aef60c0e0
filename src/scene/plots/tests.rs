//! Tests of the plots.

use super::*;
use crate::drive::LegState;
use crate::record::{Event, EventKind, Sample};
use crate::setup::Connection;

const SIZE: [f64; 2] = [560.0, 400.0];

/// A rotor of one pole pair that makes a hundred electrical turns a second; the torque is given.
fn tape(n: u32, torque_nm: impl Fn(u32) -> f64) -> Tape {
    let mut tape = Tape::new(2_000_000, Connection::Star);
    for k in 0..n {
        let time_s = f64::from(k) * 1e-5;
        let theta = std::f64::consts::TAU * 100.0 * time_s;
        tape.push(&Sample {
            time_s,
            theta_mech_rad: theta,
            theta_elec_rad: theta,
            speed_rad_s: 628.3,
            phase_current_a: [0, 1, 2].map(|k| libm::sin(theta - f64::from(k) * 2.094_395)),
            line_current_a: [0, 1, 2].map(|k| libm::sin(theta - f64::from(k) * 2.094_395)),
            back_emf_v: [0.0; 3],
            terminal_v: [0.0; 3],
            em_torque_nm: torque_nm(k),
            torque_nm: torque_nm(k),
            supply_current_a: 1.0,
            supply_voltage_v: 11.1,
            step: 1,
            legs: [LegState::High, LegState::Low, LegState::Floating],
        });
    }
    tape
}

fn view<'a>(tape: &'a Tape, rows: &'a [Row], axis: Axis) -> PlotView<'a> {
    PlotView {
        tape,
        now_s: tape.range_s().unwrap()[1],
        rows,
        axis,
        cursors: [None; 2],
        kept: None,
        lit: None,
    }
}

/// Height that the traces of a scene reach over, in points.
fn reach(scene: &Scene) -> f64 {
    let ends = scene.shapes.iter().filter_map(|shape| match shape {
        Shape::Trace { ranges, .. } => Some(ranges.iter().flatten().copied()),
        _ => None,
    });
    let (low, high) = ends.flatten().fold((f64::MAX, f64::MIN), |(low, high), y| {
        (low.min(y), high.max(y))
    });
    high - low
}

fn words(scene: &Scene) -> Vec<&str> {
    scene
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Text(text) => Some(text.words.as_str()),
            _ => None,
        })
        .collect()
}

/// One sample among a hundred thousand, in a picture 500 columns wide: at every zoom that has
/// it in sight the curve reaches as high.
#[test]
fn a_peak_is_seen_at_every_zoom() {
    let tape = tape(100_000, |k| if k == 43_210 { 0.009 } else { 0.001 });
    for length_s in [1.0, 0.3, 0.01, 1e-4, 3e-5] {
        let axis = Axis::Time {
            from: 0.432_1 - 0.4 * length_s,
            to: 0.432_1 + 0.6 * length_s,
        };
        let scene = plots(&view(&tape, &[Row::Torque], axis), SIZE, &Theme::DARK);
        // 8 of a scale of 0 to 10 mNm over some 340 points
        assert!(reach(&scene) > 250.0, "{length_s}: {}", reach(&scene));
    }
    let axis = Axis::Time { from: 0.0, to: 0.4 };
    let scene = plots(&view(&tape, &[Row::Torque], axis), SIZE, &Theme::DARK);
    assert!(reach(&scene) < 1.0, "no peak where there is none");
}

/// The work goes with the width of the picture: ten times the samples are no more shapes.
#[test]
fn more_samples_are_not_more_shapes() {
    let n_columns = |n: u32| {
        let tape = tape(n, |k| f64::from(k % 7) * 1e-3);
        let axis = Axis::Time {
            from: 0.0,
            to: f64::from(n) * 1e-5,
        };
        let rows = [Row::LeadCurrents, Row::Torque, Row::Legs];
        let scene = plots(&view(&tape, &rows, axis), SIZE, &Theme::DARK);
        let columns = scene.shapes.iter().map(|shape| match shape {
            Shape::Trace { ranges, .. } => ranges.len(),
            _ => 1,
        });
        columns.sum::<usize>()
    };
    // both so many that curves are bands
    let (few, many) = (n_columns(400_000), n_columns(800_000));
    assert!(many.abs_diff(few) * 20 < few, "{few} {many}");
}

/// Folded, the last turns lie over each other: a sine is one curve from 0° to 360°, however many.
#[test]
fn turns_lie_over_each_other() {
    let tape = tape(10_000, |_| 0.0);
    for turns in [1, 3] {
        let axis = Axis::Angle {
            from: 0.0,
            to: 360.0,
            turns,
        };
        let now = view(&tape, &[Row::LeadCurrents], axis);
        let [left, right] = span_points(SIZE[0]);
        let sweeps = sweeps(&axis, &tape, now.now_s, whole(right - left));
        // the turn that goes on, and the ones before it
        assert_eq!(sweeps.len(), turns as usize + 1);
        for sweep in &sweeps[..turns as usize] {
            for (edge, mark) in sweep.iter().enumerate() {
                let share = count(edge) / count(sweep.len() - 1);
                let time_s = mark.unwrap().time_s;
                let turned = (time_s * 100.0).fract();
                let off = libm::cos(std::f64::consts::TAU * (turned - share));
                assert!(off > 1.0 - 1e-10, "{edge} {turned} {share}");
            }
        }
        let scene = plots(&now, SIZE, &Theme::LIGHT);
        assert!(words(&scene).contains(&"360°"), "{:?}", words(&scene));
    }
}

/// Between two samples a leg changes at the very instant of the event.
#[test]
fn legs_change_where_the_event_is() {
    let mut tape = tape(100, |_| 0.0);
    let event = |time_s: f64, kind, u: LegState| Event {
        time_s,
        kind,
        step: 1,
        legs: [u, LegState::Low, LegState::Floating],
    };
    tape = {
        let mut other = Tape::new(1000, Connection::Star);
        for sample in tape.stretch(0.0, 1.0) {
            if (sample.time_s - 5e-4).abs() < 1e-9 {
                other.push_event(event(4.963e-4, EventKind::PwmOff, LegState::Floating));
            }
            other.push(&sample);
            if sample.time_s == 0.0 {
                other.push_event(event(0.0, EventKind::Start, LegState::High));
            }
        }
        other
    };
    let axis = Axis::Time {
        from: 0.0,
        to: 9.9e-4,
    };
    let scene = plots(&view(&tape, &[Row::Legs], axis), SIZE, &Theme::DARK);
    let [left, right] = span_points(SIZE[0]);
    let wanted = left + 4.963 / 9.9 * (right - left);
    let bars: Vec<f64> = scene
        .shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Quad { corners, fill, .. } if *fill == Theme::DARK.ink => Some(corners[2].x),
            _ => None,
        })
        .collect();
    assert!(
        bars.iter().any(|x| (x - wanted).abs() < 1e-6),
        "{wanted} {bars:?}"
    );
}

/// Mean and ripple over whole turns: a torque of 2 mNm with a triangle of ±1 mNm on it.
#[test]
fn the_torque_row_says_mean_and_ripple() {
    let tape = tape(10_001, |k| {
        let phase = f64::from(k % 100) / 100.0;
        2e-3 + 1e-3 * (4.0 * (phase - 0.5).abs() - 1.0)
    });
    let axis = Axis::Time {
        from: 0.065,
        to: 0.1,
    };
    let scene = plots(&view(&tape, &[Row::Torque], axis), SIZE, &Theme::DARK);
    let wanted = "torque · mNm     mean 2.00, ripple 2.00 mNm over 3 electrical turns";
    assert!(words(&scene).contains(&wanted), "{:?}", words(&scene));
}

/// Cursors read every curve where they stand, and the difference.
#[test]
fn cursors_read_values_and_differences() {
    let tape = tape(10_000, |k| f64::from(k) * 1e-6);
    let axis = Axis::Time { from: 0.0, to: 0.1 };
    let mut now = view(&tape, &[Row::LeadCurrents, Row::Torque], axis);
    now.cursors = [Some(0.022_5), Some(0.062_5)];
    let scene = plots(&now, SIZE, &Theme::DARK);
    let words = words(&scene);
    for wanted in ["U 1.00", "2.25", "6.25", "torque · mNm     B − A   4.00"] {
        assert!(words.contains(&wanted), "{wanted}: {words:?}");
    }
    assert!(
        words.iter().any(|words| words.ends_with("1/Δt 25.0 Hz")),
        "{words:?}"
    );
}

/// Kept traces are drawn beside the present ones, shifted to where the rotor stands alike.
#[test]
fn kept_traces_are_a_double_line() {
    let tape = tape(10_000, |_| 1e-3);
    let kept = tape.clone();
    let axis = Axis::Time {
        from: 0.05,
        to: 0.1,
    };
    let mut now = view(&tape, &[Row::Torque], axis);
    let n_traces = |scene: &Scene| {
        let traces = scene
            .shapes
            .iter()
            .filter(|shape| matches!(shape, Shape::Trace { .. }));
        traces.count()
    };
    let alone = n_traces(&plots(&now, SIZE, &Theme::DARK));
    now.kept = Some(Kept {
        tape: &kept,
        now_s: 0.09,
        later_s: 0.01,
    });
    let both = n_traces(&plots(&now, SIZE, &Theme::DARK));
    assert_eq!((alone, both), (1, 3));
}
