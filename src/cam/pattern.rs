//! A cam wheel as the edges it shows over one cycle, in crank degrees after its zero.

use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::{Cam, Sensor};
use crate::units::{CYCLE_DEG, CamDelta, CrankDelta, TURN_DEG};
use crate::wheel::{EdgeKind, WheelEdge};

/// One edge of the wheel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PatternEdge {
    /// Crank degrees after the wheel's zero, 0 up to 720.
    pub after_zero: f64,
    /// Its kind on a signal of normal polarity.
    pub kind: EdgeKind,
}

/// The edges of a cam wheel that a signal of this shape shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CamPattern {
    pub edges: Vec<PatternEdge>,
    /// How far an edge may lie from its place and still be taken for it, in crank degrees.
    pub reach: f64,
}

/// The share of the least spacing between edges of a kind that an edge may stray; nearer to half
/// and neighbours would be confused.
const REACH_SHARE: f64 = 0.4;
/// No wheel edge strays further than this and still means something, in crank degrees.
const MOST_REACH: f64 = 30.0;

impl CamPattern {
    /// The pattern of a cam as a signal shows it: by its shape, which may differ from what the
    /// description says.
    pub fn of(cam: &Cam, train: &EdgeTrain) -> CamPattern {
        let wheel_edges = match (train.shape, &train.pulses) {
            (SignalShape::Square, None) => cam.wheel.square_edges(cam.edge),
            (SignalShape::Square, Some(_)) => cam.wheel.pulses(cam.edge),
            (SignalShape::Alternating, _) => cam.wheel.zero_crossings(cam.edge),
        };
        let edges: Vec<PatternEdge> = wheel_edges
            .iter()
            .map(|edge| PatternEdge { after_zero: edge.at.crank_after_zero().0, kind: edge.kind })
            .collect();
        let reach = (REACH_SHARE * least_spacing(&edges)).min(MOST_REACH);
        CamPattern { edges, reach }
    }

    /// Whether the pattern has edges of this kind.
    pub fn shows(&self, kind: EdgeKind) -> bool {
        self.edges.iter().any(|edge| edge.kind == kind)
    }

    /// The pattern edge of a kind nearest to `angle` (crank degrees after the wheel's zero), and
    /// how much later than it the angle is.
    pub fn nearest(&self, angle: f64, kind: EdgeKind) -> Option<(usize, f64)> {
        self.edges
            .iter()
            .enumerate()
            .filter(|(_, edge)| edge.kind == kind)
            .map(|(index, edge)| (index, CrankDelta(angle - edge.after_zero).wrap_cycle().0))
            .min_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }
}

/// Least distance round the cycle between two edges of one kind.
fn least_spacing(edges: &[PatternEdge]) -> f64 {
    let mut least = CYCLE_DEG;
    for (i, a) in edges.iter().enumerate() {
        for b in edges[i + 1..].iter().filter(|b| b.kind == a.kind) {
            let apart = CrankDelta(a.after_zero - b.after_zero).wrap(CrankDelta(CYCLE_DEG));
            least = least.min(apart.0.abs());
        }
    }
    least
}

/// How often a cam's place repeats by its own wheel: as measured, or sooner where its signal may be
/// upside down.
#[must_use]
pub fn own_period(cam: &Cam, measured: CrankDelta) -> CrankDelta {
    upside_down_period(cam).map_or(measured, |turn| CrankDelta(measured.0.min(turn.0)))
}

/// Crank degrees by which a square wave that is upside down may be taken for another place of the
/// wheel: a half moon, high and low for half a turn each, looks the same upside down and half a
/// turn round. Absent on wheels that do not.
fn upside_down_period(cam: &Cam) -> Option<CrankDelta> {
    /// Edges nearer than this (degrees of the cam) are in one place.
    const ONE_PLACE_DEG: f64 = 0.5;
    if cam.sensor != Sensor::Hall {
        return None;
    }
    let edges = cam.wheel.square_edges(cam.edge);
    let apart = |from: f64, to: f64| (to - from).rem_euclid(TURN_DEG);
    let near = |one: f64, other: f64| {
        let off = apart(one, other);
        off.min(TURN_DEG - off) < ONE_PLACE_DEG
    };
    let first = edges.first()?;
    let fits = |turn: f64| {
        edges.iter().all(|edge| {
            let there = |other: &WheelEdge| {
                other.kind != edge.kind && near(other.at.get(), edge.at.get() + turn)
            };
            edges.iter().any(there)
        })
    };
    edges
        .iter()
        .filter(|edge| edge.kind != first.kind)
        .map(|edge| apart(first.at.get(), edge.at.get()))
        .find(|&turn| fits(turn))
        .map(|turn| CamDelta(turn).to_crank())
}
