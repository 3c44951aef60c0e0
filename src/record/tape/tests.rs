//! Tests of the tape.

use super::*;
use crate::record::EventKind;

fn sample(time_s: f64, torque_nm: f64) -> Sample {
    Sample {
        time_s,
        theta_mech_rad: 10.0 * time_s,
        theta_elec_rad: 70.0 * time_s,
        speed_rad_s: 10.0,
        phase_current_a: [1.0, -1.0, 0.0],
        line_current_a: [1.0, -1.0, 0.0],
        back_emf_v: [3.0, -2.0, 0.5],
        terminal_v: [0.0; 3],
        em_torque_nm: torque_nm,
        torque_nm,
        supply_current_a: 1.0,
        supply_voltage_v: 11.1,
        step: 1,
        legs: [LegState::High, LegState::Low, LegState::Floating],
    }
}

fn event(time_s: f64, kind: EventKind, step: u8) -> Event {
    Event {
        time_s,
        kind,
        step,
        legs: [LegState::Floating; 3],
    }
}

const TORQUE: Trace = Trace::Of(Quantity::Torque);

/// A tape of that many samples a millisecond apart, longer than two parts.
fn long(n: u32) -> Tape {
    let mut tape = Tape::new(1_000_000, Connection::Star);
    for k in 0..n {
        tape.push(&sample(
            f64::from(k) * 1e-3,
            if k == 20_000 { 9.0 } else { 1.0 },
        ));
    }
    tape
}

/// A column of very many samples holds all that lies between its marks, and of its neighbours no
/// more than fifteen samples.
#[test]
fn a_wide_column_loses_nothing() {
    let tape = long(40_000);
    let seen = |from: f64, to: f64| {
        let marks = [from, to].map(|k| tape.mark((k + 0.5) * 1e-3));
        tape.column(TORQUE, marks[0], marks[1]).unwrap().max > 8.0
    };
    // the peak is sample 20000; samples after the first mark up to the second are between them
    for from in [18_000.0, 19_990.0, 19_999.0] {
        assert!(seen(from, 20_400.0) && seen(17_000.0, 20_000.0), "{from}");
    }
    assert!(!seen(17_000.0, 19_983.0) && !seen(20_016.0, 22_000.0));
}

/// Columns side by side are the columns one by one, narrow and wide, with gaps, and backwards.
#[test]
fn columns_are_the_same_one_by_one() {
    let mut tape = Tape::new(100_000, Connection::Star);
    for k in 0..30_000 {
        let x = f64::from(k);
        tape.push(&sample(x * 1e-3, (x * 0.37) % 11.0));
    }
    for spacing_s in [0.000_4, 0.0031, 0.7, -0.0031] {
        let edges: Vec<Option<Mark>> = (0..40)
            .map(|k| (k % 9 != 4).then(|| tape.mark(15.0 + f64::from(k) * spacing_s)))
            .collect();
        let one_by_one: Vec<Option<MinMax>> = edges
            .windows(2)
            .map(|pair| tape.column(TORQUE, pair[0]?, pair[1]?))
            .collect();
        assert_eq!(tape.columns(TORQUE, &edges), one_by_one, "{spacing_s}");
    }
}

/// A mark found from an earlier one is the mark found from nothing.
#[test]
fn marks_are_the_same_from_anywhere() {
    let tape = long(40_000);
    for from_s in [-1.0, 0.0, 0.000_5, 16.383, 30.0] {
        let earlier = tape.mark(from_s);
        for time_s in [
            from_s,
            from_s + 1e-4,
            from_s + 0.001,
            16.384,
            39.999,
            50.0,
            -3.0,
        ] {
            assert_eq!(tape.mark_after(earlier, time_s), tape.mark(time_s));
        }
    }
}

/// A peak of one sample is in every range that holds it, across the parts, and in no other.
#[test]
fn a_peak_is_seen_through_all_parts() {
    let tape = long(40_000);
    let range = |from_s: f64, to_s: f64| {
        let found = tape.min_max(TORQUE, tape.mark(from_s), tape.mark(to_s));
        found.map(|range| [range.min, range.max])
    };
    assert_eq!(range(0.0, 39.9), Some([1.0, 9.0]));
    // the ends lie a tenth of a sample off the peak
    let [low, high] = range(19.9999, 20.0001).unwrap();
    assert!(
        (low - 8.2).abs() < 1e-6 && (high - 9.0).abs() < 1e-12,
        "{low} {high}"
    );
    assert_eq!(range(20.0011, 39.0), Some([1.0, 1.0]));
    assert_eq!(range(50.0, 60.0), None, "nothing after the end");
}

#[test]
fn the_oldest_part_goes_when_the_tape_is_full() {
    let mut tape = Tape::new(PART, Connection::Star);
    for k in 0..(3 * PART) {
        tape.push(&sample(k as f64, if k < PART { 7.0 } else { 2.0 }));
    }
    let range_s = tape.range_s().unwrap();
    assert_eq!(range_s, [PART as f64, 3.0 * PART as f64 - 1.0]);
    // its room is written anew, and nothing of what it held is left in it
    let [first, last] = range_s.map(|time_s| tape.mark(time_s));
    assert_eq!(tape.min_max(TORQUE, first, last), Some(MinMax::of(2.0)));
    tape.push(&sample(5.0, 0.0));
    assert_eq!(tape.range_s(), Some([5.0, 5.0]), "another run");
}

/// Two samples of one instant: the value jumps there, and the second counts from there on.
#[test]
fn a_jump_stays_a_jump() {
    let mut tape = Tape::new(10, Connection::Star);
    for (time_s, torque_nm) in [(0.0, 0.0), (1.0, 0.0), (1.0, 5.0), (2.0, 5.0)] {
        tape.push(&sample(time_s, torque_nm));
    }
    assert_eq!(tape.value(TORQUE, 0.999_999), Some(0.0));
    assert_eq!(tape.value(TORQUE, 1.0), Some(5.0));
    let at_the_jump = tape
        .min_max(TORQUE, tape.mark(0.9), tape.mark(1.1))
        .unwrap();
    assert_eq!([at_the_jump.min, at_the_jump.max], [0.0, 5.0]);
    assert!((tape.mean_torque_nm(0.5, 2.0).unwrap() - 5.0 / 1.5).abs() < 1e-12);
}

/// Legs and step come from the events, not from the sample before.
#[test]
fn legs_and_step_are_those_of_the_last_event() {
    let mut tape = Tape::new(10, Connection::Star);
    tape.push(&sample(0.0, 0.0));
    tape.push_event(event(0.4, EventKind::StepChange, 2));
    tape.push(&sample(1.0, 0.0));
    assert_eq!(tape.at(0.399).unwrap().step, 1);
    let now = tape.at(0.4).unwrap();
    assert_eq!((now.step, now.legs), (2, [LegState::Floating; 3]));
    assert!(
        (now.theta_mech_rad - 4.0).abs() < 1e-12,
        "the rotor moves on"
    );
    assert_eq!(tape.at(9.0).unwrap().time_s, 1.0, "the last after it");
}

#[test]
fn events_are_found_on_either_side_through_all_parts() {
    let mut tape = Tape::new(1_000_000, Connection::Star);
    for k in 0..40_000_u32 {
        tape.push(&sample(f64::from(k), 0.0));
        let kind = if k % 10_000 == 0 {
            EventKind::StepChange
        } else {
            EventKind::PwmOn
        };
        tape.push_event(event(f64::from(k) + 0.5, kind, 1));
    }
    let step = |time_s: f64, later: bool| {
        tape.event(time_s, later, |event| event.kind == EventKind::StepChange)
            .map(|event| event.time_s)
    };
    assert_eq!(step(15_000.0, true), Some(20_000.5));
    assert_eq!(step(20_000.5, true), Some(30_000.5));
    assert_eq!(step(20_000.5, false), Some(10_000.5));
    assert_eq!((step(0.5, false), step(30_000.5, true)), (None, None));
    let between: Vec<f64> = tape
        .events_between(16_380.5, 16_384.5, 9)
        .map(|event| event.time_s)
        .collect();
    assert_eq!(between, [16_381.5, 16_382.5, 16_383.5, 16_384.5]);
}

/// The test rotor makes 10 rad a second: a turn takes 2π/10 s, forwards as backwards.
#[test]
fn a_turn_is_a_turn_from_anywhere() {
    let tape = long(40_000);
    let turn = std::f64::consts::TAU;
    let on = tape
        .turned(Quantity::ThetaMech, 12.3456, turn, true)
        .unwrap();
    assert!((on - 12.3456 - turn / 10.0).abs() < 1e-9, "{on}");
    let back = tape.turned(Quantity::ThetaMech, on, turn, false).unwrap();
    assert!((back - 12.3456).abs() < 1e-9, "{back}");
    assert_eq!(tape.turned(Quantity::ThetaMech, 39.9, turn, true), None);
    let at = tape.instant_of(Quantity::ThetaElec, 1400.0, 5.0, 39.0);
    assert!((at - 20.0).abs() < 1e-9, "{at}");
}

/// A star's line EMF is the difference of two phases; a delta's is a winding's less a third of
/// what drives the loop, so that the three sum to zero.
#[test]
fn line_emf_follows_the_connection() {
    for (connection, wanted) in [
        (Connection::Star, [5.0, -2.5, -2.5]),
        (Connection::Delta, [2.5, -2.5, 0.0]),
    ] {
        let mut tape = Tape::new(10, connection);
        tape.push(&sample(0.0, 0.0));
        for (pair, wanted) in (0..3).zip(wanted) {
            let got = tape.value(Trace::LineBackEmf(pair), 0.0).unwrap();
            assert!((got - wanted).abs() < 1e-12, "{connection:?} {pair} {got}");
        }
    }
}

/// A copy keeps what was there while the tape goes on.
#[test]
fn a_copy_stays_as_it_was() {
    let mut tape = long(100);
    let kept = tape.clone();
    tape.push(&sample(0.2, 7.0));
    assert_eq!((kept.n_samples(), tape.n_samples()), (100, 101));
    assert_eq!(kept.value(TORQUE, 0.2), None);
}

/// A part that begins with an event, before its first sample, goes on with the integral of the
/// torque: the mean once restarted there, and a window over the seam had an impossible one.
#[test]
fn the_mean_torque_goes_on_over_a_part_that_begins_with_an_event() {
    let mut tape = Tape::new(1_000_000, Connection::Star);
    for k in 0..40_000_u32 {
        let time_s = f64::from(k) * 1e-3;
        if (k as usize).is_multiple_of(PART) {
            tape.push_event(event(time_s, EventKind::StepChange, 1));
        }
        tape.push(&sample(time_s, 1.0 + 0.5 * f64::from(k % 2)));
    }
    for from in [0_u32, 5_000, 16_380, 20_000, 32_000, 38_999] {
        let from_s = f64::from(from) * 1e-3;
        let mean_nm = tape.mean_torque_nm(from_s, from_s + 1.0).unwrap();
        assert!((mean_nm - 1.25).abs() < 1e-9, "{from}: {mean_nm}");
    }
}
