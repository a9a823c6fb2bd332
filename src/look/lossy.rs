//! Patterns of a lead that loses teeth, found by the clock of another lead that does not.
//!
//! A conditioner may merge teeth when they come fast or are weak; counting from tooth to tooth then
//! finds no period. A cam whose edges are all there tells how far the engine has turned, and
//! folding the other lead's edges over a part of the cam's turn shows where its teeth are, however
//! seldom each is seen.

use super::base::Base;
use super::fold::Turned;
use crate::stats::median;

/// Parts of the other lead's period that are tried: groups of teeth for each firing of two, three,
/// four, five, six or eight cylinders, and a turn.
const PARTS: [usize; 7] = [1, 2, 3, 4, 5, 6, 8];
/// Edges of one tooth lie within this share of the other lead's period of each other: 9° of a
/// cycle, and as much again for the guess between the other lead's edges.
const TOGETHER: f64 = 0.025;
/// All of a tooth lie within so many times that.
const WIDTH: f64 = 2.5;
/// A tooth is seen in this share of the passes, or it is noise.
const SEEN: f64 = 0.2;
/// Share of the edges that must be of teeth.
const EXPLAINED: f64 = 0.9;
/// Most teeth in a part.
const MOST_TEETH: usize = 8;
/// Passes of a part that must be seen.
const LEAST_PASSES: f64 = 4.0;

/// Patterns of the marks by the clock of another lead.
pub(super) fn by_clock(times: &[f64], clock: &Turned) -> Vec<Base> {
    let places: Vec<f64> = times.iter().filter_map(|&time| clock.at(time)).collect();
    PARTS.iter().filter_map(|&parts| folded(&places, 1.0 / parts as f64)).collect()
}

fn folded(places: &[f64], part: f64) -> Option<Base> {
    let passes = (places.last()? - places.first()?) / part;
    if passes < LEAST_PASSES {
        return None;
    }
    let mut folded: Vec<f64> = places.iter().map(|place| place.rem_euclid(part)).collect();
    folded.sort_by(f64::total_cmp);
    // Begin after the widest hole, so that no tooth lies across the fold.
    let count = folded.len();
    let hole = |i: usize| {
        if i == 0 { folded[0] + part - folded[count - 1] } else { folded[i] - folded[i - 1] }
    };
    let start = (0..count).max_by(|&a, &b| hole(a).total_cmp(&hole(b)))?;
    let from_start = (0..count).map(|i| {
        let at = folded[(start + i) % count];
        if start + i >= count { at + part } else { at }
    });
    let mut teeth: Vec<Vec<f64>> = Vec::new();
    for at in from_start {
        match teeth.last_mut() {
            Some(tooth) if at - tooth[tooth.len() - 1] <= TOGETHER => tooth.push(at),
            _ => teeth.push(vec![at]),
        }
    }
    teeth.retain(|tooth| {
        let narrow = tooth[tooth.len() - 1] - tooth[0] <= WIDTH * TOGETHER;
        narrow && tooth.len() as f64 >= SEEN * passes && tooth.len() as f64 <= passes + 1.6
    });
    let explained: usize = teeth.iter().map(Vec::len).sum();
    if !(2..=MOST_TEETH).contains(&teeth.len()) || (explained as f64) < EXPLAINED * count as f64 {
        return None;
    }
    let at: Vec<f64> = teeth.iter().filter_map(|tooth| median(tooth)).collect();
    let next = at.iter().skip(1).copied().chain([at[0] + part]);
    Some(Base::Uneven(at.iter().zip(next).map(|(from, to)| (to - from) / part).collect()))
}

#[cfg(test)]
mod tests {
    use super::super::align::{Marks, Sight};
    use super::*;

    #[test]
    fn three_uneven_teeth_are_found_though_one_is_seen_half_the_time() {
        // A cam of two even edges a turn; four groups of 60, 90, 30 degrees of a cycle of 720, the
        // third tooth of every other group lost.
        let times: Vec<f64> = (0..24).map(f64::from).collect();
        let sights: Vec<Sight> =
            (0..24).map(|edge| Sight { edge, mark: edge % 2, pass: edge / 2 }).collect();
        let marks = Marks { at: vec![0.0, 1.0], period: 2.0 };
        let clock = Turned::through(&times, &marks, &sights);
        let mut edges = Vec::new();
        for group in 0..40 {
            for (tooth, at) in [0.0, 60.0, 150.0].into_iter().enumerate() {
                if tooth < 2 || group % 2 == 0 {
                    edges.push((f64::from(group) * 180.0 + at) / 360.0 + 0.3);
                }
            }
        }
        let want = Base::Uneven(vec![60.0 / 180.0, 90.0 / 180.0, 30.0 / 180.0]);
        let found = by_clock(&edges, &clock);
        assert!(found.iter().any(|base| base.same_as(&want)), "{found:?}");
    }
}
