//! A periodic wave whose speed may drift, fitted to samples.
//!
//! v(t) = v₀ + (ω/ω₀) Σ (aₙ cos n θ + bₙ sin n θ) with θ = ω₀ t + ½ α t² and ω = ω₀ + α t, t counted
//! from the middle: an EMF follows the speed, and a drill slows a little. Weighted least squares,
//! Gauss-Newton; the scatter that is left gives the uncertainties (JCGM 100:2008, 4.2 and H.3, from
//! memory). Noise is taken as independent from sample to sample.

use std::f64::consts::TAU;

use super::super::solve::{Cholesky, Symmetric};

/// One harmonic of a wave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Harmonic {
    /// Its order.
    pub order: u32,
    /// Amplitude (peak) in V.
    pub amplitude_v: f64,
    /// Its phase in rad: a cosine is cos(n θ − phase).
    pub phase_rad: f64,
}

/// A fitted wave.
#[derive(Clone, Debug)]
pub struct Wave {
    /// Mean in V.
    pub mean_v: f64,
    /// Harmonics by rising order from 1.
    pub harmonics: Vec<Harmonic>,
    /// Largest magnitude of the wave without its mean, in V.
    pub peak_v: f64,
    /// Standard uncertainty of that peak from the scatter of the samples, in V.
    pub peak_standard_v: f64,
    /// Standard deviation of the samples from the wave, in V.
    pub scatter_v: f64,
    /// Standard uncertainty of an amplitude in V.
    pub amplitude_standard_v: f64,
    coefficients: Vec<f64>,
}

/// Electrical angle over time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Turning {
    /// Middle of the stretch in s.
    pub(super) middle_s: f64,
    /// Electrical speed there in rad/s.
    pub(super) speed: f64,
    /// Its change in rad/s².
    pub(super) drift: f64,
}

impl Turning {
    /// Electrical angle in rad, 0 at the middle.
    pub(super) fn angle(&self, time_s: f64) -> f64 {
        let t = time_s - self.middle_s;
        self.speed * t + 0.5 * self.drift * t * t
    }

    /// Speed over that at the middle.
    pub(super) fn rate(&self, time_s: f64) -> f64 {
        1.0 + self.drift * (time_s - self.middle_s) / self.speed
    }
}

impl Wave {
    /// Value of the wave without its mean at an electrical angle, at the middle's speed.
    #[must_use]
    pub fn at(&self, theta_rad: f64) -> f64 {
        value(&self.coefficients, theta_rad)
    }

    /// The same of its odd harmonics alone: the wave whose second half is the first turned over.
    #[must_use]
    pub fn odd_at(&self, theta_rad: f64) -> f64 {
        let odd = self.harmonics.iter().filter(|h| h.order % 2 == 1);
        odd.map(|h| h.amplitude_v * libm::cos(f64::from(h.order) * theta_rad - h.phase_rad))
            .sum()
    }

    /// The first harmonic; zero where there is none.
    #[must_use]
    pub fn first(&self) -> Harmonic {
        self.harmonics.first().copied().unwrap_or(Harmonic {
            order: 1,
            amplitude_v: 0.0,
            phase_rad: 0.0,
        })
    }

    /// Root of the sum of squares of all harmonics above the first, over the first.
    #[must_use]
    pub fn distortion(&self) -> f64 {
        let squares: f64 = self
            .harmonics
            .iter()
            .skip(1)
            .map(|h| h.amplitude_v * h.amplitude_v)
            .sum();
        squares.sqrt() / self.first().amplitude_v
    }

    /// RMS of the wave without its mean.
    #[must_use]
    pub fn rms_v(&self) -> f64 {
        let squares: f64 = self
            .harmonics
            .iter()
            .map(|h| h.amplitude_v * h.amplitude_v)
            .sum();
        (0.5 * squares).sqrt()
    }
}

/// Σ aₙ cos n θ + bₙ sin n θ; the first coefficient is the mean and left out.
fn value(coefficients: &[f64], theta: f64) -> f64 {
    let (sine, cosine) = libm::sincos(theta);
    let (mut s, mut c) = (sine, cosine);
    let mut sum = 0.0;
    for pair in coefficients[1..].chunks_exact(2) {
        sum += pair[0] * c + pair[1] * s;
        (s, c) = (s * cosine + c * sine, c * cosine - s * sine);
    }
    sum
}

/// Fits coefficients at a given turning, and with `loose` the turning itself one step on.
pub(super) struct Step {
    pub(super) coefficients: Vec<f64>,
    factor: Cholesky,
    variance: f64,
    /// Change of speed and drift.
    pub(super) change: (f64, f64),
    /// Standard uncertainty of the speed.
    pub(super) speed_standard: f64,
}

/// One step of least squares over samples. `guess` are coefficients for the slopes of speed and
/// drift; without them the turning stands.
pub(super) fn step(
    times_s: &[f64],
    volts: &[f64],
    turning: &Turning,
    n_harmonics: usize,
    guess: Option<&[f64]>,
) -> Option<Step> {
    let n_linear = 1 + 2 * n_harmonics;
    let n = n_linear + if guess.is_some() { 2 } else { 0 };
    let mut normal = Symmetric::zero(n);
    let mut right = vec![0.0; n];
    let mut row = vec![0.0; n];
    let mut squares = 0.0;
    // times in units of the half stretch keep the system well scaled
    let span = times_s.last()? - times_s.first()?;
    let half = 0.5 * span;
    for (&time_s, &volt) in times_s.iter().zip(volts) {
        let theta = turning.angle(time_s);
        let rate = turning.rate(time_s);
        let (sine, cosine) = libm::sincos(theta);
        let (mut s, mut c) = (sine, cosine);
        row[0] = 1.0;
        let mut slope = 0.0;
        let mut sum = 0.0;
        for k in 0..n_harmonics {
            (row[1 + 2 * k], row[2 + 2 * k]) = (rate * c, rate * s);
            if let Some(guess) = guess {
                #[expect(clippy::cast_precision_loss, reason = "an order")]
                let order = (k + 1) as f64;
                slope += order * rate * (guess[2 + 2 * k] * c - guess[1 + 2 * k] * s);
                sum += guess[1 + 2 * k] * c + guess[2 + 2 * k] * s;
            }
            (s, c) = (s * cosine + c * sine, c * cosine - s * sine);
        }
        if guess.is_some() {
            let t = (time_s - turning.middle_s) / half;
            row[n_linear] = slope * t;
            row[n_linear + 1] = 0.5 * slope * t * t * half + sum * t / turning.speed;
        }
        squares += volt * volt;
        for i in 0..n {
            right[i] += row[i] * volt;
            for j in 0..=i {
                normal.add(i, j, row[i] * row[j]);
            }
        }
    }
    // keeps what the samples say nothing of at zero, far below what they are known to
    #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
    let ridge = 1e-12 * times_s.len().max(1) as f64;
    for i in 0..n {
        normal.add(i, i, ridge);
    }
    let factor = normal.factor()?;
    let mut found = right.clone();
    factor.solve(&mut found);
    let explained: f64 = found.iter().zip(&right).map(|(a, b)| a * b).sum();
    #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
    let left = times_s.len() as f64 - n as f64;
    if left < 1.0 {
        return None;
    }
    let variance = ((squares - explained) / left).max(0.0);
    let change = if guess.is_some() {
        (found[n_linear] / half, found[n_linear + 1] / half)
    } else {
        (0.0, 0.0)
    };
    let speed_standard = if guess.is_some() {
        (variance * factor.variance(&[(n_linear, 1.0)])).sqrt() / half
    } else {
        0.0
    };
    found.truncate(n_linear);
    Some(Step {
        coefficients: found,
        factor,
        variance,
        change,
        speed_standard,
    })
}

impl Step {
    /// The wave of the coefficients, its peak found on a fine grid.
    pub(super) fn wave(&self) -> Wave {
        const GRID: u32 = 1440;
        let coefficients = &self.coefficients;
        let mut peak = (0.0_f64, 0.0_f64);
        for k in 0..GRID {
            let theta = TAU * f64::from(k) / f64::from(GRID);
            let size = value(coefficients, theta).abs();
            if size > peak.0 {
                peak = (size, theta);
            }
        }
        let mut gradient = Vec::with_capacity(coefficients.len());
        let harmonics: Vec<Harmonic> = coefficients[1..]
            .chunks_exact(2)
            .zip(1..)
            .map(|(pair, order)| {
                let (s, c) = libm::sincos(f64::from(order) * peak.1);
                gradient.push(c);
                gradient.push(s);
                Harmonic {
                    order,
                    amplitude_v: libm::hypot(pair[0], pair[1]),
                    phase_rad: libm::atan2(pair[1], pair[0]),
                }
            })
            .collect();
        let slopes: Vec<(usize, f64)> = gradient
            .into_iter()
            .enumerate()
            .map(|(k, g)| (k + 1, g))
            .collect();
        let standard =
            |slopes: &[(usize, f64)]| (self.variance * self.factor.variance(slopes)).sqrt();
        Wave {
            mean_v: coefficients[0],
            harmonics,
            peak_v: peak.0,
            peak_standard_v: standard(&slopes),
            scatter_v: self.variance.sqrt(),
            amplitude_standard_v: standard(&[(1, 1.0)]),
            coefficients: coefficients.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wave of known harmonics whose speed falls by a fifth, without noise, comes back.
    #[test]
    fn a_drifting_wave_comes_back() {
        let truth = Turning {
            middle_s: 0.05,
            speed: 900.0,
            drift: -1800.0,
        };
        let times: Vec<f64> = (0..4000).map(|k| f64::from(k) * 25e-6).collect();
        let middle = 0.5 * (times[0] + times[times.len() - 1]);
        let volts: Vec<f64> = times
            .iter()
            .map(|&t| {
                let theta = truth.angle(t);
                0.2 + truth.rate(t) * (3.0 * libm::sin(theta) + 0.4 * libm::cos(5.0 * theta))
            })
            .collect();
        let mut turning = Turning {
            middle_s: middle,
            speed: 903.0,
            drift: 0.0,
        };
        let mut guess = step(&times, &volts, &turning, 5, None)
            .unwrap()
            .coefficients;
        for _ in 0..20 {
            let next = step(&times, &volts, &turning, 5, Some(&guess)).unwrap();
            turning.speed += next.change.0;
            turning.drift += next.change.1;
            guess = next.coefficients;
        }
        let wave = step(&times, &volts, &turning, 5, None).unwrap().wave();
        assert!(
            (turning.drift / truth.drift - 1.0).abs() < 1e-6,
            "{turning:?}"
        );
        assert!((wave.mean_v - 0.2).abs() < 1e-6);
        assert!(
            (wave.harmonics[0].amplitude_v - 3.0).abs() < 1e-3,
            "{wave:?}"
        );
        assert!((wave.harmonics[4].amplitude_v - 0.4).abs() < 1e-3);
    }
}
