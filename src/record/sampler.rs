//! Samples of a run at the exact multiples of a spacing.

use super::Sample;
use crate::sim::{Piece, Sink};

/// A sink that hands on the solution at t = 0, `spacing`, 2 `spacing`, … up to the end.
///
/// The spacing has no influence on the run: samples are read from the solution. A sample that
/// falls on an event shows the circuit after it.
#[derive(Debug)]
pub struct Sampler<F> {
    spacing_s: f64,
    /// Samples a second where that is a whole number: n over it is the decimal a person expects.
    per_second: Option<f64>,
    end_s: f64,
    next: u64,
    take: F,
}

impl<F: FnMut(&Sample)> Sampler<F> {
    /// Samples every `spacing_s` until `end_s`, both in s and above 0.
    pub fn new(spacing_s: f64, end_s: f64, take: F) -> Self {
        let per_second = (1.0 / spacing_s).round();
        let whole = (per_second * spacing_s - 1.0).abs() < 1e-14;
        Self {
            spacing_s,
            per_second: whole.then_some(per_second),
            end_s,
            next: 0,
            take,
        }
    }

    /// Time of the next sample in s.
    fn next_s(&self) -> f64 {
        #[expect(
            clippy::cast_precision_loss,
            reason = "a count of samples stays below 2^53"
        )]
        let n = self.next as f64;
        self.per_second
            .map_or(n * self.spacing_s, |per_second| n / per_second)
    }
}

impl<F: FnMut(&Sample)> Sink for Sampler<F> {
    fn piece(&mut self, piece: &Piece<'_>) {
        // an event within rounding of the sample comes first
        let slack_s = 1e-9 * self.spacing_s;
        let is_last = piece.end_s() >= self.end_s;
        loop {
            let at_s = self.next_s();
            let belongs = at_s < piece.end_s() - slack_s || is_last && at_s <= self.end_s + slack_s;
            if !belongs {
                break;
            }
            let mut sample = piece.sample(at_s);
            sample.time_s = at_s;
            (self.take)(&sample);
            self.next += 1;
        }
    }
}
