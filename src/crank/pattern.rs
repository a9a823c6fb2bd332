//! The crank wheel as the sequence of marks a sensor shows, reduced by its symmetry.

use crate::edges::SignalShape;
use crate::engine::{Crank, Sensor};
use crate::stats::upper_median;
use crate::units::{CrankDelta, TURN_DEG};
use crate::wheel::{EdgeKind, WheelEdge};

/// One way of reading the crank signal: which edges are marks, and in what order they come.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pattern {
    /// Crank degrees of each mark after the datum, growing from the first, within one period.
    pub angles: Vec<f64>,
    /// Electrical kind of each mark.
    pub kinds: Vec<EdgeKind>,
    /// Crank degrees after which the pattern repeats: 360, or a divisor of it.
    pub period: f64,
}

impl Pattern {
    /// Number of marks in a period.
    pub fn len(&self) -> usize {
        self.angles.len()
    }

    /// Crank degrees from mark `from` to the mark `steps` further on.
    pub fn advance(&self, from: usize, steps: usize) -> f64 {
        let to = from + steps;
        self.angles[to % self.len()] - self.angles[from] + self.period * (to / self.len()) as f64
    }

    /// Steps in a period that tell one part of the wheel from another: those that differ from the
    /// commonest step by a fifth or more.
    pub fn telling_steps(&self) -> Vec<bool> {
        let common = self.common_step();
        let steps = (0..self.len()).map(|mark| self.advance(mark, 1));
        steps.map(|step| (step / common - 1.0).abs() > 0.2).collect()
    }

    /// The commonest step from mark to mark, in crank degrees: the median.
    pub fn common_step(&self) -> f64 {
        let mut steps: Vec<f64> = (0..self.len()).map(|mark| self.advance(mark, 1)).collect();
        upper_median(&mut steps).unwrap_or(1.0)
    }

    /// The longest step from mark to mark.
    pub fn longest_step(&self) -> CrankDelta {
        CrankDelta((0..self.len()).map(|mark| self.advance(mark, 1)).fold(0.0, f64::max))
    }
}

/// The pattern of a crank wheel when its marks are edges of kind `marked_by` (slot wheels and
/// reluctance), or, for a square wave of a wheel given as teeth, both edges of a signal whose
/// rising edge begins a tooth (`marked_by` = rising) or ends one (falling, that is: upside down).
pub(super) fn pattern(crank: &Crank, shape: SignalShape, marked_by: EdgeKind) -> Pattern {
    let marks = crank.wheel.slot_marks();
    let edges: Vec<WheelEdge> = match (marks, shape) {
        (Some(marks), _) => marks.into_iter().map(|at| WheelEdge { at, kind: marked_by }).collect(),
        (None, SignalShape::Alternating) => crank.wheel.zero_crossings(marked_by),
        // An output pulse tells of one edge of a tooth only, the one where it begins.
        (None, SignalShape::Square) if crank.sensor == Sensor::Pulse => {
            crank.wheel.pulses(marked_by)
        }
        (None, SignalShape::Square) => crank
            .wheel
            .square_edges(EdgeKind::Falling)
            .into_iter()
            .map(|edge| match marked_by {
                EdgeKind::Rising => edge,
                EdgeKind::Falling => WheelEdge { at: edge.at, kind: edge.kind.opposite() },
            })
            .collect(),
    };
    reduce(&edges)
}

/// Keeps one period of a pattern that repeats within the turn.
fn reduce(edges: &[WheelEdge]) -> Pattern {
    let angles: Vec<f64> = edges.iter().map(|edge| edge.at.get()).collect();
    let kinds: Vec<EdgeKind> = edges.iter().map(|edge| edge.kind).collect();
    let whole = Pattern { angles, kinds, period: TURN_DEG };
    let count = whole.len();
    let repeats = (2..=count)
        .rev()
        .filter(|repeats| count.is_multiple_of(*repeats))
        .find(|repeats| {
            let shift = count / repeats;
            (0..count).all(|mark| {
                let other = (mark + shift) % count;
                whole.kinds[mark] == whole.kinds[other]
                    && (whole.advance(mark, 1) - whole.advance(other, 1)).abs() < 1e-6
            })
        })
        .unwrap_or(1);
    let keep = count / repeats;
    Pattern {
        angles: whole.angles[..keep].to_vec(),
        kinds: whole.kinds[..keep].to_vec(),
        period: TURN_DEG / repeats as f64,
    }
}

/// The period as a crank angle.
pub(super) fn period(pattern: &Pattern) -> CrankDelta {
    CrankDelta(pattern.period)
}
