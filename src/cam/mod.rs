//! Cam edges become one position per cycle, then a deviation and an interval.

mod cycles;
mod deviation;
mod measure;
mod pattern;
mod phase;
mod rotation;
mod symmetry;

pub(crate) use deviation::common_period;
pub use deviation::{Expected, deviation};
pub use measure::measure;
pub use phase::{DatumChoice, choose_datum};

use crate::crank::Polarity;
use crate::units::{CrankDeg, CrankDelta, Rpm, Seconds};
use crate::wheel::EdgeKind;

/// A cam's place in one cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CyclePosition {
    /// Middle of the cycle's cam edges in time.
    pub at: Seconds,
    /// Mean crank speed over them.
    pub rpm: Rpm,
    /// How much later the cam stood in this cycle than [`CamPosition::position`].
    pub off: CrankDelta,
    /// How many of the wheel's edges were found in this cycle.
    pub edges: usize,
}

/// One edge of a cam's wheel over all cycles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeResult {
    /// Which way it goes on a signal of normal polarity.
    pub kind: EdgeKind,
    /// Where it was, median over cycles.
    pub at: CrankDeg,
    /// How much later than the whole wheel's position puts it.
    pub off: CrankDelta,
    /// Scatter over cycles; absent under two cycles.
    pub sd: Option<CrankDelta>,
    /// In how many cycles it was found.
    pub n: usize,
}

/// Where one cam stood.
#[derive(Debug, Clone, PartialEq)]
pub struct CamPosition {
    /// Index into the engine's cams.
    pub cam: usize,
    /// Name of the lead it was measured on.
    pub lead: String,
    /// Which way up the signal is.
    pub polarity: Polarity,
    /// Crank degrees from the datum to shaft angle 0 of the wheel.
    pub position: CrankDeg,
    /// Half width of the 95 % interval of `position`: cycle scatter, edge-to-edge
    /// disagreement and sampling together.
    pub half_width95: CrankDelta,
    /// Scatter of single cycles; absent under two cycles.
    pub cycle_sd: Option<CrankDelta>,
    /// Each cycle, in order of time.
    pub cycles: Vec<CyclePosition>,
    /// Each edge of the wheel that was found, in order of angle.
    pub edges: Vec<EdgeResult>,
    /// The position is known up to a multiple of this: 720, or a divisor of it on wheels that look the same, within
    /// the scatter of this signal, several times a turn.
    pub known_modulo: CrankDelta,
    /// Edges expected and not found, over all cycles.
    pub missed: usize,
    /// Edges found and not expected, over all cycles.
    pub extra: usize,
    /// How much of the next best rotation's mismatch the best one explains, 0..1; near
    /// 0 when the wheel fits about as well another way round.
    pub fit: f64,
}

/// Where the expected position came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExpectedFrom {
    /// The engine file's `at`, or a relation that leads to one.
    EngineFile,
    /// A learned known-good file.
    KnownGood,
}

/// A cam's position held against where it should be.
#[derive(Debug, Clone, PartialEq)]
pub struct CamResult {
    /// What was measured.
    pub measured: CamPosition,
    /// Where it should be and what says so; absent when nothing does.
    pub expected: Option<(CrankDeg, ExpectedFrom)>,
    /// Standard deviation of the expected position, where stated.
    pub expected_sd: Option<CrankDelta>,
    /// Measured − expected, wrapped to `known_modulo`; positive is late.
    pub deviation: Option<CrankDelta>,
    /// 95 % interval of the deviation's measurement, without the reference's uncertainty.
    pub ci95: Option<(CrankDelta, CrankDelta)>,
    /// The deviation is known only up to a multiple of this.
    pub known_modulo: CrankDelta,
    /// Crank degrees per tooth of the chain nearest this cam; of the one that skipped, where the verdict says so.
    pub step: Option<CrankDelta>,
    /// Whole teeth nearest to the deviation, positive late.
    pub nearest_teeth: Option<i32>,
    /// Deviation less the whole teeth.
    pub left_over: Option<CrankDelta>,
}
