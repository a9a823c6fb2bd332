//! Where a cam stood, as it was measured: in all, in each cycle, by each edge of its wheel.

use crate::crank::Polarity;
use crate::stats::mean;
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
    /// How much faster the crank turned over the ten milliseconds before these edges than before the
    /// same edges of all cycles, median; absent where it was not seen.
    pub faster: Option<Rpm>,
    /// The same after them.
    pub faster_after: Option<Rpm>,
}

impl CyclePosition {
    /// Mean speed over some cycles; absent without any.
    #[must_use]
    pub fn mean_rpm(cycles: &[CyclePosition]) -> Option<Rpm> {
        let rpms: Vec<f64> = cycles.iter().map(|cycle| cycle.rpm.0).collect();
        mean(&rpms).map(Rpm)
    }
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
    /// How fast the crank turned over the ten milliseconds before it, median over cycles; absent
    /// where the crank was not seen.
    pub speed: Option<Rpm>,
    /// The same over the ten milliseconds after it.
    pub speed_after: Option<Rpm>,
}

/// What delays a lead by some milliseconds shows an edge where the crank had turned to meanwhile, or
/// where it had not turned to yet if the lead is the crank's: a filter that matters delays by about
/// so much (10 ms are 12° at 200 rpm), and the speed within a cycle changes little over less.
pub(super) const BESIDE_EDGE: Seconds = Seconds(0.01);

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
    /// disagreement and sampling together; of a cam that moved meanwhile at least half of
    /// its [`Movement`](super::Movement).
    pub half_width95: CrankDelta,
    /// Scatter of single cycles; absent under two cycles.
    pub cycle_sd: Option<CrankDelta>,
    /// Each cycle, in order of time.
    pub cycles: Vec<CyclePosition>,
    /// Each edge of the wheel that was found, in order of angle.
    pub edges: Vec<EdgeResult>,
    /// The position is known up to a multiple of this: 720, or a divisor of it on wheels that look
    /// the same, within the scatter of this signal, several times a turn.
    pub known_modulo: CrankDelta,
    /// Edges expected and not found, over all cycles.
    pub missed: usize,
    /// Edges found and not expected, over all cycles.
    pub extra: usize,
    /// How much of the next best rotation's mismatch the best one explains, 0..1; near
    /// 0 when the wheel fits about as well another way round.
    pub fit: f64,
}

/// Cycles in which a cam must have been seen for its missing edges not to matter.
const FEW_CYCLES: usize = 2;

impl CamPosition {
    /// Whether the cam was only glimpsed: in one or two cycles, most of its edges missing. What was
    /// taken for its wheel then may as well be noise, and nothing in it shows by how much.
    #[must_use]
    pub fn is_glimpsed(&self) -> bool {
        let seen: usize = self.edges.iter().map(|edge| edge.n).sum();
        self.cycles.len() <= FEW_CYCLES && self.missed > seen
    }
}
