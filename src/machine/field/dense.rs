//! Small dense symmetric positive definite systems: a few dozen unknowns at most.
//!
//! Every system of this room is one (an impedance plus an impedance), so Cholesky without
//! pivoting is stable and nothing more general is needed.

/// A square matrix, row by row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Square {
    n: usize,
    entries: Vec<f64>,
}

impl Square {
    pub(super) fn zero(n: usize) -> Self {
        Self {
            n,
            entries: vec![0.0; n * n],
        }
    }

    pub(super) const fn size(&self) -> usize {
        self.n
    }

    pub(super) fn row(&self, row: usize) -> &[f64] {
        &self.entries[row * self.n..(row + 1) * self.n]
    }

    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.entries[row * self.n + column]
    }

    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.entries[row * self.n + column] += value;
    }

    /// Adds `weight` · v vᵀ to the lower triangle.
    pub(super) fn add_lower_product(&mut self, weight: f64, v: &[f64]) {
        for (row, &left) in v.iter().enumerate() {
            let factor = weight * left;
            let start = row * self.n;
            let entries = &mut self.entries[start..=start + row];
            for (entry, &right) in entries.iter_mut().zip(v) {
                *entry += factor * right;
            }
        }
    }

    /// Copies the lower triangle onto the upper one.
    pub(super) fn mirror(&mut self) {
        for row in 0..self.n {
            for column in 0..row {
                self.entries[column * self.n + row] = self.entries[row * self.n + column];
            }
        }
    }

    #[cfg(test)]
    fn times(&self, v: &[f64]) -> Vec<f64> {
        (0..self.n).map(|row| dot(self.row(row), v)).collect()
    }

    /// The lower factor L of L Lᵀ = self, from the lower triangle.
    ///
    /// A pivot that rounding has made no longer positive is held just above zero: the mode it
    /// stands for then carries next to nothing, which is what such a mode does.
    pub(super) fn cholesky(mut self) -> Cholesky {
        let n = self.n;
        for column in 0..n {
            let square = self.at(column, column);
            let row = &self.entries[column * n..column * n + column];
            let rest = square - dot(row, row);
            let pivot = rest.max(square.abs() * 1e-14).max(f64::MIN_POSITIVE).sqrt();
            self.entries[column * n + column] = pivot;
            for below in column + 1..n {
                let (upper, lower) = self.entries.split_at_mut(below * n);
                let sum = dot(&lower[..column], &upper[column * n..column * n + column]);
                lower[column] = (lower[column] - sum) / pivot;
            }
        }
        Cholesky(self)
    }
}

/// A factored matrix.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cholesky(Square);

impl Cholesky {
    /// Replaces the right side by the solution.
    pub(super) fn solve(&self, b: &mut [f64]) {
        let n = self.0.n;
        for row in 0..n {
            let entries = self.0.row(row);
            b[row] = (b[row] - dot(&entries[..row], &b[..row])) / entries[row];
        }
        for row in (0..n).rev() {
            b[row] /= self.0.at(row, row);
            let value = b[row];
            for (entry, factor) in b[..row].iter_mut().zip(self.0.row(row)) {
                *entry -= factor * value;
            }
        }
    }
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_is_solved() {
        let mut matrix = Square::zero(3);
        for v in [[2.0, 0.5, -1.0], [0.0, 1.0, 3.0], [1.0, 1.0, 1.0]] {
            matrix.add_lower_product(1.0, &v);
        }
        matrix.mirror();
        let want = [1.0, -2.0, 0.5];
        let mut b = matrix.times(&want);
        matrix.cholesky().solve(&mut b);
        for (got, want) in b.iter().zip(want) {
            assert!((got - want).abs() < 1e-12, "{got} {want}");
        }
    }
}
