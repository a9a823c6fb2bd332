//! Whether edges come as a wheel makes them, or at random.
//!
//! A search that may pass edges over, bridge teeth and allow for jitter reads something into any train of edges. What was read
//! is held against the plainest other account: each interval is drawn by itself, from one spread. Both are densities of
//! the logarithm of an interval, so that their sums over the same edges can be compared.

use super::identify::change;
use super::reading::Reading;
use super::search::EXTRA_PRICE;
use crate::stats::standard_deviation;

/// Least spread of log intervals at random. Those of edges with a constant rate scatter by π/√6 = 1.28 (the standard deviation of
/// the log of an exponential variable); filters, hysteresis and the spacing of samples take the short ones, and up to half of it.
const LEAST_SPREAD: f64 = 0.64;
/// Negative log of the Student-t density with four degrees of freedom at its middle, for a scatter of one: 3/8.
const STUDENT: f64 = 0.980_829_253_011_726_2;

impl Reading<'_> {
    /// Whether the intervals are likelier at random than by the wheel.
    pub fn is_noise(&self) -> bool {
        let Some((first, last)) = self.stretch.teeth.first().zip(self.stretch.teeth.last()) else {
            return true;
        };
        let edges = &self.marks.edges[first.edge as usize..=last.edge as usize];
        let intervals: Vec<f64> =
            edges.windows(2).map(|pair| (pair[1].at - pair[0].at).0.ln()).collect();
        at_random(&intervals).is_none_or(|random| random < self.by_the_wheel(edges.len()))
    }

    /// Negative log density of the intervals by this reading.
    fn by_the_wheel(&self, edges: usize) -> f64 {
        let teeth = &self.stretch.teeth;
        let changes = teeth.windows(3).map(|three| change(three, &self.marks));
        let seen = teeth.len();
        self.habits.surprise(changes)
            + STUDENT * seen as f64
            + self.habits.losses(self.stretch.missed(), seen)
            + EXTRA_PRICE * (edges - seen) as f64
    }
}

/// Negative log density of log intervals drawn from one normal spread, their own or the least; `None` of none.
fn at_random(intervals: &[f64]) -> Option<f64> {
    let own = standard_deviation(intervals)?;
    let spread = own.max(LEAST_SPREAD);
    let each = 0.5 * std::f64::consts::TAU.ln() + spread.ln() + 0.5 * (own / spread).powi(2);
    Some(each * intervals.len() as f64)
}
