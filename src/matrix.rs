//! The little linear algebra that several stages need: factoring a symmetric matrix of a few rows.

/// Lower triangle L of a symmetric positive matrix A = LLᵀ, row after row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cholesky {
    size: usize,
    lower: Vec<f64>,
}

impl Cholesky {
    /// Factors the matrix with the given entries, of which only those at and below the diagonal are
    /// asked for. `None` when it is not positive: when what is left of a diagonal entry is no more
    /// than the share `least_pivot` (0 or a little more) of that entry.
    pub(crate) fn new(
        size: usize,
        least_pivot: f64,
        entry: impl Fn(usize, usize) -> f64,
    ) -> Option<Cholesky> {
        let mut lower: Vec<f64> = Vec::with_capacity(start(size));
        for i in 0..size {
            for j in 0..i {
                let left = entry(i, j) - dot(&lower[start(i)..], &lower[start(j)..start(j) + j]);
                lower.push(left / lower[start(j) + j]);
            }
            let whole = entry(i, i);
            let left = whole - dot(&lower[start(i)..], &lower[start(i)..]);
            if !(left > least_pivot * whole && left.is_finite()) {
                return None;
            }
            lower.push(left.sqrt());
        }
        Some(Cholesky { size, lower })
    }

    fn row(&self, i: usize) -> (&[f64], f64) {
        let row = &self.lower[start(i)..start(i + 1)];
        (&row[..i], row[i])
    }

    /// L⁻¹ x.
    pub(crate) fn solve_lower(&self, mut x: Vec<f64>) -> Vec<f64> {
        for i in 0..self.size {
            let (row, pivot) = self.row(i);
            x[i] = (x[i] - dot(row, &x[..i])) / pivot;
        }
        x
    }

    /// A⁻¹ x.
    pub(crate) fn solve(&self, x: Vec<f64>) -> Vec<f64> {
        let mut x = self.solve_lower(x);
        for i in (0..self.size).rev() {
            let (row, pivot) = self.row(i);
            x[i] /= pivot;
            for (k, below) in row.iter().enumerate() {
                x[k] -= below * x[i];
            }
        }
        x
    }

    /// The diagonal of A⁻¹: the squares of the columns of L⁻¹ summed.
    pub(crate) fn inverse_diagonal(&self) -> Vec<f64> {
        let column = |at: usize| {
            let mut unit = vec![0.0; self.size];
            unit[at] = 1.0;
            let column = self.solve_lower(unit);
            dot(&column, &column)
        };
        (0..self.size).map(column).collect()
    }

    /// ½ log det A.
    pub(crate) fn log_root_determinant(&self) -> f64 {
        (0..self.size).map(|i| self.row(i).1.ln()).sum()
    }
}

/// Where row `i` of a packed lower triangle begins.
fn start(i: usize) -> usize {
    i * (i + 1) / 2
}

/// Sum of products, as far as the shorter reaches.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_system_worked_by_hand() {
        // A = [[4, 2, −2], [2, 10, 2], [−2, 2, 6]] = LLᵀ with L = [[2, 0, 0], [1, 3, 0], [−1, 1,
        // 2]]: 2·2 = 4, 2·1 = 2, 2·(−1) = −2, 1 + 9 = 10, −1 + 3 = 2, 1 + 1 + 4 = 6. det A =
        // (2·3·2)² = 144.
        let a = [[4.0, 2.0, -2.0], [2.0, 10.0, 2.0], [-2.0, 2.0, 6.0]];
        let factor = Cholesky::new(3, 0.0, |i, j| a[i][j]).expect("positive");
        assert_eq!(factor.lower, [2.0, 1.0, 3.0, -1.0, 1.0, 2.0]);
        assert!((factor.log_root_determinant() - 12.0_f64.ln()).abs() < 1e-12);
        // A · (1, 2, 3) = (2, 28, 20).
        assert_eq!(factor.solve(vec![2.0, 28.0, 20.0]), [1.0, 2.0, 3.0]);
        // A⁻¹ has the cofactors 10·6 − 2·2, 4·6 − 2·2 and 4·10 − 2·2 over 144 on its diagonal.
        for (found, cofactor) in factor.inverse_diagonal().iter().zip([56.0, 20.0, 36.0]) {
            assert!((found - cofactor / 144.0).abs() < 1e-15, "{found}");
        }
        // L · (1, 2, 3) = (2, 7, 7).
        assert_eq!(factor.solve_lower(vec![2.0, 7.0, 7.0]), [1.0, 2.0, 3.0]);
    }

    #[test]
    fn a_matrix_that_is_not_positive_is_refused() {
        let alike = [[1.0, 2.0], [2.0, 4.0]];
        assert_eq!(Cholesky::new(2, 0.0, |i, j| alike[i][j]), None);
        assert_eq!(Cholesky::new(1, 0.0, |_, _| f64::NAN), None);
        // Within rounding of a combination of the others.
        let nearly = [[1.0, 1.0], [1.0, 1.0 + 1e-12]];
        assert_eq!(Cholesky::new(2, 1e-10, |i, j| nearly[i][j]), None);
        assert!(Cholesky::new(2, 0.0, |i, j| nearly[i][j]).is_some());
    }
}
