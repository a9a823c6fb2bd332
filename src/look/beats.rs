//! The teeth as a signal shows them, from a marking edge to the next, and after how many of them it
//! may repeat.

use crate::edges::{Edge, EdgeTrain, SignalShape};
use crate::stats::upper_median;
use crate::wheel::EdgeKind;

/// One tooth as the signal shows it, from a marking edge to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beat {
    /// Time of its mark, seconds.
    pub at: f64,
    /// Time to the next mark.
    pub step: f64,
    /// Share of the step after which the other edge came; 0 for a signal without one.
    pub share: f64,
}

/// A step this many times the typical one around it is a stop, not a gap.
const STOP: f64 = 8.0;
/// Steps on each side that are typical.
const AROUND: usize = 12;
/// Most teeth in a period.
const MOST_PERIOD: usize = 130;
/// Most that one tooth's mismatch counts, in logarithms: a lost tooth does not speak louder than a
/// gap.
const MOST_MISMATCH: f64 = 1.0;
/// Weight of the share of a step against its logarithm.
const SHARE_WEIGHT: f64 = 2.0;
/// A period is as good as the best when its mismatch is within this factor and amount of it.
const AS_GOOD: (f64, f64) = (1.3, 0.015);
/// Periods that must fit into the beats.
const LEAST_PERIODS: usize = 3;
/// Most beats looked at.
const MOST_BEATS: usize = 1600;
/// Periods that stand out among their neighbours which are looked into.
const OUTSTANDING: usize = 5;
/// Neighbours on each side that a period is held against.
const NEIGHBOURS: usize = 9;
/// Periods of so few teeth are always looked into: a coarse wheel may hide in the speed's ripple.
const COARSE_PERIOD: usize = 8;

/// The longest stretch of beats without a stop, marked by edges of one kind.
pub(super) fn beats(train: &EdgeTrain, kind: EdgeKind) -> Vec<Beat> {
    let all = all_beats(&train.edges, kind, train.shape == SignalShape::Square);
    let typical: Vec<f64> = (0..all.len())
        .map(|i| {
            let (from, to) = (i.saturating_sub(AROUND), (i + AROUND + 1).min(all.len()));
            let mut steps: Vec<f64> = all[from..to].iter().map(|beat| beat.step).collect();
            upper_median(&mut steps).unwrap_or(all[i].step)
        })
        .collect();
    let mut best = 0..0;
    let mut start = 0;
    for i in 0..=all.len() {
        let stops =
            i == all.len() || all[i].step > STOP * typical[i] || all[i].step * STOP < typical[i];
        if stops {
            if i - start > best.len() {
                best = start..i;
            }
            start = i + 1;
        }
    }
    let spare = best.len().saturating_sub(MOST_BEATS) / 2;
    all[best.start + spare..best.end - spare].to_vec()
}

fn all_beats(edges: &[Edge], kind: EdgeKind, both: bool) -> Vec<Beat> {
    let mut beats = Vec::new();
    let mut mark: Option<f64> = None;
    let mut other: Option<f64> = None;
    for edge in edges {
        if edge.kind != kind {
            other = Some(edge.at.0);
            continue;
        }
        if let Some(at) = mark {
            let step = edge.at.0 - at;
            let share = match other {
                Some(other) if both && step > 0.0 => (other - at) / step,
                _ => 0.0,
            };
            beats.push(Beat { at, step, share });
        }
        mark = Some(edge.at.0);
        other = None;
    }
    beats
}

/// Times of the marks of a stretch, one more than beats.
pub(super) fn times(beats: &[Beat]) -> Vec<f64> {
    let last = beats.last().map(|beat| beat.at + beat.step);
    beats.iter().map(|beat| beat.at).chain(last).collect()
}

/// Numbers of beats after which a pattern may repeat, without double ones: first the least that is
/// about as good as the best, then those that stand out, the likeliest first; `None` for a stretch
/// too short for any.
pub(super) fn periods(beats: &[Beat]) -> Option<Vec<usize>> {
    let ratios: Vec<f64> =
        beats.windows(2).map(|pair| (pair[1].step / pair[0].step).ln()).collect();
    let most = MOST_PERIOD.min(ratios.len() / LEAST_PERIODS);
    let mismatch = |period: usize| -> f64 {
        let count = ratios.len() - period;
        let sum: f64 = (0..count)
            .map(|i| {
                let step = (ratios[i + period] - ratios[i]).abs();
                let share = SHARE_WEIGHT * (beats[i + period].share - beats[i].share).abs();
                (step + share).min(MOST_MISMATCH)
            })
            .sum();
        sum / count as f64
    };
    let mismatches: Vec<f64> = (1..=most).map(mismatch).collect();
    let best = mismatches.iter().copied().fold(f64::INFINITY, f64::min);
    let enough = best * AS_GOOD.0 + AS_GOOD.1;
    let least = mismatches.iter().position(|&mismatch| mismatch <= enough)? + 1;
    let mut all = vec![least];
    let mut outstanding: Vec<(f64, usize)> = (1..=most)
        .map(|period| (mismatches[period - 1] / around(&mismatches, period - 1), period))
        .collect();
    outstanding.sort_by(|a, b| a.0.total_cmp(&b.0));
    for &(_, period) in outstanding.iter().take(OUTSTANDING) {
        // A pattern found twice over, or one that every other tooth hides, is a part of the period.
        all.extend((1..=4).filter(|part| period.is_multiple_of(*part)).map(|part| period / part));
    }
    all.extend(1..=COARSE_PERIOD.min(most));
    let mut seen = std::collections::BTreeSet::new();
    all.retain(|&period| period <= most && seen.insert(period));
    Some(all)
}

/// Median mismatch of the periods beside one.
fn around(mismatches: &[f64], at: usize) -> f64 {
    let (from, to) = (at.saturating_sub(NEIGHBOURS), (at + NEIGHBOURS + 1).min(mismatches.len()));
    let mut near: Vec<f64> = (from..to).filter(|&i| i != at).map(|i| mismatches[i]).collect();
    near.sort_by(f64::total_cmp);
    near.get(near.len() / 2).copied().unwrap_or(1.0).max(1e-9)
}
