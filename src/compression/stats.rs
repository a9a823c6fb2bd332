//! The few statistics the evidence needs: median, mean with its interval.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Two-sided 95 % point of the normal distribution.
pub(super) const NORMAL_95: f64 = 1.959_963_985;

/// Median; `None` of nothing.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    (n > 0).then(|| 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]))
}

/// Mean; 0 of nothing.
pub(super) fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / values.len() as f64 }
}

/// Standard deviation of single values (n − 1); `None` under two.
pub(super) fn deviation(values: &[f64]) -> Option<f64> {
    let (n, middle) = (values.len(), mean(values));
    let square: f64 = values.iter().map(|value| (value - middle).powi(2)).sum();
    (n > 1).then(|| (square / (n - 1) as f64).sqrt())
}

/// Half width of the 95 % interval of a mean, Student's t; `None` under two values.
pub(super) fn half_width95(values: &[f64]) -> Option<f64> {
    let sd = deviation(values)?;
    let n = values.len() as f64;
    let student = StudentsT::new(0.0, 1.0, n - 1.0).ok()?;
    Some(student.inverse_cdf(0.975) * sd / n.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_interval_of_a_mean_uses_students_t() {
        // NIST/SEMATECH e-Handbook, table of t: 2.776 at 4 degrees of freedom, 0.975.
        let half = half_width95(&[1.0, 2.0, 3.0, 4.0, 5.0]).expect("five values");
        assert!((half - 2.776_445 * 2.5_f64.sqrt() / 5.0_f64.sqrt()).abs() < 1e-5);
        assert_eq!(half_width95(&[1.0]), None);
    }

    #[test]
    fn median_of_even_and_odd_counts() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
    }
}
