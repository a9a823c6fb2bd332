//! Edges of reluctance signals: passages through zero between two swings large enough to be a tooth.
//!
//! The amplitude grows with speed, so the arming level follows it: no fixed voltage.

use super::crossing::crossing_time;
use super::overflow::undo_wraps;
use super::{Edge, EdgeTrain, SignalFault, SignalShape};
use crate::capture::{Capture, Channel};
use crate::stats::upper_median;
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Length of the blocks over which middle and amplitude are measured: a third of a turn at
/// 200 rpm, several teeth of any crank wheel.
const BLOCK_SECONDS: f64 = 0.1;
/// Blocks on each side that share an amplitude: a cam with one tooth passes once in 0.6 s at 200 rpm.
const BLOCKS_EACH_SIDE: usize = 6;
/// A swing arms at this share of the amplitude around it. Speed ripple of ±25 % and run-out leave every
/// tooth well above; noise, hum and the gap's echo stay below.
const ARM_SHARE: f64 = 0.25;
/// Share of the loudest block around that is the least amplitude a block is given: between standstill
/// and cranking speed the amplitude may treble within the blocks that share it.
const LOUDEST_SHARE: f64 = 0.5;
/// A swing is a tooth's when its peak reaches this share of its neighbours' typical peak.
const TOOTH_SHARE: f64 = 0.3;
/// Swings on each side that are typical of the neighbourhood.
const NEIGHBOURS: usize = 10;
/// The line through zero is fitted to samples within this share of the smaller peak: a sine is straight to
/// 3 % there.
const STRAIGHT_SHARE: f64 = 0.4;

/// A swing to one side of the middle.
#[derive(Debug, Clone, Copy)]
struct Swing {
    /// Row of its peak.
    row: usize,
    /// Height of the peak above (or below) the middle; signed.
    peak: f64,
}

/// Edges of a sampled alternating signal.
pub(super) fn from_samples(capture: &Capture, channel: &Channel) -> EdgeTrain {
    let mut values: Vec<f64> = channel.values.iter().map(|&value| f64::from(value)).collect();
    let wraps = undo_wraps(&mut values);
    remove_spikes(&mut values);
    let (first, last) = capture.span();
    let seconds = (last - first).0;
    let block = (values.len() as f64 * BLOCK_SECONDS / seconds).ceil().max(8.0) as usize;
    let middle = middles(&values, block);
    let centred: Vec<f32> =
        values.iter().enumerate().map(|(row, value)| (value - middle.at(row)) as f32).collect();
    let amplitude = amplitudes(&centred, block);
    let swings = keep_teeth(swings(&centred, &amplitude, block));
    let zero = true_zero(&centred, &swings);
    let edges: Vec<Edge> = swings
        .windows(2)
        .filter(|pair| pair[0].peak * pair[1].peak < 0.0)
        .map(|pair| edge_between(capture, &centred, pair[0], pair[1], zero.at(pair[1].row)))
        .collect();
    let mut highs: Vec<f64> = swings.iter().map(|s| s.peak).filter(|&peak| peak > 0.0).collect();
    let mut lows: Vec<f64> = swings.iter().map(|s| s.peak).filter(|&peak| peak < 0.0).collect();
    let levels = (upper_median(&mut lows).unwrap_or(0.0), upper_median(&mut highs).unwrap_or(0.0));
    let faults = if edges.is_empty() {
        vec![SignalFault::Dead]
    } else if wraps > 0 {
        vec![SignalFault::Wrapped(wraps)]
    } else {
        Vec::new()
    };
    let timing_sd = timing_sd(&centred, &swings, seconds / values.len().max(1) as f64);
    EdgeTrain { edges, shape: SignalShape::Alternating, timing_sd, levels, faults }
}

/// Takes out single-sample spikes: each value becomes the median of itself and its neighbours, which leaves
/// every slope as it is.
fn remove_spikes(values: &mut [f64]) {
    let mut before = values.first().copied().unwrap_or(0.0);
    for row in 1..values.len().saturating_sub(1) {
        let (here, after) = (values[row], values[row + 1]);
        values[row] = here.clamp(before.min(after), before.max(after));
        before = here;
    }
}

/// A slowly moving level, known at some rows and straight between.
struct Slow {
    /// Rows, growing, with the level there; at least one.
    points: Vec<(f64, f64)>,
}

impl Slow {
    fn at(&self, row: usize) -> f64 {
        let row = row as f64;
        let after = self.points.partition_point(|point| point.0 <= row);
        if after == 0 || after == self.points.len() {
            return self.points[after.saturating_sub(1)].1;
        }
        let ((x0, y0), (x1, y1)) = (self.points[after - 1], self.points[after]);
        y0 + (y1 - y0) * (row - x0) / (x1 - x0)
    }
}

/// Whole periods over which the true zero is averaged: most of a turn of any crank wheel, so
/// that the gap's share stays about the same.
const ZERO_PERIODS: usize = 24;

/// The true zero of the centred signal. The voltage is the rate of change of flux, and the flux is the same
/// at every tooth, so over a whole number of teeth the mean voltage is zero whatever the pulse's shape.
/// The median used so far is not, for pulses that are not symmetrical.
fn true_zero(centred: &[f32], swings: &[Swing]) -> Slow {
    let rises: Vec<usize> = swings
        .windows(2)
        .filter(|pair| pair[0].peak < 0.0 && pair[1].peak > 0.0)
        .map(|pair| crossing_row(centred, pair[0].row, pair[1].row))
        .collect();
    let periods = ZERO_PERIODS.min(rises.len().saturating_sub(1)).max(1);
    let hop = (periods / 2).max(1);
    let points: Vec<(f64, f64)> = rises
        .iter()
        .step_by(hop)
        .zip(rises.iter().skip(periods).step_by(hop))
        .map(|(&from, &to)| {
            let sum: f64 = centred[from..to].iter().map(|&value| f64::from(value)).sum();
            ((from + to) as f64 / 2.0, sum / (to - from).max(1) as f64)
        })
        .collect();
    Slow { points: if points.is_empty() { vec![(0.0, 0.0)] } else { points } }
}

/// First row after `from` that lies on the other side of zero, `to` at the latest.
fn crossing_row(centred: &[f32], from: usize, to: usize) -> usize {
    let side = centred[from].is_sign_positive();
    (from..to).find(|&row| centred[row].is_sign_positive() != side).unwrap_or(to)
}

/// The middle of the signal: medians of blocks, each pooled with its neighbours.
fn middles(values: &[f64], block: usize) -> Slow {
    let raw: Vec<f64> =
        values.chunks(block).map(|part| upper_median(&mut part.to_vec()).unwrap_or(0.0)).collect();
    let points = (0..raw.len())
        .map(|i| {
            let (from, to) =
                (i.saturating_sub(BLOCKS_EACH_SIDE), (i + BLOCKS_EACH_SIDE + 1).min(raw.len()));
            let level = upper_median(&mut raw[from..to].to_vec()).unwrap_or(0.0);
            ((i as f64 + 0.5) * block as f64, level)
        })
        .collect();
    Slow { points }
}

/// Amplitude around each block: the greatest swing of the block itself, the typical swing of its
/// neighbours, and a share of their greatest, so that the quiet between the few teeth of
/// a cam wheel is not taken for small teeth.
fn amplitudes(centred: &[f32], block: usize) -> Vec<f64> {
    let own: Vec<f64> = centred
        .chunks(block)
        .map(|part| {
            let mut sizes: Vec<f64> = part.iter().map(|&value| f64::from(value).abs()).collect();
            // The top hundredth is left to spikes.
            let rank = sizes.len() - 1 - sizes.len() / 100;
            let (_, high, _) = sizes.select_nth_unstable_by(rank, f64::total_cmp);
            *high
        })
        .collect();
    (0..own.len())
        .map(|i| {
            let (from, to) =
                (i.saturating_sub(BLOCKS_EACH_SIDE), (i + BLOCKS_EACH_SIDE + 1).min(own.len()));
            let loudest = own[from..to].iter().copied().fold(0.0, f64::max);
            let typical = upper_median(&mut own[from..to].to_vec()).unwrap_or(0.0);
            own[i].max(typical).max(LOUDEST_SHARE * loudest)
        })
        .collect()
}

/// The swings that reach past the arming level, one per passage from side to side.
fn swings(centred: &[f32], amplitude: &[f64], block: usize) -> Vec<Swing> {
    let mut found: Vec<Swing> = Vec::new();
    for (row, &value) in centred.iter().enumerate() {
        let value = f64::from(value);
        if value.abs() < ARM_SHARE * amplitude[row / block] {
            continue;
        }
        match found.last_mut() {
            Some(last) if last.peak * value > 0.0 => {
                if value.abs() > last.peak.abs() {
                    *last = Swing { row, peak: value };
                }
            }
            _ => found.push(Swing { row, peak: value }),
        }
    }
    found
}

/// Leaves out swings far smaller than those around them, joining what they had parted.
fn keep_teeth(swings: Vec<Swing>) -> Vec<Swing> {
    let sizes: Vec<f64> = swings.iter().map(|swing| swing.peak.abs()).collect();
    let mut kept: Vec<Swing> = Vec::with_capacity(swings.len());
    for (i, &swing) in swings.iter().enumerate() {
        let (from, to) = (i.saturating_sub(NEIGHBOURS), (i + NEIGHBOURS + 1).min(sizes.len()));
        let typical = upper_quartile(&mut sizes[from..to].to_vec());
        if sizes[i] < TOOTH_SHARE * typical {
            continue;
        }
        match kept.last_mut() {
            Some(last) if last.peak * swing.peak > 0.0 => {
                if swing.peak.abs() > last.peak.abs() {
                    *last = swing;
                }
            }
            _ => kept.push(swing),
        }
    }
    kept
}

/// Three quarters of the values lie below this: typical of teeth even where spikes and echoes are among them.
fn upper_quartile(sizes: &mut [f64]) -> f64 {
    let rank = sizes.len() * 3 / 4;
    let (_, quartile, _) = sizes.select_nth_unstable_by(rank, f64::total_cmp);
    *quartile
}

/// The passage through zero between two swings to opposite sides.
fn edge_between(
    capture: &Capture,
    centred: &[f32],
    before: Swing,
    after: Swing,
    zero: f64,
) -> Edge {
    let near = (STRAIGHT_SHARE * before.peak.abs().min(after.peak.abs())) as f32;
    // Last row clearly on the old side, then the first after it clearly on the new one.
    let far_before = |row: &usize| centred[*row] * before.peak.signum() as f32 >= near;
    let far_after = |row: &usize| centred[*row] * after.peak.signum() as f32 >= near;
    let last = (before.row..=after.row).find(far_after).unwrap_or(after.row);
    let first = (before.row..=last).rev().find(far_before).unwrap_or(before.row);
    let kind = if after.peak > 0.0 { EdgeKind::Rising } else { EdgeKind::Falling };
    Edge { at: crossing_time(&capture.clock, centred, (first, last), zero), kind }
}

/// Noise over slope: the noise from second differences of neighbouring samples (variance 6σ² for white
/// noise), the slope from a sine of the typical swing and spacing.
fn timing_sd(centred: &[f32], swings: &[Swing], step: f64) -> Seconds {
    let mut seconds: Vec<f64> = centred
        .windows(3)
        .map(|three| f64::from(three[0] - 2.0 * three[1] + three[2]).abs())
        .collect();
    let mut spacing: Vec<f64> =
        swings.windows(2).map(|pair| (pair[1].row - pair[0].row) as f64 * step).collect();
    let mut sizes: Vec<f64> = swings.iter().map(|swing| swing.peak.abs()).collect();
    let (Some(rough), Some(spacing), Some(size)) =
        (upper_median(&mut seconds), upper_median(&mut spacing), upper_median(&mut sizes))
    else {
        return Seconds(0.0);
    };
    let noise = rough / 0.674_489_75 / 6.0_f64.sqrt();
    let slope = std::f64::consts::PI * size / spacing;
    Seconds(noise / slope)
}
