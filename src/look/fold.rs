//! Another lead held against the crank's angle: after how many periods do its edges come back?

use super::align::{Marks, Sight};
use crate::edges::EdgeTrain;
use crate::units::{CYCLE_DEG, TURN_DEG};
use crate::wheel::EdgeKind;

/// The angle, in periods of the crank's pattern, at any time.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Turned {
    times: Vec<f64>,
    periods: Vec<f64>,
}

impl Turned {
    /// Through the marks of an alignment.
    pub fn through(times: &[f64], marks: &Marks, sights: &[Sight]) -> Turned {
        let place = |sight: &Sight| marks.at[sight.mark] / marks.period + sight.pass as f64;
        Turned {
            times: sights.iter().map(|sight| times[sight.edge]).collect(),
            periods: sights.iter().map(place).collect(),
        }
    }

    /// Periods at a time; `None` outside the marks.
    pub fn at(&self, time: f64) -> Option<f64> {
        let after = self.times.partition_point(|&at| at <= time);
        let before = after.checked_sub(1)?;
        if after == self.times.len() {
            return (time == self.times[before]).then(|| self.periods[before]);
        }
        let along = (time - self.times[before]) / (self.times[after] - self.times[before]);
        Some(self.periods[before] + along * (self.periods[after] - self.periods[before]))
    }

    /// Periods per second at a time inside the marks.
    pub fn speed(&self, time: f64) -> Option<f64> {
        let after = self.times.partition_point(|&at| at <= time);
        let before = after.checked_sub(1)?;
        let (from, to) = (self.times.get(before)?, self.times.get(after)?);
        Some((self.periods[after] - self.periods[before]) / (to - from))
    }

    /// Periods covered.
    pub fn span(&self) -> f64 {
        match (self.periods.first(), self.periods.last()) {
            (Some(first), Some(last)) => last - first,
            _ => 0.0,
        }
    }
}

/// Whether a lead's edges come back after a number of periods.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Back {
    /// They do.
    Every {
        /// Teeth in it.
        teeth: usize,
        /// Like parts that it has.
        parts: usize,
    },
    /// They do not.
    Never,
    /// There are too few cycles to say. So many teeth come in one.
    TooFew {
        /// Edges of a kind in a cycle.
        teeth: usize,
    },
}

/// A lead's edges in periods of the crank's pattern, by kind.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Places {
    rising: Vec<f64>,
    falling: Vec<f64>,
}

/// Cam edges that belong together lie within so many crank degrees of each other ...
const TOGETHER: f64 = 9.0;
/// ... or within this share of the crank's plain steps, between which its angle is guessed, ...
const OF_A_STEP: f64 = 0.2;
/// ... up to this: a cam may wander by tens of degrees with speed (measured on the recordings).
const MOST_TOGETHER: f64 = 36.0;
/// All of a place lie within so many times that.
const PLACE_WIDTH: f64 = 2.5;
/// Every place of a cam edge must be hit in this share of the cycles.
const HIT: f64 = 0.75;
/// Share of the cam edges that must belong to a place.
const EXPLAINED: f64 = 0.85;
/// Fewest cycles to tell anything from.
const LEAST_CYCLES: f64 = 1.8;
/// Most like parts of a cycle that are looked for.
const MOST_PARTS: usize = 12;

impl Places {
    /// Of a lead's edges inside the crank's marks.
    pub fn of(train: &EdgeTrain, turned: &Turned) -> Places {
        let places = |kind| train.of_kind(kind).filter_map(|at| turned.at(at.0)).collect();
        Places { rising: places(EdgeKind::Rising), falling: places(EdgeKind::Falling) }
    }

    /// Whether the edges come back after a cycle of so many periods. `step_deg` is the crank's
    /// plain step in degrees when a cycle has so many.
    pub fn come_back(&self, cycle: f64, step_deg: f64) -> Back {
        let span = |places: &[f64]| places.last().unwrap_or(&0.0) - places.first().unwrap_or(&0.0);
        if span(&self.rising).max(span(&self.falling)) < LEAST_CYCLES * cycle {
            let most = self.rising.len().max(self.falling.len()) as f64;
            let span = span(&self.rising).max(span(&self.falling)).max(1e-9);
            let teeth = if most < 2.0 { 1.0 } else { ((most - 1.0) / span * cycle).round() };
            return Back::TooFew { teeth: teeth.clamp(1.0, 1e6) as usize };
        }
        // The kind that shows more teeth tells: the other may move with speed and threshold.
        let kinds: Vec<(&Vec<f64>, usize)> = [&self.rising, &self.falling]
            .into_iter()
            .filter_map(|places| Some((places, groups(places, cycle, 1, step_deg)?)))
            .collect();
        let Some(teeth) = kinds.iter().map(|(_, teeth)| *teeth).max() else { return Back::Never };
        // A wheel looks the same several times a turn only when both edges of its teeth do.
        let alike = |parts: usize| {
            kinds
                .iter()
                .filter(|(_, of_kind)| *of_kind == teeth)
                .all(|(places, _)| groups(places, cycle, parts, step_deg) == Some(teeth / parts))
        };
        let parts = (2..=MOST_PARTS.min(teeth))
            .rev()
            .filter(|parts| teeth.is_multiple_of(*parts))
            .find(|&parts| alike(parts))
            .unwrap_or(1);
        Back::Every { teeth, parts }
    }
}

/// Number of places in one of so many parts of a cycle at which the edges come back; `None` when
/// they do not.
fn groups(places: &[f64], cycle: f64, parts: usize, step_deg: f64) -> Option<usize> {
    let span = places.last()? - places.first()?;
    if span < LEAST_CYCLES * cycle {
        return None;
    }
    let degree = cycle / CYCLE_DEG;
    let cycle = cycle / parts as f64;
    let near = degree * TOGETHER.max((OF_A_STEP * step_deg).min(MOST_TOGETHER));
    // Each with its place in the cycle.
    let mut folded: Vec<(f64, f64)> =
        places.iter().map(|&place| (place.rem_euclid(cycle), place)).collect();
    folded.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Groups parted by more than what belongs together; the first and last may be one across the
    // fold.
    let mut groups: Vec<Vec<(f64, f64)>> = Vec::new();
    for value in folded {
        match groups.last_mut() {
            Some(group) if value.0 - group[group.len() - 1].0 <= near => group.push(value),
            _ => groups.push(vec![value]),
        }
    }
    if groups.len() > 1 {
        let last = groups[groups.len() - 1][groups[groups.len() - 1].len() - 1].0;
        if groups[0][0].0 + cycle - last <= near
            && let Some(last) = groups.pop()
        {
            let mut wrapped: Vec<(f64, f64)> =
                last.iter().map(|&(folded, place)| (folded - cycle, place)).collect();
            wrapped.append(&mut groups[0]);
            groups[0] = wrapped;
        }
    }
    let cycles = span / cycle;
    let (mut explained, mut hit) = (0, 0);
    for group in &groups {
        let hits = group.len() as f64;
        // One hit a cycle, give or take the cut ends, and from its first to its last hit as well:
        // of few cycles the cut ends would forgive every other one.
        let narrow = group[group.len() - 1].0 - group[0].0 <= PLACE_WIDTH * near;
        let own = group.iter().map(|(_, place)| *place);
        let (first, last) = (own.clone().fold(f64::INFINITY, f64::min), own.fold(0.0, f64::max));
        let passes = ((last - first) / cycle).round() + 1.0;
        let often = hits >= HIT * cycles && hits >= HIT * passes;
        if narrow && often && hits <= cycles + 1.6 {
            explained += group.len();
            hit += 1;
        }
    }
    (hit > 0 && explained as f64 >= EXPLAINED * places.len() as f64).then_some(hit)
}

/// Crank degrees of a plain step when a pattern of so many comes so many times a turn.
pub(super) fn step_degrees(slots: f64, repeats: usize) -> f64 {
    TURN_DEG / (slots * repeats as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(at: &[f64], cycle: f64, cycles: usize) -> Places {
        let all = |shift: f64| {
            let mut all: Vec<f64> = (0..cycles)
                .flat_map(|turn| at.iter().map(move |at| at + shift + cycle * turn as f64))
                .collect();
            all.sort_by(f64::total_cmp);
            all
        };
        Places { rising: all(0.0), falling: all(0.05 * cycle) }
    }

    #[test]
    fn an_edge_that_comes_every_other_turn_makes_a_cycle_of_two() {
        let once = places(&[0.3], 2.0, 10);
        assert_eq!(once.come_back(2.0, 6.0), Back::Every { teeth: 1, parts: 1 });
        assert_eq!(once.come_back(4.0, 6.0), Back::Every { teeth: 2, parts: 2 });
        assert_eq!(once.come_back(1.0, 6.0), Back::Never);
        let uneven = places(&[0.3, 1.1, 1.5], 2.0, 10);
        assert_eq!(uneven.come_back(2.0, 6.0), Back::Every { teeth: 3, parts: 1 });
        assert_eq!(uneven.come_back(4.0, 6.0), Back::Every { teeth: 6, parts: 2 });
        let even = places(&[0.0, 0.5, 1.0, 1.5], 2.0, 10);
        assert_eq!(even.come_back(2.0, 6.0), Back::Every { teeth: 4, parts: 4 });
        // Three edges of a cycle of four are not five of a cycle of two with two lost.
        assert_eq!(places(&[0.3], 4.0, 3).come_back(2.0, 6.0), Back::Never);
        let short = places(&[0.3], 2.0, 2);
        assert_eq!(short.come_back(2.0, 6.0), Back::TooFew { teeth: 1 });
    }

    #[test]
    fn a_cam_that_wanders_still_comes_back_and_a_lost_edge_is_forgiven() {
        let mut wandering: Vec<f64> =
            (0..20).map(|i| 2.0 * f64::from(i) + 0.02 * (f64::from(i) * 0.7).sin()).collect();
        wandering.remove(7);
        let cam = Places { rising: wandering.clone(), falling: Vec::new() };
        assert_eq!(cam.come_back(2.0, 30.0), Back::Every { teeth: 1, parts: 1 });
    }
}
