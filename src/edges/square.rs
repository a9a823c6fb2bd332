//! Edges of two-level signals.

use super::crossing::crossing_time;
use super::glitch::{Glitches, drop_glitches};
use super::levels::{Levels, median};
use super::{Edge, EdgeTrain, SignalFault, SignalShape, UNIFORM_SD, sample_step};
use crate::capture::{Capture, Channel, Clock, Samples};
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

/// Edges of a sampled square wave; `least` as [`drop_glitches`] takes it.
pub(super) fn from_samples(
    capture: &Capture,
    channel: &Channel,
    levels: &Levels,
    least: f64,
) -> EdgeTrain {
    let values = &channel.values;
    let transitions = transitions(values.all(), levels);
    let (mut low, mut high) = (levels.low.walk(), levels.high.walk());
    let mut edges: Vec<Edge> = transitions
        .iter()
        .map(|transition| {
            // Half-way between the two levels as they stand there: a ground offset, a drift or a
            // sagging supply moves the threshold with it.
            let row = transition.rows.0;
            let threshold = low.at(row).midpoint(high.at(row));
            let at = crossing_time(&capture.clock, values.all(), transition.rows, threshold).at;
            Edge { at, kind: transition.kind }
        })
        .collect();
    let dropped = drop_glitches(&mut edges, sample_step(capture), least);
    let timing_sd = timing_sd(&capture.clock, &transitions, levels);
    EdgeTrain { timing_sd, ..train(edges, dropped, levels.typical()) }
}

/// Edges of an event capture: a change is where its row says.
pub(super) fn from_events(capture: &Capture, channel: &Channel, least: f64) -> EdgeTrain {
    let mut edges = changes(capture, channel);
    let dropped = drop_glitches(&mut edges, 0.0, least);
    train(edges, dropped, limits(channel.values.all()))
}

/// Every change of an event capture.
pub(super) fn changes(capture: &Capture, channel: &Channel) -> Vec<Edge> {
    let values = &channel.values;
    let (least, most) = limits(values.all());
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
pub(super) fn limits(values: Samples<'_>) -> (f64, f64) {
    let (least, most) = values.limits();
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

/// Passages found on the way through a signal.
#[derive(Default)]
struct Passages {
    is_high: Option<bool>,
    /// Last row that was clearly at the present level.
    settled: usize,
    found: Vec<Transition>,
}

impl Passages {
    /// Goes on to rows, of which these are the first and the last, that are beyond the dead band, on
    /// the side that an edge of this kind leads to.
    #[inline]
    fn settle(&mut self, (first, last): (usize, usize), kind: EdgeKind) {
        let is_high = kind == EdgeKind::Rising;
        if self.is_high.replace(is_high).is_some_and(|was_high| was_high != is_high) {
            self.found.push(Transition { rows: (self.settled, first), kind });
        }
        self.settled = last;
    }
}

/// Rows whose levels are looked at together; a window of the levels is longer at any common rate.
const TOGETHER: usize = 256;
/// Where rows are looked at together, a value this share of the greatest level beyond the dead band
/// is beyond it at each of them, however the sums were rounded.
const ROUNDING: f64 = 1e-9;

/// Passages through the whole dead band about the middle of the two levels, wherever they stand at
/// the time.
fn transitions(values: Samples<'_>, levels: &Levels) -> Vec<Transition> {
    let mut walk = Passages::default();
    let (mut low, mut high) = (levels.low.walk(), levels.high.walk());
    let (mut lows, mut highs) = (levels.low.walk(), levels.high.walk());
    let band = |swing: f64| {
        (HYSTERESIS * swing).max(NOISE_SDS * levels.noise).min(MOST_HYSTERESIS * swing)
    };
    for (index, part) in values.chunks(TOGETHER).enumerate() {
        let (first, last) = (index * TOGETHER, index * TOGETHER + part.len() - 1);
        // No row's dead band reaches further than these.
        let low_range = lows.range(first, last);
        let high_range = highs.range(first, last);
        let widest = band(high_range.1 - low_range.0);
        let spare = ROUNDING * (low_range.0.abs().max(high_range.1.abs()) + widest);
        // Levels that cross leave no band to be beyond.
        let (top, bottom) = if high_range.0 >= low_range.1 {
            let middles = (low_range.0.midpoint(high_range.0), low_range.1.midpoint(high_range.1));
            (middles.1 + widest + spare, middles.0 - widest - spare)
        } else {
            (f64::INFINITY, f64::NEG_INFINITY)
        };
        let limits = part.limits();
        let (least, most) = (f64::from(limits.0), f64::from(limits.1));
        // Nearly always all of them are at one level.
        if least > top || most < bottom {
            let kind = if least > top { EdgeKind::Rising } else { EdgeKind::Falling };
            walk.settle((first, last), kind);
            continue;
        }
        for (row, &value) in (first..).zip(part.iter()) {
            let value = f64::from(value);
            let kind = if value > top {
                EdgeKind::Rising
            } else if value < bottom {
                EdgeKind::Falling
            } else {
                let (low, high) = (low.at(row), high.at(row));
                let (middle, band) = (low.midpoint(high), band(high - low));
                walk.is_high.get_or_insert(value > middle);
                if value >= middle + band {
                    EdgeKind::Rising
                } else if value <= middle - band {
                    EdgeKind::Falling
                } else {
                    continue;
                }
            };
            walk.settle((row, row), kind);
        }
    }
    walk.found
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
