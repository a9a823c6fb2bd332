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
        let ratios = self.over_typical(&self.steps);
        let unit = if ratios.iter().any(|&ratio| ratio < SHORT) { 2.0 } else { 1.0 };
        let whole = |ratio: &f64| (ratio * unit).round().max(1.0);
        let counts: Vec<f64> = ratios.iter().map(whole).collect();
        // Gaps lengthen what is typical beside them: once more, by the slots that each step now has.
        let slots: Vec<f64> = self.steps.iter().zip(&counts).map(|(step, n)| step / n).collect();
        let ratios: Vec<f64> =
            self.over_typical(&slots).iter().zip(&counts).map(|(slot, n)| slot * n).collect();
        let counts: Vec<f64> = ratios.iter().map(|ratio| ratio.round().max(1.0)).collect();
        let misfit = |(ratio, count): (&f64, &f64)| (ratio / count).ln().abs();
        let worst = ratios.iter().zip(&counts).map(misfit).fold(0.0, f64::max);
        (worst <= MOST_STEP_MISFIT)
            .then(|| Slots { counts: counts.iter().map(|&count| count as usize).collect() })
    }

    /// Each length over the median of those around it, round the turn.
    fn over_typical(&self, lengths: &[f64]) -> Vec<f64> {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_gaps_side_by_side_do_not_make_the_teeth_beside_them_short() {
        // 36 slots less three pairs, two of them side by side, on a reluctance sensor (a practice capture): the crank is
        // a fifth slower at the compressions, and before the gaps it is fast.
        let steps = [
            11.4, 11.4, 10.7, 29.4, 8.8, 9.1, 9.2, 9.6, 9.9, 10.7, 11.3, 11.5, 11.0, 10.2, 9.5,
            8.9, 27.6, 30.5, 11.0, 11.4, 10.8, 10.1, 9.5, 9.2, 9.0, 8.9, 9.1, 9.5, 10.0, 10.5,
        ];
        let turn = Turn { steps: steps.to_vec(), shares: vec![0.0; 30] };
        let counts = turn.slots().expect("whole slots").counts;
        let gaps: Vec<usize> = (0..30).filter(|&at| counts[at] == 3).collect();
        assert_eq!((counts.iter().sum::<usize>(), gaps), (36, vec![3, 16, 17]));
    }
}
