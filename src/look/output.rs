//! Is a lead a wheel at all? A wheel's teeth last an angle; an output of a control unit or an
//! ignition module lasts a time, or repeats another lead with a delay.

use super::fold::Turned;
use crate::edges::EdgeTrain;
use crate::stats::median;
use crate::wheel::EdgeKind;

/// Why a lead is no wheel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Output {
    /// Its pulses last as long at any speed.
    FixedTime,
    /// Many of them repeat those of another lead, a moment later.
    Copies,
}

/// Fewest pulses that tell anything.
const LEAST_PULSES: usize = 10;
/// The speed must range by this factor over the pulses, or a time and an angle are the same thing.
const LEAST_RANGE: f64 = 1.6;
/// Pulses within this factor of the usual one last alike.
const ALIKE: f64 = 1.25;
/// Share of the pulses that last alike in time for an output, and, at most, in angle.
const IN_TIME: f64 = 0.7;
const IN_ANGLE: f64 = 0.45;
/// An edge this soon after one of another lead, in seconds, may have been made by it ...
const DELAY_S: f64 = 0.4e-3;
/// ... where that lead's next edge is so many times further on: elsewhere any edge follows another.
const ALONE: f64 = 10.0;
/// Share of the pulses with both edges made by another lead's. Two wheels have a tooth or two in
/// common, not a third of them.
const COPIED: f64 = 0.25;

/// Judges a lead by the crank's angle; `others` are the trains of every other lead.
pub(super) fn output(train: &EdgeTrain, turned: &Turned, others: &[&EdgeTrain]) -> Option<Output> {
    let pulses = pulses(train);
    let pulses: Vec<(f64, f64, f64)> = pulses
        .into_iter()
        .filter_map(|(from, to)| Some((from, to, turned.speed(from.midpoint(to))?)))
        .collect();
    let speeds: Vec<f64> = pulses.iter().map(|pulse| pulse.2).collect();
    if pulses.len() < LEAST_PULSES || range(&speeds) < LEAST_RANGE {
        return None;
    }
    let copies = |pulse: &(f64, f64, f64)| {
        others.iter().any(|other| follows(other, pulse.0) && follows(other, pulse.1))
    };
    let copied = pulses.iter().filter(|pulse| copies(pulse)).count();
    if copied as f64 >= COPIED * pulses.len() as f64 {
        return Some(Output::Copies);
    }
    let alike = |lengths: &[f64]| {
        let usual = median(lengths).unwrap_or(0.0);
        let near = lengths.iter().filter(|&&one| one < usual * ALIKE && one * ALIKE > usual);
        near.count() as f64 / lengths.len() as f64
    };
    let times: Vec<f64> = pulses.iter().map(|pulse| pulse.1 - pulse.0).collect();
    let angles: Vec<f64> = pulses.iter().map(|pulse| (pulse.1 - pulse.0) * pulse.2).collect();
    (alike(&times) >= IN_TIME && alike(&angles) <= IN_ANGLE).then_some(Output::FixedTime)
}

/// Start and end of each pulse, at whichever level is the shorter.
fn pulses(train: &EdgeTrain) -> Vec<(f64, f64)> {
    let of = |kind: EdgeKind| -> Vec<(f64, f64)> {
        let begins = train.edges.windows(2).filter(|pair| pair[0].kind == kind);
        begins.map(|pair| (pair[0].at.0, pair[1].at.0)).collect()
    };
    let usual = |pulses: &[(f64, f64)]| {
        median(&pulses.iter().map(|(from, to)| to - from).collect::<Vec<f64>>())
            .unwrap_or(f64::INFINITY)
    };
    let (high, low) = (of(EdgeKind::Rising), of(EdgeKind::Falling));
    if usual(&high) <= usual(&low) { high } else { low }
}

/// Whether an edge of another lead came just before.
fn follows(other: &EdgeTrain, at: f64) -> bool {
    let after = other.edges.partition_point(|edge| edge.at.0 <= at);
    let before = after.checked_sub(1).map(|index| other.edges[index].at.0);
    let next = other.edges.get(after).map_or(f64::INFINITY, |edge| edge.at.0);
    before.is_some_and(|before| at - before <= DELAY_S && next - before > ALONE * DELAY_S)
}

/// The ninth decile over the first.
fn range(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted[((sorted.len() - 1) as f64 * share).round() as usize];
    if sorted.is_empty() { 1.0 } else { at(0.9) / at(0.1).max(1e-12) }
}
