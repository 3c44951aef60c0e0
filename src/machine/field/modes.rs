//! Cosine modes over an arc between two iron walls.
//!
//! φ_0 = 1/√β and φ_n = √(2/β) cos(nπ(θ + β/2)/β) for |θ| ≤ β/2: orthonormal over the arc, flat
//! at its walls, even in θ for even n and odd for odd n.

use std::f64::consts::PI;

use super::ring::sinc;

/// sin(n π/2) for whole n.
fn quarter_sine(n: usize) -> f64 {
    [0.0, 1.0, 0.0, -1.0][n % 4]
}

/// cos(n π/2) for whole n.
fn quarter_cosine(n: usize) -> f64 {
    [1.0, 0.0, -1.0, 0.0][n % 4]
}

#[expect(clippy::cast_precision_loss, reason = "a few dozen modes")]
pub(super) fn wave_number(n: usize, arc_rad: f64) -> f64 {
    n as f64 * PI / arc_rad
}

/// ∫ cos or sin of κθ (as the mode is even or odd) times the mode, over |θ| ≤ `half_rad`, where
/// the mode lives on an arc `arc_rad` ≥ 2 `half_rad`, sign of the mode included.
fn overlap(n: usize, arc_rad: f64, kappa: f64, half_rad: f64) -> f64 {
    if n == 0 {
        return 2.0 * half_rad * sinc(kappa * half_rad) / arc_rad.sqrt();
    }
    let lambda = wave_number(n, arc_rad);
    let difference = half_rad * sinc((kappa - lambda) * half_rad);
    let sum = half_rad * sinc((kappa + lambda) * half_rad);
    let norm = (2.0 / arc_rad).sqrt();
    if n.is_multiple_of(2) {
        norm * quarter_cosine(n) * (difference + sum)
    } else {
        -norm * quarter_sine(n) * (difference - sum)
    }
}

/// f_n(μ): ∫ φ_n cos μθ for even n, ∫ φ_n sin μθ for odd n, for n = 0 to `out.len()` − 1.
pub(super) fn transform(arc_rad: f64, mu: f64, out: &mut [f64]) {
    let half = 0.5 * arc_rad;
    let (sine, cosine) = libm::sincos(mu * half);
    let norm = (2.0 / arc_rad).sqrt();
    for (n, entry) in out.iter_mut().enumerate() {
        let lambda = wave_number(n, arc_rad);
        *entry = if n == 0 || (mu.abs() - lambda).abs() * half < 0.2 {
            overlap(n, arc_rad, mu, half)
        } else {
            // sin((μ ± λ) β/2) with λ β/2 a multiple of a quarter turn.
            let wave = if n.is_multiple_of(2) { sine } else { cosine };
            norm * wave * 2.0 * mu / (mu * mu - lambda * lambda)
        };
    }
}

/// Modes of the wider arc (rows) in terms of those of the narrower one (columns), which is
/// centred in it: ∫ φ_wide φ_narrow over the narrow arc. Modes of unlike parity do not meet.
pub(super) fn junction(
    wide_rad: f64,
    n_wide: usize,
    narrow_rad: f64,
    n_narrow: usize,
) -> Vec<Vec<f64>> {
    let half = 0.5 * narrow_rad;
    (0..n_wide)
        .map(|k| {
            let kappa = wave_number(k, wide_rad);
            // The wide mode is ± cos or sin of κθ; overlap() has the narrow mode and its sign.
            let sign = if k.is_multiple_of(2) {
                quarter_cosine(k)
            } else {
                -quarter_sine(k)
            };
            let norm = if k == 0 {
                1.0 / wide_rad.sqrt()
            } else {
                (2.0 / wide_rad).sqrt()
            };
            (0..n_narrow)
                .map(|n| {
                    if (k + n).is_multiple_of(2) {
                        norm * sign * overlap(n, narrow_rad, kappa, half)
                    } else {
                        0.0
                    }
                })
                .collect()
        })
        .collect()
}

/// Coefficients of a current that is 1 on one half of the arc and −1 on the other: +1 on θ < 0.
pub(super) fn halves(arc_rad: f64, n_modes: usize) -> Vec<f64> {
    (0..n_modes)
        .map(|n| {
            if n.is_multiple_of(2) {
                0.0
            } else {
                2.0 * (2.0 / arc_rad).sqrt() * quarter_sine(n) / wave_number(n, arc_rad)
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(n: usize, arc: f64, theta: f64) -> f64 {
        if n == 0 {
            1.0 / arc.sqrt()
        } else {
            (2.0 / arc).sqrt() * libm::cos(wave_number(n, arc) * (theta + 0.5 * arc))
        }
    }

    /// Midpoint rule over an arc.
    fn integral(arc: f64, f: impl Fn(f64) -> f64) -> f64 {
        let n = 20_000;
        let step = arc / f64::from(n);
        (0..n)
            .map(|i| f((f64::from(i) + 0.5) * step - 0.5 * arc) * step)
            .sum()
    }

    #[test]
    fn transforms_and_junctions_are_the_integrals() {
        let arc = 0.14;
        for mu in [0.0, 3.0, -7.0, 22.44, 2.0 * PI / arc, -5.0 * PI / arc] {
            let mut got = [0.0; 6];
            transform(arc, mu, &mut got);
            for (n, got) in got.into_iter().enumerate() {
                let want = integral(arc, |t| {
                    let wave = if n % 2 == 0 {
                        libm::cos(mu * t)
                    } else {
                        libm::sin(mu * t)
                    };
                    wave * mode(n, arc, t)
                });
                assert!((got - want).abs() < 1e-7, "{mu} {n}: {got} {want}");
            }
        }
        let wide = 0.31;
        let c = junction(wide, 6, arc, 5);
        for (k, row) in c.iter().enumerate() {
            for (n, got) in row.iter().enumerate() {
                let want = integral(arc, |t| mode(k, wide, t) * mode(n, arc, t));
                assert!((got - want).abs() < 1e-7, "{k} {n}: {got} {want}");
            }
        }
        for (n, got) in halves(arc, 5).into_iter().enumerate() {
            let want = integral(arc, |t| {
                if t < 0.0 {
                    mode(n, arc, t)
                } else {
                    -mode(n, arc, t)
                }
            });
            assert!((got - want).abs() < 1e-6, "{n}: {got} {want}");
        }
    }
}
