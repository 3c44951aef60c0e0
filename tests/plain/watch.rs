//! Looking at each step the integrator takes: has something happened, and what is recorded.

use super::piece::{MAX_WATCHED, Piece};
use super::recorder::Recorder;

/// One accepted step, times from the start of the piece.
#[derive(Clone, Copy, Debug)]
pub struct Step<const N: usize> {
    /// Start in s.
    pub x0: f64,
    /// States at the start.
    pub y0: [f64; N],
    /// Their derivatives.
    pub d0: [f64; N],
    /// End in s.
    pub x1: f64,
    /// States at the end.
    pub y1: [f64; N],
    /// Their derivatives.
    pub d1: [f64; N],
}

impl<const N: usize> Step<N> {
    /// States at `x` on the cubic through both ends.
    pub fn at(&self, x: f64) -> [f64; N] {
        let h = self.x1 - self.x0;
        let s = (x - self.x0) / h;
        let r = 1.0 - s;
        let (b0, b1) = (r * r * (1.0 + 2.0 * s), s * s * (3.0 - 2.0 * s));
        let (c0, c1) = (h * s * r * r, -h * s * s * r);
        let mut y = [0.0; N];
        for k in 0..N {
            y[k] = b0 * self.y0[k] + b1 * self.y1[k] + c0 * self.d0[k] + c1 * self.d1[k];
        }
        y
    }
}

/// Follows one piece.
#[derive(Debug)]
pub struct Watch<'a, const N: usize> {
    /// The equations.
    pub piece: &'a Piece,
    recorder: &'a mut Recorder,
    look_inside: usize,
    /// Time reached, from the start of the piece.
    pub x: f64,
    /// States there.
    pub y: [f64; N],
    /// Their derivatives; at the start of a piece only what the stepper puts there.
    pub d: [f64; N],
    values: [f64; MAX_WATCHED],
    /// The step in which something happened, and about when.
    pub hit: Option<(Step<N>, f64)>,
    /// Steps seen.
    pub steps: u64,
}

impl<'a, const N: usize> Watch<'a, N> {
    /// At the start of a piece.
    pub fn new(
        piece: &'a Piece,
        recorder: &'a mut Recorder,
        look_inside: usize,
        y: [f64; N],
    ) -> Self {
        let mut values = [f64::INFINITY; MAX_WATCHED];
        piece.watch_values(&y, &mut values);
        Self {
            piece,
            recorder,
            look_inside,
            x: 0.0,
            y,
            d: [0.0; N],
            values,
            hit: None,
            steps: 0,
        }
    }

    /// True where something has already happened at the start.
    pub fn over_at_start(&self) -> bool {
        self.values[..self.piece.watched().len()]
            .iter()
            .any(|&v| v <= 0.0)
    }

    /// Looks at a step that ends at `x`; true: something happened in it, stop.
    pub fn see(&mut self, x: f64, y: &[f64], d: &[f64]) -> bool {
        let mut step = Step {
            x0: self.x,
            y0: self.y,
            d0: self.d,
            x1: x,
            y1: [0.0; N],
            d1: [0.0; N],
        };
        step.y1.copy_from_slice(y);
        step.d1.copy_from_slice(d);
        self.steps += 1;
        if let Some(hit) = self.look(&step) {
            self.hit = Some((step, hit));
            return true;
        }
        self.accept(&step);
        false
    }

    /// Records a step without an event and goes to its end.
    pub fn accept(&mut self, step: &Step<N>) {
        self.recorder.take(self.piece, step);
        self.x = step.x1;
        self.y = step.y1;
        self.d = step.d1;
    }

    /// The first zero inside a step, on its cubic.
    fn look(&mut self, step: &Step<N>) -> Option<f64> {
        let n = self.piece.watched().len();
        let spacing = (step.x1 - step.x0) / (self.look_inside + 1) as f64;
        let mut before = (step.x0, self.values);
        let mut before_that: Option<(f64, [f64; MAX_WATCHED])> = None;
        let mut values = [f64::INFINITY; MAX_WATCHED];
        for j in 1..=self.look_inside + 1 {
            let last = j == self.look_inside + 1;
            let x = if last {
                step.x1
            } else {
                step.x0 + spacing * j as f64
            };
            if last {
                self.piece.watch_values(&step.y1, &mut values);
            } else {
                self.piece.watch_values(&step.at(x), &mut values);
            }
            // A dip between three points that may have touched zero.
            if let Some((x_a, a)) = before_that {
                let b = before.1;
                for k in 0..n {
                    if b[k] < a[k] && b[k] <= values[k] && b[k] > 0.0 {
                        let curve = a[k] - 2.0 * b[k] + values[k];
                        let slope = 0.5 * (values[k] - a[k]);
                        let dip = b[k] - 0.5 * slope * slope / curve;
                        if dip < 0.2 * b[k]
                            && let Some(x_low) = self.lowest(step, k, x_a, x)
                        {
                            return Some(self.zero(step, x_a, x_low));
                        }
                    }
                }
            }
            if values[..n].iter().any(|&v| v <= 0.0) {
                return Some(self.zero(step, before.0, x));
            }
            before_that = Some(before);
            before = (x, values);
        }
        self.values = values;
        None
    }

    /// Where function `k` is lowest between `a` and `b`, if it is below zero there.
    fn lowest(&self, step: &Step<N>, k: usize, a: f64, b: f64) -> Option<f64> {
        let shrink = 0.5 * (5.0_f64.sqrt() - 1.0);
        let value = |x: f64| {
            let mut values = [f64::INFINITY; MAX_WATCHED];
            self.piece.watch_values(&step.at(x), &mut values);
            values[k]
        };
        let (mut low, mut high) = (a, b);
        for _ in 0..60 {
            let (c, d) = (high - shrink * (high - low), low + shrink * (high - low));
            let (at_c, at_d) = (value(c), value(d));
            if at_c <= 0.0 {
                return Some(c);
            }
            if at_d <= 0.0 {
                return Some(d);
            }
            if at_c < at_d {
                high = d;
            } else {
                low = c;
            }
        }
        None
    }

    /// The zero of the least watched function between `a` (positive) and `b`, by the
    /// Illinois variant of false position.
    fn zero(&self, step: &Step<N>, a: f64, b: f64) -> f64 {
        let value = |x: f64| self.piece.least_watched(&step.at(x));
        let (mut low, mut high) = (a, b);
        let (mut at_low, mut at_high) = (value(a).max(0.0), value(b).min(0.0));
        let mut side = 0;
        for _ in 0..100 {
            if high - low <= 1e-13 * (step.x1 - step.x0) || at_low <= 0.0 {
                break;
            }
            let x = if at_low - at_high > 0.0 {
                (low * -at_high + high * at_low) / (at_low - at_high)
            } else {
                0.5 * (low + high)
            };
            let at = value(x);
            if at.abs() <= 0.1 * self.piece.event_margin {
                return x;
            }
            if at > 0.0 {
                (low, at_low) = (x, at);
                if side == 1 {
                    at_high *= 0.5;
                }
                side = 1;
            } else {
                (high, at_high) = (x, at);
                if side == -1 {
                    at_low *= 0.5;
                }
                side = -1;
            }
        }
        high
    }
}
