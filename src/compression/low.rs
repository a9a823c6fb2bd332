//! How far some of the cylinders are below the others.

use super::stats::NORMAL_95;
use super::summary::Compression;

impl Compression {
    /// How far these cylinders (indices) are below the mean of all the others, as a share of that,
    /// with its 95 % interval. Positive is below.
    #[must_use]
    pub fn below_others(&self, low: &[usize]) -> (f64, (f64, f64)) {
        let count = self.cylinders.len();
        let others = (count - low.len()).max(1) as f64;
        let is_low = |at: usize| low.contains(&at);
        let level = |wanted: bool| {
            let values = (0..count).filter(|&at| is_low(at) == wanted);
            let values: Vec<f64> = values.map(|at| self.cylinders[at].relative).collect();
            super::stats::mean(&values)
        };
        let (own, rest) = (level(true), level(false));
        if rest <= 0.0 {
            return (0.0, (0.0, 0.0));
        }
        let below = 1.0 - own / rest;
        let weight = |at: usize| {
            if is_low(at) { 1.0 / low.len() as f64 } else { -(1.0 - below) / others }
        };
        let sd = self.variance(&weight).sqrt() / rest;
        (below, (below - NORMAL_95 * sd, below + NORMAL_95 * sd))
    }

    /// Of these cylinders, how many are below the mean of all the others beyond noise.
    #[must_use]
    pub fn below_beyond_noise(&self, group: &[usize]) -> usize {
        let count = self.cylinders.len();
        let others: Vec<usize> = (0..count).filter(|at| !group.contains(at)).collect();
        let below = |at: usize| {
            let weight = |other: usize| {
                if other == at {
                    -1.0
                } else if others.contains(&other) {
                    1.0 / others.len() as f64
                } else {
                    0.0
                }
            };
            let value: f64 =
                (0..count).map(|other| weight(other) * self.cylinders[other].relative).sum();
            value > NORMAL_95 * self.variance(&weight).sqrt()
        };
        group.iter().filter(|&&at| below(at)).count()
    }

    /// Variance of a weighted sum of the relative compressions.
    fn variance(&self, weight: &dyn Fn(usize) -> f64) -> f64 {
        let count = self.cylinders.len();
        let cell =
            |cell: usize| weight(cell / count) * weight(cell % count) * self.covariance[cell];
        (0..count * count).map(cell).sum::<f64>().max(0.0)
    }
}
