//! How alike the half waves of a mechanical turn are: one for each magnet that a coil passes.

use std::f64::consts::PI;

use super::super::solve::chi_square_exceeded;
use super::Capture;
use super::spun::Spun;
use super::wave::Turning;

/// Sums over one half wave, for the straight line of the samples over the mean wave.
#[derive(Clone, Copy, Debug, Default)]
struct Half {
    n: f64,
    model: f64,
    volt: f64,
    square: f64,
    product: f64,
}

impl Half {
    fn add(&mut self, model: f64, volt: f64) {
        self.n += 1.0;
        self.model += model;
        self.volt += volt;
        self.square += model * model;
        self.product += model * volt;
    }

    /// Slope and what its variance is per variance of a sample. The line's own offset takes the
    /// zero of the instrument with it.
    fn slope(&self) -> Option<(f64, f64)> {
        let spread = self.square - self.model * self.model / self.n;
        (self.n > 3.0 && spread > 1e-9 * self.square).then(|| {
            (
                (self.product - self.model * self.volt / self.n) / spread,
                1.0 / spread,
            )
        })
    }
}

/// Sizes of the half waves of a mechanical turn, each the slope of its samples over the mean wave,
/// averaged over the turns. The mean wave is that of odd harmonics: weak poles of one side leave it
/// even ones, which would hide them.
pub(super) fn poles(
    found: &mut Spun,
    capture: &Capture,
    main: usize,
    turning: &Turning,
    pole_pairs: u32,
) {
    let n_poles = 2 * pole_pairs as usize;
    let wave = &found.waves[main];
    // half waves begin where the first harmonic passes zero upwards: cos(θ − φ) at φ − 90°
    let start = wave.first().phase_rad - 0.5 * PI;
    let mut halves: Vec<(i64, Half)> = Vec::new();
    for (&time_s, &volt) in capture.times_s.iter().zip(&capture.channels[main].volts) {
        let theta = turning.angle(time_s);
        #[expect(clippy::cast_possible_truncation, reason = "a count of half turns")]
        let half = ((theta - start) / PI).floor() as i64;
        let model = turning.rate(time_s) * wave.odd_at(theta);
        match halves.last_mut() {
            Some((last, sums)) if *last == half => sums.add(model, volt),
            _ => {
                let mut sums = Half::default();
                sums.add(model, volt);
                halves.push((half, sums));
            }
        }
    }
    // the first and last half are cut off
    let whole = halves.get(1..halves.len().saturating_sub(1)).unwrap_or(&[]);
    if whole.len() < n_poles {
        return;
    }
    let mut places = vec![(0.0, 0.0, 0_u32); n_poles];
    for (half, sums) in whole {
        let place = usize::try_from(half.rem_euclid(2 * i64::from(pole_pairs))).unwrap_or(0);
        if let Some((size, variance)) = sums.slope() {
            let entry = &mut places[place];
            entry.0 += size;
            entry.1 += wave.scatter_v * wave.scatter_v * variance;
            entry.2 += 1;
        }
    }
    let mut list: Vec<(f64, f64)> = places
        .iter()
        .filter(|(.., n)| *n > 0)
        .map(|&(sum, variance, n)| (sum / f64::from(n), variance.sqrt() / f64::from(n)))
        .collect();
    if list.len() < n_poles {
        return;
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of poles")]
    let count = list.len() as f64;
    let mean = list.iter().map(|(size, _)| size).sum::<f64>() / count;
    if mean <= 0.0 {
        return;
    }
    for (size, standard) in &mut list {
        *size /= mean;
        *standard /= mean;
    }
    let chi_square: f64 = list
        .iter()
        .map(|(size, standard)| {
            let off = (size - 1.0) / standard.max(1e-4);
            off * off
        })
        .sum();
    let exceeded = chi_square_exceeded(chi_square, list.len() - 1);
    // below half a percent nobody would look for a weak magnet
    let widest = list
        .iter()
        .map(|(size, _)| (size - 1.0).abs())
        .fold(0.0, f64::max);
    found.poles_differ = exceeded < 1e-3 && widest > 0.005;
    found.poles = list;
}
