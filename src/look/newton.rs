//! The likeliest squares of lengths, by Newton's method.

use crate::matrix::{Cholesky, dot};

/// Steps of Newton's method at most; the function is concave and close to a parabola.
const NEWTON: usize = 12;

/// The squares x with the greatest −½ |Cx − m|² + Σ p ln x, by Newton's method from `squares`; the
/// factored Hessian there, and that greatest value.
pub(super) fn likeliest(
    columns: &[Vec<f64>],
    mean: &[f64],
    mut squares: Vec<f64>,
    powers: &[f64],
) -> Option<(Vec<f64>, Cholesky, f64)> {
    /// Most that one step may shrink a square by, and change of one that is no longer looked at.
    const SHRINK: f64 = 0.5;
    const FOUND: f64 = 1e-6;
    let count = columns.len();
    let hessian = |squares: &[f64]| {
        Cholesky::new(count, 0.0, |i, j| {
            let own = if i == j { powers[i] / (squares[i] * squares[i]) } else { 0.0 };
            dot(&columns[i], &columns[j]) + own
        })
    };
    let left = |squares: &[f64]| -> Vec<f64> {
        let of = |i: usize| {
            mean[i] - columns.iter().zip(squares).map(|(column, x)| column[i] * x).sum::<f64>()
        };
        (0..mean.len()).map(of).collect()
    };
    for _ in 0..NEWTON {
        let left = left(&squares);
        let slope = |i: usize| dot(&columns[i], &left) + powers[i] / squares[i];
        let step = hessian(&squares)?.solve((0..count).map(slope).collect());
        let most = squares.iter().zip(&step).map(|(x, step)| (step / x).abs()).fold(0.0, f64::max);
        for (square, step) in squares.iter_mut().zip(step) {
            *square = (*square + step).max(SHRINK * *square);
        }
        if most < FOUND {
            break;
        }
    }
    let left = left(&squares);
    let logs: f64 = powers.iter().zip(&squares).map(|(power, square)| power * square.ln()).sum();
    let factor = hessian(&squares)?;
    Some((squares, factor, logs - 0.5 * dot(&left, &left)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_square_is_found_where_its_slope_vanishes() {
        // −½ (2x − 4)² + 3 ln x: 2 (4 − 2x) + 3 / x = 0, so 4x² − 8x − 3 = 0 and x = 1 + √7 / 2.
        let found = likeliest(&[vec![2.0]], &[4.0], vec![0.1], &[3.0]).expect("found");
        let want = 1.0 + 7.0_f64.sqrt() / 2.0;
        assert!((found.0[0] - want).abs() < 1e-9, "{:?}", found.0);
        let value = 3.0 * want.ln() - 0.5 * (2.0 * want - 4.0).powi(2);
        assert!((found.2 - value).abs() < 1e-9, "{}", found.2);
        // The Hessian there is 4 + 3 / x².
        let root = 0.5 * (4.0 + 3.0 / (want * want)).ln();
        assert!((found.1.log_root_determinant() - root).abs() < 1e-9);
    }
}
