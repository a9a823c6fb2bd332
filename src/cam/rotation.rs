//! How far is the wheel turned? Every pairing of a measured edge with a wheel edge proposes a
//! rotation; the one that explains most edges wins.

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
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Rotation {
    /// Crank degrees from the datum to the wheel's zero, 0 up to 720.
    pub zero: f64,
    /// 0 explains nothing; 1 explains every sighting and misses no edge.
    pub score: f64,
    /// Every rotation tried, with its score.
    tried: Vec<(f64, f64)>,
}

impl Rotation {
    /// Score of the best rotation that is another answer where the place is known up to multiples
    /// of `period`.
    pub fn runner_up(&self, period: CrankDelta, reach: f64) -> f64 {
        let apart = |zero: f64| CrankDelta(zero - self.zero).wrap(period).0.abs();
        let others = self.tried.iter().filter(|(zero, _)| apart(*zero) > APART_REACHES * reach);
        others.map(|&(_, score)| score).fold(0.0, f64::max)
    }
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
    let &(zero, score) = tried.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Rotation { zero, score, tried })
}

/// Share of the sightings explained times share of the expected edges seen; each counts fully on
/// its place and falls to nothing at the reach.
///
/// An edge passes once in a turn of the cam, so it explains one sighting of that turn, the nearest.
/// A burst of noise (a reluctance sensor before the engine turns gives tens of crossings in a few
/// degrees) would otherwise be explained as a whole by whichever edge stands near it, and turn the
/// wheel to suit.
fn score(zero: f64, sightings: &[Sighting], pattern: &CamPattern, cycles: f64) -> f64 {
    let Some(first) = sightings.first() else { return 0.0 };
    // Two turns early, for edges that lie before the first turn's zero.
    let from = ((first.turned - zero) / CYCLE_DEG).round() - 2.0;
    let mut best: Vec<f64> = Vec::new();
    let edges = pattern.edges.len();
    for sighting in sightings {
        let along = sighting.turned - zero;
        let Some((edge, late)) = pattern.nearest(along, sighting.kind) else { continue };
        let passing = along - late - pattern.edges[edge].after_zero;
        let turn = ((passing / CYCLE_DEG).round() - from).max(0.0) as usize;
        let slot = turn * edges + edge;
        if slot >= best.len() {
            best.resize(slot + 1, 0.0);
        }
        best[slot] = best[slot].max(1.0 - (late / pattern.reach).powi(2));
    }
    let explained: f64 = best.iter().sum();
    let seen: f64 = (0..edges)
        .map(|edge| best.iter().skip(edge).step_by(edges).sum::<f64>().min(cycles) / cycles)
        .sum();
    explained / sightings.len() as f64 * (seen / edges as f64)
}

#[cfg(test)]
mod tests {
    use super::super::pattern::PatternEdge;
    use super::*;

    /// Five teeth seen by their falling crossing over four turns of the cam, and before them a
    /// burst of crossings in sixty degrees: the wheel stands where its teeth say, not where it
    /// would explain the burst.
    #[test]
    fn a_burst_of_noise_does_not_turn_the_wheel() {
        let places = [0.0, 120.0, 240.0, 360.0, 480.0];
        let kind = EdgeKind::Falling;
        let pattern = CamPattern {
            edges: places.map(|after_zero| PatternEdge { after_zero, kind }).into(),
            reach: 30.0,
        };
        let truth = 83.0;
        let burst = (0..24).map(|n| 600.0 + 2.5 * f64::from(n));
        let teeth =
            (1..5).flat_map(|turn| places.map(|at| truth + at + CYCLE_DEG * f64::from(turn)));
        let sightings: Vec<Sighting> =
            burst.chain(teeth).map(|turned| Sighting { turned, kind }).collect();
        let found = find(&sightings, &pattern).expect("a rotation");
        assert!((found.zero - truth).abs() < 1e-9, "{found:?}");
        assert!(
            found.runner_up(CrankDelta(CYCLE_DEG), pattern.reach) < 0.9 * found.score,
            "{found:?}"
        );
    }
}
