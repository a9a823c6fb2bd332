//! Where, between samples, a signal crosses a level.

use crate::capture::{Clock, Samples};
use crate::units::Seconds;

/// A crossing of a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Crossing {
    /// When.
    pub at: Seconds,
    /// How fast the value changes there, per second; signed.
    pub slope: f64,
    /// How many samples it was worked out from.
    pub rows: usize,
}

/// Where the samples `first..=last` cross `level`, the signal being on one side at
/// `first` and on the other at `last`.
///
/// With noise on a slow edge the straight line through *all* samples of the transition crosses more
/// surely than the line through the two that happen to bracket the level. Two samples give plain
/// linear interpolation.
pub(super) fn crossing_time(
    clock: &Clock,
    values: Samples<'_>,
    (first, last): (usize, usize),
    level: f64,
) -> Crossing {
    let count = (last - first + 1) as f64;
    let origin = clock.at(first);
    let of = |row: usize| (clock.at(row).0 - origin.0, f64::from(values[row]) - level);
    if last - first >= 2 {
        let (mut sum_t, mut sum_v) = (0.0, 0.0);
        for (t, v) in (first..=last).map(of) {
            sum_t += t;
            sum_v += v;
        }
        let (mean_t, mean_v) = (sum_t / count, sum_v / count);
        let (mut spread, mut slope) = (0.0, 0.0);
        for (t, v) in (first..=last).map(of) {
            spread += (t - mean_t) * (t - mean_t);
            slope += (t - mean_t) * (v - mean_v);
        }
        let crossing = mean_t - mean_v * spread / slope;
        if (0.0..=of(last).0).contains(&crossing) {
            return Crossing {
                at: Seconds(origin.0 + crossing),
                slope: slope / spread,
                rows: last - first + 1,
            };
        }
    }
    bracketed(clock, values, (first, last), level)
}

/// Straight line between the last two neighbours that lie on either side of the level.
fn bracketed(
    clock: &Clock,
    values: Samples<'_>,
    (first, last): (usize, usize),
    level: f64,
) -> Crossing {
    let ends_above = f64::from(values[last]) > level;
    let mut row = last;
    while row > first && (f64::from(values[row - 1]) > level) == ends_above {
        row -= 1;
    }
    let (before, after) = (row.max(1) - 1, row.max(1));
    let (v0, v1) = (f64::from(values[before]) - level, f64::from(values[after]) - level);
    let (t0, t1) = (clock.at(before).0, clock.at(after).0);
    let part = if v0 == v1 { 0.5 } else { (v0 / (v0 - v1)).clamp(0.0, 1.0) };
    Crossing { at: Seconds(t0 + part * (t1 - t0)), slope: (v1 - v0) / (t1 - t0), rows: 2 }
}
