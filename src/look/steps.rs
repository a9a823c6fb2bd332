//! The mean turn: steps from tooth to tooth in degrees, and whether they are whole slots.

use super::period::Beat;
use crate::stats::median;
use crate::units::TURN_DEG;

/// The mean turn of a signal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Turn {
    /// Degrees from each mark to the next, summing to 360. Speed ripple that repeats every turn is still in it.
    pub steps: Vec<f64>,
    /// Share of each step after which the other edge comes.
    pub shares: Vec<f64>,
}

/// Steps as whole slots.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slots {
    /// Slots from each mark to the next.
    pub counts: Vec<usize>,
}

/// Steps on each side that are typical of the speed at a place.
const AROUND: usize = 4;
/// A step shorter than this share of the typical one makes the typical one two slots.
const SHORT: f64 = 0.7;
/// Largest misfit of a single step, in logarithms: two to three slots is ln 1.5 = 0.41, and half of that would be
/// a toss-up. The step over a gap of a reluctance wheel reads a tenth long (captures README: 3.3 for 3).
const MOST_STEP_MISFIT: f64 = 0.22;

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

    /// The steps as whole slots; `None` when they are not.
    pub fn slots(&self) -> Option<Slots> {
        let count = self.steps.len();
        let ratios: Vec<f64> = (0..count).map(|i| self.steps[i] / self.typical(i)).collect();
        let unit = if ratios.iter().any(|&ratio| ratio < SHORT) { 2.0 } else { 1.0 };
        let counts: Vec<usize> =
            ratios.iter().map(|ratio| (ratio * unit).round().max(1.0) as usize).collect();
        let misfits: Vec<f64> = ratios
            .iter()
            .zip(&counts)
            .map(|(ratio, &count)| (ratio * unit / count as f64).ln())
            .collect();
        let worst = misfits.iter().map(|misfit| misfit.abs()).fold(0.0, f64::max);
        (worst <= MOST_STEP_MISFIT).then_some(Slots { counts })
    }

    /// Median step around a place, round the turn.
    fn typical(&self, at: usize) -> f64 {
        let count = self.steps.len();
        // A coarse wheel has too few steps for a neighbourhood: its whole turn is typical.
        if count <= 2 * AROUND + 1 {
            return median(&self.steps).unwrap_or(self.steps[at]);
        }
        let reach = AROUND;
        let around: Vec<f64> =
            (0..=2 * reach).map(|i| self.steps[(at + count + i - reach) % count]).collect();
        median(&around).unwrap_or(self.steps[at])
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
