//! The two levels of a square wave, and what a signal's values say about its shape.

use crate::stats::{MAD_TO_SD, upper_median};

/// Two levels found in a signal's values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Levels {
    /// Median of the low values.
    pub low: f64,
    /// Median of the high values.
    pub high: f64,
    /// Robust standard deviation about the two levels.
    pub noise: f64,
    /// Of the values of each level, the share within [`NEAR`] of the swing from it; the lesser
    /// of the two levels.
    pub share_near: f64,
    /// Share of the values in the middle half of the swing: on their way from one level to the other.
    pub share_between: f64,
    /// From the least value to the greatest, spikes left out.
    pub extent: f64,
    /// How far the extremes (spikes left out) reach beyond the levels, as a share of the swing.
    pub overshoot: f64,
}

/// Part of the swing that counts as "at the level".
const NEAR: f64 = 0.15;
/// Most values looked at; more change nothing but the time it takes.
const MOST_VALUES: usize = 400_000;
/// Share of the values left out at each end when the extremes are taken: room for ignition
/// spikes, yet less than one narrow tooth of a one-tooth cam wheel takes (a 10° tooth: 2.8 %).
const SPIKE_SHARE: f64 = 0.005;

impl Levels {
    /// Measures the levels of a signal; `None` for an empty one.
    ///
    /// The split between low and high starts half-way between the extremes and is moved to the middle of
    /// the two medians until it rests; medians, so spikes and ringing do not pull.
    pub fn measure(values: &[f32]) -> Option<Levels> {
        let stride = values.len().div_ceil(MOST_VALUES).max(1);
        let mut sorted: Vec<f32> = values.iter().copied().step_by(stride).collect();
        sorted.sort_unstable_by(f32::total_cmp);
        let count = sorted.len();
        let skip = (count as f64 * SPIKE_SHARE) as usize;
        let (least, most) = (*sorted.get(skip)?, *sorted.get(count - 1 - skip)?);
        let mut split = f64::from(least).midpoint(f64::from(most));
        let (mut low, mut high) = (f64::from(least), f64::from(most));
        for _ in 0..4 {
            let cut = sorted.partition_point(|&value| f64::from(value) < split);
            if cut == 0 || cut == count {
                break;
            }
            low = f64::from(sorted[cut / 2]);
            high = f64::from(sorted[cut + (count - cut) / 2]);
            split = low.midpoint(high);
        }
        let near = NEAR * (high - low);
        let cut = sorted.partition_point(|&value| f64::from(value) < split);
        let share_within = |part: &[f32], level: f64| {
            let inside = part.iter().filter(|&&value| (f64::from(value) - level).abs() <= near);
            inside.count() as f64 / part.len().max(1) as f64
        };
        let share_near = share_within(&sorted[..cut], low).min(share_within(&sorted[cut..], high));
        let between = |value: f64| ((value - low) / (high - low) - 0.5).abs() < 0.25;
        let share_between =
            sorted.iter().filter(|&&value| between(f64::from(value))).count() as f64 / count as f64;
        let beyond = (low - f64::from(least)).max(f64::from(most) - high);
        let mut off: Vec<f64> = sorted
            .iter()
            .map(|&value| (f64::from(value) - low).abs().min((f64::from(value) - high).abs()))
            .collect();
        let noise = MAD_TO_SD * upper_median(&mut off)?;
        let extent = f64::from(most) - f64::from(least);
        // Equal levels have no swing to be a share of.
        let overshoot = if high > low { beyond / (high - low) } else { f64::INFINITY };
        Some(Levels { low, high, noise, share_near, share_between, extent, overshoot })
    }

    /// High less low.
    pub fn swing(&self) -> f64 {
        self.high - self.low
    }
}

/// Share of the values that sit exactly on the least or greatest value of the signal in runs of
/// three or more: an analogue signal touches its true extreme once, a clipped one stays there.
pub(super) fn share_at_limits(values: &[f32]) -> f64 {
    let least = values.iter().copied().fold(f32::INFINITY, f32::min);
    let most = values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let stuck = values
        .chunk_by(|a, b| a == b)
        .filter(|run| run.len() >= 3 && (run[0] == least || run[0] == most))
        .map(<[f32]>::len)
        .sum::<usize>();
    stuck as f64 / values.len().max(1) as f64
}
