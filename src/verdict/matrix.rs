//! The little linear algebra a joint normal density needs.

/// Lower triangle L of a covariance Σ = LLᵀ.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cholesky {
    rows: Vec<Vec<f64>>,
}

impl Cholesky {
    /// Factors the symmetric matrix with the given entries; `None` when it is not positive.
    pub(super) fn new(size: usize, entry: impl Fn(usize, usize) -> f64) -> Option<Cholesky> {
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(size);
        for i in 0..size {
            let mut row: Vec<f64> = Vec::with_capacity(i + 1);
            for (j, above) in rows.iter().enumerate() {
                let below = entry(i, j) - dot(&row, &above[..j]);
                row.push(below / above[j]);
            }
            let pivot = entry(i, i) - dot(&row, &row);
            if !(pivot > 0.0 && pivot.is_finite()) {
                return None;
            }
            row.push(pivot.sqrt());
            rows.push(row);
        }
        Some(Cholesky { rows })
    }

    /// L⁻¹ x.
    pub(super) fn solve_lower(&self, mut x: Vec<f64>) -> Vec<f64> {
        for (i, row) in self.rows.iter().enumerate() {
            x[i] = (x[i] - dot(&row[..i], &x[..i])) / row[i];
        }
        x
    }

    /// ½ log det Σ.
    pub(super) fn log_root_determinant(&self) -> f64 {
        self.rows.iter().enumerate().map(|(i, row)| row[i].ln()).sum()
    }
}

/// Sum of products, as far as the shorter reaches.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
