//! A lead as a slow, even series: what a compression takes tens of milliseconds for.

use crate::capture::{Clock, Samples};
use crate::units::Seconds;

/// Seconds between values: a thirtieth of the shortest compression (an eight-cylinder engine at 450
/// rpm).
const STEP_S: f64 = 1.0e-3;
/// From so many rows on the middle one of a step stands for it: an ignition spike is not part of
/// it.
const ROWS_FOR_A_MEDIAN: usize = 5;

/// A lead, averaged to even steps.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    start: f64,
    step: f64,
    /// Values; those of a lead that falls with a compression are turned over.
    pub(super) values: Vec<f64>,
}

impl Series {
    /// Of a channel. `rises` is 1 for a lead that rises with a compression, −1 for one that falls.
    /// `None` with fewer than two rows.
    #[must_use]
    pub fn of(values: Samples<'_>, clock: &Clock, rises: f64) -> Option<Series> {
        let count = values.len();
        if count < 2 {
            return None;
        }
        let (start, end) = (clock.at(0).0, clock.at(count - 1).0);
        let step = STEP_S.max((end - start) / (count - 1) as f64);
        let steps = ((end - start) / step).floor() as usize + 1;
        let mut row = 0;
        let mut last = f64::from(values[0]);
        let series = (0..steps)
            .map(|index| {
                let until = start + (index as f64 + 0.5) * step;
                let first = row;
                while row < count && clock.at(row).0 < until {
                    row += 1;
                }
                last = middle(values.slice(first..row)).unwrap_or(last);
                rises * last
            })
            .collect();
        Some(Series { start, step, values: series })
    }

    /// The values averaged over so many.
    #[must_use]
    pub fn smoothed(&self, width: usize) -> Vec<f64> {
        moving_mean(&self.values, width)
    }

    /// Seconds between values.
    #[must_use]
    pub fn step(&self) -> f64 {
        self.step
    }

    /// When a value is.
    #[must_use]
    pub fn at(&self, index: usize) -> Seconds {
        Seconds(self.start + index as f64 * self.step)
    }

    /// The place of a time, in steps from the first value.
    #[must_use]
    pub fn place(&self, at: Seconds) -> f64 {
        (at.0 - self.start) / self.step
    }
}

/// Median of many rows, mean of a few.
fn middle(rows: Samples<'_>) -> Option<f64> {
    if rows.len() < ROWS_FOR_A_MEDIAN {
        let sum: f64 = rows.iter().map(|&value| f64::from(value)).sum();
        return (!rows.is_empty()).then(|| sum / rows.len() as f64);
    }
    let mut sorted = rows.to_vec();
    let half = sorted.len() / 2;
    let (_, median, _) = sorted.select_nth_unstable_by(half, f32::total_cmp);
    Some(f64::from(*median))
}

/// Mean over a stretch around each value, shorter at the ends.
pub(super) fn moving_mean(values: &[f64], width: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    let half = width / 2;
    (0..values.len())
        .map(|index| {
            let (from, to) = (index.saturating_sub(half), (index + half + 1).min(values.len()));
            (sums[to] - sums[from]) / (to - from) as f64
        })
        .collect()
}
