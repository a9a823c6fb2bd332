//! Edges in order of time, of which every one counts or every second.
//!
//! Rising and falling edges take turns, so that those of one kind need no list of their own: of a
//! long capture that is a third of what is held of an edge.

use std::borrow::Cow;
use std::ops::{Index, Range};

use crate::edges::Edge;

/// Edges picked from a train.
#[derive(Debug, Clone)]
pub(super) struct Picked<'a> {
    /// From the first that counts to the last.
    edges: Cow<'a, [Edge]>,
    /// Every how many-th counts.
    every: usize,
}

impl<'a> Picked<'a> {
    /// Those that count.
    pub fn from(edges: &'a [Edge], counts: impl Fn(&Edge) -> bool) -> Picked<'a> {
        let first = edges.iter().position(&counts).unwrap_or(edges.len());
        let last = edges.iter().rposition(&counts).unwrap_or(first);
        let between = edges.get(first..=last).unwrap_or_default();
        for every in [1, 2] {
            if between.iter().enumerate().all(|(i, edge)| counts(edge) == (i % every == 0)) {
                return Picked { edges: between.into(), every };
            }
        }
        edges.iter().copied().filter(counts).collect::<Vec<Edge>>().into()
    }

    pub fn len(&self) -> usize {
        self.edges.len().div_ceil(self.every)
    }

    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Edge> {
        self.edges.iter().step_by(self.every)
    }

    /// Some of them, not copied.
    pub fn part(&self, of: Range<usize>) -> Picked<'_> {
        let edges = match of.end.checked_sub(of.start) {
            None | Some(0) => &[],
            Some(_) => &self.edges[of.start * self.every..=(of.end - 1) * self.every],
        };
        Picked { edges: edges.into(), every: self.every }
    }
}

impl Index<usize> for Picked<'_> {
    type Output = Edge;

    fn index(&self, at: usize) -> &Edge {
        &self.edges[at * self.every]
    }
}

impl From<Vec<Edge>> for Picked<'_> {
    fn from(edges: Vec<Edge>) -> Self {
        Picked { edges: edges.into(), every: 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;
    use crate::wheel::EdgeKind::{self, Falling, Rising};

    fn edges(kinds: &[EdgeKind]) -> Vec<Edge> {
        let at = |i: usize| Seconds(i as f64);
        kinds.iter().enumerate().map(|(i, &kind)| Edge { at: at(i), kind }).collect()
    }

    fn times(picked: &Picked) -> Vec<f64> {
        let times: Vec<f64> = picked.iter().map(|edge| edge.at.0).collect();
        let each: Vec<f64> = (0..picked.len()).map(|i| picked[i].at.0).collect();
        assert_eq!(times, each);
        times
    }

    #[test]
    fn edges_of_a_kind_stand_where_they_are() {
        let turns = edges(&[Rising, Falling, Rising, Falling, Rising]);
        let falling = Picked::from(&turns, |edge| edge.kind == Falling);
        assert_eq!(times(&falling), [1.0, 3.0]);
        let rising = Picked::from(&turns, |edge| edge.kind == Rising);
        assert_eq!(times(&rising), [0.0, 2.0, 4.0]);
        assert_eq!(times(&rising.part(1..3)), [2.0, 4.0]);
        assert_eq!(times(&rising.part(1..3).part(1..2)), [4.0]);
        assert!(times(&rising.part(2..2)).is_empty());
        assert_eq!(times(&Picked::from(&turns, |_| true)), [0.0, 1.0, 2.0, 3.0, 4.0]);
        for picked in [&falling, &rising] {
            assert!(matches!(picked.edges, Cow::Borrowed(_)), "{picked:?}");
        }
        // Two of a kind in a row have to be picked out.
        let twice = edges(&[Rising, Falling, Falling, Rising, Falling]);
        let falling = Picked::from(&twice, |edge| edge.kind == Falling);
        assert_eq!(times(&falling), [1.0, 2.0, 4.0]);
        assert!(times(&Picked::from(&turns[..1], |edge| edge.kind == Falling)).is_empty());
        assert!(times(&Picked::from(&[], |_| true)).is_empty());
    }
}
