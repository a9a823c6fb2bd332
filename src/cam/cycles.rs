//! The wheel followed from cycle to cycle: which sighting is which edge of which turn of the cam.

use super::pattern::CamPattern;
use super::rotation::Sighting;
use crate::stats::upper_median;
use crate::units::{CYCLE_DEG, CrankDelta};

/// A sighting that was given its edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed {
    /// Index of the sighting.
    pub sighting: usize,
    /// Turn of the cam, counted from the first.
    pub cycle: usize,
    /// Index of the pattern edge.
    pub edge: usize,
    /// How much later than the place the rotation gives it, in crank degrees.
    pub late: f64,
}

/// All sightings that were placed, and how many edges were missed and extra.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Followed {
    pub placed: Vec<Placed>,
    pub cycles: usize,
    pub missed: usize,
    pub extra: usize,
}

/// The wheel is expected where it stood over this many edges before, so that a phaser that moves
/// during the capture is followed.
const FOLLOWED_EDGES: usize = 9;

/// Places every sighting, working outwards in time with the drift of the edges just before.
///
/// `zero` is the rotation found for the whole record; `span` the crank degrees it covers.
pub(super) fn follow(
    sightings: &[Sighting],
    pattern: &CamPattern,
    zero: f64,
    span: (f64, f64),
) -> Followed {
    let first_cycle = ((span.0 - zero) / CYCLE_DEG).floor();
    let mut recent: Vec<f64> = Vec::new();
    let mut placed: Vec<Placed> = Vec::new();
    let mut extra = 0;
    for (index, sighting) in sightings.iter().enumerate() {
        if !pattern.shows(sighting.kind) {
            continue;
        }
        let drift = drift(&recent);
        let along = sighting.turned - zero - drift;
        let Some((edge, late)) = pattern.nearest(along, sighting.kind) else { continue };
        if late.abs() > pattern.reach {
            extra += 1;
            continue;
        }
        let turn = ((along - late - pattern.edges[edge].after_zero) / CYCLE_DEG).round();
        let one = Placed {
            sighting: index,
            cycle: (turn - first_cycle).max(0.0) as usize,
            edge,
            late: late + drift,
        };
        // Turns follow each other but for neighbours: what lies further back is none of this one.
        let lately = placed.iter().rev().take_while(|other| other.cycle + 2 > one.cycle).count();
        let twin = (placed.len() - lately..placed.len())
            .rev()
            .find(|&at| placed[at].cycle == one.cycle && placed[at].edge == one.edge);
        match twin {
            // Two claim one edge: the nearer to what was expected has it.
            Some(at) => {
                extra += 1;
                if (placed[at].late - drift).abs() > late.abs() {
                    placed[at] = one;
                }
                // A burst of noise must not pull the wheel along.
                continue;
            }
            None => placed.push(one),
        }
        recent.push(late + drift);
        if recent.len() > FOLLOWED_EDGES {
            recent.remove(0);
        }
    }
    let cycles = placed.iter().map(|one| one.cycle + 1).max().unwrap_or(0);
    let missed = expected(pattern, zero, span).saturating_sub(placed.len());
    Followed { placed, cycles, missed, extra }
}

/// Median of the latest offsets; 0 before there are enough to trust.
fn drift(recent: &[f64]) -> f64 {
    if recent.len() < 3 {
        return 0.0;
    }
    upper_median(&mut recent.to_vec()).unwrap_or(0.0)
}

/// Edges the wheel shows within a span of crank angle, less what may be cut at its ends.
fn expected(pattern: &CamPattern, zero: f64, (from, to): (f64, f64)) -> usize {
    let inside = |after_zero: f64| {
        let first = CrankDelta(zero + after_zero - from).0.rem_euclid(CYCLE_DEG);
        let room = to - from - first - pattern.reach;
        if room < 0.0 { 0 } else { 1 + (room / CYCLE_DEG) as usize }
    };
    pattern.edges.iter().map(|edge| inside(edge.after_zero)).sum()
}
