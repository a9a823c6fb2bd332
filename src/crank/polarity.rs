//! Which way up a square-wave crank signal is, told from the gap.
//!
//! A missing tooth leaves the signal at its low level. So over a gap the *high* time is that of one
//! tooth, as everywhere else; on a signal that is upside down it is the *low* time that stays the
//! same.

use super::Polarity;
use super::marks::Marks;
use super::stretch::Stretch;
use crate::edges::Edge;
use crate::wheel::EdgeKind;

/// Most steps looked at.
const MOST_STEPS: usize = 4000;

/// What the level did between neighbouring marks, in crank degrees.
#[derive(Debug, Clone, Copy, Default)]
struct Spent {
    high: f64,
    low: f64,
    steps: usize,
}

impl Spent {
    fn add(&mut self, high: f64, low: f64) {
        self.high += high;
        self.low += low;
        self.steps += 1;
    }
    fn mean(self) -> Option<(f64, f64)> {
        let steps = self.steps as f64;
        (self.steps > 0).then(|| (self.high / steps, self.low / steps))
    }
}

/// The polarity; `None` when the wheel has no gap to tell it from.
pub(super) fn from_gap(
    stretch: &Stretch,
    marks: &Marks,
    all_edges: &[Edge],
    marked_by: EdgeKind,
) -> Option<Polarity> {
    let telling = marks.pattern.telling_steps();
    let (mut plain, mut gap) = (Spent::default(), Spent::default());
    for pair in stretch.teeth.windows(2).take(MOST_STEPS) {
        if pair[1].slipped() {
            continue;
        }
        let (from, to) = (marks.at(&pair[0]), marks.at(&pair[1]));
        let start = all_edges.partition_point(|edge| edge.at <= from);
        let end = all_edges.partition_point(|edge| edge.at < to);
        if end - start != 1 {
            continue;
        }
        let (degrees, _) = marks.between(&pair[0], &pair[1]);
        let first = degrees * (all_edges[start].at - from).0 / (to - from).0;
        let (high, low) = match marked_by {
            EdgeKind::Rising => (first, degrees - first),
            EdgeKind::Falling => (degrees - first, first),
        };
        if telling[usize::from(pair[0].slot)] { gap.add(high, low) } else { plain.add(high, low) }
    }
    let ((plain_high, plain_low), (gap_high, gap_low)) = (plain.mean()?, gap.mean()?);
    let normal = (gap_high - plain_high).abs() < (gap_low - plain_low).abs();
    Some(if normal { Polarity::Normal } else { Polarity::Inverted })
}
