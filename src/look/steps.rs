//! The mean turn: steps from tooth to tooth in degrees.

use super::beats::Beat;
use crate::stats::median;
use crate::units::TURN_DEG;

/// The mean turn of a signal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Turn {
    /// Degrees from each mark to the next, summing to 360. Speed ripple that repeats every turn is
    /// still in it.
    pub steps: Vec<f64>,
    /// Share of each step after which the other edge comes.
    pub shares: Vec<f64>,
}

/// Steps on each side that are typical of the speed at a place.
const AROUND: usize = 4;
impl Turn {
    /// The mean turn of `teeth` beats; `None` under two whole turns.
    pub fn of(beats: &[Beat], teeth: usize) -> Option<Turn> {
        let turns = beats.len() / teeth;
        if teeth == 0 || turns < 2 {
            return None;
        }
        let column = |tooth: usize, value: &dyn Fn(usize, usize) -> f64| {
            let all: Vec<f64> = (0..turns).map(|turn| value(turn * teeth, tooth)).collect();
            median(&all)
        };
        let length = |start: usize| -> f64 {
            beats[start..start + teeth].iter().map(|beat| beat.step).sum()
        };
        let lengths: Vec<f64> = (0..turns).map(|turn| length(turn * teeth)).collect();
        let raw: Vec<f64> = (0..teeth)
            .map(|tooth| {
                column(tooth, &|start, tooth| beats[start + tooth].step / lengths[start / teeth])
            })
            .collect::<Option<Vec<f64>>>()?;
        let whole: f64 = raw.iter().sum();
        let shares = (0..teeth)
            .map(|tooth| column(tooth, &|start, tooth| beats[start + tooth].share))
            .collect::<Option<Vec<f64>>>()?;
        let steps = raw.iter().map(|step| TURN_DEG * step / whole).collect();
        Some(Turn { steps, shares })
    }

    /// Each length over the median of those around it, round the turn.
    pub fn over_typical(&self, lengths: &[f64]) -> Vec<f64> {
        let count = lengths.len();
        let typical = |at: usize| {
            // A coarse wheel has too few steps for a neighbourhood: its whole turn is typical.
            if count <= 2 * AROUND + 1 {
                return median(lengths).unwrap_or(lengths[at]);
            }
            let around: Vec<f64> =
                (0..=2 * AROUND).map(|i| lengths[(at + count + i - AROUND) % count]).collect();
            median(&around).unwrap_or(lengths[at])
        };
        (0..count).map(|at| lengths[at] / typical(at)).collect()
    }

    /// Edges of one turn as (degrees after the first mark, is a mark), in order.
    pub fn edges(&self) -> Vec<(f64, bool)> {
        let mut at = 0.0;
        let mut edges = Vec::new();
        for (step, share) in self.steps.iter().zip(&self.shares) {
            edges.push((at, true));
            if *share > 0.0 {
                edges.push((at + step * share, false));
            }
            at += step;
        }
        edges
    }
}
