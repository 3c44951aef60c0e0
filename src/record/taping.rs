//! A run onto a tape.

use super::{Event, Sample, Tape};
use crate::sim::{Piece, Sink};

/// A sink that puts onto a tape both ends of every piece, where the curves have their corners
/// and jumps, the solution between them no further apart than a spacing, and every event.
#[derive(Debug)]
pub struct Taping<'a> {
    /// Where it goes.
    pub tape: &'a mut Tape,
    /// Most time between two samples in s, above 0.
    pub spacing_s: f64,
}

impl Sink for Taping<'_> {
    fn piece(&mut self, piece: &Piece<'_>) {
        let (start_s, end_s) = (piece.start_s(), piece.end_s());
        let mut start = piece.sample(start_s);
        start.time_s = start_s;
        if self.tape.last().is_none_or(|last| jumps(last, &start)) {
            self.tape.push(&start);
        }
        // Equal parts, none of them longer than the spacing, but for rounding.
        let length_s = end_s - start_s;
        let n_parts = (length_s / self.spacing_s - 1e-6).ceil();
        let mut n = 1.0;
        while n < n_parts {
            let at_s = start_s + length_s * (n / n_parts);
            let mut sample = piece.sample(at_s);
            sample.time_s = at_s;
            self.tape.push(&sample);
            n += 1.0;
        }
        if end_s > start_s {
            let mut end = piece.sample(end_s);
            end.time_s = end_s;
            self.tape.push(&end);
        }
    }

    fn event(&mut self, event: &Event) {
        self.tape.push_event(*event);
    }
}

/// Whether a piece begins with other values than the one before ended with.
fn jumps(last: &Sample, start: &Sample) -> bool {
    let values = |s: &Sample| {
        let ([a, b, c], [d, e, f], [u, v, w]) = (s.terminal_v, s.line_current_a, s.back_emf_v);
        [
            s.time_s,
            a,
            b,
            c,
            d,
            e,
            f,
            u,
            v,
            w,
            s.torque_nm,
            s.supply_current_a,
        ]
    };
    values(last)
        .iter()
        .zip(values(start))
        .any(|(a, b)| (a - b).abs() > 1e-9 * (1.0 + a.abs().max(b.abs())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Quantity, Trace};
    use crate::setup::{Setup, built_in};
    use crate::sim::Simulator;

    /// A terminal jumps at a PWM edge: a tenth of a nanosecond to either side the tape has the
    /// value of that side.
    #[test]
    fn voltages_jump_at_the_very_edge() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let mut tape = Tape::new(100_000, setup.machine.connection);
        let mut sink = Taping {
            tape: &mut tape,
            spacing_s: 1e-5,
        };
        Simulator::new(&setup).run_until(0.01, &mut sink).unwrap();
        let edge = tape
            .event(0.005, true, |event| {
                event.kind == crate::record::EventKind::PwmOff
            })
            .unwrap();
        let terminal = |time_s: f64| {
            [0, 1, 2].map(|leg| {
                tape.value(Trace::Of(Quantity::Terminal(leg)), time_s)
                    .unwrap()
            })
        };
        let (before, after) = (terminal(edge.time_s - 1e-10), terminal(edge.time_s + 1e-10));
        let most = before
            .iter()
            .zip(after)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        assert!(most > 5.0, "{before:?} {after:?}");
        let times = tape.stretch(0.0, 0.01);
        assert!(
            times
                .windows(2)
                .all(|pair| pair[0].time_s <= pair[1].time_s)
        );
    }
}
