//! Volts become edge times.
//!
//! Square-wave signals give an edge where they cross the middle between their two
//! levels; reluctance signals give one where they cross zero between two swings large enough to be a
//! tooth. Thresholds come from the signal itself, never from a fixed voltage.

use crate::units::Seconds;
use crate::wheel::EdgeKind;

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
    /// The edges, strictly growing in time. Kinds alternate except where a signal lost an edge.
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
