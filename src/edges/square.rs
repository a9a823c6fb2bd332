//! Edges of two-level signals.

use super::crossing::crossing_time;
use super::glitch::{Glitches, drop_glitches};
use super::levels::{Levels, median};
use super::{Edge, EdgeTrain, SignalFault, SignalShape, UNIFORM_SD, sample_step};
use crate::capture::{Capture, Channel, Clock};
use crate::units::Seconds;
use crate::wheel::EdgeKind;

/// Least half width of the dead band about the threshold, as a share of the swing: ringing after a
/// fast edge commonly reaches a tenth (common practice, no source).
const HYSTERESIS: f64 = 0.15;
/// The dead band also spans this many standard deviations of noise, so that noise alone crosses it
/// less than once in a million rows (two-sided normal tail beyond 5 sd: 6e-7).
const NOISE_SDS: f64 = 5.0;
/// A dead band wider than this share of the swing would miss real edges.
const MOST_HYSTERESIS: f64 = 0.4;

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
    let (mut low, mut high) = (levels.low.walk(), levels.high.walk());
    let mut edges: Vec<Edge> = transitions
        .iter()
        .map(|transition| {
            // Half-way between the two levels as they stand there: a ground offset, a drift or a
            // sagging supply moves the threshold with it.
            let row = transition.rows.0;
            let threshold = low.at(row).midpoint(high.at(row));
            let at = crossing_time(&capture.clock, values, transition.rows, threshold).at;
            Edge { at, kind: transition.kind }
        })
        .collect();
    let dropped = drop_glitches(&mut edges, sample_step(capture));
    let timing_sd = timing_sd(&capture.clock, &transitions, levels);
    EdgeTrain { timing_sd, ..train(edges, dropped, levels.typical()) }
}

/// Edges of an event capture: a change is where its row says.
pub(super) fn from_events(capture: &Capture, channel: &Channel) -> EdgeTrain {
    let mut edges = changes(capture, channel);
    let dropped = drop_glitches(&mut edges, 0.0);
    train(edges, dropped, limits(&channel.values))
}

/// Every change of an event capture.
pub(super) fn changes(capture: &Capture, channel: &Channel) -> Vec<Edge> {
    let values = &channel.values;
    let (least, most) = limits(values);
    let middle = least.midpoint(most);
    let mut edges = Vec::new();
    for row in 1..values.len() {
        let (was, is) = (f64::from(values[row - 1]) > middle, f64::from(values[row]) > middle);
        if was != is {
            let kind = if is { EdgeKind::Rising } else { EdgeKind::Falling };
            edges.push(Edge { at: capture.clock.at(row), kind });
        }
    }
    edges
}

/// Least and greatest value.
pub(super) fn limits(values: &[f32]) -> (f64, f64) {
    let least = values.iter().copied().fold(f32::INFINITY, f32::min);
    let most = values.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    (f64::from(least), f64::from(most))
}

/// A square wave's train with what is wrong with it; edges are exact until it is said otherwise.
pub(super) fn train(edges: Vec<Edge>, dropped: Option<Glitches>, levels: (f64, f64)) -> EdgeTrain {
    let mut faults = Vec::new();
    if edges.is_empty() {
        faults.push(SignalFault::Dead);
    }
    faults.extend(dropped.map(SignalFault::Glitches));
    EdgeTrain { edges, shape: SignalShape::Square, levels, faults, ..EdgeTrain::dead((0.0, 0.0)) }
}

/// Passages through the whole dead band about the middle of the two levels, wherever they stand at
/// the time.
fn transitions(values: &[f32], levels: &Levels) -> Vec<Transition> {
    let mut found = Vec::new();
    let (mut low, mut high) = (levels.low.walk(), levels.high.walk());
    let mut is_high: Option<bool> = None;
    // Last row that was clearly at the present level.
    let mut settled = 0;
    for (row, &value) in values.iter().enumerate() {
        let (value, low, high) = (f64::from(value), low.at(row), high.at(row));
        let (middle, swing) = (low.midpoint(high), high - low);
        let band = (HYSTERESIS * swing).max(NOISE_SDS * levels.noise).min(MOST_HYSTERESIS * swing);
        let was_high = *is_high.get_or_insert(value > middle);
        let kind = if value >= middle + band {
            EdgeKind::Rising
        } else if value <= middle - band {
            EdgeKind::Falling
        } else {
            continue;
        };
        let now_high = kind == EdgeKind::Rising;
        if now_high != was_high {
            found.push(Transition { rows: (settled, row), kind });
            is_high = Some(now_high);
        }
        settled = row;
    }
    found
}

/// An edge that falls between two samples is known to a step; one that takes several
/// samples is known to the noise over its slope, less by averaging.
fn timing_sd(clock: &Clock, transitions: &[Transition], levels: &Levels) -> Seconds {
    let mut lengths: Vec<f64> =
        transitions.iter().map(|t| (clock.at(t.rows.1) - clock.at(t.rows.0)).0).collect();
    let mut rows: Vec<f64> = transitions.iter().map(|t| (t.rows.1 - t.rows.0) as f64).collect();
    let (Some(length), Some(rows)) = (median(&mut lengths), median(&mut rows)) else {
        return Seconds(0.0);
    };
    let from_noise = levels.noise / levels.swing() * length / (rows + 1.0).sqrt();
    let from_step = if rows <= 2.0 { UNIFORM_SD * length / rows.max(1.0) } else { 0.0 };
    Seconds(from_noise.hypot(from_step))
}
