//! Symmetric positive systems and the chi-square distribution: what least squares needs.

/// The lower factor of a symmetric positive definite matrix, A = L Lᵀ, rows packed one after the
/// other.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cholesky {
    n: usize,
    lower: Vec<f64>,
}

/// A symmetric matrix of which the lower half is kept, row by row.
#[derive(Clone, Debug)]
pub(super) struct Symmetric {
    n: usize,
    lower: Vec<f64>,
}

const fn at(row: usize, column: usize) -> usize {
    row * (row + 1) / 2 + column
}

impl Symmetric {
    pub(super) fn zero(n: usize) -> Self {
        Self {
            n,
            lower: vec![0.0; at(n, 0)],
        }
    }

    /// Adds to one element; (row, column) and (column, row) are one.
    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        let (row, column) = (row.max(column), row.min(column));
        self.lower[at(row, column)] += value;
    }

    /// Its factor; `None` where it is not positive definite. Zeros are passed over: the unknowns of
    /// the rows come first and touch only the few of the motor, so little fills in.
    pub(super) fn factor(self) -> Option<Cholesky> {
        let Self { n, mut lower } = self;
        let mut below: Vec<(usize, f64)> = Vec::with_capacity(n);
        for column in 0..n {
            let pivot = lower[at(column, column)];
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            let root = pivot.sqrt();
            lower[at(column, column)] = root;
            below.clear();
            for row in column + 1..n {
                let value = &mut lower[at(row, column)];
                if *value != 0.0 {
                    *value /= root;
                    below.push((row, *value));
                }
            }
            for (k, &(row, value)) in below.iter().enumerate() {
                for &(other, other_value) in &below[..=k] {
                    lower[at(row, other)] -= value * other_value;
                }
            }
        }
        Some(Cholesky { n, lower })
    }
}

impl Cholesky {
    /// ln of the determinant of A.
    pub(super) fn log_determinant(&self) -> f64 {
        (0..self.n)
            .map(|k| 2.0 * libm::log(self.lower[at(k, k)]))
            .sum()
    }

    /// L⁻¹ b.
    fn forward(&self, b: &mut [f64]) {
        for row in 0..self.n {
            let mut sum = b[row];
            for column in 0..row {
                sum -= self.lower[at(row, column)] * b[column];
            }
            b[row] = sum / self.lower[at(row, row)];
        }
    }

    /// A⁻¹ b.
    pub(super) fn solve(&self, b: &mut [f64]) {
        self.forward(b);
        for row in (0..self.n).rev() {
            b[row] /= self.lower[at(row, row)];
            let value = b[row];
            for column in 0..row {
                b[column] -= self.lower[at(row, column)] * value;
            }
        }
    }

    /// gᵀ A⁻¹ g: the variance of g·θ where A⁻¹ is the covariance of θ.
    pub(super) fn variance(&self, gradient: &[(usize, f64)]) -> f64 {
        let mut b = vec![0.0; self.n];
        for &(idx, value) in gradient {
            b[idx] += value;
        }
        self.forward(&mut b);
        b.iter().map(|value| value * value).sum()
    }
}

/// Probability that chi-square with so many degrees of freedom exceeds a value.
///
/// Q(n/2, x/2) of the incomplete gamma function, by its series below n/2 + 1 and its continued
/// fraction above (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.4.1, 6.5.29 and
/// 6.5.31, cited from memory).
#[must_use]
pub fn chi_square_exceeded(chi_square: f64, freedom: usize) -> f64 {
    const MOST: usize = 10_000;
    const ENOUGH: f64 = 1e-15;
    if freedom == 0 || chi_square <= 0.0 || chi_square.is_nan() {
        return 1.0;
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
    let a = 0.5 * freedom as f64;
    let x = 0.5 * chi_square;
    let scale = libm::exp(a * libm::log(x) - x - libm::lgamma(a));
    if x < a + 1.0 {
        let (mut term, mut sum, mut k) = (1.0 / a, 1.0 / a, a);
        for _ in 0..MOST {
            k += 1.0;
            term *= x / k;
            sum += term;
            if term < ENOUGH * sum {
                break;
            }
        }
        return (1.0 - scale * sum).clamp(0.0, 1.0);
    }
    let mut b = x + 1.0 - a;
    let mut c = f64::MAX.sqrt();
    let mut d = 1.0 / b;
    let mut h = d;
    let mut k = 0.0;
    for _ in 0..MOST {
        k += 1.0;
        let an = -k * (k - a);
        b += 2.0;
        d = 1.0 / (an * d + b);
        c = b + an / c;
        h *= d * c;
        if (d * c - 1.0).abs() < ENOUGH {
            break;
        }
    }
    (scale * h).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_system_is_solved() {
        let mut a = Symmetric::zero(3);
        for (row, column, value) in [
            (0, 0, 4.0),
            (1, 0, 2.0),
            (1, 1, 5.0),
            (0, 2, 1.0),
            (2, 1, 3.0),
            (2, 2, 6.0),
        ] {
            a.add(row, column, value);
        }
        let factor = a.factor().unwrap();
        // det [[4,2,1],[2,5,3],[1,3,6]] = 4(30-9) - 2(12-3) + 1(6-5) = 67
        assert!((libm::exp(factor.log_determinant()) - 67.0).abs() < 1e-12);
        let mut b = [1.0, 2.0, 3.0];
        factor.solve(&mut b);
        for (row, want) in [
            ([4.0, 2.0, 1.0], 1.0),
            ([2.0, 5.0, 3.0], 2.0),
            ([1.0, 3.0, 6.0], 3.0),
        ] {
            let got: f64 = row.iter().zip(b).map(|(a, b)| a * b).sum();
            assert!((got - want).abs() < 1e-14);
        }
        // the first element of the inverse: (30 - 9) / 67
        assert!((factor.variance(&[(0, 1.0)]) - 21.0 / 67.0).abs() < 1e-15);
    }

    #[test]
    fn what_is_not_positive_is_refused() {
        let mut a = Symmetric::zero(2);
        a.add(0, 0, 1.0);
        a.add(1, 0, 2.0);
        a.add(1, 1, 1.0);
        assert_eq!(a.factor(), None);
    }
}
