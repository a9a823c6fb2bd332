//! The two levels of a square wave, measured in a moving window, and what the signal's values say
//! about its shape.
//!
//! A sensor fed from the battery loses a quarter to a third of its high level while the starter
//! turns, and gets most of it back (common practice: 12.6 V falls to 8.5 to 10 V). So low and high
//! are two slow curves and not two numbers. A window that shows one level only (the engine at rest,
//! half a turn of a cam) follows that level and takes the other from its neighbours.

use rayon::prelude::*;

use super::slow::Slow;
use super::sorted::Windows;
use crate::capture::Samples;
use crate::stats::MAD_TO_SD;
pub(super) use crate::stats::upper_median as median;

/// Length of a window: several teeth of any crank wheel at 200 rpm, and short against the dip of a
/// battery when the starter engages, some tenths of a second.
const WINDOW_SECONDS: f64 = 0.05;
/// Fewest rows of a window.
const LEAST_ROWS: usize = 32;
/// Most values looked at in a window; more change nothing but the time it takes.
const MOST_VALUES: usize = 4000;
/// Windows looked at one after the other, half of each being half of the next.
const WINDOWS_TOGETHER: usize = 32;
/// Share of the values of a window left out at each end when the extremes are taken: room for an
/// ignition spike, which rings for a quarter of a millisecond.
const SPIKE_SHARE: f64 = 0.005;
/// A window whose extremes are this share of the loudest windows' apart shows both levels, or both
/// swings. A level that is down by a third leaves two thirds; what is left of a sagging level alone
/// is a third at most.
const LOUD_SHARE: f64 = 0.5;
/// The loudest windows are those above this rank, as a share of all: a cam with one narrow tooth is
/// loud in one window out of thirty, a burst of interference in fewer than one in a hundred.
const LOUDEST_RANK: f64 = 0.99;
/// A level that fewer of a window's values belong to is not measured there.
const LEAST_OF_LEVEL: f64 = 0.02;
/// A lone level that moved further than this share of the swing from where its neighbours have it
/// is something else.
const MOST_MOVED: f64 = 0.4;

/// Part of the swing that counts as "at the level".
const NEAR: f64 = 0.15;
/// Share of each level's values that must lie near it for a square wave. Half of a sine lies within
/// 15 % of its extremes (2/π · arccos 0.7 = 0.51); a square wave with slow edges and narrow pulses
/// still has two thirds or more.
const SQUARE_SHARE: f64 = 0.6;
/// A square wave spends less of its time than this between its levels. A sine spends a third in the
/// middle half of its swing (2/π · arcsin ½), one clipped at three quarters of its height still a
/// quarter.
const SQUARE_BETWEEN: f64 = 0.15;
/// A signal that reaches this share of its swing beyond its "levels" for longer than spikes do has
/// no levels: the few pulses of a reluctance cam sensor go as far below the quiet line as above.
const SQUARE_OVERSHOOT: f64 = 0.35;

/// The two levels of a signal as they move.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Levels {
    /// The low level.
    pub low: Slow,
    /// The high level.
    pub high: Slow,
    /// Robust standard deviation about the two levels.
    pub noise: f64,
    /// Share (0..1) of the windows that show both levels in which the signal looks like a square
    /// wave.
    pub square: f64,
    /// From least to greatest value in the loudest windows, spikes left out.
    pub extent: f64,
}

/// What one window shows.
#[derive(Debug, Clone, Copy)]
struct Window {
    /// Its middle.
    row: f64,
    /// Median of all values.
    middle: f64,
    /// Medians of the low and the high values.
    low: f64,
    high: f64,
    /// From least to greatest, spikes left out.
    extent: f64,
    /// Robust standard deviation about the two levels.
    noise: f64,
    /// Share of the values that belongs to the level with fewer.
    lesser: f64,
    /// Whether it looks like a square wave.
    square: bool,
}

impl Levels {
    /// Measures the levels of a signal with this time from row to row; `None` for an empty one.
    pub fn measure(values: Samples<'_>, step: f64) -> Option<Levels> {
        let rows = (WINDOW_SECONDS / step).ceil() as usize;
        let rows = rows.max(LEAST_ROWS).min(values.len());
        let hop = (rows / 2).max(1);
        let last = values.len().checked_sub(rows)?;
        // The end of the signal is in a window of its own.
        let end = (!last.is_multiple_of(hop)).then_some(last);
        let starts: Vec<usize> = (0..=last).step_by(hop).chain(end).collect();
        let windows: Vec<Window> = starts
            .par_chunks(WINDOWS_TOGETHER)
            .flat_map_iter(|starts| {
                let mut sorted = Windows::new(values, rows, MOST_VALUES);
                let middle = rows as f64 / 2.0;
                let look = move |&from: &usize| Window::look(sorted.at(from), from as f64 + middle);
                starts.iter().filter_map(look)
            })
            .collect();
        let mut extents: Vec<f64> = windows.iter().map(|window| window.extent).collect();
        extents.sort_by(f64::total_cmp);
        let loudest = *extents.get(
            ((extents.len() as f64 * LOUDEST_RANK) as usize).min(extents.len().checked_sub(1)?),
        )?;
        let loud: Vec<&Window> =
            windows.iter().filter(|window| window.extent >= LOUD_SHARE * loudest).collect();
        let both: Vec<&Window> =
            loud.iter().copied().filter(|window| window.lesser >= LEAST_OF_LEVEL).collect();
        let (low, high) = curves(&windows, &both);
        let square = loud.iter().filter(|window| window.square).count() as f64 / loud.len() as f64;
        let mut noise: Vec<f64> = loud.iter().map(|window| window.noise).collect();
        Some(Levels { low, high, noise: median(&mut noise)?, square, extent: loudest })
    }

    /// Typical low and high level.
    pub fn typical(&self) -> (f64, f64) {
        (self.low.typical(), self.high.typical())
    }

    /// Typical high level less typical low.
    pub fn swing(&self) -> f64 {
        let (low, high) = self.typical();
        high - low
    }
}

/// The curves of both levels: through the windows that show both, then through those that show one.
fn curves(windows: &[Window], both: &[&Window]) -> (Slow, Slow) {
    let through = |level: fn(&Window) -> f64| {
        let points = both.iter().map(|window| (window.row, level(window))).collect();
        let mut all: Vec<f64> = windows.iter().map(level).collect();
        Slow::through(points, median(&mut all).unwrap_or(0.0))
    };
    let (low, high) = (through(|window| window.low), through(|window| window.high));
    let (mut lows, mut highs) = (Vec::new(), Vec::new());
    let mut known = both.iter().map(|window| window.row).peekable();
    let (mut low_walk, mut high_walk) = (low.walk(), high.walk());
    for window in windows {
        let row = window.row as usize;
        let (low, high) = (low_walk.at(row), high_walk.at(row));
        if known.next_if_eq(&window.row).is_some() {
            lows.push((window.row, window.low));
            highs.push((window.row, window.high));
            continue;
        }
        let (from_low, from_high) = ((window.middle - low).abs(), (window.middle - high).abs());
        if from_low.min(from_high) > MOST_MOVED * (high - low) {
            continue;
        }
        if from_low < from_high {
            lows.push((window.row, window.middle));
        } else {
            highs.push((window.row, window.middle));
        }
    }
    (Slow::through(lows, low.typical()), Slow::through(highs, high.typical()))
}

impl Window {
    /// The split between low and high starts half-way between the extremes and is moved to the
    /// middle of the two medians until it rests; medians, so spikes and ringing do not pull.
    ///
    /// Values in order of size; `row` is the window's middle.
    fn look(sorted: &[f32], row: f64) -> Option<Window> {
        let count = sorted.len();
        let skip = (count as f64 * SPIKE_SHARE).ceil() as usize;
        let (least, most) = (*sorted.get(skip)?, *sorted.get(count.checked_sub(1 + skip)?)?);
        let (mut low, mut high) = (f64::from(least), f64::from(most));
        let extent = high - low;
        let (beyond_low, beyond_high) = (low, high);
        let mut split = low.midpoint(high);
        for _ in 0..4 {
            let cut = sorted.partition_point(|&value| f64::from(value) < split);
            if cut == 0 || cut == count {
                break;
            }
            low = f64::from(sorted[cut / 2]);
            high = f64::from(sorted[cut + (count - cut) / 2]);
            split = low.midpoint(high);
        }
        let swing = high - low;
        let cut = sorted.partition_point(|&value| f64::from(value) < split);
        let share_near = |part: &[f32], level: f64| {
            let near = count_within(part, |value| value - level, |off| off <= NEAR * swing);
            near as f64 / part.len().max(1) as f64
        };
        let near = share_near(&sorted[..cut], low).min(share_near(&sorted[cut..], high));
        let height = |value: f64| (value - low) / swing - 0.5;
        let between = if swing > 0.0 {
            count_within(sorted, height, |off| off < 0.25) as f64 / count as f64
        } else {
            0.0
        };
        // Equal levels have no swing to be a share of.
        let beyond = (low - beyond_low).max(beyond_high - high);
        let overshoot = if swing > 0.0 { beyond / swing } else { f64::INFINITY };
        let mut off: Vec<f64> = sorted
            .iter()
            .map(|&value| (f64::from(value) - low).abs().min((f64::from(value) - high).abs()))
            .collect();
        Some(Window {
            row,
            middle: f64::from(sorted[count / 2]),
            low,
            high,
            extent,
            noise: MAD_TO_SD * median(&mut off)?,
            lesser: cut.min(count - cut) as f64 / count as f64,
            square: near >= SQUARE_SHARE
                && between <= SQUARE_BETWEEN
                && overshoot <= SQUARE_OVERSHOOT,
        })
    }
}

/// How many values in order of size are inside a band: those off by no more than `inside` allows,
/// either way. They are one run.
fn count_within(sorted: &[f32], off: impl Fn(f64) -> f64, inside: impl Fn(f64) -> bool) -> usize {
    let off = |value: &f32| off(f64::from(*value));
    let below = |value: &f32| off(value) < 0.0 && !inside(off(value).abs());
    let from = sorted.partition_point(below);
    sorted[from..].partition_point(|value| inside(off(value).abs()))
}

/// Share of the values that sit exactly on the least or greatest value of the signal in runs of
/// three or more: an analogue signal touches its true extreme once, a clipped one stays there.
pub(super) fn share_at_limits(values: Samples<'_>) -> f64 {
    let (least, most) = values.limits();
    let (mut stuck, mut run) = (0_usize, 0_usize);
    let mut last = None;
    for &value in values.iter() {
        run = if last == Some(value) { run + 1 } else { 1 };
        last = Some(value);
        if value == least || value == most {
            // The third one counts for the two before it.
            stuck += match run {
                ..3 => 0,
                3 => 3,
                _ => 1,
            };
        }
    }
    stuck as f64 / values.len().max(1) as f64
}
