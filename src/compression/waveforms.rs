//! What the compressions were measured from, over the cycle: to be drawn, and its raw peaks.

use super::curve::Curve;
use super::input::Source;
use super::locate::{Context, Located};
use super::orders::FOLD_POINTS;
use super::stats::mean;
use super::{orders, peaks};
use crate::units::{CYCLE_DEG, CrankDelta};

/// A dip counts as a compression when it is this share of the whole swing.
const LEAST_DIP: f64 = 0.2;

/// Height of each cylinder's peak above the valleys beside it, over the mean of all; all 1 where
/// there is no peak.
pub(super) fn raw_heights(source: Source, waveforms: &[Vec<(CrankDelta, f64)>]) -> Vec<f64> {
    let rises = source.rises();
    let heights: Vec<f64> = waveforms
        .iter()
        .map(|waveform| {
            let most = |keep: &dyn Fn(f64) -> bool, sign: f64| {
                let values = waveform.iter().filter(|(from_tdc, _)| keep(from_tdc.0));
                values.map(|(_, value)| sign * rises * value).fold(f64::NEG_INFINITY, f64::max)
            };
            let valleys = most(&|at| at < 0.0, -1.0) + most(&|at| at > 0.0, -1.0);
            most(&|_| true, 1.0) + 0.5 * valleys
        })
        .collect();
    let mean = mean(&heights);
    if !(mean.is_finite() && mean > 0.0) {
        return vec![1.0; heights.len()];
    }
    heights.iter().map(|height| height / mean).collect()
}

/// Cycles drawn at most: more only make a blot.
const MOST_DRAWN: usize = 24;

/// Single cycles of what was measured, to be drawn over each other.
pub(super) fn overlay(context: &Context, curve: &Curve, located: &Located) -> Vec<Vec<f64>> {
    let step = CYCLE_DEG / FOLD_POINTS as f64;
    let first = located.base + context.input.engine.firing_angles[0].0 - context.interval() / 2.0;
    let every = located.windows.len().div_ceil(MOST_DRAWN).max(1);
    located
        .windows
        .iter()
        .step_by(every)
        .map(|window| {
            let one = orders::fold(curve, std::slice::from_ref(window), &curve.raw, FOLD_POINTS);
            let point = |index: usize| {
                let at = (first + index as f64 * step - window.start).rem_euclid(CYCLE_DEG) / step;
                one[(at as usize).min(FOLD_POINTS - 1)]
            };
            (0..FOLD_POINTS).map(point).collect()
        })
        .collect()
}

/// Mean waveform about each TDC, and how many compressions the mean cycle shows.
pub(super) fn draw(
    context: &Context,
    source: Source,
    curve: &Curve,
    located: &Located,
) -> (Vec<Vec<(CrankDelta, f64)>>, usize) {
    let angles = &context.input.engine.firing_angles;
    let cycle = orders::fold(curve, &located.windows, &curve.raw, FOLD_POINTS);
    let start = located.windows.first().map_or(0.0, |window| window.start);
    let step = CYCLE_DEG / FOLD_POINTS as f64;
    let reach = context.interval() / 2.0;
    let waveforms = angles
        .iter()
        .map(|angle| {
            let tdc = located.base + angle.0;
            let points = (2.0 * reach / step) as usize;
            (0..=points)
                .map(|i| {
                    let from_tdc = i as f64 * step - reach;
                    let at = (tdc + from_tdc - start).rem_euclid(CYCLE_DEG) / step;
                    (CrankDelta(from_tdc), cycle[(at as usize).min(FOLD_POINTS - 1)])
                })
                .collect()
        })
        .collect();
    let turned = source.rises();
    let highest = 3 * angles.len();
    let smooth: Vec<f64> =
        orders::low_pass(&cycle, highest).into_iter().map(|value| turned * value).collect();
    (waveforms, humps(&smooth))
}

/// Peaks of a closed cycle: turned to begin at its lowest point, and closed there.
fn humps(cycle: &[f64]) -> usize {
    let Some(lowest) = (0..cycle.len()).min_by(|&a, &b| cycle[a].total_cmp(&cycle[b])) else {
        return 0;
    };
    let closed: Vec<f64> = (0..=cycle.len()).map(|i| cycle[(lowest + i) % cycle.len()]).collect();
    let swing = closed.iter().copied().fold(f64::NEG_INFINITY, f64::max) - cycle[lowest];
    peaks::peaks(&closed, LEAST_DIP * swing).len()
}
