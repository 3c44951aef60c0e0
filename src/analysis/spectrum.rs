//! The amplitudes of a trace over whole electrical turns.
//!
//! The trace is given at equal steps of the electrical angle, not of time: a harmonic then falls
//! on a bin at any speed, even one that changes. What does not repeat with the turn, the chopping
//! above all, falls between bins and spreads over its neighbours.

use realfft::RealFftPlanner;

use crate::record::{Quantity, Tape, Trace};

/// How the ends of the stretch are weighed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpectrumWindow {
    /// All alike: a harmonic is one bin, and its amplitude exact.
    #[default]
    Rectangular,
    /// Rising and falling as half a cosine (Hann): a harmonic is three bins, the middle one its
    /// amplitude; what lies between bins spreads less far.
    Hann,
}

impl SpectrumWindow {
    /// Its name on the screen.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rectangular => "rectangular",
            Self::Hann => "Hann",
        }
    }

    /// Weight at a share (0 to 1) of the stretch.
    fn weight(self, share: f64) -> f64 {
        match self {
            Self::Rectangular => 1.0,
            Self::Hann => 0.5 - 0.5 * libm::cos(std::f64::consts::TAU * share),
        }
    }

    /// Mean of the weights, by which amplitudes are divided.
    const fn mean(self) -> f64 {
        match self {
            Self::Rectangular => 1.0,
            Self::Hann => 0.5,
        }
    }
}

/// Amplitudes (peak, not RMS) in the unit of the trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// Bin k lies at order k / `turns`; bin 0 is the mean, with its sign.
    pub amplitudes: Vec<f64>,
    /// Electrical turns that went in.
    pub turns: u32,
    /// How their ends were weighed.
    pub window: SpectrumWindow,
}

impl Spectrum {
    /// From values at equal steps of the electrical angle over that many whole turns, the end of
    /// the last left out. `None` for fewer than two values a turn or a value that is no number.
    #[must_use]
    pub fn new(values: &[f64], turns: u32, window: SpectrumWindow) -> Option<Self> {
        let n = values.len();
        let enough = turns > 0 && n >= 2 * turns as usize;
        if !enough || values.iter().any(|value| !value.is_finite()) {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "a number of values")]
        let length = n as f64;
        let mut weighed: Vec<f64> = values
            .iter()
            .enumerate()
            .map(|(k, value)| {
                #[expect(clippy::cast_precision_loss, reason = "a number of values")]
                let share = k as f64 / length;
                value * window.weight(share)
            })
            .collect();
        let transform = RealFftPlanner::<f64>::new().plan_fft_forward(n);
        let mut bins = transform.make_output_vec();
        transform.process(&mut weighed, &mut bins).ok()?;
        let scale = 1.0 / (length * window.mean());
        let amplitudes = bins
            .iter()
            .enumerate()
            .map(|(k, bin)| match k {
                0 => bin.re * scale,
                // the last of an even number has no twin
                _ if 2 * k == n => bin.norm() * scale,
                _ => 2.0 * bin.norm() * scale,
            })
            .collect();
        Some(Self {
            amplitudes,
            turns,
            window,
        })
    }

    /// Amplitude at a whole order; `None` beyond the last bin.
    #[must_use]
    pub fn harmonic(&self, order: usize) -> Option<f64> {
        self.amplitudes.get(order * self.turns as usize).copied()
    }

    /// The order of a bin.
    #[must_use]
    pub fn order(&self, bin: usize) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a number of bins")]
        let bin = bin as f64;
        bin / f64::from(self.turns.max(1))
    }
}

/// Values that are taken of each electrical turn: orders up to 1024, which at 700 electrical
/// turns a second is 700 kHz.
const PER_TURN: u32 = 2048;

/// The spectrum of a trace over the whole electrical turns that end at `now_s`: as many as are
/// on the tape, at most that many. `None` where not one is.
#[must_use]
pub fn of_tape(
    tape: &Tape,
    trace: Trace,
    now_s: f64,
    most_turns: u32,
    window: SpectrumWindow,
) -> Option<Spectrum> {
    let mut edges_s = vec![now_s];
    while edges_s.len() <= most_turns as usize {
        let last_s = *edges_s.last()?;
        let turn = std::f64::consts::TAU;
        match tape.turned(Quantity::ThetaElec, last_s, turn, false) {
            Some(earlier_s) if earlier_s < last_s => edges_s.push(earlier_s),
            _ => break,
        }
    }
    let turns = u32::try_from(edges_s.len()).ok()? - 1;
    let theta = |time_s| tape.value(Trace::Of(Quantity::ThetaElec), time_s);
    let mut values = Vec::new();
    for pair in edges_s.windows(2).rev() {
        let (from_s, to_s) = (pair[1], pair[0]);
        let (start, end) = (theta(from_s)?, theta(to_s)?);
        for k in 0..PER_TURN {
            let angle = start + (end - start) * f64::from(k) / f64::from(PER_TURN);
            let time_s = tape.instant_of(Quantity::ThetaElec, angle, from_s, to_s);
            values.push(tape.value(trace, time_s)?);
        }
    }
    Spectrum::new(&values, turns, window)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn values(n: u32, turns: u32, of: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..n)
            .map(|k| of(TAU * f64::from(turns) * f64::from(k) / f64::from(n)))
            .collect()
    }

    /// A sine of amplitude 3 at the fifth order on a mean of −2: two bins, nothing else.
    #[test]
    fn a_pure_sine_is_one_bin() {
        for window in [SpectrumWindow::Rectangular, SpectrumWindow::Hann] {
            let trace = values(4096, 3, |theta| -2.0 + 3.0 * libm::sin(5.0 * theta + 0.4));
            let spectrum = Spectrum::new(&trace, 3, window).unwrap();
            let near = |bin: usize| {
                let reach = usize::from(window == SpectrumWindow::Hann);
                bin <= reach || bin.abs_diff(15) <= reach
            };
            assert!((spectrum.harmonic(0).unwrap() + 2.0).abs() < 1e-12);
            assert!(
                (spectrum.harmonic(5).unwrap() - 3.0).abs() < 1e-12,
                "{window:?}"
            );
            for (bin, amplitude) in spectrum.amplitudes.iter().enumerate() {
                assert!(
                    near(bin) || *amplitude < 1e-12,
                    "{window:?} {bin} {amplitude}"
                );
            }
        }
    }

    #[test]
    fn what_cannot_be_is_refused() {
        assert_eq!(Spectrum::new(&[1.0, 2.0], 0, SpectrumWindow::Hann), None);
        assert_eq!(Spectrum::new(&[1.0; 5], 3, SpectrumWindow::Hann), None);
        assert_eq!(
            Spectrum::new(&[1.0, f64::NAN], 1, SpectrumWindow::Hann),
            None
        );
    }
}
