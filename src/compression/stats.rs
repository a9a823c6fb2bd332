//! The project's statistics in the form the evidence needs them.

use crate::stats::t95;
pub(super) use crate::stats::{NORMAL95 as NORMAL_95, median, standard_deviation as deviation};

/// Mean; 0 of nothing.
pub(super) fn mean(values: &[f64]) -> f64 {
    crate::stats::mean(values).unwrap_or(0.0)
}

/// Half width of the 95 % interval of a mean, Student's t; `None` under two values.
pub(super) fn half_width95(values: &[f64]) -> Option<f64> {
    let sd = deviation(values)?;
    let n = values.len() as f64;
    Some(t95(n - 1.0) * sd / n.sqrt())
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
