//! A median that many small values cannot outvote.

/// The value at which half of the sum of all values is reached, counted from the smallest: what
/// most of the time (of durations) or most of the signal (of areas) is made of. `None` for none.
/// Values must not be negative; reorders them.
pub(super) fn weighted_median(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let half = values.iter().sum::<f64>() / 2.0;
    let mut sum = 0.0;
    values.iter().copied().find(|value| {
        sum += value;
        sum >= half
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thousand_crumbs_do_not_outvote_three_loaves() {
        let mut values: Vec<f64> = vec![0.001; 1000];
        values.extend([9.0, 11.0, 10.0]);
        assert_eq!(weighted_median(&mut values), Some(10.0));
        assert_eq!(weighted_median(&mut []), None);
        assert_eq!(weighted_median(&mut [0.0, 0.0]), Some(0.0));
    }
}
