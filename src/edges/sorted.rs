//! The values of windows that overlap by half, each window's in order of size.
//!
//! Half of a window's values are the next one's as well: each half is sorted once, and a window is two
//! sorted halves put together.

use crate::capture::Samples;

/// A number in the order of [`f32::total_cmp`]; the same function leads back.
fn key(bits: i32) -> i32 {
    bits ^ ((bits >> 31) as u32 >> 1) as i32
}

fn sorted<'a>(values: impl Iterator<Item = &'a f32>) -> Vec<i32> {
    let mut keys: Vec<i32> = values.map(|value| key(value.to_bits() as i32)).collect();
    keys.sort_unstable();
    keys
}

/// Two sorted lists as one.
fn merge(one: &[i32], other: &[i32], into: &mut Vec<i32>) {
    into.clear();
    let (mut a, mut b) = (0, 0);
    while let (Some(&left), Some(&right)) = (one.get(a), other.get(b)) {
        let first = left <= right;
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
    half: (usize, Vec<i32>),
    keys: Vec<i32>,
    window: Vec<f32>,
}

impl<'a> Windows<'a> {
    /// Windows of so many rows, of which `most` values at most are looked at.
    pub fn new(values: Samples<'a>, rows: usize, most: usize) -> Windows<'a> {
        let stride = rows.div_ceil(most).max(1);
        let half = (usize::MAX, Vec::new());
        Windows { values, rows, stride, half, keys: Vec::new(), window: Vec::new() }
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
        let mut part = |from: usize, rows: usize| {
            self.values.slice(from..from + rows).copy_to(&mut self.window);
            sorted(self.window.iter())
        };
        let (at, before) = std::mem::take(&mut self.half);
        let first = if at == from { before } else { part(from, half) };
        let second = part(from + half, half);
        merge(&first, &second, &mut self.keys);
        // A window of odd length has one more.
        for &value in self.values.slice(from + 2 * half..from + self.rows).iter() {
            let key = key(value.to_bits() as i32);
            self.keys.insert(self.keys.partition_point(|&other| other < key), key);
        }
        self.half = (from + half, second);
        self.window.clear();
        self.window.extend(self.keys.iter().map(|&bits| f32::from_bits(key(bits) as u32)));
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
