//! Volts become edge times.
//!
//! Square-wave signals give an edge where they cross the middle between their two levels;
//! reluctance signals give one where they cross zero between two swings large enough to be a tooth;
//! direction-sensing sensors give one where an output pulse begins. Thresholds come from the signal
//! itself, never from a fixed voltage.

mod alternating;
mod crossing;
mod glitch;
mod levels;
mod narrowest;
mod overflow;
mod pulsed;
mod pulses;
mod same_signal;
mod slow;
mod sorted;
mod square;
mod weighted;

pub use glitch::Glitches;
pub use pulsed::{Backward, Pulses, SAMPLES_PER_PULSE, USUAL_PULSE};
pub use pulses::find_pulses;
pub use same_signal::is_one_signal;

use crate::capture::{Capture, CaptureKind, Channel, Unit};
use crate::engine::Sensor;
use crate::units::Seconds;
use crate::wheel::{EdgeKind, Wheel};
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
    /// The edges, strictly growing in time, rising and falling in turn; of a sensor stated to give
    /// output pulses only the leading edges of those given forwards.
    pub edges: Vec<Edge>,
    /// What shape the signal was taken for.
    pub shape: SignalShape,
    /// Standard deviation of one edge's time from sampling and noise: the step over √12 for an edge
    /// between two samples, less for one that several samples show; 0 for events, whose stamps are
    /// taken as exact.
    pub timing_sd: Seconds,
    /// Typical low and high level, in the channel's unit; for an alternating signal the typical
    /// swings.
    pub levels: (f64, f64),
    /// Of an alternating signal: the passage through zero that is steeper than the other beyond
    /// doubt.
    pub steeper: Option<EdgeKind>,
    /// What the pulses of a direction-sensing sensor say; absent for every other signal.
    pub pulses: Option<Pulses>,
    /// What is wrong with the signal, worst first.
    pub faults: Vec<SignalFault>,
}

impl EdgeTrain {
    /// No edges at all, at these levels.
    fn dead(levels: (f64, f64)) -> EdgeTrain {
        EdgeTrain {
            edges: Vec::new(),
            shape: SignalShape::Square,
            timing_sd: Seconds(0.0),
            levels,
            steeper: None,
            pulses: None,
            faults: vec![SignalFault::Dead],
        }
    }

    /// A clean square wave for tests: these edges, each good to this.
    #[cfg(test)]
    pub(crate) fn square(edges: Vec<Edge>, timing_sd: Seconds) -> EdgeTrain {
        EdgeTrain { timing_sd, ..square::train(edges, None, (0.0, 5.0)) }
    }

    /// The kind of edge that alone can mark teeth, where the signal itself tells: the one that
    /// output pulses begin with, the steeper passage.
    #[must_use]
    pub fn marking(&self) -> Option<EdgeKind> {
        self.pulses.as_ref().map(|pulses| pulses.leading).or(self.steeper)
    }

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
    /// Pulses shorter than a tooth could be were left out.
    Glitches(Glitches),
}

/// Smallest peak-to-peak swing, in volts, that can be a sensor signal. Reluctance sensors give 0.3
/// V at slow cranking (docs/sources.md, "Signals"); a floating or shorted lead shows some tens of
/// millivolts.
const LEAST_SWING_VOLTS: f64 = 0.1;

/// Share of the windows that show both levels in which a signal must look like a square wave to be
/// taken for one where nothing says what it is; and what share refutes what is said. A square wave
/// with ringing, spikes and a sagging supply fails in a few windows; a reluctance signal passes in
/// those where it is clipped flat.
const SQUARE_WINDOWS: f64 = 0.5;
const REFUTED: f64 = 0.1;

/// Standard deviation of a time that is only known to lie within one step (uniform: 1/√12).
const UNIFORM_SD: f64 = 0.288_675_134_594_812_9;

/// Noise above this share of the swing moves edges noticeably and is said.
const NOISY_SHARE: f64 = 0.06;

/// Share of rows on over-range marks or at the limits of an alternating signal from which clipping
/// is said.
const CLIPPED_SHARE: f64 = 0.002;

/// Finds the edges of one channel of a capture. What the description says of the sensor is believed
/// unless the signal refutes it; without a description the signal decides.
#[must_use]
pub fn find_edges(capture: &Capture, channel: &Channel, stated: Option<Sensor>) -> EdgeTrain {
    find(capture, channel, stated, glitch::LEAST_SHARE)
}

/// As [`find_edges`], of a wheel that is described: a tooth or a space that it has is no glitch,
/// however narrow.
#[must_use]
pub fn find_edges_of(
    capture: &Capture,
    channel: &Channel,
    sensor: Sensor,
    wheel: &Wheel,
) -> EdgeTrain {
    find(capture, channel, Some(sensor), narrowest::least_share(wheel))
}

fn find(capture: &Capture, channel: &Channel, stated: Option<Sensor>, least: f64) -> EdgeTrain {
    if stated == Some(Sensor::Pulse)
        && let Some(train) = pulsed::find(capture, channel, true)
    {
        return train;
    }
    let train = by_level(capture, channel, stated, least);
    // Output pulses too short to count as a level look like a dead lead, or like a very narrow
    // tooth.
    let reluctance = stated == Some(Sensor::Reluctance);
    if !reluctance && (train.edges.is_empty() || pulsed::may_be(&train.edges)) {
        return pulsed::find(capture, channel, false).unwrap_or(train);
    }
    train
}

/// The edges of a signal that is a square wave or alternates.
fn by_level(capture: &Capture, channel: &Channel, stated: Option<Sensor>, least: f64) -> EdgeTrain {
    if capture.kind == CaptureKind::Events {
        return square::from_events(capture, channel, least);
    }
    let Some(levels) = Levels::measure(channel.values.all(), sample_step(capture)) else {
        return EdgeTrain::dead((0.0, 0.0));
    };
    let least_swing = if channel.unit == Unit::Level { 0.0 } else { LEAST_SWING_VOLTS };
    if levels.extent <= least_swing {
        return EdgeTrain::dead(levels.typical());
    }
    let square = match stated {
        None => levels.square >= SQUARE_WINDOWS,
        Some(Sensor::Hall | Sensor::Pulse) => levels.square >= REFUTED,
        Some(Sensor::Reluctance) => levels.square > 1.0 - REFUTED,
    };
    let mut train = if square {
        square::from_samples(capture, channel, &levels, least)
    } else {
        alternating::from_samples(capture, channel)
    };
    let marked: usize = channel.over_range.iter().map(|(first, end)| end - first).sum();
    let mut clipped = marked as f64 / channel.values.len() as f64;
    if train.shape == SignalShape::Alternating {
        clipped = clipped.max(levels::share_at_limits(channel.values.all()));
    }
    if clipped > CLIPPED_SHARE {
        train.faults.push(SignalFault::Clipped(clipped));
    }
    if train.shape == SignalShape::Square && levels.noise / levels.swing() > NOISY_SHARE {
        train.faults.push(SignalFault::Noisy(levels.noise / levels.swing()));
    }
    train
}

/// Mean time from row to row of a sampled capture, in seconds.
fn sample_step(capture: &Capture) -> f64 {
    let (first, last) = capture.span();
    ((last - first).0 / capture.rows().saturating_sub(1).max(1) as f64).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests;
