//! The few statistics the measuring stages share. Quantiles come from `statrs`.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Turns a median absolute deviation into a standard deviation, for a normal
/// distribution: 1 / Φ⁻¹(3/4).
pub const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// The median of normal errors is this much less sure than their mean: √(π/2), rounded.
pub const MEDIAN_COST: f64 = 1.2533;

/// Two-sided 95 % quantile of the normal distribution, Φ⁻¹(0.975).
pub const NORMAL95: f64 = 1.959_963_984_540_054;

/// Median; the mean of the two middle values for an even count. `None` for no values.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    median_within(&mut values.to_vec())
}

/// The same without a copy, which of a long capture is millions of values; reorders them.
pub(crate) fn median_within(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    // No more is put in order than it takes.
    let middle = values.len() / 2;
    let odd = values.len() % 2 == 1;
    let (below, &mut upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if odd {
        return Some(upper);
    }
    below.iter().copied().max_by(f64::total_cmp).map(|lower| lower.midpoint(upper))
}

/// The middle value, the upper of the two for an even count, so that it is always one that occurs;
/// `None` for no values. In linear time; reorders them.
#[must_use]
pub fn upper_median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let (_, median, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(*median)
}

/// Arithmetic mean; `None` for no values.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Sample standard deviation (n − 1); `None` under two values.
#[must_use]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let mean = mean(values)?;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (values.len() > 1).then(|| (squares / (values.len() - 1) as f64).sqrt())
}

/// Two-sided 95 % quantile of Student's t: 12.71 for one degree of freedom, 1.96 for many.
///
/// `freedom` must be positive.
#[must_use]
pub fn t95(freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975))
}

/// Autocorrelation at lag one of a series, 0 where it cannot be told (under
/// five values, or no spread) or is negative.
#[must_use]
pub fn lag_one(values: &[f64]) -> f64 {
    let Some(mean) = mean(values).filter(|_| values.len() >= 5) else { return 0.0 };
    let spread: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let product: f64 = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
    if spread > 0.0 { (product / spread).clamp(0.0, 0.99) } else { 0.0 }
}

/// Independent observations that a serially correlated series is worth: n (1 − ρ) / (1 + ρ), at
/// least 1 (Bartlett; first-order autoregression).
#[must_use]
pub fn effective_count(values: &[f64]) -> f64 {
    let rho = lag_one(values);
    (values.len() as f64 * (1.0 - rho) / (1.0 + rho)).max(1.0)
}

/// Huber's location of weighted values: mean of those near the middle, with a bounded pull from
/// those far off. `scale` is the spread beyond which a value counts as far.
#[must_use]
pub fn huber_location(values: &[f64], weights: &[f64], scale: f64) -> Option<f64> {
    let mut at = median(values)?;
    // Converges in a handful of steps; thirty is far more than needed.
    for _ in 0..30 {
        let (mut sum, mut total) = (0.0, 0.0);
        for (value, weight) in values.iter().zip(weights) {
            let far = (value - at).abs() / scale;
            let weight = weight * if far > 1.0 { 1.0 / far } else { 1.0 };
            sum += weight * value;
            total += weight;
        }
        let next = sum / total;
        if (next - at).abs() < 1e-9 {
            return Some(next);
        }
        at = next;
    }
    Some(at)
}

/// log Σ exp, safe for very small terms; −∞ for none.
pub(crate) fn log_sum(terms: impl IntoIterator<Item = f64>) -> f64 {
    let terms: Vec<f64> = terms.into_iter().collect();
    let most = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + terms.iter().map(|term| (term - most).exp()).sum::<f64>().ln()
}

/// Greatest common divisor (Euclid); of nothing and a number the number.
pub(crate) fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn student_quantiles_match_the_nist_table() {
        // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975.
        let rows = [
            (1.0, 12.706),
            (2.0, 4.303),
            (3.0, 3.182),
            (8.0, 2.306),
            (30.0, 2.042),
            (100.0, 1.984),
        ];
        for (freedom, want) in rows {
            // The table has three decimals.
            assert_abs_diff_eq!(t95(freedom), want, epsilon = 0.0006);
        }
    }

    #[test]
    fn medians_and_deviations_match_numpy() {
        // numpy.median and numpy.std(ddof=1) of these values.
        let values = [2.0, 4.0, 4.0, 5.0, 7.0, 9.0];
        assert_eq!(median(&values), Some(4.5));
        assert_abs_diff_eq!(
            standard_deviation(&values).unwrap(),
            2.483_277_404_291_89,
            epsilon = 1e-12
        );
        assert_eq!(median(&[]), None);
        // The upper of the two middle values, 4 and 5.
        assert_eq!(upper_median(&mut [9.0, 2.0, 7.0, 4.0, 5.0, 4.0]), Some(5.0));
        assert_eq!(upper_median(&mut [9.0, 2.0, 7.0]), Some(7.0));
        assert_eq!(upper_median(&mut []), None);
        assert_eq!(standard_deviation(&[1.0]), None);
        assert_eq!(standard_deviation(&[3.0, 3.0]), Some(0.0));
    }

    #[test]
    fn a_trend_is_worth_fewer_observations() {
        let drifting: Vec<f64> = (0..20).map(f64::from).collect();
        assert!(effective_count(&drifting) < 3.0);
        let steady = [1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
        assert_eq!(effective_count(&steady), 6.0);
    }

    #[test]
    fn one_wild_value_does_not_pull_the_location() {
        let values = [0.1, -0.1, 0.0, 0.05, -0.05, 30.0];
        let at = huber_location(&values, &[1.0; 6], 0.3).unwrap();
        assert!(at.abs() < 0.1, "{at}");
    }
}
