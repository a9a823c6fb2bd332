//! Which datum pass is 0?
//!
//! The datum passes twice per cycle, or more often on a crank wheel that repeats. All cams together
//! settle it: the choice that makes the set of deviations smallest. One cam alone does not: its
//! deviation stays known only modulo what the crank wheel knows.

use super::CamPosition;
use super::deviation::late;
use crate::units::{CYCLE_DEG, CrankDeg, CrankDelta};

/// Which pass the cams chose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DatumChoice {
    /// To be added to every angle of the stretch.
    pub shift: CrankDelta,
    /// Angles are known modulo this: 720 when the choice is settled, else what the crank wheel
    /// knows.
    pub known_modulo: CrankDelta,
    /// Probability of the choice against the other passes, 0..1; 0.5 with nothing to go by.
    pub confidence: f64,
}

/// Deviations are weighed as a two-sided exponential of this scale, in crank degrees: a tooth or
/// two is common among engines that need this tool, half a turn is not (judgement).
const DEVIATION_SCALE: f64 = 12.0;
/// Below this the passes are as good as equal and the choice is not settled.
const SETTLED: f64 = 0.99;

/// Chooses the pass. `expected` gives where each measured cam should stand, where known.
#[must_use]
pub fn choose_datum(
    cams: &[(&CamPosition, Option<CrankDeg>)],
    crank_modulo: CrankDelta,
) -> DatumChoice {
    let passes = (CYCLE_DEG / crank_modulo.0).round() as usize;
    let judged: Vec<(&CamPosition, CrankDeg)> =
        cams.iter().filter_map(|&(cam, expected)| Some((cam, expected?))).collect();
    let cost = |pass: usize| -> f64 {
        judged
            .iter()
            .map(|(cam, expected)| {
                let place = cam.position + crank_modulo * pass as f64;
                late(place, *expected, cam.known_modulo).0.abs() / DEVIATION_SCALE
            })
            .sum()
    };
    let costs: Vec<f64> = (0..passes).map(cost).collect();
    let best = (0..passes).min_by(|&a, &b| costs[a].total_cmp(&costs[b])).unwrap_or(0);
    let total: f64 = costs.iter().map(|cost| (costs[best] - cost).exp()).sum();
    let confidence = 1.0 / total;
    let settled = confidence >= SETTLED && judged.len() >= 2;
    DatumChoice {
        shift: CrankDelta(best as f64 * crank_modulo.0),
        known_modulo: if settled { CrankDelta(CYCLE_DEG) } else { crank_modulo },
        confidence,
    }
}
