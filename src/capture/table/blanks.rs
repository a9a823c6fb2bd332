//! Cells without a value: regular ones are a channel that was sampled more slowly than the table.

use crate::capture::Clock;

/// Two samples no farther apart than this many of the channel's usual steps have a straight line
/// between them. A sample lost of a regular channel makes two steps, and more is no rule any more.
const REGULAR: f64 = 1.5;
/// Steps looked at for the usual one, in stretches: enough for a median, and no stretch so short
/// that a pattern of blanks would not show in it.
const STRETCH: usize = 1000;
const STRETCHES: usize = 10;

/// Fills blanks (NaN) that come regularly by straight lines in time; gives how many. Other blanks
/// stay.
///
/// Over-range marks of a signal leave runs of values beside runs of blanks, so its usual step is
/// one row, and no blank lies within it. The samples of a slower channel, or of one of two
/// recorders whose rows were sorted into one table, are evenly spaced in time, whatever rows lie
/// between.
pub(super) fn fill_regular(values: &mut [f32], clock: &Clock) -> usize {
    // What changes at uneven times is no channel with a step of its own, unless it has many levels.
    if matches!(clock, Clock::Stamped(_)) && has_two_levels(values) {
        return 0;
    }
    let Some(usual) = usual_step(values, clock) else { return 0 };
    let mut filled = 0;
    let mut before: Option<usize> = None;
    for row in 0..values.len() {
        if values[row].is_nan() {
            continue;
        }
        if let Some(from) = before.filter(|&from| row - from > 1) {
            let (start, end) = (clock.at(from).0, clock.at(row).0);
            let ends = (f64::from(values[from]), f64::from(values[row]));
            if end - start <= REGULAR * usual && values[from].is_finite() && values[row].is_finite()
            {
                for (offset, value) in values[from + 1..row].iter_mut().enumerate() {
                    let share = (clock.at(from + 1 + offset).0 - start) / (end - start);
                    *value = (ends.0 + (ends.1 - ends.0) * share) as f32;
                    filled += 1;
                }
            }
        }
        before = Some(row);
    }
    if filled > 0 {
        filled += hold_ends(values, clock, REGULAR * usual);
    }
    filled
}

/// Repeats a slower channel's first value before it and its last one after it, as far as its step
/// reaches: there it is not known, and not out of range.
fn hold_ends(values: &mut [f32], clock: &Clock, reach: f64) -> usize {
    let there = |value: &f32| !value.is_nan();
    let (Some(first), Some(last)) = (values.iter().position(there), values.iter().rposition(there))
    else {
        return 0;
    };
    let near = |row: usize, end: usize| (clock.at(row).0 - clock.at(end).0).abs() <= reach;
    let from = (0..first).find(|&row| near(row, first)).unwrap_or(first);
    let to = (last + 1..values.len()).take_while(|&row| near(row, last)).count();
    let ends = (values[first], values[last]);
    values[from..first].fill(ends.0);
    values[last + 1..last + 1 + to].fill(ends.1);
    first - from + to
}

/// At most two different numbers.
fn has_two_levels(values: &[f32]) -> bool {
    let mut numbers = values.iter().filter(|value| value.is_finite());
    let Some(first) = numbers.next() else { return true };
    let Some(second) = numbers.find(|&value| value != first) else { return true };
    numbers.all(|value| value == first || value == second)
}

/// The median time from one value to the next; `None` without a blank or with too few values.
fn usual_step(values: &[f32], clock: &Clock) -> Option<f64> {
    if !values.iter().any(|value| value.is_nan()) {
        return None;
    }
    let mut steps = Vec::new();
    let apart = (values.len() / STRETCHES).max(1);
    for start in (0..values.len()).step_by(apart) {
        let present = (start..values.len()).filter(|&row| !values[row].is_nan());
        let present: Vec<usize> = present.take(STRETCH + 1).collect();
        let step = |pair: &[usize]| clock.at(pair[1]).0 - clock.at(pair[0]).0;
        steps.extend(present.windows(2).map(step));
    }
    if steps.len() < 2 {
        return None;
    }
    let middle = steps.len() / 2;
    Some(*steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;

    const NAN: f32 = f32::NAN;

    fn filled(values: &[f32]) -> (usize, Vec<f32>) {
        let clock = Clock::Uniform { start: Seconds(0.0), step: Seconds(0.5) };
        let mut values = values.to_vec();
        let count = fill_regular(&mut values, &clock);
        (count, values.iter().map(|&value| if value.is_nan() { -99.0 } else { value }).collect())
    }

    #[test]
    fn regular_blanks_are_a_slower_channel() {
        let slow = [NAN, 0.0, NAN, NAN, 3.0, NAN, NAN, 6.0, NAN, NAN, 0.0, NAN];
        let want = vec![0.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 4.0, 2.0, 0.0, 0.0];
        assert_eq!(filled(&slow), (8, want));
    }

    #[test]
    fn a_value_lost_of_a_slower_channel_is_no_line() {
        let lost = [0.0, NAN, 2.0, NAN, 4.0, NAN, NAN, NAN, 8.0, NAN, 10.0];
        let want = vec![0.0, 1.0, 2.0, 3.0, 4.0, -99.0, -99.0, -99.0, 8.0, 9.0, 10.0];
        assert_eq!(filled(&lost), (3, want));
    }

    #[test]
    fn runs_of_blanks_beside_runs_of_values_are_over_range() {
        let clipped = [4.0, 5.0, NAN, NAN, 5.0, 1.0, 0.0, 1.0, 5.0, NAN, NAN, 5.0, 1.0];
        assert_eq!(filled(&clipped).0, 0);
        // One blank among values, too.
        assert_eq!(filled(&[1.0, 2.0, NAN, 2.0, 1.0, 2.0, 3.0]).0, 0);
    }

    #[test]
    fn two_recorders_sorted_into_one_table() {
        // Values every 3 ms; the other recorder's rows every 2 ms leave blanks, one or none between
        // two of them.
        let stamps: Vec<f64> = vec![0.0, 2.0, 3.0, 4.0, 6.0, 8.0, 9.0, 10.0, 12.0];
        let mut values = [0.0, NAN, 3.0, NAN, 6.0, NAN, 9.0, NAN, 12.0];
        assert_eq!(fill_regular(&mut values, &Clock::Stamped(stamps.clone())), 4);
        let want: Vec<f32> = stamps.iter().map(|&stamp| stamp as f32).collect();
        assert_eq!(values.to_vec(), want);
    }

    #[test]
    fn changes_written_where_they_happen_are_no_samples() {
        let stamps = vec![0.0, 1.0, 2.5, 3.0, 4.5, 6.0];
        let mut values = [0.0, NAN, 1.0, NAN, 0.0, NAN];
        assert_eq!(fill_regular(&mut values, &Clock::Stamped(stamps)), 0);
    }
}
