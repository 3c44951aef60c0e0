//! The spectrum of a trace of a run against the published series of the ideal trapezoid.

#![expect(
    clippy::unwrap_used,
    reason = "a test stops where something is not as it should be"
)]

mod kit;

use kit::{RPM, close, number, plain_motor, reference, rows};
use wyebench::analysis::spectrum::{Spectrum, SpectrumWindow, of_tape};
use wyebench::record::{Quantity, Tape, Taping, Trace};
use wyebench::setup::Gates;
use wyebench::sim::Simulator;

/// The plain motor driven at 3000 rpm with all gates off: flat top 10 mV s/rad · ω.
fn driven() -> (Tape, f64) {
    let mut setup = plain_motor();
    setup.run.hold_speed = true;
    setup.run.start_speed_rad_s = 3000.0 * RPM;
    setup.bench.drive.gates = Gates::AllOff;
    let mut tape = Tape::new(100_000, setup.machine.connection);
    let mut sink = Taping {
        tape: &mut tape,
        spacing_s: 1e-5,
    };
    Simulator::new(&setup).run_until(0.05, &mut sink).unwrap();
    (tape, 0.01 * 3000.0 * RPM)
}

/// `machine_relations.toml`, ideal trapezoid (derived): b_n of a phase, and the magnitude between
/// two lines. The turn is read at 2048 angles, so the orders that 2048 folds onto one of these
/// are below 1e-6 of the flat top; the corners lie on the tape, the straight lines between are
/// exact.
#[test]
fn a_trapezoid_has_its_published_harmonics() {
    let (tape, flat_top_v) = driven();
    let table = reference("machine_relations.toml");
    let taken = |trace| -> Spectrum {
        of_tape(&tape, trace, 0.0487, 3, SpectrumWindow::Rectangular).unwrap()
    };
    let phase = taken(Trace::Of(Quantity::BackEmf(0)));
    let line = taken(Trace::LineBackEmf(1));
    assert_eq!((phase.turns, line.turns), (3, 3));
    for row in rows(&table, "trapezoid_harmonic") {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a small whole number"
        )]
        let order = number(row, "n") as usize;
        for (name, spectrum, key) in [
            ("phase", &phase, "phase_b_n"),
            ("line", &line, "ll_magnitude"),
        ] {
            close(
                &format!("{name}, order {order}"),
                spectrum.harmonic(order).unwrap() / flat_top_v,
                number(row, key).abs(),
                0.0,
                2e-5,
            );
        }
    }
    // Between the harmonics, and at the even ones, there is nothing.
    for (bin, amplitude) in phase.amplitudes.iter().enumerate().take(60) {
        if bin % 6 != 3 {
            assert!(
                amplitude.abs() < 1e-5 * flat_top_v,
                "bin {bin}: {amplitude}"
            );
        }
    }
}

/// Before a whole turn is on record there is no spectrum, rather than a wrong one.
#[test]
fn without_a_whole_turn_there_is_none() {
    let (tape, _) = driven();
    let trace = Trace::Of(Quantity::BackEmf(0));
    assert_eq!(of_tape(&tape, trace, 0.009, 3, SpectrumWindow::Hann), None);
    let one = of_tape(&tape, trace, 0.011, 3, SpectrumWindow::Hann).unwrap();
    assert_eq!(one.turns, 1);
}
