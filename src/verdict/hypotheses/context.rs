//! What the builders of single hypotheses share: the evidence, its rows and what the engine has.

use super::description::{WornChain, worn_chains};
use super::effects::EffectPrior;
use super::hypothesis::{Draft, SecondFault};
use super::model::Own;
use super::priors;
use crate::crank::Condition;
use crate::engine::Phaser;
use crate::units::CYCLE_DEG;
use crate::verdict::evidence::Evidence;
use crate::verdict::readings::{Rows, Steadiness, place_drag};

/// What the builders of single kinds need.
pub(crate) struct Context<'a> {
    pub evidence: &'a Evidence<'a>,
    pub rows: &'a Rows,
    /// Rows with each swapped pair's leads crossed.
    pub crossed: &'a [Rows],
    /// Chains that can wear: index, cams moved, relative rate.
    pub worn: Vec<WornChain>,
    /// Cams with a phaser.
    pub phasers: Vec<usize>,
    pub running: bool,
}

impl<'a> Context<'a> {
    /// What this engine's description and the capture's condition allow.
    pub(crate) fn new(
        evidence: &'a Evidence<'a>,
        rows: &'a Rows,
        crossed: &'a [Rows],
    ) -> Context<'a> {
        let engine = evidence.engine;
        Context {
            evidence,
            rows,
            crossed,
            worn: worn_chains(engine),
            phasers: (0..engine.cams.len())
                .filter(|&cam| engine.cams[cam].phaser.is_some())
                .collect(),
            running: evidence.condition != Condition::Cranking,
        }
    }

    /// Least tolerance of some cams.
    pub(crate) fn tolerance(&self, cams: &[usize]) -> f64 {
        cams.iter()
            .map(|&cam| self.evidence.engine.cams[cam].tolerance.0)
            .fold(f64::INFINITY, f64::min)
    }

    /// The rows that a draft's model is about.
    pub(crate) fn rows_of(&self, draft: &Draft) -> &Rows {
        draft.swap.map_or(self.rows, |swap| &self.crossed[swap])
    }

    /// Puts any amount of wear on a draft, with its cams' behaviour.
    pub(crate) fn wear(&self, draft: &mut Draft, worn: &WornChain) {
        let (mean, pattern) = (priors::WEAR_MEAN.0, self.rows_of(draft).shafts_late(&worn.cams));
        if draft.model.shared.is_none() {
            let amount = EffectPrior::Fading { from: 0.0, to: priors::WEAR_MOST.0, mean };
            draft.model.shared = Some((pattern, amount));
        } else {
            // One shared amount is taken: wear becomes a normal one of its own mean and spread.
            draft.model.mean.iter_mut().zip(&pattern).for_each(|(at, late)| *at += mean * late);
            draft.model.normal.push((pattern, mean));
        }
        draft.moving.extend(worn.cams.iter().map(|&cam| (cam, Steadiness::SlackChain)));
        draft.second = SecondFault::Wear(worn.chain);
    }

    /// Where a phaser may stand away from rest beyond what passes for in time.
    pub(crate) fn away(&self, cam: usize) -> Option<EffectPrior> {
        let phaser: Phaser = self.evidence.engine.cams[cam].phaser?;
        let full = phaser.full_travel().0;
        // A short travel has no room beyond tolerance: all of it counts.
        let tolerance = self.evidence.engine.cams[cam].tolerance.0;
        let least = if tolerance < full.abs() { tolerance } else { 0.0 };
        let (near, far) = (least * full.signum(), full);
        Some(EffectPrior::Even { from: near.min(far), to: near.max(far) })
    }

    /// Lets every phaser stand at rest or away, each on its own, `away` of the time.
    pub(crate) fn free_phasers(&self, draft: &mut Draft, away: f64) {
        for &cam in &self.phasers {
            let (Some(row), Some(amount)) = (self.rows.row_of(cam), self.away(cam)) else {
                continue;
            };
            draft.model.own.push((row, vec![(1.0 - away, EffectPrior::Nothing), (away, amount)]));
            draft.moving.push((cam, Steadiness::UnlockedPhaser));
        }
        draft.second = SecondFault::Phasers(self.phasers.clone());
    }
}

/// Amounts either way beyond a least one: mostly near, else anywhere up to a most.
pub(crate) fn either_way(least: f64, most: f64, mean: f64, near: f64) -> [(f64, EffectPrior); 4] {
    // A range narrower than the least amount still has to be one.
    let most = most.max(least + 1.0);
    let far = (1.0 - near) / 2.0;
    [
        (near / 2.0, EffectPrior::Fading { from: least, to: most, mean }),
        (near / 2.0, EffectPrior::Fading { from: -least, to: -most, mean }),
        (far, EffectPrior::Even { from: least, to: most }),
        (far, EffectPrior::Even { from: -most, to: -least }),
    ]
}

/// How far the wheel of a cam may have moved, as its row shows it, where the cam was measured.
pub(crate) fn cam_wheel_own(context: &Context, rows: &Rows, cam: usize) -> Option<Own> {
    let row = rows.row_of(cam)?;
    let half = rows.list[row].period.unwrap_or(CYCLE_DEG) / 2.0;
    let least = context.evidence.engine.cams[cam].tolerance.0;
    let amounts = either_way(least, half, priors::CAM_WHEEL_MEAN.0, priors::CAM_WHEEL_NEAR);
    Some((row, amounts.to_vec()))
}

/// Standard deviation, crank degrees, by which a damaged tooth drags the place of its wheel along:
/// of few edges a good way, of many hardly.
pub(crate) fn damage_drag(context: &Context, cam: usize) -> Option<f64> {
    Some(place_drag(context.evidence.cam(cam)?.measured.edges.len()))
}
