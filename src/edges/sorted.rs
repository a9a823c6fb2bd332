//! The values of windows that overlap by half, each window's in order of size.
//!
//! Half of a window's values are the next one's as well: each half is sorted once, and a window is two
//! sorted halves put together.

use crate::capture::Samples;

/// Two sorted lists as one.
fn merge(one: &[f32], other: &[f32], into: &mut Vec<f32>) {
    into.clear();
    let (mut a, mut b) = (0, 0);
    while let (Some(&left), Some(&right)) = (one.get(a), other.get(b)) {
        let first = left.total_cmp(&right).is_le();
        into.push(if first { left } else { right });
        a += usize::from(first);
        b += usize::from(!first);
    }
    into.extend_from_slice(&one[a..]);
    into.extend_from_slice(&other[b..]);
}

/// The windows of a signal.
pub(super) struct Windows<'a> {
    values: Samples<'a>,
    rows: usize,
    /// Only every so many-th value of a window is looked at.
    stride: usize,
    /// Where the half that was sorted last begins, and its values.
    half: (usize, Vec<f32>),
    window: Vec<f32>,
}

impl<'a> Windows<'a> {
    /// Windows of so many rows, of which `most` values at most are looked at.
    pub fn new(values: Samples<'a>, rows: usize, most: usize) -> Windows<'a> {
        let stride = rows.div_ceil(most).max(1);
        let half = (usize::MAX, Vec::new());
        Windows { values, rows, stride, half, window: Vec::new() }
    }

    /// The values of the window that begins at a row, the least first. Windows in order, each half a
    /// window after the one before, take the least time.
    pub fn at(&mut self, from: usize) -> &[f32] {
        let half = self.rows / 2;
        if self.stride > 1 || half == 0 {
            let window = self.values.slice(from..from + self.rows);
            window.sorted_into(self.stride, &mut self.window);
            return &self.window;
        }
        let part = |from: usize| {
            let mut sorted = Vec::new();
            self.values.slice(from..from + half).sorted_into(1, &mut sorted);
            sorted
        };
        let (at, before) = std::mem::take(&mut self.half);
        let first = if at == from { before } else { part(from) };
        let second = part(from + half);
        merge(&first, &second, &mut self.window);
        // A window of odd length has one more.
        for &value in self.values.slice(from + 2 * half..from + self.rows).iter() {
            let place = self.window.partition_point(|other| other.total_cmp(&value).is_lt());
            self.window.insert(place, value);
        }
        self.half = (from + half, second);
        &self.window
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_hold_their_values_in_order() {
        // Golden-ratio fractions, some below zero, some equal.
        let value = |i: usize| ((i as f32 * 0.618_034).fract() * 40.0).round() / 4.0 - 5.0;
        let values: Vec<f32> = (0..200).map(value).collect();
        for (rows, most) in [(1, 9), (10, 99), (11, 99), (20, 7)] {
            let mut windows = Windows::new((&values).into(), rows, most);
            let starts = (0..=200 - rows).step_by((rows / 2).max(1));
            for from in starts.chain([200 - rows, 3]) {
                let stride = rows.div_ceil(most);
                let part = values[from..from + rows].iter().copied().step_by(stride);
                let mut want: Vec<f32> = part.collect();
                want.sort_by(f32::total_cmp);
                assert_eq!(windows.at(from), want, "{rows} rows from {from}");
            }
        }
    }
}
