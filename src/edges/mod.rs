//! Volts become edge times.
//!
//! Square-wave signals give an edge where they cross the middle between their two
//! levels; reluctance signals give one where they cross zero between two swings large enough to be a
//! tooth. Thresholds come from the signal itself, never from a fixed voltage.

mod alternating;
mod crossing;
mod glitch;
mod levels;
mod overflow;
mod pulses;
mod square;

pub use pulses::find_pulses;

use crate::capture::{Capture, CaptureKind, Channel, Unit};
use crate::units::Seconds;
use crate::wheel::EdgeKind;
use levels::Levels;

/// One edge of a signal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// When it crossed, interpolated between samples.
    pub at: Seconds,
    /// Which way.
    pub kind: EdgeKind,
}

/// What shape the signal has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignalShape {
    /// Two levels.
    Square,
    /// Swings about a middle.
    Alternating,
}

/// The edges of one channel in order of time, with the facts they were found by.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeTrain {
    /// The edges, strictly growing in time, rising and falling in turn.
    pub edges: Vec<Edge>,
    /// What shape the signal was taken for.
    pub shape: SignalShape,
    /// Standard deviation of one edge's time from sampling and noise.
    pub timing_sd: Seconds,
    /// Low and high level, in the channel's unit; for an alternating signal the typical swings.
    pub levels: (f64, f64),
    /// What is wrong with the signal, worst first.
    pub faults: Vec<SignalFault>,
}

impl EdgeTrain {
    /// The edges of one kind.
    pub fn of_kind(&self, kind: EdgeKind) -> impl Iterator<Item = Seconds> + '_ {
        self.edges.iter().filter(move |edge| edge.kind == kind).map(|edge| edge.at)
    }
}

/// Something about a signal that a technician should hear before any timing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SignalFault {
    /// The level never changes.
    Dead,
    /// The signal lies on the limit of the scope's range for this share of the rows (0..1).
    Clipped(f64),
    /// Noise of this share (0..1) of the swing.
    Noisy(f64),
    /// The scope's range overflowed and wrapped this many times.
    Wrapped(usize),
    /// This many pulses shorter than a tooth could be were left out.
    Glitches(usize),
}

/// Smallest peak-to-peak swing, in volts, that can be a sensor signal. Reluctance sensors give
/// 0.3 V at slow cranking (domain.md §5); a floating or shorted lead shows some tens of millivolts.
const LEAST_SWING_VOLTS: f64 = 0.1;

/// Share of each level's rows that must lie near it for a square wave. Half of a sine lies within
/// 15 % of its extremes (2/π · arccos 0.7 = 0.51); a square wave with slow edges and narrow pulses still has two thirds
/// or more.
const SQUARE_SHARE: f64 = 0.6;

/// A square wave spends less of its time than this between its levels. A sine spends a third in the middle half of its
/// swing (2/π · arcsin ½), one clipped at three quarters of its height still a quarter.
const SQUARE_BETWEEN: f64 = 0.15;

/// A signal that reaches this share of its swing beyond its "levels" for longer than spikes do has no levels: the few
/// pulses of a reluctance cam sensor go as far below the quiet line as above.
const SQUARE_OVERSHOOT: f64 = 0.35;

/// Noise above this share of the swing moves edges noticeably and is said.
const NOISY_SHARE: f64 = 0.06;

/// Share of rows on over-range marks or at the limits of an alternating signal from which clipping is said.
const CLIPPED_SHARE: f64 = 0.002;

/// Finds the edges of one channel of a capture.
#[must_use]
pub fn find_edges(capture: &Capture, channel: &Channel) -> EdgeTrain {
    if capture.kind == CaptureKind::Events {
        return square::from_events(capture, channel);
    }
    let Some(levels) = Levels::measure(&channel.values) else { return dead((0.0, 0.0)) };
    let least = if channel.unit == Unit::Level { 0.0 } else { LEAST_SWING_VOLTS };
    if levels.extent <= least {
        return dead((levels.low, levels.high));
    }
    let square = levels.share_near >= SQUARE_SHARE
        && levels.share_between <= SQUARE_BETWEEN
        && levels.overshoot <= SQUARE_OVERSHOOT;
    let mut train = if square {
        square::from_samples(capture, channel, &levels)
    } else {
        alternating::from_samples(capture, channel)
    };
    let marked: usize = channel.over_range.iter().map(|(first, end)| end - first).sum();
    let mut clipped = marked as f64 / channel.values.len() as f64;
    if train.shape == SignalShape::Alternating {
        clipped = clipped.max(levels::share_at_limits(&channel.values));
    }
    if clipped > CLIPPED_SHARE {
        train.faults.push(SignalFault::Clipped(clipped));
    }
    if train.shape == SignalShape::Square && levels.noise / levels.swing() > NOISY_SHARE {
        train.faults.push(SignalFault::Noisy(levels.noise / levels.swing()));
    }
    train
}

fn dead(levels: (f64, f64)) -> EdgeTrain {
    EdgeTrain {
        edges: Vec::new(),
        shape: SignalShape::Square,
        timing_sd: Seconds(0.0),
        levels,
        faults: vec![SignalFault::Dead],
    }
}

#[cfg(test)]
mod tests;
