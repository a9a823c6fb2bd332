//! Least squares with a handful of unknowns, by normal equations.
//!
//! The unknowns are few (a cylinder each and two or three more) and the columns are scaled by
//! the caller to like size, so normal equations lose nothing that matters.

use crate::matrix::Cholesky;

/// A pivot below this share of its column's own square means the column is a
/// combination of the others to within rounding.
const LEAST_PIVOT: f64 = 1e-10;

/// Normal equations Aᵀ A x = Aᵀ y, gathered row by row.
#[derive(Debug, Clone)]
pub(super) struct Normal {
    /// Number of unknowns.
    pub unknowns: usize,
    /// Aᵀ A, row by row; only at and below the diagonal, for it is symmetric.
    pub matrix: Vec<f64>,
    /// Aᵀ y.
    pub right: Vec<f64>,
    /// yᵀ y.
    pub square: f64,
}

impl Normal {
    /// No rows yet.
    pub fn new(unknowns: usize) -> Self {
        Normal {
            unknowns,
            matrix: vec![0.0; unknowns * unknowns],
            right: vec![0.0; unknowns],
            square: 0.0,
        }
    }

    /// Adds one equation.
    pub fn add(&mut self, row: &[f64], y: f64) {
        for (i, &a) in row.iter().enumerate() {
            let cells = &mut self.matrix[i * self.unknowns..][..=i];
            cells.iter_mut().zip(row).for_each(|(cell, b)| *cell += a * b);
            self.right[i] += a * y;
        }
        self.square += y * y;
    }

    /// Takes a direction out of the unknowns' columns, as if it had been taken out of each row: the
    /// columns' sums `along` it, and its own `square`. Of the values it is taken out already.
    pub fn take_out(&mut self, along: &[f64], square: f64) {
        for (i, &a) in along.iter().enumerate() {
            let cells = &mut self.matrix[i * self.unknowns..][..=i];
            cells.iter_mut().zip(along).for_each(|(cell, b)| *cell -= a * b / square);
        }
    }

    /// The same equations so many times over.
    pub fn repeat(&mut self, times: usize) {
        let times = times as f64;
        self.matrix.iter_mut().chain(&mut self.right).for_each(|cell| *cell *= times);
        self.square *= times;
    }

    /// With one more unknown before the others, whose column has these products with itself and
    /// each of theirs. There are no values yet.
    pub fn with_first(&self, along: &[f64]) -> Normal {
        let (n, m) = (self.unknowns + 1, self.unknowns);
        let mut wider = Normal::new(n);
        for (i, &product) in along.iter().enumerate() {
            wider.matrix[i * n] = product;
            if let Some(row) = i.checked_sub(1) {
                wider.matrix[i * n + 1..][..i].copy_from_slice(&self.matrix[row * m..][..i]);
            }
        }
        wider
    }

    /// Adds all equations of another system.
    pub fn join(&mut self, other: &Normal) {
        for (mine, theirs) in self.matrix.iter_mut().zip(&other.matrix) {
            *mine += theirs;
        }
        for (mine, theirs) in self.right.iter_mut().zip(&other.right) {
            *mine += theirs;
        }
        self.square += other.square;
    }

    /// The same system with the first unknown held at `value` and taken out.
    pub fn holding_first(&self, value: f64) -> Normal {
        let (n, m) = (self.unknowns, self.unknowns - 1);
        let mut held = Normal::new(m);
        for i in 0..m {
            for j in 0..m {
                held.matrix[i * m + j] = self.matrix[(i + 1) * n + j + 1];
            }
            held.right[i] = self.right[i + 1] - value * self.matrix[(i + 1) * n];
        }
        held.square = self.square - 2.0 * value * self.right[0] + value * value * self.matrix[0];
        held
    }

    /// The least-squares solution; `None` when the unknowns cannot be told apart.
    pub fn solve(&self) -> Option<Vec<f64>> {
        Some(self.factor()?.solve(self.right.clone()))
    }

    /// Sum of squared residuals at a solution.
    pub fn residual(&self, solution: &[f64]) -> f64 {
        let explained: f64 = solution.iter().zip(&self.right).map(|(x, r)| x * r).sum();
        (self.square - explained).max(0.0)
    }

    /// (Aᵀ A)⁻¹ · v, for propagating variance.
    pub fn inverse_times(&self, v: &[f64]) -> Option<Vec<f64>> {
        Some(self.factor()?.solve(v.to_vec()))
    }

    fn factor(&self) -> Option<Cholesky> {
        let n = self.unknowns;
        Cholesky::new(n, LEAST_PIVOT, |i, j| self.matrix[i * n + j])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_comes_back() {
        // Anscombe's first data set: intercept 3.0001, slope 0.50009 (Anscombe 1973, American
        // Statistician 27, and numpy.polyfit).
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
        let mut normal = Normal::new(2);
        for (x, y) in x.iter().zip(y) {
            normal.add(&[1.0, *x], y);
        }
        let solution = normal.solve().expect("two unknowns, eleven rows");
        assert!((solution[0] - 3.000_090_909).abs() < 1e-8);
        assert!((solution[1] - 0.500_090_909).abs() < 1e-9);
        // Residual sum of squares 13.7627 (same source).
        assert!((normal.residual(&solution) - 13.762_69).abs() < 1e-4);
        let held = normal.holding_first(solution[0]).solve().expect("one unknown");
        assert!((held[0] - solution[1]).abs() < 1e-9);
    }

    #[test]
    fn columns_that_say_the_same_are_refused() {
        let mut normal = Normal::new(2);
        normal.add(&[1.0, 2.0], 1.0);
        normal.add(&[2.0, 4.0], 2.0);
        assert_eq!(normal.solve(), None);
    }
}
