//! How far is the wheel turned? Every pairing of a measured edge with a wheel edge proposes a rotation; the one that
//! explains most edges wins.

use super::pattern::CamPattern;
use crate::units::{CYCLE_DEG, CrankDelta};
use crate::wheel::EdgeKind;

/// A cam edge by its crank angle, counted from the datum pass the stretch starts at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sighting {
    /// Crank degrees turned.
    pub turned: f64,
    /// Kind on a signal of normal polarity.
    pub kind: EdgeKind,
}

/// A rotation and how well it explains the sightings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rotation {
    /// Crank degrees from the datum to the wheel's zero, 0 up to 720.
    pub zero: f64,
    /// 0 explains nothing; 1 explains every sighting and misses no edge.
    pub score: f64,
    /// Score of the best rotation that is another answer.
    pub runner_up: f64,
}

/// Most sightings looked at: some tens of cycles settle the rotation.
const MOST_SIGHTINGS: usize = 400;
/// Sightings that propose rotations: the edges of the first few cycles.
const PROPOSING: usize = 60;
/// A rotation that leaves this many reaches from the best is another answer.
const APART_REACHES: f64 = 2.0;

/// Finds the best rotation; `None` without sightings of a kind the wheel has.
pub(super) fn find(sightings: &[Sighting], pattern: &CamPattern) -> Option<Rotation> {
    let used: Vec<Sighting> = sightings
        .iter()
        .copied()
        .filter(|sighting| pattern.shows(sighting.kind))
        .take(MOST_SIGHTINGS)
        .collect();
    let (first, last) = (used.first()?.turned, used.last()?.turned);
    // Edges expected in the angle covered, at least one cycle's.
    let cycles = ((last - first) / CYCLE_DEG).max(1.0);
    let mut tried: Vec<(f64, f64)> = Vec::new();
    // From the middle of the record, where speed is steadiest.
    let start = used.len().saturating_sub(PROPOSING) / 2;
    for sighting in used[start..].iter().take(PROPOSING) {
        for edge in pattern.edges.iter().filter(|edge| edge.kind == sighting.kind) {
            let zero = (sighting.turned - edge.after_zero).rem_euclid(CYCLE_DEG);
            tried.push((zero, score(zero, &used, pattern, cycles)));
        }
    }
    let &(zero, best) = tried.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let runner_up = tried
        .iter()
        .filter(|(other, _)| {
            let apart = CrankDelta(other - zero).wrap(pattern.period).0.abs();
            apart > APART_REACHES * pattern.reach
        })
        .map(|&(_, score)| score)
        .fold(0.0, f64::max);
    Some(Rotation { zero, score: best, runner_up })
}

/// Share of the sightings explained times share of the expected edges seen; each counts fully on its place
/// and falls to nothing at the reach.
fn score(zero: f64, sightings: &[Sighting], pattern: &CamPattern, cycles: f64) -> f64 {
    let mut per_edge = vec![0.0_f64; pattern.edges.len()];
    for sighting in sightings {
        if let Some((edge, late)) = pattern.nearest(sighting.turned - zero, sighting.kind) {
            per_edge[edge] += (1.0 - (late / pattern.reach).powi(2)).max(0.0);
        }
    }
    let explained: f64 = per_edge.iter().sum();
    // No edge counts for more than once a cycle.
    let seen: f64 = per_edge.iter().map(|&weight| weight.min(cycles) / cycles).sum();
    explained / sightings.len() as f64 * (seen / per_edge.len() as f64)
}
