//! Where zero is.

use super::super::levels::median;
use super::super::slow::Slow;
use super::swings::Swing;

/// Length of the blocks over which the middle is measured: a third of a turn at
/// 200 rpm, several teeth of any crank wheel.
const BLOCK_SECONDS: f64 = 0.1;
/// Blocks on each side that share a middle: a cam with one tooth passes once in 0.6 s at 200 rpm.
const BLOCKS_EACH_SIDE: usize = 6;
/// Whole periods over which the true zero is averaged: most of a turn of any crank wheel, so
/// that the gap's share stays about the same.
const ZERO_PERIODS: usize = 24;

/// The middle of the signal: medians of blocks, pooled with their neighbours by the mean of the
/// middle half of them, which moves smoothly where a median would jump from one block's value to
/// another's.
pub(super) fn middles(values: &[f64], step: f64) -> Slow {
    let block = ((BLOCK_SECONDS / step).ceil() as usize).max(8);
    let raw: Vec<f64> =
        values.chunks(block).map(|part| median(&mut part.to_vec()).unwrap_or(0.0)).collect();
    let points = (0..raw.len())
        .map(|i| {
            let (from, to) =
                (i.saturating_sub(BLOCKS_EACH_SIDE), (i + BLOCKS_EACH_SIDE + 1).min(raw.len()));
            let mut pooled = raw[from..to].to_vec();
            pooled.sort_unstable_by(f64::total_cmp);
            let inner = &pooled[pooled.len() / 4..pooled.len() - pooled.len() / 4];
            let level = inner.iter().sum::<f64>() / inner.len() as f64;
            ((i as f64 + 0.5) * block as f64, level)
        })
        .collect();
    Slow::through(points, 0.0)
}

/// The true zero of the centred signal. The voltage is the rate of change of flux, and the flux is
/// the same at every tooth, so over a whole number of teeth the mean voltage is zero whatever the
/// pulse's shape. The median used so far is not, for pulses that are not symmetrical.
pub(super) fn true_zero(centred: &[f32], swings: &[Swing]) -> Slow {
    let rises: Vec<usize> = swings
        .windows(2)
        .filter(|pair| pair[0].peak < 0.0 && pair[1].peak > 0.0)
        .map(|pair| crossing_row(centred, pair[0].row, pair[1].row))
        .collect();
    let periods = ZERO_PERIODS.min(rises.len().saturating_sub(1)).max(1);
    let hop = (periods / 2).max(1);
    let points = rises
        .iter()
        .step_by(hop)
        .zip(rises.iter().skip(periods).step_by(hop))
        .map(|(&from, &to)| {
            let sum: f64 = centred[from..to].iter().map(|&value| f64::from(value)).sum();
            ((from + to) as f64 / 2.0, sum / (to - from).max(1) as f64)
        })
        .collect();
    Slow::through(points, 0.0)
}

/// First row after `from` that lies on the other side of zero, `to` at the latest.
fn crossing_row(centred: &[f32], from: usize, to: usize) -> usize {
    let side = centred[from].is_sign_positive();
    (from..to).find(|&row| centred[row].is_sign_positive() != side).unwrap_or(to)
}
