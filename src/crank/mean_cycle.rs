//! The mean cycle of a crank: what every step takes, as it comes again every two turns.

use crate::stats::{MAD_TO_SD, MEDIAN_COST, median};

/// Steps that differ from those one cycle before by more than this, in logs, are no regular
/// cranking: twice what compressions differ by from one cycle to the next (recordings: a tenth or
/// two), and half of what a lost tooth changes.
pub(super) const REGULAR: f64 = 0.3;
/// Where regular cranking begins or ends, a step that differs from those of other cycles by more
/// than so many standard deviations, and by more than compressions do from one cycle to the next,
/// may hide a lost tooth: a short step beside a long one is less of it than is regular.
const ODD: f64 = 5.0;
const ALIKE: f64 = 0.1;
/// Least cycles that show a mean one.
const LEAST_CYCLES: usize = 3;

/// The mean cycle of the longest stretch of regular cranking.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct MeanCycle {
    /// First mark of the stretch, and its last.
    pub from: usize,
    pub to: usize,
    /// Time of each step from that mark on, as a share of the mean step.
    pub steps: Vec<f64>,
    /// Standard error of the log of one of them, by what they differ in from cycle to cycle.
    pub error: f64,
}

impl MeanCycle {
    /// Of marks at these times in seconds, so many a cycle; `None` where they do not come again
    /// regularly for [`LEAST_CYCLES`].
    pub(crate) fn of(times: &[f64], cycle: usize) -> Option<MeanCycle> {
        let steps = relative_steps(times, cycle);
        let (from, to) = regular(&steps, cycle)?;
        let (from, to) = without_odd_ends(&steps, (from, to), cycle)?;
        let run = &steps[from..to];
        let mean = mean_of(run, cycle)?;
        let off = off(run, &mean);
        let cycles = run.len() as f64 / cycle as f64;
        let error = MEDIAN_COST * MAD_TO_SD * median(&off)? / cycles.sqrt();
        Some(MeanCycle { from, to, steps: mean, error })
    }

    /// The same of what else lasts a time at each of those marks, such as its tooth: as a share of
    /// the mean step. `None` where some mark hardly has any.
    pub(crate) fn also(&self, times: &[f64], lasting: &[Option<f64>]) -> Option<Vec<f64>> {
        let cycle = self.steps.len();
        let shares = |at: usize| -> Vec<f64> {
            (self.from + at..self.to)
                .step_by(cycle)
                .filter_map(|i| Some(cycle as f64 * lasting[i]? / around(times, i, cycle)))
                .collect()
        };
        (0..cycle).map(|at| median(&shares(at)).filter(|&share| share > 0.0)).collect()
    }
}

/// Each step in time over the mean of the cycle around it.
fn relative_steps(times: &[f64], cycle: usize) -> Vec<f64> {
    let steps = times.len().saturating_sub(1);
    if cycle == 0 || steps < cycle {
        return Vec::new();
    }
    (0..steps).map(|i| cycle as f64 * (times[i + 1] - times[i]) / around(times, i, cycle)).collect()
}

/// How long the cycle around a step lasts.
fn around(times: &[f64], step: usize, cycle: usize) -> f64 {
    let from = step.saturating_sub(cycle / 2).min(times.len() - 1 - cycle);
    times[from + cycle] - times[from]
}

/// The longest run of steps that come again every cycle, from its first step to behind its last.
fn regular(steps: &[f64], cycle: usize) -> Option<(usize, usize)> {
    let (mut best, mut from) = ((0, 0), 0);
    for to in cycle..=steps.len() {
        if to == steps.len() || (steps[to] / steps[to - cycle]).ln().abs() > REGULAR {
            if to - from > best.1 - best.0 {
                best = (from, to);
            }
            from = to + 1 - cycle;
        }
    }
    (best.1 - best.0 >= LEAST_CYCLES * cycle).then_some(best)
}

/// What each step of the cycle takes in the middle of all cycles of a run.
fn mean_of(run: &[f64], cycle: usize) -> Option<Vec<f64>> {
    let of_step = |at: usize| run.iter().skip(at).step_by(cycle).copied().collect::<Vec<_>>();
    (0..cycle).map(|at| median(&of_step(at))).collect()
}

/// How far each step of a run is from that, in logs.
fn off(run: &[f64], mean: &[f64]) -> Vec<f64> {
    run.iter().enumerate().map(|(i, step)| (step / mean[i % mean.len()]).ln().abs()).collect()
}

/// A run from behind the last odd step of its first cycle to the first odd one of its last; `None`
/// where too little is left.
fn without_odd_ends(
    steps: &[f64],
    (from, to): (usize, usize),
    cycle: usize,
) -> Option<(usize, usize)> {
    let run = &steps[from..to];
    let off = off(run, &mean_of(run, cycle)?);
    let most = ALIKE.max(ODD * MAD_TO_SD * median(&off)?);
    let odd = |off: &f64| *off > most;
    let first = off[..cycle].iter().rposition(odd).map_or(0, |at| at + 1);
    let last = run.len() - cycle;
    let end = off[last..].iter().position(odd).map_or(run.len(), |at| last + at);
    (end >= first + LEAST_CYCLES * cycle).then_some((from + first, from + end))
}
