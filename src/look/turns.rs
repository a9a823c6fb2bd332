//! How many teeth make a turn? The crank's signal alone only says after how many it repeats; a cam, which
//! comes back once in two turns, says the rest.

use super::period::Beat;
use crate::edges::EdgeTrain;
use crate::wheel::EdgeKind;

/// Most repeats of the crank's pattern in two turns.
const MOST_REPEATS: usize = 130;
/// Cam edges that belong together lie within this share of two turns, 9 crank degrees, of each other ...
const TOGETHER: f64 = 0.012;
/// ... or, where only whole periods are in question, within this share of a period, ...
const TOGETHER_IN_PERIOD: f64 = 0.1;
/// ... up to this share of two turns: a cam may wander by tens of degrees with speed (captures README).
const MOST_TOGETHER: f64 = 0.05;
/// All of a place lie within so many times that.
const PLACE_WIDTH: f64 = 2.0;
/// Every place of a cam edge must be hit in this share of the cycles.
const HIT: f64 = 0.75;
/// Share of the cam edges that must belong to a place.
const EXPLAINED: f64 = 0.85;
/// Fewest cycles to tell anything from.
const LEAST_CYCLES: f64 = 1.8;
/// Most teeth in two turns.
const MOST_TEETH: usize = 260;

/// Repeats of a period of `period` beats in one cycle (two turns), as a cam's edges show: the least number after which each
/// comes back every time. `None` when it shows none. A cam wheel that looks the same k times a turn gives a k-th.
pub(super) fn repeats_per_cycle(beats: &[Beat], period: usize, cam: &EdgeTrain) -> Option<usize> {
    [EdgeKind::Rising, EdgeKind::Falling]
        .into_iter()
        .filter_map(|kind| {
            let places: Vec<f64> = cam.of_kind(kind).filter_map(|at| place(beats, at.0)).collect();
            repeats(&places, period)
        })
        .max()
}

/// A time as a number of beats, with its fraction.
fn place(beats: &[Beat], at: f64) -> Option<f64> {
    let after = beats.partition_point(|beat| beat.at <= at);
    let index = after.checked_sub(1)?;
    let part = (at - beats[index].at) / beats[index].step;
    (part <= 1.0).then_some(index as f64 + part)
}

fn repeats(places: &[f64], period: usize) -> Option<usize> {
    let span = places.last()? - places.first()?;
    (1..=MOST_REPEATS).find(|&repeats| {
        let cycle = (repeats * period) as f64;
        repeats * period <= MOST_TEETH
            && span >= LEAST_CYCLES * cycle
            && comes_back(places, cycle, span, period as f64)
    })
}

/// Whether every place comes back in every cycle of so many beats.
fn comes_back(places: &[f64], cycle: f64, span: f64, period: f64) -> bool {
    let near = (TOGETHER * cycle).max((TOGETHER_IN_PERIOD * period).min(MOST_TOGETHER * cycle));
    let mut folded: Vec<f64> = places.iter().map(|place| place.rem_euclid(cycle)).collect();
    folded.sort_by(f64::total_cmp);
    // Groups parted by more than what belongs together; the first and last may be one across the fold.
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for value in folded {
        match groups.last_mut() {
            Some(group) if value - group[group.len() - 1] <= near => group.push(value),
            _ => groups.push(vec![value]),
        }
    }
    if groups.len() > 1 {
        let wraps = groups[0][0] + cycle
            - groups[groups.len() - 1][groups[groups.len() - 1].len() - 1]
            <= near;
        if wraps && let Some(last) = groups.pop() {
            let mut wrapped: Vec<f64> = last.iter().map(|value| value - cycle).collect();
            wrapped.append(&mut groups[0]);
            groups[0] = wrapped;
        }
    }
    let cycles = span / cycle;
    let (mut explained, mut places_hit) = (0, 0);
    for group in &groups {
        let hits = group.len() as f64;
        // One hit a cycle, give or take the cut ends.
        let narrow = group[group.len() - 1] - group[0] <= PLACE_WIDTH * near;
        if narrow && hits >= HIT * cycles && hits <= cycles + 1.6 {
            explained += group.len();
            places_hit += 1;
        }
    }
    places_hit > 0 && explained as f64 >= EXPLAINED * places.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cam_edge_that_comes_every_other_period_makes_two() {
        // Every 60 beats of a period of 30, then one that comes twice in them, unevenly.
        let once: Vec<f64> = (0..10).map(|i| 7.3 + 60.0 * f64::from(i)).collect();
        assert_eq!(repeats(&once, 30), Some(2));
        assert_eq!(repeats(&once, 1), Some(60));
        let mut twice = once.clone();
        twice.extend(once.iter().map(|place| place + 23.0));
        twice.sort_by(f64::total_cmp);
        assert_eq!(repeats(&twice, 30), Some(2));
        assert_eq!(repeats(&twice, 10), Some(6));
        // Three even teeth come back after a third, and that is all they can say.
        let even: Vec<f64> = (0..30).map(|i| 20.0 * f64::from(i)).collect();
        assert_eq!(repeats(&even, 1), Some(20));
        assert_eq!(repeats(&even, 30), Some(2));
        assert_eq!(repeats(&once[..1], 30), None);
    }
}
