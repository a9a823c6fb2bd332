//! Edges of two-level signals.

use super::crossing::crossing_time;
use super::glitch::drop_glitches;
use super::levels::Levels;
use super::{Edge, EdgeTrain, SignalFault, SignalShape};
use crate::capture::{Capture, Channel, Clock};
use crate::stats::upper_median;
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Least half width of the dead band about the threshold, as a share of the swing: ringing after a
/// fast edge commonly reaches a tenth (common practice, no source).
const HYSTERESIS: f64 = 0.15;
/// The dead band also spans this many standard deviations of noise, so that noise alone crosses it less
/// than once in a million rows (two-sided normal tail beyond 5 sd: 6e-7).
const NOISE_SDS: f64 = 5.0;
/// A dead band wider than this share of the swing would miss real edges.
const MOST_HYSTERESIS: f64 = 0.4;
/// Part of a plateau left out at each end when its level is measured: the slow end of an edge.
const PLATEAU_MARGIN: f64 = 0.2;
/// Edges whose thresholds are pooled: a glitch cannot move the median of nine.
const POOLED: usize = 9;
/// Standard deviation of a time that is only known to lie within one step (uniform: 1/√12).
const UNIFORM_SD: f64 = 0.288_675_134_594_812_9;

/// Rows between which a signal went from one level to the other.
struct Transition {
    /// Last row still at the old level, and first at the new.
    rows: (usize, usize),
    kind: EdgeKind,
}

/// Edges of a sampled square wave.
pub(super) fn from_samples(capture: &Capture, channel: &Channel, levels: &Levels) -> EdgeTrain {
    let values = &channel.values;
    let transitions = transitions(values, levels);
    let thresholds = local_thresholds(values, &transitions, levels);
    let mut edges: Vec<Edge> = transitions
        .iter()
        .zip(&thresholds)
        .map(|(transition, &threshold)| Edge {
            at: crossing_time(&capture.clock, values, transition.rows, threshold),
            kind: transition.kind,
        })
        .collect();
    let dropped = drop_glitches(&mut edges);
    finish(edges, dropped, levels, timing_sd(&capture.clock, &transitions, levels))
}

/// Edges of an event capture: a change is where its row says.
pub(super) fn from_events(capture: &Capture, channel: &Channel) -> EdgeTrain {
    let values = &channel.values;
    let least = values.iter().copied().fold(f32::INFINITY, f32::min);
    let most = values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let middle = f64::from(least).midpoint(f64::from(most));
    let mut edges = Vec::new();
    for row in 1..values.len() {
        let (was, is) = (f64::from(values[row - 1]) > middle, f64::from(values[row]) > middle);
        if was != is {
            let kind = if is { EdgeKind::Rising } else { EdgeKind::Falling };
            edges.push(Edge { at: capture.clock.at(row), kind });
        }
    }
    let dropped = drop_glitches(&mut edges);
    let levels = Levels {
        low: f64::from(least),
        high: f64::from(most),
        noise: 0.0,
        share_near: 1.0,
        share_between: 0.0,
        extent: f64::from(most) - f64::from(least),
        overshoot: 0.0,
    };
    finish(edges, dropped, &levels, Seconds(0.0))
}

fn finish(edges: Vec<Edge>, dropped: usize, levels: &Levels, timing_sd: Seconds) -> EdgeTrain {
    let mut faults = Vec::new();
    if edges.is_empty() {
        faults.push(SignalFault::Dead);
    }
    if dropped > 0 {
        faults.push(SignalFault::Glitches(dropped));
    }
    EdgeTrain {
        edges,
        shape: SignalShape::Square,
        timing_sd,
        levels: (levels.low, levels.high),
        faults,
    }
}

/// Passages through the whole dead band about the middle.
fn transitions(values: &[f32], levels: &Levels) -> Vec<Transition> {
    let middle = levels.low.midpoint(levels.high);
    let band = (HYSTERESIS * levels.swing())
        .max(NOISE_SDS * levels.noise)
        .min(MOST_HYSTERESIS * levels.swing());
    let (lower, upper) = ((middle - band) as f32, (middle + band) as f32);
    let mut found = Vec::new();
    let mut high = values.first().is_some_and(|&value| f64::from(value) > middle);
    // Last row that was clearly at the present level.
    let mut settled = 0;
    for (row, &value) in values.iter().enumerate() {
        if value >= upper {
            if !high {
                found.push(Transition { rows: (settled, row), kind: EdgeKind::Rising });
                high = true;
            }
            settled = row;
        } else if value <= lower {
            if high {
                found.push(Transition { rows: (settled, row), kind: EdgeKind::Falling });
                high = false;
            }
            settled = row;
        }
    }
    found
}

/// The middle between the levels on either side of each transition, pooled over neighbours: follows
/// ground offset, drift and a pull-up that sags while cranking.
fn local_thresholds(values: &[f32], transitions: &[Transition], levels: &Levels) -> Vec<f64> {
    let plateau = |from: usize, to: usize| {
        let margin = ((to - from) as f64 * PLATEAU_MARGIN) as usize;
        let mut inside: Vec<f64> =
            values[from + margin..to - margin].iter().map(|&value| f64::from(value)).collect();
        if inside.len() < 3 { None } else { upper_median(&mut inside) }
    };
    let count = transitions.len();
    // Level of the plateau before transition i; one more after the last.
    let plateaus: Vec<Option<f64>> = (0..=count)
        .map(|i| {
            let from = if i == 0 { 0 } else { transitions[i - 1].rows.1 };
            let to = if i == count { values.len() } else { transitions[i].rows.0 + 1 };
            if from < to { plateau(from, to) } else { None }
        })
        .collect();
    let middle = levels.low.midpoint(levels.high);
    let raw: Vec<f64> = (0..count)
        .map(|i| match (plateaus[i], plateaus[i + 1]) {
            (Some(before), Some(after)) => before.midpoint(after),
            _ => middle,
        })
        .collect();
    (0..count)
        .map(|i| {
            let from = i.saturating_sub(POOLED / 2);
            let to = (i + POOLED / 2 + 1).min(count);
            upper_median(&mut raw[from..to].to_vec()).unwrap_or(middle)
        })
        .collect()
}

/// An edge that falls between two samples is known to a step; one that takes several
/// samples is known to the noise over its slope, less by averaging.
fn timing_sd(clock: &Clock, transitions: &[Transition], levels: &Levels) -> Seconds {
    let mut lengths: Vec<f64> =
        transitions.iter().map(|t| (clock.at(t.rows.1) - clock.at(t.rows.0)).0).collect();
    let mut rows: Vec<f64> = transitions.iter().map(|t| (t.rows.1 - t.rows.0) as f64).collect();
    let (Some(length), Some(rows)) = (upper_median(&mut lengths), upper_median(&mut rows)) else {
        return Seconds(0.0);
    };
    let from_noise = levels.noise / levels.swing() * length / (rows + 1.0).sqrt();
    let from_step = if rows <= 2.0 { UNIFORM_SD * length / rows.max(1.0) } else { 0.0 };
    Seconds(from_noise.hypot(from_step))
}
