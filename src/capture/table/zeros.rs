//! Zeros in the place of blanks: a slower channel as some exporters write it.

use crate::capture::{Clock, Values};
use crate::stats::greatest_common_divisor;

/// So many values that are not zero, all in step, are no chance: of a signal that is zero at many
/// rows the others stand at even and odd rows alike (one in 2 to the power of 19 all at one).
const ENOUGH: usize = 20;

/// Blanks (NaN) what stands between the values of a slower channel, where that is all zeros: every
/// value that is not zero is at one row in so many, counted from the first. Whether it was so. Two
/// levels alone may as well be pulses of one row each, and are left.
pub(super) fn blank_between(values: &mut Values, clock: &Clock) -> bool {
    // Changes stand where they happen.
    if matches!(clock, Clock::Stamped(_)) {
        return false;
    }
    let Some(first) = values.iter().position(|&value| value != 0.0) else { return false };
    let (mut step, mut count) = (0, 0);
    let (mut levels, mut several) = (values[first], false);
    for (row, &value) in values.iter().enumerate().skip(first) {
        if value == 0.0 {
            continue;
        }
        step = greatest_common_divisor(step as u64, (row - first) as u64) as usize;
        if step == 1 || value.is_nan() {
            return false;
        }
        several |= value != levels;
        levels = value;
        count += 1;
    }
    if count < ENOUGH || !several {
        return false;
    }
    for (row, value) in values.to_mut().iter_mut().enumerate() {
        if row % step != first % step {
            *value = f32::NAN;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;

    fn blanked(values: Vec<f32>) -> Option<Vec<f32>> {
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(0.5) };
        let marked = |value: f32| if value.is_nan() { -99.0 } else { value };
        let mut values = Values::from(values);
        blank_between(&mut values, &clock).then(|| values.iter().copied().map(marked).collect())
    }

    #[test]
    fn zeros_between_values_in_step_are_blanks() {
        let value = |row: usize| [0.0, 1.5, -2.0, 4.0, 0.5][row / 3 % 5];
        let rows = |count: usize| -> Vec<f32> {
            (0..count).map(|row| if row % 3 == 1 { value(row) } else { 0.0 }).collect()
        };
        let want = |row: usize| if row % 3 == 1 { value(row) } else { -99.0 };
        assert_eq!(blanked(rows(90)), Some((0..90).map(want).collect()));
        // A zero of its own stays; too few values, and one out of step, are no rule.
        assert_eq!(want(1), 0.0);
        assert_eq!(blanked(rows(60)), None);
        let mut spoilt = rows(90);
        spoilt[45] = 1.0;
        assert_eq!(blanked(spoilt), None);
    }

    #[test]
    fn pulses_and_changes_are_left() {
        let pulses: Vec<f32> = (0..100).map(|row| f32::from(u8::from(row % 4 == 0))).collect();
        assert_eq!(blanked(pulses), None);
        let mut values = Values::from([1.0, 0.0, 2.0, 0.0].repeat(20));
        let stamps = Clock::Stamped((0..80).map(f64::from).collect());
        assert!(!blank_between(&mut values, &stamps));
        assert!(blanked(vec![0.0; 50]).is_none());
    }
}
