//! One way of reading the crank signal: the edges that are marks, with the pattern they are held
//! against.

use std::borrow::Cow;

use super::pattern::Pattern;
use crate::edges::{Edge, EdgeTrain};
use crate::units::TURN_DEG;

/// The edges of a train that a pattern speaks of.
#[derive(Debug, Clone)]
pub(super) struct Marks<'a> {
    pub edges: Cow<'a, [Edge]>,
    pub pattern: Pattern,
}

/// Marks on each side that a mean speed is taken over at least.
const LEAST_AROUND: usize = 2;

impl<'a> Marks<'a> {
    /// The marks of a train. Nothing is copied where both kinds of edge are marks.
    pub fn of(train: &'a EdgeTrain, pattern: Pattern) -> Marks<'a> {
        let shows = |edge: &Edge| pattern.kinds.contains(&edge.kind);
        let edges = if train.edges.iter().all(shows) {
            Cow::Borrowed(&train.edges[..])
        } else {
            Cow::Owned(train.edges.iter().copied().filter(shows).collect())
        };
        Marks { edges, pattern }
    }

    /// Marks in a turn of the crank.
    pub fn per_turn(&self) -> usize {
        self.pattern.len() * (TURN_DEG / self.pattern.period).round() as usize
    }

    /// Logarithm of the mean speed over the turn around an edge, by the number of edges alone.
    pub fn log_mean_speed(&self, edge: usize) -> f64 {
        let around = (self.per_turn() / 2).max(LEAST_AROUND);
        let from = edge.saturating_sub(around);
        let to = (edge + around).min(self.edges.len() - 1);
        let degrees = TURN_DEG * (to - from) as f64 / self.per_turn() as f64;
        let took = (self.edges[to].at - self.edges[from].at).0;
        (degrees / took.max(f64::MIN_POSITIVE)).ln()
    }
}
