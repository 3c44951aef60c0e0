//! Back-EMF: unit shapes over the electrical angle, and the constant that scales them.
//!
//! Phase k of a machine turning at ω rad/s has the EMF e_k = ω k_e s(θe − offset_k), with
//! offsets 0°, 120°, 240° for U, V, W; the torque of the phase is i_k k_e s(θe − offset_k).
//! The same function gives both, so electrical and mechanical power balance exactly.

use std::f64::consts::{FRAC_PI_6, PI, TAU};

use crate::setup::{Connection, EmfConstant, EmfSetup, EmfShape};

/// Value of the unit shape s at the electrical angle `theta_elec_rad` (any range).
///
/// Ideal trapezoid: 1 from 30° to 150°, −1 from 210° to 330°, straight lines between; sine:
/// sin θe; harmonics: Σ aₙ sin(n θe); computed: Σ aₙ sin(n θe) + bₙ cos(n θe).
#[must_use]
pub fn unit_shape(shape: &EmfShape, theta_elec_rad: f64) -> f64 {
    match shape {
        EmfShape::Trapezoid => {
            let theta = theta_elec_rad.rem_euclid(TAU);
            let (half_turn, sign) = if theta < PI {
                (theta, 1.0)
            } else {
                (theta - PI, -1.0)
            };
            let from_zero = half_turn.min(PI - half_turn);
            sign * (from_zero / FRAC_PI_6).min(1.0)
        }
        EmfShape::Sine => libm::sin(theta_elec_rad),
        EmfShape::Harmonics(terms) => terms
            .iter()
            .map(|&(order, amplitude)| amplitude * libm::sin(f64::from(order) * theta_elec_rad))
            .sum(),
        EmfShape::Computed(terms) => terms
            .iter()
            .map(|&(order, in_sine, in_cosine)| {
                let (sine, cosine) = libm::sincos(f64::from(order) * theta_elec_rad);
                in_sine * sine + in_cosine * cosine
            })
            .sum(),
    }
}

/// Largest magnitude of the phase shape, of s(θe).
#[must_use]
pub fn peak_of_phase(shape: &EmfShape) -> f64 {
    match shape {
        EmfShape::Trapezoid | EmfShape::Sine => 1.0,
        EmfShape::Harmonics(_) | EmfShape::Computed(_) => numeric_peak(&terms(shape)),
    }
}

/// Largest magnitude of the line-to-line shape, by which Kv counts.
///
/// In star that is s(θe) − s(θe − 120°): 2 for the ideal trapezoid, √3 for the sine, found
/// numerically for harmonics. In delta Kv counts the EMF of the one winding between the two
/// terminals, s(θe). An instrument between the open leads of a delta shows less: s(θe) without what
/// is common to the three windings, its harmonics of order 3, 9 … (of the ideal trapezoid a roof of
/// 4/3, of the sine the same). What is common drives a current round the loop and drops there.
#[must_use]
pub fn peak_of_line(shape: &EmfShape, connection: Connection) -> f64 {
    match (connection, shape) {
        (Connection::Delta, _) => peak_of_phase(shape),
        (Connection::Star, EmfShape::Trapezoid) => 2.0,
        (Connection::Star, EmfShape::Sine) => 3.0_f64.sqrt(),
        (Connection::Star, EmfShape::Harmonics(_) | EmfShape::Computed(_)) => {
            let between = terms(shape).into_iter().map(less_a_third_later);
            numeric_peak(&between.collect::<Vec<_>>())
        }
    }
}

/// Phase constant k_e in V s/rad (mechanical).
///
/// From Kv (rad/s per volt of peak line-to-line EMF): k_e = 1 / (Kv · peak of the line shape).
#[must_use]
pub fn phase_constant_v_s_per_rad(emf: &EmfSetup, connection: Connection) -> f64 {
    match emf.constant {
        EmfConstant::PhaseVsPerRad(constant) => constant,
        EmfConstant::KvRadPerVs(kv) => 1.0 / (kv * peak_of_line(&emf.shape, connection)),
        // Not before the machine has computed it, and then it is a phase constant.
        EmfConstant::Computed => 0.0,
    }
}

/// Kv in rad/s per volt of peak line-to-line EMF.
#[must_use]
pub fn kv_rad_per_v_s(emf: &EmfSetup, connection: Connection) -> f64 {
    match emf.constant {
        EmfConstant::KvRadPerVs(kv) => kv,
        EmfConstant::PhaseVsPerRad(_) | EmfConstant::Computed => {
            let constant = phase_constant_v_s_per_rad(emf, connection);
            1.0 / (constant * peak_of_line(&emf.shape, connection))
        }
    }
}

/// Amplitudes of the odd harmonics of the ideal trapezoid of unit height:
/// b_n = 24/(π n)² · sin(n π/6) for odd n, 0 for even n.
///
/// Fourier series of the piecewise-linear wave; the same numbers stand in
/// `tests/reference/machine_relations.toml`.
#[must_use]
pub fn trapezoid_harmonic(order: u32) -> f64 {
    if order.is_multiple_of(2) {
        return 0.0;
    }
    let n = f64::from(order);
    24.0 / (PI * n).powi(2) * libm::sin(n * FRAC_PI_6)
}

/// One harmonic: order n, and what of it is sin(n θe) and cos(n θe).
type Term = (u32, f64, f64);

/// The harmonics of a shape made of them; none of the ideal trapezoid and the sine.
fn terms(shape: &EmfShape) -> Vec<Term> {
    match shape {
        EmfShape::Trapezoid | EmfShape::Sine => Vec::new(),
        EmfShape::Harmonics(pairs) => pairs.iter().map(|&(n, a)| (n, a, 0.0)).collect(),
        EmfShape::Computed(terms) => terms.clone(),
    }
}

/// A harmonic less itself 120° later: a sin(n θ) + b cos(n θ) with n · 120° in place of n θ taken off.
fn less_a_third_later((order, a, b): Term) -> Term {
    let half_root = 0.75_f64.sqrt();
    let (cosine, sine) = [(1.0, 0.0), (-0.5, half_root), (-0.5, -half_root)][(order % 3) as usize];
    (order, a - a * cosine - b * sine, b + a * sine - b * cosine)
}

/// Largest magnitude over a turn of a sum of harmonics: a scan fine enough for the highest, then
/// golden-section refinement round the best sample.
///
/// From sample to sample each harmonic turns by the same angle, so that the scan adds angles and
/// takes no sine; the refinement does.
fn numeric_peak(terms: &[Term]) -> f64 {
    let f = |theta: f64| -> f64 {
        let parts = terms.iter().map(|&(order, in_sine, in_cosine)| {
            let (sine, cosine) = libm::sincos(f64::from(order) * theta);
            in_sine * sine + in_cosine * cosine
        });
        parts.sum::<f64>().abs()
    };
    let highest = terms.iter().map(|&(order, ..)| order).max().unwrap_or(1);
    let n_samples = 32 * highest.max(4);
    let spacing = TAU / f64::from(n_samples);
    // of each harmonic its value, the one a quarter of its turn on, and what turns both by a sample
    let mut turning: Vec<[f64; 4]> = terms
        .iter()
        .map(|&(order, in_sine, in_cosine)| {
            let (sine, cosine) = libm::sincos(f64::from(order) * spacing);
            [in_cosine, in_sine, cosine, sine]
        })
        .collect();
    let mut best = (0, f64::MIN);
    for sample_idx in 0..n_samples {
        let value = turning.iter().map(|[value, ..]| value).sum::<f64>().abs();
        if value > best.1 {
            best = (sample_idx, value);
        }
        for [value, next, cosine, sine] in &mut turning {
            (*value, *next) = (
                *value * *cosine + *next * *sine,
                *next * *cosine - *value * *sine,
            );
        }
    }
    const INVERSE_GOLDEN: f64 = 0.618_033_988_749_894_9;
    let at = f64::from(best.0) * spacing;
    let (mut low, mut high) = (at - spacing, at + spacing);
    for _ in 0..80 {
        let left = high - INVERSE_GOLDEN * (high - low);
        let right = low + INVERSE_GOLDEN * (high - low);
        if f(left) > f(right) {
            high = right;
        } else {
            low = left;
        }
    }
    f(f64::midpoint(low, high)).max(f(at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trapezoid_corners_and_middle_are_exact() {
        let value = |deg: f64| unit_shape(&EmfShape::Trapezoid, deg.to_radians());
        for (deg, want) in [
            (0.0, 0.0),
            (15.0, 0.5),
            (30.0, 1.0),
            (90.0, 1.0),
            (150.0, 1.0),
            (165.0, 0.5),
        ] {
            assert!((value(deg) - want).abs() < 1e-14, "{deg}");
            assert!((value(deg + 180.0) + want).abs() < 1e-14, "{deg}");
            assert!((value(-deg) + want).abs() < 1e-14, "{deg}");
        }
    }

    #[test]
    fn line_peak_of_harmonics_agrees_with_closed_forms() {
        // sine written as one harmonic: √3
        let sine = EmfShape::Harmonics(vec![(1, 1.0)]);
        assert!((peak_of_line(&sine, Connection::Star) - 3.0_f64.sqrt()).abs() < 1e-12);
        // a third harmonic vanishes between lines
        let third = EmfShape::Harmonics(vec![(1, 1.0), (3, 0.2)]);
        assert!((peak_of_line(&third, Connection::Star) - 3.0_f64.sqrt()).abs() < 1e-12);
    }

    /// Against a plain look at each of two hundred thousand angles, which falls short of the peak by a
    /// part of (49 · 1.6e-5)²/2 = 3e-7 at most.
    #[test]
    fn peaks_are_those_of_a_plain_scan() {
        let uneven = (1..25).map(|k| {
            let n = 2 * k - 1;
            let size = f64::from(n).powi(-2);
            (n, if k % 2 == 0 { -size } else { size }, 0.3 * size * size)
        });
        let shape = EmfShape::Computed(uneven.collect());
        let scan = |f: &dyn Fn(f64) -> f64| {
            let angles = (0..200_000).map(|k| f64::from(k) * TAU / 200_000.0);
            angles.map(|theta| f(theta).abs()).fold(0.0, f64::max)
        };
        let of_winding = |theta: f64| unit_shape(&shape, theta);
        let of_line =
            |theta: f64| unit_shape(&shape, theta) - unit_shape(&shape, theta - TAU / 3.0);
        for (got, want) in [
            (peak_of_phase(&shape), scan(&of_winding)),
            (peak_of_line(&shape, Connection::Star), scan(&of_line)),
            (peak_of_line(&shape, Connection::Delta), scan(&of_winding)),
        ] {
            let over = got / want - 1.0;
            assert!((-1e-12..3e-7).contains(&over), "{got} {want}");
        }
    }
}
