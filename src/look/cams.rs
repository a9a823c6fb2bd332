//! A cam's wheel as its signal shows it, in degrees of the cam.

use super::wheel_text::teeth_table;
use crate::crank::CrankLock;
use crate::edges::{EdgeTrain, SignalShape};
use crate::engine::Sensor;
use crate::stats::{median, standard_deviation};
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta, TURN_DEG};
use crate::wheel::EdgeKind;

/// A cam's wheel.
#[derive(Debug, Clone, PartialEq)]
pub struct CamWheel {
    /// Header of its column.
    pub name: String,
    /// Start and end of each tooth in cam degrees; the first starts at 0, after the longest low
    /// part.
    pub teeth: Vec<(f64, f64)>,
    /// Where that start stood, in crank degrees after the datum pass the capture begins with.
    pub at: CrankDeg,
    /// Scatter of single edges over cycles, crank degrees.
    pub scatter: Option<CrankDelta>,
    /// Cycles seen.
    pub cycles: f64,
    /// Kind of sensor.
    pub sensor: Sensor,
}

impl CamWheel {
    /// The teeth as wheel files write them.
    #[must_use]
    pub fn table(&self) -> String {
        teeth_table(&self.teeth)
    }

    /// How often the wheel looks the same in a turn, to within what real wheels and its own scatter
    /// are uneven by; `None` for one that tells every angle apart.
    #[must_use]
    pub fn nearly_repeats(&self) -> Option<u32> {
        let own = self.scatter.map_or(0.0, |scatter| scatter.to_cam().0);
        let near = NEARLY.hypot(3.0 * own);
        let count = self.teeth.len();
        (2..=count).rev().filter(|parts| count.is_multiple_of(*parts)).find_map(|parts| {
            let turned = |i: usize, angle: fn(&(f64, f64)) -> f64| {
                let other = angle(&self.teeth[(i + count / parts) % count]);
                let off = other - angle(&self.teeth[i]) - TURN_DEG / parts as f64;
                (off + TURN_DEG / 2.0).rem_euclid(TURN_DEG) - TURN_DEG / 2.0
            };
            let alike = |i: usize| {
                turned(i, |tooth| tooth.0).abs() <= near && turned(i, |tooth| tooth.1).abs() <= near
            };
            (0..count).all(alike).then_some(parts as u32)
        })
    }
}

/// Teeth that are even to this are even, in cam degrees: real four-tooth wheels are to 0.2, and the
/// edges of one recording lie up to 0.4 elsewhere in the next (measured on the recordings).
const NEARLY: f64 = 0.6;
/// Edges nearer than this belong together, in crank degrees.
const TOGETHER: f64 = 6.0;
/// An edge of the wheel is seen in this share of the cycles.
const SEEN: f64 = 0.5;
/// This share of the edges must belong to the wheel.
const EXPLAINED: f64 = 0.6;
/// Fewest cycles that show a wheel.
const LEAST_CYCLES: f64 = 1.5;
/// Most teeth a cam's wheel may have here.
const MOST_TEETH: usize = 48;
/// Width given to a tooth of a reluctance wheel, whose edges are not seen, in cam degrees.
const RELUCTANCE_TOOTH: f64 = 6.0;

/// One edge of the wheel over all cycles.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// Crank degrees in the cycle.
    at: f64,
    scatter: f64,
    hits: usize,
    rises: bool,
}

/// Describes the wheel on a cam's lead; `None` when its edges do not come back every cycle.
pub(super) fn describe(name: &str, train: &EdgeTrain, lock: &CrankLock) -> Option<CamWheel> {
    let turned = |kind: EdgeKind| -> Vec<f64> {
        train
            .of_kind(kind)
            .filter_map(|at| lock.angle.angle_at(at))
            .map(|turned| turned.0)
            .collect()
    };
    let (rising, falling) = (turned(EdgeKind::Rising), turned(EdgeKind::Falling));
    let all = || rising.iter().chain(&falling);
    let span = all().copied().fold(0.0, f64::max) - all().copied().fold(f64::INFINITY, f64::min);
    // From the first edge to the last of n cycles is up to a cycle less than n.
    let cycles = span / CYCLE_DEG;
    if cycles < LEAST_CYCLES {
        return None;
    }
    let (rises, falls) = (places(&rising, cycles, true), places(&falling, cycles, false));
    let (teeth_at, sensor) = match train.shape {
        SignalShape::Square => (pairs(&rises, &falls), Sensor::Hall),
        SignalShape::Alternating => (middles(&rises, &falls), Sensor::Reluctance),
    };
    let used: usize = match train.shape {
        SignalShape::Square => rises.iter().chain(&falls).map(|place| place.hits).sum(),
        SignalShape::Alternating => rises.iter().chain(&falls).map(|place| place.hits).sum(),
    };
    let explained = used as f64 >= EXPLAINED * (rising.len() + falling.len()) as f64;
    if teeth_at.is_empty() || teeth_at.len() > MOST_TEETH || !explained {
        return None;
    }
    let scatter: Vec<f64> = rises.iter().chain(&falls).map(|place| place.scatter).collect();
    let (at, teeth) = from_first(&teeth_at);
    Some(CamWheel {
        name: name.to_owned(),
        teeth,
        at: CrankDeg::new(at),
        scatter: median(&scatter).map(CrankDelta),
        cycles,
        sensor,
    })
}

/// Groups of edges that come back, with their median place.
fn places(turned: &[f64], cycles: f64, rises: bool) -> Vec<Place> {
    let mut folded: Vec<f64> = turned.iter().map(|at| at.rem_euclid(CYCLE_DEG)).collect();
    folded.sort_by(f64::total_cmp);
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for at in folded {
        match groups.last_mut() {
            Some(group) if at - group[group.len() - 1] <= TOGETHER => group.push(at),
            _ => groups.push(vec![at]),
        }
    }
    if groups.len() > 1 {
        let last = groups.last().and_then(|group| group.last()).copied().unwrap_or(0.0);
        if groups[0][0] + CYCLE_DEG - last <= TOGETHER
            && let Some(last) = groups.pop()
        {
            groups[0].extend(last.iter().map(|at| at - CYCLE_DEG));
        }
    }
    groups
        .iter()
        .filter(|group| group.len() as f64 >= (SEEN * cycles).max(2.0))
        .filter_map(|group| {
            Some(Place {
                at: median(group)?.rem_euclid(CYCLE_DEG),
                scatter: standard_deviation(group).unwrap_or(0.0),
                hits: group.len(),
                rises,
            })
        })
        .collect()
}

/// Teeth of a square wave: from each rise to the next fall, where no other rise lies between.
fn pairs(rises: &[Place], falls: &[Place]) -> Vec<(f64, f64)> {
    let mut all: Vec<Place> = rises.iter().chain(falls).copied().collect();
    all.sort_by(|a, b| a.at.total_cmp(&b.at));
    (0..all.len())
        .filter_map(|i| {
            let (from, to) = (all[i], all[(i + 1) % all.len()]);
            (from.rises && !to.rises).then(|| (from.at, (to.at - from.at).rem_euclid(CYCLE_DEG)))
        })
        .collect()
}

/// Teeth of a reluctance wheel about the crossings that scatter least.
fn middles(rises: &[Place], falls: &[Place]) -> Vec<(f64, f64)> {
    let scatter = |places: &[Place]| {
        median(&places.iter().map(|place| place.scatter).collect::<Vec<f64>>())
            .unwrap_or(f64::INFINITY)
    };
    let marks = if scatter(rises) < scatter(falls) { rises } else { falls };
    let mut at: Vec<f64> = marks.iter().map(|place| place.at).collect();
    at.sort_by(f64::total_cmp);
    let next = at.iter().skip(1).copied().chain(at.first().map(|first| first + CYCLE_DEG));
    let closest = at.iter().zip(next).map(|(a, b)| b - a).fold(CYCLE_DEG, f64::min);
    let width = (2.0 * RELUCTANCE_TOOTH).min(closest / 2.0);
    at.iter().map(|at| ((at - width / 2.0).rem_euclid(CYCLE_DEG), width)).collect()
}

/// Turns teeth (crank degrees: start, width) so that the one after the longest low part begins at
/// 0; in cam degrees.
fn from_first(teeth: &[(f64, f64)]) -> (f64, Vec<(f64, f64)>) {
    let count = teeth.len();
    let low_before = |i: usize| {
        let before = teeth[(i + count - 1) % count];
        (teeth[i].0 - before.0 - before.1).rem_euclid(CYCLE_DEG)
    };
    let first = (0..count).max_by(|&a, &b| low_before(a).total_cmp(&low_before(b))).unwrap_or(0);
    let at = teeth[first].0;
    let tenth = |degrees: f64| (degrees * 10.0).round() / 10.0;
    let cam = (0..count)
        .map(|i| {
            let (start, width) = teeth[(first + i) % count];
            let start = CrankDelta((start - at).rem_euclid(CYCLE_DEG)).to_cam().0;
            let end = start + CrankDelta(width).to_cam().0;
            (tenth(start), tenth(end).min(TURN_DEG))
        })
        .collect();
    (at, cam)
}
